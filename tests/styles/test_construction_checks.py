"""What a style's page says of the constructions: nothing as they are drawn, and where a slip is to be put right."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.styles import checks
from planner.styles.models import Seam, SeamEdge, Style
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


def test_a_facing_of_half_the_neckline_is_a_slip_though_each_edge_is_as_long(style):
    # Front and back neckline are 240 mm each in S, and so is the one facing that is left for them.
    SeamEdge.objects.filter(
        seam__style=style, seam__name="faced neck", piece__name="back neck facing"
    ).delete()
    (said,) = [str(problem) for problem in problems(style)]
    assert said.startswith("faced neck: ")
    assert "is 260 mm shorter than the" in said
    # Four fronts by two backs; only the names of the pieces differ.
    assert said.endswith("in L, 250 mm in M, 240 mm in S; as much in 7 other choices of options")


def test_what_holds_of_every_way_of_a_seam_is_said_once(style):
    # Five armholes of a front by three of a back: whichever are chosen, a sleeve taken twice is as much too long.
    SeamEdge.objects.filter(seam__style=style, seam__name="armhole", piece__name="sleeve").update(takes=2)
    (said,) = [str(problem) for problem in problems(style)]
    assert said.startswith("armhole: head is 400 mm longer than the armhole in L")


def test_a_tie_at_the_neck_of_childrens_wear_is_warned_of(maker_client, style):
    page = maker_client.get("/styles/160/").content.decode()
    assert "EN 14682" not in page
    Style.objects.filter(pk=style.pk).update(for_children=True)
    page = maker_client.get("/styles/160/").content.decode()
    assert "Cord or tie on children’s wear: tie collar." in page
    assert "EN 14682" in page
