"""Thread against published formulas, printed charts and worked examples."""

import pytest

from planner.core.notions.thread import (
    STITCH_TYPES,
    cones_needed,
    ratio_from_geometry,
    ratio_from_unpicked,
)

INCH = 25.4


@pytest.mark.parametrize(
    ("number", "per_inch", "thick_in", "wide_in", "ratio"),
    [
        # Published apparel-engineering formulas, inch of thread per inch of seam; their worked figures.
        ("101", 9, 0.005, 0.0, 3.09),
        ("301", 10, 0.01, 0.0, 2.20),
        ("504", 10, 0.05, 0.25, 15.0),
        # Thread maker's printed chart.
        ("401", 8, 0.055, 0.0, 4.88),
        ("401", 8, 0.075, 0.0, 5.20),
    ],
)
def test_worked_figures_of_stitch_geometry(
    number: str, per_inch: float, thick_in: float, wide_in: float, ratio: float
) -> None:
    ours = ratio_from_geometry(
        number, stitch_length_mm=INCH / per_inch, thickness_mm=thick_in * INCH, width_mm=wide_in * INCH
    )
    assert ours == pytest.approx(ratio, abs=1e-9)


@pytest.mark.parametrize(
    ("number", "formula"),
    [
        # Published apparel-engineering formulas: S stitches an inch, T seam thickness in, W width in.
        ("101", lambda s, t, w: 3 + 2 * t * s),
        ("301", lambda s, t, w: 2 + 2 * t * s),
        ("401", lambda s, t, w: 4 + 2 * t * s),
        ("406", lambda s, t, w: 7 + 2 * s * (t + w)),
        ("407", lambda s, t, w: 9 + 2 * s * (3 * t + w)),
        ("504", lambda s, t, w: 3 + 4 * s * (w + t)),
        ("514", lambda s, t, w: 5 + 2 * s * (3 * t + 2 * w)),
        ("516", lambda s, t, w: 9 + 2 * s * (2 * w + 3 * t)),
        ("602", lambda s, t, w: 8 + s * (5 * w + 4 * t)),
        ("605", lambda s, t, w: 10 + 2 * s * (2 * w + 3 * t)),
    ],
)
def test_formulas_as_published_in_inches(number: str, formula: object) -> None:
    for s, t, w in [(8, 0.02, 0.125), (10, 0.05, 0.25), (14, 0.08, 0.2)]:
        ours = ratio_from_geometry(
            number, stitch_length_mm=INCH / s, thickness_mm=t * INCH, width_mm=w * INCH
        )
        assert ours == pytest.approx(formula(s, t, w))  # type: ignore[operator]


@pytest.mark.parametrize(
    ("number", "ratio"),
    [
        # Thread makers' consumption tables, thread per unit of seam (from memory).
        ("301", 2.5),
        ("101", 4.0),
        ("401", 5.5),
        ("304", 7.0),
        ("503", 12.0),
        ("504", 14.0),
        ("512", 18.0),
        ("516", 20.0),
        ("406", 18.0),
        ("602", 25.0),
        ("605", 28.0),
    ],
)
def test_table_ratios(number: str, ratio: float) -> None:
    assert STITCH_TYPES[number].ratio == ratio


def test_cones_on_each_machine() -> None:
    # Stitch types as ISO 4915 draws them (numbers of threads from memory of the standard).
    threads = "101 1, 301 2, 304 2, 401 2, 406 3, 407 4, 503 2, 504 3, 514 4, 516 5, 602 4, 605 5, 607 6"
    for number, count in (pair.split() for pair in threads.split(", ")):
        assert STITCH_TYPES[number].threads == int(count)


def test_a_seam_unpicked_and_measured() -> None:
    # Published worked example: 401, 15 cm unpicked give 19.5 cm needle and 62.0 cm looper thread.
    # For 100 cm of seam 130 + 413.3 cm, which the source rounds to 540 cm.
    ratio = ratio_from_unpicked(150.0, [195.0, 620.0])
    assert 100 * ratio == pytest.approx(130 + 413.3, abs=0.05)


def test_the_measured_seam_lies_near_the_table() -> None:
    # The same worked example against the consumption tables (from memory): 5.43 to 5.5.
    assert ratio_from_unpicked(150.0, [195.0, 620.0]) == pytest.approx(STITCH_TYPES["401"].ratio, rel=0.05)


def test_cones_rather_than_metres_for_a_small_lot() -> None:
    # Common practice: an overlock needs a cone of the colour on every position at once.
    assert cones_needed(300.0, 5000.0, STITCH_TYPES["514"].threads) == 4
    assert cones_needed(23_000.0, 5000.0, STITCH_TYPES["514"].threads) == 5
