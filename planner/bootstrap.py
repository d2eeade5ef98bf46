"""Makes the folder `.venv` with everything Notchbook needs and goes on inside it. Standard library only.

`.venv/notchbook.json` tells what is installed. It is removed before anything in `.venv` changes and written
when all is well, so a set-up that was cut off is seen and done again.
"""

import contextlib
import hashlib
import importlib.metadata
import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from planner.running.lock import FileLock

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "notchbook.json"
NO_NETWORK = re.compile(
    r"NewConnectionError|NameResolutionError|ConnectTimeout|ReadTimeout|name resolution|getaddrinfo"
    r"|Network is unreachable|ProxyError|Connection ?refused|ConnectionReset",
)


class SetUpError(Exception):
    """Setting up failed; the message says what happened and what to do."""


def requirements(*, with_tests: bool, root: Path = ROOT) -> list[str]:
    """What has to be installed, as pyproject.toml lists it; with the tools of the test suite on request."""
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    wanted: list[str] = list(project["project"]["dependencies"])
    if with_tests:
        wanted += project["dependency-groups"]["dev"]
    return wanted


def enter(argv: Sequence[str], *, with_tests: bool) -> None:
    """Returns where everything is installed already; else sets that up and starts `argv` there.

    Raises SetUpError.
    """
    wanted = requirements(with_tests=with_tests)
    if _in_our_venv() or os.environ.get("NOTCHBOOK_NO_VENV") == "1" or _in_somebodys_venv_with(wanted):
        return
    if os.environ.get("NOTCHBOOK_ENTERED") == str(VENV):
        raise SetUpError(f"The folder {VENV} does not work as expected. Delete it and try again.")
    set_up(wanted, with_tests=with_tests)
    os.environ["NOTCHBOOK_ENTERED"] = str(VENV)
    _go_on_in(venv_python(), argv)


def set_up(wanted: Sequence[str], *, with_tests: bool) -> None:
    """Makes, completes or repairs `.venv` so that it holds `wanted`; does nothing where it does already."""
    kind = "test" if with_tests else "run"
    if installed().get(kind) == fingerprint(wanted):
        return
    lock = FileLock(ROOT / "build" / "setting-up.lock")
    try:
        is_ours = lock.take()
    except OSError as fault:
        raise SetUpError(
            f"Notchbook cannot be set up in {ROOT}, which may not be written to here ({fault.strerror}).\n"
            "Have whoever may do so run  python3 manage.py help  there once, or install the packages of\n"
            "pyproject.toml yourself and start with the environment variable NOTCHBOOK_NO_VENV=1."
        ) from fault
    if not is_ours:
        _say("Notchbook is being set up in another window; waiting for it.")
        while not lock.take():
            time.sleep(0.5)
    try:
        done = installed()
        if done.get(kind) != fingerprint(wanted):
            _install(wanted, kind, done)
    finally:
        lock.release()


def installed() -> dict[str, str]:
    """What the stamp says, for a `.venv` that works: kind of set-up -> fingerprint. Empty: there is none."""
    try:
        stamp: dict[str, str] = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    # A Python that was updated or removed since leaves a .venv that starts the wrong one, or nothing.
    return stamp if stamp.get("python") == _version_of(venv_python()) else {}


def fingerprint(wanted: Sequence[str]) -> str:
    """Changes whenever another set of packages is wanted."""
    return hashlib.sha256("\n".join(sorted(wanted)).encode()).hexdigest()


def venv_python() -> Path:
    """Where `.venv` keeps its Python."""
    return VENV / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")


def _install(wanted: Sequence[str], kind: str, done: dict[str, str]) -> None:
    mine = VENV / "made-by-notchbook"
    if VENV.exists() and not mine.exists():
        raise SetUpError(
            f"There is a folder {VENV} that Notchbook did not make, so it is left alone.\n"
            "Delete or rename it, or install the packages of pyproject.toml there yourself and start with\n"
            "the environment variable NOTCHBOOK_NO_VENV=1."
        )
    if not done:
        _make_venv()
        mine.write_text("Notchbook made this folder and may delete it. Your data is not in here.\n")
    STAMP.unlink(missing_ok=True)
    _say(f"Installing {len(wanted)} packages and what they need. This happens once and needs the network:")
    _pip_install(wanted)
    done = {**done, kind: fingerprint(wanted), "python": _version_of(venv_python())}
    if kind == "test":
        done["run"] = fingerprint(requirements(with_tests=False))
    _prepare_search(wanted)
    part = STAMP.with_suffix(".part")
    part.write_text(json.dumps(done), encoding="utf-8")
    part.replace(STAMP)


def _prepare_search(wanted: Sequence[str]) -> None:
    """Compiles the search for short lays now, so that the first lay need not wait for it; no matter if it fails."""
    if not any(package.startswith("numba") for package in wanted):
        return
    _say("Compiling the search for short lays.")
    program = ROOT / "planner" / "core" / "lays" / "searcher.py"
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        subprocess.run(
            [str(venv_python()), "-P", str(program), "--prepare"], stdin=subprocess.DEVNULL, timeout=300
        )


def _make_venv() -> None:
    if importlib.util.find_spec("ensurepip") is None or importlib.util.find_spec("venv") is None:
        raise SetUpError(
            "This Python comes without the parts that make a virtual environment (venv and ensurepip).\n"
            "On Debian and Ubuntu:   sudo apt install python3-venv\n"
            "Elsewhere: install Python from python.org. Then try again."
        )
    if VENV.exists():
        _say("An earlier set-up was not finished or no longer fits; starting it afresh.")
        shutil.rmtree(VENV)
    _say(f"Making the folder {VENV.name} for Notchbook's own packages.")
    made = subprocess.run([sys.executable, "-m", "venv", str(VENV)], capture_output=True, text=True)
    if made.returncode != 0:
        shutil.rmtree(VENV, ignore_errors=True)
        raise SetUpError(
            f"Python could not make the folder {VENV}:\n{_last_lines(made.stdout + made.stderr)}"
        )


def _pip_install(wanted: Sequence[str]) -> None:
    command = [str(venv_python()), "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]
    command += ["--progress-bar", "off", "--prefer-binary", "--retries", "2", "--timeout", "20", *wanted]
    pip = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace"
    )
    said = []
    assert pip.stdout is not None
    for line in pip.stdout:
        said.append(line)
        if line.startswith("Collecting "):
            _say("  " + re.split(r"[^A-Za-z0-9._-]", line.split()[1], maxsplit=1)[0])
        elif line.startswith("Installing collected"):
            _say("  … unpacking")
    if pip.wait() == 0:
        return
    output = "".join(said)
    if NO_NETWORK.search(output):
        raise SetUpError(
            "The packages could not be fetched: there seems to be no way to the network.\n"
            "Connect this computer and try again. Later starts will need no network."
        )
    raise SetUpError(f"The packages could not be installed. The installer said:\n{_last_lines(output)}")


def _in_our_venv() -> bool:
    return sys.prefix != sys.base_prefix and Path(sys.prefix).resolve() == VENV.resolve()


def _in_somebodys_venv_with(wanted: Sequence[str]) -> bool:
    """True in a virtual environment of the person's own with every package: it is meant to be used."""
    if sys.prefix == sys.base_prefix:
        return False
    try:
        for requirement in wanted:
            importlib.metadata.version(re.split(r"[^A-Za-z0-9._-]", requirement, maxsplit=1)[0])
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def _version_of(python: Path) -> str:
    """`3.11` and the like; empty where it does not start."""
    ask = "import sys; print('%d.%d' % sys.version_info[:2])"
    try:
        answer = subprocess.run(
            [str(python), "-I", "-S", "-c", ask], capture_output=True, text=True, timeout=30
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return answer.stdout.strip() if answer.returncode == 0 else ""


def _go_on_in(python: Path, argv: Sequence[str]) -> NoReturn:
    command = [str(python), *argv]
    sys.stdout.flush()
    if sys.platform != "win32":
        os.execv(command[0], command)
    # Windows has no exec: ctrl-C reaches both processes, and this one only waits for the other's answer.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise SystemExit(subprocess.call(command))


def _last_lines(text: str, *, count: int = 12) -> str:
    return "\n".join("  " + line for line in text.strip().splitlines()[-count:])


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()
