"""What a style's page says of the constructions: nothing as they are drawn, and where a slip is to be put right."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from planner.styles import checks
from planner.styles.models import PieceOutline, Seam, SeamEdge, Style
from planner.styles.seams_page import walked
from planner.styles.specs import style_specs
from tests.styles.constructions import make_swap_top

pytestmark = pytest.mark.django_db


@pytest.fixture
def style(db: None) -> Style:
    return make_swap_top()


def problems(style: Style) -> list[checks.Problem]:
    spec = style_specs([style])[style.number]
    return checks.stopping(spec) + checks.slips(spec)


def test_the_top_has_no_problems(style):
    assert [str(problem) for problem in problems(style)] == []


def test_gathers_that_do_not_fit_are_a_slip_in_the_seams(style):
    Seam.objects.filter(style=style, name="front yoke").update(ratio=Decimal("1.3"))
    found = problems(style)
    assert found
    for problem in found:
        assert problem.section == "seams"
        assert "front yoke" in str(problem)
    assert checks.stopping(style_specs([style])[style.number]) == []


def test_a_facing_of_half_the_neckline_is_a_slip_though_each_edge_is_as_long(style):
    # Front and back neckline are 240 mm each in S, and so is the one facing that is left for them.
    SeamEdge.objects.filter(
        seam__style=style, seam__name="faced neck", piece__name="back neck facing"
    ).delete()
    assert [str(problem) for problem in problems(style)] == [
        "faced neck: second neckline is 260 mm shorter than the first neckline in L, 250 mm in M, 240 mm in S"
    ]


def test_what_holds_of_every_way_of_a_seam_is_said_once(style):
    # Four fronts by two backs: whichever are chosen, a sleeve taken twice is as much too long.
    SeamEdge.objects.filter(seam__style=style, seam__name="armhole", piece__name="sleeve").update(takes=2)
    (said,) = [str(problem) for problem in problems(style)]
    assert said.startswith("armhole: head is 400 mm longer than the armhole in L")


def test_a_misfit_of_some_ways_names_their_options(maker_client, style):
    # The half front's side is drawn 30 mm longer in M, above and below the other two sizes' habit.
    row = PieceOutline.objects.get(piece__style=style, piece__name="half front", size__name="M")
    row.shape["points"] = [[x + 30 if x > 300 else x, y] for x, y in row.shape["points"]]
    row.save()
    said = [str(p) for p in problems(style) if isinstance(p, checks.UnevenSeam) and p.seam == "side"]
    assert said == [
        "side: second side is 30 mm shorter than the first side in M, with front: centre-front seam"
    ]
    Seam.objects.filter(style=style).exclude(name="side").delete()
    page = maker_client.get("/styles/160/").content.decode()
    assert "centre-front seam:</span>" in page
    assert page.count("second side is 30 mm shorter") == 2  # among the slips, and in the table
    assert "fits in every size" not in page


def test_what_fits_in_every_way_is_said_once_and_alternatives_are_joined_by_or(maker_client, style):
    Seam.objects.filter(style=style).exclude(name__in=("armhole", "collar edge")).delete()
    page = " ".join(maker_client.get("/styles/160/").content.decode().split())
    assert page.count("fits in every size") == 2
    assert (
        "front: armhole or front yoke: armhole with gathered front: armhole or half front: armhole or twist front: "
        "armhole, and back: armhole or back yoke: armhole with lower back: armhole + sleeve: head"
    ) in page
    assert "2 × flat collar: end and flat collar: outer edge + 2 × flat collar: end" in page


def test_ways_with_the_same_figures_are_walked_together(style):
    page = walked(style_specs([style])["160"])
    # Only the hem has several lengths: a twisted front and two halves are not as wide as a whole one.
    several = {name for name, n in Counter(one.seam.name for one in page.seams).items() if n > 1}
    assert several == {"hem"}
    armhole = next(one for one in page.seams if one.seam.name == "armhole")
    assert armhole.ways.count == 8
    assert armhole.ways.options == "sleeve: plain"
    assert not armhole.ways.only_for
    SeamEdge.objects.filter(seam__style=style, seam__name="armhole", piece__name="back").update(takes=2)
    page = walked(style_specs([style])["160"])
    one, other = (one for one in page.seams if one.seam.name == "armhole")
    assert (one.ways.count, one.ways.only_for, one.fits) == (4, "back: plain", False)
    assert (other.ways.count, other.ways.only_for, other.fits) == (4, "back: yoke", True)
    assert page.answer == "1 seam does not fit."


def test_a_tie_at_the_neck_of_childrens_wear_is_warned_of(maker_client, style):
    page = maker_client.get("/styles/160/").content.decode()
    assert "EN 14682" not in page
    Style.objects.filter(pk=style.pk).update(for_children=True)
    page = maker_client.get("/styles/160/").content.decode()
    assert "Cord or tie on children’s wear: tie collar." in page
    assert "EN 14682" in page
