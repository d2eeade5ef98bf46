"""Styles that tests of this room begin with."""

import pytest

from planner.styles import actions
from planner.styles.models import Style
from tests import factories as make


@pytest.fixture
def style(db) -> Style:
    """S, M, L; front, back and two bands with outlines; roles body and rib."""
    return make.make_style("110", sizes="S M L")


@pytest.fixture
def bare(db) -> Style:
    """A style in S, M, L without pieces."""
    return actions.new_style(
        number="120", name="bare", sizes=["S", "M", "L"], base_size="M", roles=["body"], for_children=False
    )
