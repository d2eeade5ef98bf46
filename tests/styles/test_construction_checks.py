"""What a style's page says of the constructions: nothing as they are drawn, and where a slip is to be put right."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.styles import checks
from planner.styles.models import Seam, Style
from planner.styles.specs import style_specs
from tests.styles.constructions import make_swap_top

pytestmark = pytest.mark.django_db


@pytest.fixture
def style(db: None) -> Style:
    return make_swap_top()


def problems(style: Style) -> list[checks.Problem]:
    return checks.problems(style_specs([style])[style.number])


def test_the_top_has_no_problems(style):
    assert [str(problem) for problem in problems(style)] == []


def test_gathers_that_do_not_fit_are_a_slip_in_the_seams(style):
    Seam.objects.filter(style=style, name="front yoke").update(ratio=Decimal("1.3"))
    found = problems(style)
    assert found
    for problem in found:
        assert problem.section == "seams"
        assert not problem.stops
        assert "front yoke" in str(problem)


def test_a_tie_at_the_neck_of_childrens_wear_is_warned_of(maker_client, style):
    page = maker_client.get("/styles/160/").content.decode()
    assert "EN 14682" not in page
    Style.objects.filter(pk=style.pk).update(for_children=True)
    page = maker_client.get("/styles/160/").content.decode()
    assert "Cord or tie on children’s wear: tie collar." in page
    assert "EN 14682" in page
