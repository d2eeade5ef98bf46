"""A figure and its unit stand on one line of a paper, whatever space is between them."""

import pytest

from planner.papers.typefaces import width_of, wrap


@pytest.mark.parametrize(
    "figure", ["1594 mm", "84 %", "2.8\N{THIN SPACE}m", "1 594 mm", "12\N{NO-BREAK SPACE}3/8 in"]
)
def test_no_line_ends_between_a_figure_and_its_unit(figure: str) -> None:
    text = f"cloth that lies {figure} wide, 4 plies laid"
    widths = {round(width_of(text[:n], 10), 1) for n in range(len(f"lies {figure}"), len(text))}
    for width in sorted(widths):
        lines = wrap(text, 10, width)
        assert " ".join(lines) == text
        unit = figure.split()[-1]
        assert not any(line.startswith(unit) for line in lines), lines


def test_a_figure_with_its_unit_that_is_wider_than_the_line_parts_before_the_unit() -> None:
    assert wrap("1594 mm", 10, width_of("1594 m", 10)) == ("1594", "mm")
    assert wrap("2 yards 3 miles", 10, width_of("2 yards 3", 10)) == ("2 yards 3", "miles")
