"""Until our own search is compiled, lays are left to the library; who compiles does it once, beside."""

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
    """Then hunts compile in their own time, as they can, or find no compiler and leave it to the library."""
    (tmp_path / "file").touch()
    monkeypatch.setattr(kept_code, "folder", lambda: tmp_path / "file" / "compiled")
    kept_code.note_complete()
    assert (kept_code.is_complete(), kept_code.is_awaited()) == (False, False)
    nest(triangles(5), seconds=7)
    assert [name for name, *_ in asked] == ["ours"]
    with kept_code.one_at_a_time():
        pass


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


@pytest.mark.usefixtures("folder")
def test_it_is_compiled_in_a_process_of_its_own_and_what_goes_wrong_is_logged(tmp_path, monkeypatch, caplog):
    program = tmp_path / "searcher.py"
    program.write_text(
        f"import sys, pathlib; pathlib.Path({str(tmp_path / 'told')!r}).write_text(sys.argv[1])"
    )
    monkeypatch.setattr(solver, "_SEARCHER", program)
    solver.prepare_search()
    assert (tmp_path / "told").read_text() == "--prepare"
    assert not caplog.text
    program.write_text("import no_such_library")
    solver.prepare_search()
    assert "no_such_library" in caplog.text
    kept_code.note_complete()
    monkeypatch.setattr(solver.subprocess, "run", lambda *a, **k: pytest.fail("there is nothing to compile"))
    solver.prepare_search()


def test_the_librarys_time_is_cut_into_runs_with_a_seed_each():
    runs = runs_for(30, 60, fresh=True, may_hunt=False)
    assert [(r.hunting, r.seconds) for r in runs] == [(False, 20.0)] * 3
