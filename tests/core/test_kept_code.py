"""Until our own search is compiled, lays are left to the library; who compiles does it once, beside."""

import re
import shutil
import sys
from pathlib import Path
from threading import Event, Thread

import pytest

from planner.core.lays import hunt, kept_code, searcher, solver
from planner.core.lays import nest as nest_module
from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import nest
from planner.core.lays.runs import runs_for
from planner.core.outline import make_outline


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Where compiled code is kept, with nothing in it yet."""
    kept = tmp_path / "compiled"
    monkeypatch.setattr(kept_code, "folder", lambda: kept)
    monkeypatch.setattr(kept_code, "_ASK_EVERY", 0.01)
    return kept


@pytest.fixture
def asked(monkeypatch):
    """Which search was asked for how long; neither finds anything."""
    found = []

    def note(name):
        def way(search, best):
            found.append((name, search.run.library_seconds, search.run.seconds))
            yield from ()

        return way

    monkeypatch.setattr(nest_module, "_solved", note("library"))
    monkeypatch.setattr(nest_module, "_hunted", note("ours"))
    return found


def triangles(count):
    outline = make_outline([(0, 0), (600, 0), (0, 500)])
    return MarkerJob(
        1000, False, 0, tuple(ItemToLay("1", "part", "M", n, False, True, outline) for n in range(count))
    )


def test_what_is_kept_is_named_after_every_module_that_is_compiled():
    """Else a change in one of them would go on being run as it was before."""
    lays = Path(kept_code.__file__).parent
    compiling = {
        p.stem
        for p in lays.glob("*.py")
        if re.search(r"^@(compiled|inlined)", p.read_text(encoding="utf-8"), re.M)
    }
    assert compiling <= set(kept_code._SOURCES)
    assert "trades" in compiling


def test_what_was_kept_does_not_count_once_the_program_lies_elsewhere(tmp_path, monkeypatch):
    """The compiler then finds none of it: the first lay would be nested while all is compiled anew."""
    named = kept_code._name.__wrapped__
    moved = shutil.copytree(
        Path(kept_code.__file__).parent, tmp_path / "lays", ignore=shutil.ignore_patterns("__pycache__")
    )
    before = named()
    monkeypatch.setattr(kept_code, "_HERE", moved)
    assert named() != before
    assert named() == named()


@pytest.mark.usefixtures("folder")
def test_the_library_has_all_the_time_until_the_search_is_compiled(asked):
    """And from the next marker on our own search joins in."""
    nest(triangles(5), seconds=7)
    assert asked == [("library", 3.5, 3.5), ("library", 3.5, 3.5)]
    asked.clear()
    kept_code.note_complete()
    nest(triangles(5), seconds=7)
    assert asked == [("ours", 1.0, 7)]


def test_nothing_is_waited_for_where_nothing_can_be_kept(tmp_path, monkeypatch, asked):
    """Each hunt would compile for longer than it may take, so that the library nests alone, and for good."""
    (tmp_path / "file").touch()
    monkeypatch.setattr(kept_code, "folder", lambda: tmp_path / "file" / "compiled")
    kept_code.note_complete()
    kept_code.give_up()
    assert (kept_code.is_complete(), kept_code.is_awaited(), kept_code.is_given_up()) == (False, False, True)
    nest(triangles(5), seconds=7)
    assert [name for name, *_ in asked] == ["library", "library"]
    with kept_code.one_at_a_time():
        pass


@pytest.mark.usefixtures("folder")
def test_what_cannot_be_compiled_is_given_up_until_somebody_tries_again():
    assert (kept_code.is_awaited(), kept_code.is_given_up()) == (True, False)
    kept_code.give_up()
    assert (kept_code.is_awaited(), kept_code.is_given_up()) == (False, True)
    kept_code.try_again()
    assert (kept_code.is_awaited(), kept_code.is_given_up()) == (True, False)
    kept_code.give_up()
    kept_code.note_complete()
    assert (kept_code.is_awaited(), kept_code.is_given_up()) == (False, False)


@pytest.mark.usefixtures("folder")
def test_without_a_compiler_nothing_is_waited_for_and_nothing_is_started(monkeypatch):
    monkeypatch.setattr(kept_code, "_compiler", lambda: "none")
    monkeypatch.setattr(solver.subprocess, "run", lambda *a, **k: pytest.fail("there is no compiler"))
    solver.prepare_search()
    assert (kept_code.is_awaited(), kept_code.is_given_up()) == (False, True)


def test_where_the_program_cannot_be_written_to_it_is_kept_with_the_data_else_among_the_temporary_files(
    tmp_path, monkeypatch
):
    own, data = tmp_path / "temporary", tmp_path / "data"
    (tmp_path / "file").touch()
    monkeypatch.setattr(kept_code, "_HERE", tmp_path / "file")
    monkeypatch.setattr(kept_code, "_name", lambda: "compiled-x")
    monkeypatch.setattr(kept_code.tempfile, "gettempdir", lambda: str(own))
    own.mkdir()
    monkeypatch.setenv("NOTCHBOOK_DATA", str(data))
    find = kept_code.folder.__wrapped__
    assert find() == data / "compiled" / "compiled-x"
    monkeypatch.delenv("NOTCHBOOK_DATA")
    found = find()
    assert (found.name, found.parent.parent) == ("compiled-x", own)
    assert found.parent.stat().st_mode & 0o077 == 0 or sys.platform == "win32"
    if sys.platform != "win32":
        found.parent.chmod(0o777)
        assert find().parent == tmp_path / "file" / "__pycache__", "others could put code there"


def test_of_several_who_start_the_first_compiles_and_the_others_wait_for_it(folder, monkeypatch):
    begun, go_on, waits, compiled = Event(), Event(), Event(), []

    def compile_all():
        compiled.append(folder)
        begun.set()
        assert go_on.wait(20)
        kept_code.note_complete()

    locked = kept_code._locked

    def noted(file):
        is_ours = locked(file)
        if not is_ours:
            waits.set()
        return is_ours

    monkeypatch.setattr(hunt, "compile_all", compile_all)
    monkeypatch.setattr(kept_code, "_locked", noted)
    first, second = (Thread(target=searcher._prepare, daemon=True) for _ in range(2))
    first.start()
    assert begun.wait(20)
    second.start()
    assert waits.wait(20)
    assert kept_code.is_awaited()
    go_on.set()
    for one in (first, second):
        one.join(20)
        assert not one.is_alive()
    assert compiled == [folder]


def test_it_is_compiled_in_a_process_of_its_own_and_what_goes_wrong_is_logged(
    folder, tmp_path, monkeypatch, caplog
):
    program = tmp_path / "searcher.py"
    program.write_text("import no_such_library")
    monkeypatch.setattr(solver, "_SEARCHER", program)
    solver.prepare_search()
    assert "no_such_library" in caplog.text
    assert kept_code.is_given_up(), "nobody waits for it any more"
    caplog.clear()
    kept, told = str(folder / "complete"), str(tmp_path / "told")
    program.write_text(
        f"import sys, pathlib; pathlib.Path({told!r}).write_text(sys.argv[1]); pathlib.Path({kept!r}).touch()"
    )
    solver.prepare_search()
    assert (tmp_path / "told").read_text() == "--prepare"
    assert not caplog.text
    assert not kept_code.is_given_up(), "the next start tries again"
    monkeypatch.setattr(solver.subprocess, "run", lambda *a, **k: pytest.fail("there is nothing to compile"))
    solver.prepare_search()


def test_that_compiling_took_too_long_is_not_final(folder, monkeypatch, caplog):
    """On a very busy machine it has no turn; the worker tries again."""

    def too_long(*asked, **options):
        raise solver.subprocess.TimeoutExpired("compiling", 1800)

    monkeypatch.setattr(solver.subprocess, "run", too_long)
    solver.prepare_search()
    assert (kept_code.is_awaited(), kept_code.is_given_up()) == (True, False)
    assert "could not be compiled yet" in caplog.text


def test_the_librarys_time_is_cut_into_runs_with_a_seed_each():
    runs = runs_for(30, 60, fresh=True, may_hunt=False)
    assert [(r.hunting, r.seconds) for r in runs] == [(False, 20.0)] * 3
