"""Whatever a file holds, the reader gives pieces or its own error, and never stumbles over its own feet."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.core.pattern_files.model import PatternFileError, ReadPattern
from planner.core.pattern_files.read import NotUnderstoodError, read_pattern
from planner.core.pattern_files.report import pattern_report
from tests.core.pattern_makers import damaged, one_piece, polyline, rules_file, sample_files

FILES = sample_files()
RULES = rules_file({n: [(-5, -2), (0, 0), (5, 2)] for n in (1, 2, 3, 4)})
STEADY = settings(max_examples=50, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def read(content: bytes, *, rules: bytes | None = None, mend: bool = True) -> ReadPattern | None:
    """The pattern; None where it was refused. The net under the libraries must not be needed."""
    try:
        pattern = read_pattern(content, name="file.dxf", rules=rules, rules_name="file.rul", mend=mend)
    except NotUnderstoodError as fault:
        raise AssertionError("something nobody looked for") from fault
    except PatternFileError:
        return None
    pattern_report(pattern)
    for piece in pattern.pieces:
        assert piece.outline.polygon.is_valid
        assert piece.outline.area_mm2 > 0
    return pattern


def test_the_files_to_be_damaged_are_read() -> None:
    assert all(read(content) for content in FILES)
    graded = read(FILES[3], rules=RULES)
    assert graded is not None
    assert graded.sizes == ("S", "M", "L")


@pytest.mark.parametrize("which", range(len(FILES)))
def test_damaged_files_are_read_or_refused(which: int) -> None:
    for seed in range(60):
        read(damaged(FILES[which], seed), mend=seed % 2 == 0)


def test_damaged_grade_rules_are_read_or_refused() -> None:
    for seed in range(75):
        read(FILES[3], rules=damaged(RULES, seed))


NUMBERS = st.one_of(
    st.floats(-1e4, 1e4),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from([0.0, 100.0, 100.4, 300.0, 1e300, 1e7]),
)


@STEADY
@given(
    st.lists(st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=1, max_size=8), min_size=1, max_size=5)
)
def test_any_lines_at_all(lines: list[list[tuple[float, float, float]]]) -> None:
    read(one_piece("".join(polyline(line, closed=i % 3 == 2) for i, line in enumerate(lines))))


@STEADY
@given(st.binary(max_size=300))
def test_any_bytes_at_all(content: bytes) -> None:
    read(content)
    read(b"0\nSECTION\n" + content)
