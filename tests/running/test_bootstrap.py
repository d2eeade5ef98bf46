"""Setting up `.venv`: once, again after being cut off, and plain words where it cannot be done.

The packages here are made on the spot, so no network is needed.
"""

import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from planner import bootstrap, command_line
from planner.bootstrap import SetUpError
from planner.settings import LOCAL, why_unwritable


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty project folder that the set-up takes for its own."""
    (tmp_path / "pyproject.toml").write_text(
        '[project]\ndependencies = ["thimble==1.0"]\n[dependency-groups]\ndev = ["pins>=2"]\n'
    )
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "STAMP", tmp_path / ".venv" / "notchbook.json")
    real = bootstrap.requirements
    monkeypatch.setattr(
        bootstrap, "requirements", lambda *, with_tests: real(with_tests=with_tests, root=tmp_path)
    )
    return tmp_path


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the first virtual environment that a test has made is kept, as Python made it."""
    return tmp_path_factory.mktemp("kept") / "venv"


@pytest.fixture
def made_once(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked for a virtual environment once more, Python is spared the seconds: a copy of its first one is put there."""
    real = subprocess.run

    def run(command: Sequence[str], **options: Any) -> subprocess.CompletedProcess[str]:
        if list(command[:3]) != [sys.executable, "-m", "venv"]:
            return real(command, **options)
        (place,) = command[3:]
        if kept.exists():
            shutil.copytree(kept, place, symlinks=True)
            return subprocess.CompletedProcess(command, 0, "", "")
        done = real(command, **options)
        if done.returncode == 0:
            shutil.copytree(place, kept, symlinks=True)
        return done

    monkeypatch.setattr(bootstrap.subprocess, "run", run)


def _wheel(folder: Path, version: str) -> str:
    """A package with nothing in it but its version."""
    path = folder / f"thimble-{version}-py3-none-any.whl"
    info = f"thimble-{version}.dist-info"
    with zipfile.ZipFile(path, "w") as wheel:
        wheel.writestr("thimble.py", f"version = {version!r}\n")
        wheel.writestr(f"{info}/METADATA", f"Metadata-Version: 2.1\nName: thimble\nVersion: {version}\n")
        wheel.writestr(f"{info}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
        wheel.writestr(f"{info}/RECORD", "")
    return str(path)


def _inside() -> str:
    asked = [str(bootstrap.venv_python()), "-c", "import thimble; print(thimble.version)"]
    return subprocess.run(asked, capture_output=True, text=True, check=True).stdout.strip()


def test_reads_what_the_project_lists(place: Path) -> None:
    assert bootstrap.requirements(with_tests=False) == ["thimble==1.0"]
    assert bootstrap.requirements(with_tests=True) == ["thimble==1.0", "pins>=2"]


def test_the_project_itself_can_be_read() -> None:
    names = [
        wanted.split("<")[0].split(">")[0].split("=")[0] for wanted in bootstrap.requirements(with_tests=True)
    ]
    assert {"Django", "waitress", "spyrrow", "pytest", "playwright"} <= set(names)


@pytest.mark.slow
def test_set_up_once_then_untouched_changed_when_wanted_and_repaired_when_cut_off_or_without_a_python(
    place: Path, made_once: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two = _wheel(place, "1.0"), _wheel(place, "2.0")
    bootstrap.set_up([one], with_tests=False)
    assert _inside() == "1.0"
    assert "happens once" in capsys.readouterr().out

    def must_not_install(_: object) -> None:
        raise AssertionError("a finished set-up asked for the network")

    with monkeypatch.context() as patched:
        patched.setattr(bootstrap, "_pip_install", must_not_install)
        bootstrap.set_up([one], with_tests=False)
    assert capsys.readouterr().out == ""

    # Other packages are asked for; this time it is cut off half-way: files are missing and no stamp was written.
    with monkeypatch.context() as patched:
        patched.setattr(bootstrap, "_pip_install", must_not_install)
        with pytest.raises(AssertionError, match="asked for the network"):
            bootstrap.set_up([two], with_tests=False)
    next(bootstrap.VENV.rglob("thimble.py")).unlink()
    assert not bootstrap.STAMP.exists()
    capsys.readouterr()
    bootstrap.set_up([two], with_tests=False)
    assert "was not finished" in capsys.readouterr().out
    assert _inside() == "2.0"

    # A Python that is gone, as after one was taken off the machine, is noticed and replaced.
    bootstrap.venv_python().unlink()
    assert bootstrap.installed() == {}
    bootstrap.set_up([two], with_tests=False)
    assert _inside() == "2.0"


@pytest.mark.slow
def test_without_a_network_it_says_so(place: Path, made_once: None, monkeypatch: pytest.MonkeyPatch) -> None:
    # Port 9 of this machine: nobody listens there.
    for name in ("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL"):
        monkeypatch.setenv(name, "http://127.0.0.1:9/simple/")
    monkeypatch.setenv("PIP_NO_CACHE_DIR", "1")
    with pytest.raises(SetUpError, match="no way to the network"):
        bootstrap.set_up(["thimble==1.0"], with_tests=False)
    assert bootstrap.installed() == {}


def test_somebody_elses_folder_is_left_alone(place: Path) -> None:
    theirs = place / ".venv" / "precious"
    theirs.parent.mkdir()
    theirs.write_text("keep me")
    with pytest.raises(SetUpError, match="did not make"):
        bootstrap.set_up(["thimble==1.0"], with_tests=False)
    assert theirs.read_text() == "keep me"


def test_a_python_without_venv_is_told_what_to_install(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = bootstrap.importlib.util.find_spec
    monkeypatch.setattr(
        bootstrap.importlib.util, "find_spec", lambda name: None if name == "ensurepip" else real(name)
    )
    with pytest.raises(SetUpError, match="apt install python3-venv"):
        bootstrap.set_up(["thimble==1.0"], with_tests=False)


def test_a_program_that_may_not_be_written_to_says_who_can_set_it_up(place: Path) -> None:
    (place / "build").write_text("no folder can be made here")
    with pytest.raises(SetUpError, match="may not be written to"):
        bootstrap.set_up(["demo-package"], with_tests=False)


def test_a_data_folder_that_cannot_be_written_to_is_named_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("NOTCHBOOK_DATA", str(tmp_path / "file" / "data"))
    monkeypatch.setenv("NOTCHBOOK_NO_VENV", "1")
    monkeypatch.setenv("DJANGO_SETTINGS_MODULE", LOCAL)
    assert command_line.main(["manage.py", "start"]) == 1
    said = capsys.readouterr().err
    assert f"The data folder {tmp_path / 'file' / 'data'} cannot be written to" in said
    assert "NOTCHBOOK_DATA" in said
    assert why_unwritable(tmp_path / "made" / "at" / "once") == ""


def test_a_stamp_that_cannot_be_read_counts_as_none(place: Path) -> None:
    bootstrap.STAMP.parent.mkdir()
    bootstrap.STAMP.write_text("{half a st")
    assert bootstrap.installed() == {}
    bootstrap.STAMP.write_text(json.dumps({"python": "2.7", "run": "x"}))
    assert bootstrap.installed() == {}


def test_an_old_python_is_told_so() -> None:
    """The head of manage.py up to its version check, run with another version put in."""
    text = (bootstrap.Path(bootstrap.__file__).parent.parent / "manage.py").read_text(encoding="utf-8")
    head = text.split("if __name__")[0].replace("sys.version_info", "(3, 8)")
    told = subprocess.run([sys.executable, "-c", head], capture_output=True, text=True, env=dict(os.environ))
    assert told.returncode == 1
    assert "needs Python 3.11 or later; this is Python 3.8." in told.stderr
