"""Warming up beside the server: what is measured then need not be measured for the first estimate."""

import gc
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Iterator

import pytest

from planner.core import seam_lines, units
from planner.running import warm
from planner.styles.models import Style
from planner.styles.specs import workshop
from tests import factories as make


@pytest.fixture(autouse=True)
def the_collector_is_left_as_it_was() -> Iterator[None]:
    before = gc.get_threshold()
    gc.unfreeze()  # what was loaded for all tests is out of its sight (`tests/conftest.py`)
    yield
    gc.freeze()
    gc.set_threshold(*before)


@pytest.mark.django_db
def test_the_newest_style_is_measured_units_are_known_and_what_is_loaded_is_left_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(units, "warm_up", lambda: asked.append("units"))
    make.make_style("110", sizes="S M")
    warm.warm_up()
    assert asked == ["units"]
    front = workshop(["110"]).styles["110"].pieces[0]
    for size in ("S", "M"):
        outline = front.outlines[size]
        allowances = seam_lines.allowances_for(outline, front.allowance_mm, front.edge_allowances)
        assert seam_lines.edge_allowances_mm(outline, allowances) in outline.__dict__["_seam_lines"]
    assert gc.get_freeze_count() > 0


@pytest.mark.django_db
def test_an_empty_workroom_and_a_style_with_gaps_are_no_hindrance() -> None:
    warm.warm_up()
    other = make.make_style("110")
    Style.objects.create(
        number="120", name="nothing yet", size_range=other.size_range, base_size=other.base_size
    )
    warm.warm_up()


def test_a_failure_is_noted_and_harms_nobody(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail() -> None:
        raise OSError("the disk is gone")

    monkeypatch.setattr(warm, "warm_up", fail)
    with caplog.at_level(logging.ERROR):
        thread = warm.warm_up_beside()
        thread.join(10)
    assert not thread.is_alive()
    assert thread is not threading.current_thread()
    assert "Warming up failed" in caplog.text
    assert "the disk is gone" in caplog.text


def test_another_server_has_all_pages_but_not_the_library_for_dxf_and_comes_up_where_warming_fails() -> None:
    """In a fresh process, whose database has no tables: warming up ends at that, before it loads what comes later."""
    code = (
        "import sys; from planner.web.wsgi import application; "
        "print(callable(application), 'planner.styles.views.exports' in sys.modules, 'ezdxf' in sys.modules)"
    )
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "planner.settings.test",
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    done = subprocess.run(
        [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["True", "True", "False"]
    assert "Warming up failed" in done.stderr
