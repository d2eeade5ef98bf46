"""Styles that tests of this room begin with."""

import pytest

from planner.styles import actions
from planner.styles.models import Piece, Style
from tests import factories as make
from tests.kept_rows import made_once


@pytest.fixture
def style(db) -> Style:
    """S, M, L; front, back and two bands with outlines; roles body and rib. Made once, then put in as rows."""
    made_once("a style in S, M and L", lambda: make.make_style("110", sizes="S M L"))
    return Style.objects.get(number="110")


@pytest.fixture
def bare(db) -> Style:
    """A style in S, M, L without pieces."""
    return actions.new_style(
        number="120", name="bare", sizes=["S", "M", "L"], base_size="M", roles=["body"], for_children=False
    )


@pytest.fixture
def cuff(style: Style) -> Piece:
    """A piece without outlines, of a style in S, M and L."""
    return Piece.objects.create(style=style, name="cuff", role=style.roles.get(name="rib"), position=9)
