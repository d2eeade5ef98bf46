"""What makers do to styles, and what is refused."""

import pytest

from planner.core.outline import rectangle
from planner.styles import actions
from planner.styles.models import (
    ClothRole,
    ColourwayCloth,
    Detail,
    Option,
    Piece,
    PieceOutline,
    Seam,
    SeamEdge,
    Style,
    StyleNotion,
)
from planner.styles.specs import style_specs
from tests import factories as make

pytestmark = pytest.mark.django_db


def spec_of(number: str):
    return style_specs(Style.objects.filter(number=number))[number]


def test_a_new_style_has_its_sizes_and_roles():
    style = actions.new_style(
        number="200",
        name="vest",
        sizes=["S", "M", "L"],
        base_size="M",
        roles=["body", "rib"],
        for_children=False,
    )
    assert [size.name for size in style.size_range.sizes.all()] == ["S", "M", "L"]
    assert (style.size_range.name, style.base_size.name) == ("S to L", "M")
    assert [role.name for role in style.roles.all()] == ["body", "rib"]
    again = actions.new_style(
        number="201", name="vest", sizes=["S", "L"], base_size="S", roles=["body"], for_children=True
    )
    assert again.size_range.name == "S to L (2)"
    assert again.for_children


def test_a_copy_has_everything_and_shares_only_the_size_range():
    style = make.make_style("110", colourways=("ink", "chalk"))
    copy = actions.copy_style(style, number="115", name="boxer top")
    before, after = spec_of("110"), spec_of("115")
    for part in ("sizes", "base_size", "details", "pieces", "seams", "operations", "notions", "colourways"):
        assert getattr(after, part) == getattr(before, part), part
    assert (after.name, before.name) == ("boxer top", "box top")
    assert copy.size_range_id == style.size_range_id
    # Nothing of the copy points at a part of the old style.
    assert not Option.objects.filter(detail__style=copy, pieces__style=style).exists()
    assert not Piece.objects.filter(style=copy, role__style=style).exists()
    assert not Piece.objects.filter(style=copy, option__detail__style=style).exists()
    assert not Seam.objects.filter(style=copy, operation__style=style).exists()
    assert not SeamEdge.objects.filter(seam__style=copy, piece__style=style).exists()
    assert not StyleNotion.objects.filter(style=copy, seam__style=style).exists()
    assert not ColourwayCloth.objects.filter(colourway__style=copy, role__style=style).exists()


def test_changing_a_copy_leaves_the_old_style_as_it_is():
    make.make_style("110")
    before = spec_of("110")
    copy = actions.copy_style(Style.objects.get(number="110"), number="115", name="copy")
    copy.pieces.filter(name="front").update(name="front panel")
    PieceOutline.objects.filter(piece__style=copy).delete()
    copy.notions.all().delete()
    assert spec_of("110") == before


def test_a_copy_of_a_retired_style_is_sold():
    style = make.make_style("110")
    actions.set_retired(style, retired=True)
    assert not Style.objects.sold().exists()
    assert not actions.copy_style(style, number="115", name="copy").retired


# --- sizes ------------------------------------------------------------------------------------------------


def change(style, sizes: str, base: str = "M", **how):
    usual = {"only_this": False, "even_with_outlines": False}
    return actions.change_sizes(style, sizes.split(), base_size=base, **{**usual, **how})


def test_sizes_are_added_and_put_in_order():
    style = make.make_style("110", sizes="S M L")
    assert isinstance(change(style, "XS S M L XL"), actions.Done)
    assert spec_of("110").sizes == ("XS", "S", "M", "L", "XL")
    assert PieceOutline.objects.filter(piece__style=style).count() == 4 * 3


def test_a_size_with_outlines_goes_only_when_told_so():
    style = make.make_style("110", sizes="S M L")
    asked = change(style, "S M")
    assert isinstance(asked, actions.Asks)
    assert "L goes, and with it 4 outlines of style 110" in asked.text
    assert spec_of("110").sizes == ("S", "M", "L")
    assert isinstance(change(style, "S M", even_with_outlines=True), actions.Done)
    assert spec_of("110").sizes == ("S", "M")
    assert PieceOutline.objects.count() == 4 * 2


def test_an_ordered_size_stays():
    style = make.make_style("110", sizes="S M L")
    make.make_order([(style, {"neck": "rib band"}, "ink", {"L": 1})])
    refused = change(style, "S M", even_with_outlines=True)
    assert isinstance(refused, actions.Refused)
    assert "L is ordered already" in refused.text
    assert spec_of("110").sizes == ("S", "M", "L")


def test_the_base_size_of_another_style_stays():
    style = make.make_style("110", sizes="S M L")
    other = make.make_style("120", sizes="S M L")
    other.base_size = other.size_range.sizes.get(name="L")
    other.save()
    refused = change(style, "S M", even_with_outlines=True)
    assert isinstance(refused, actions.Refused)
    assert "L is the base size of 120" in refused.text


def test_one_style_gets_sizes_of_its_own():
    style, other = make.make_style("110", sizes="S M L"), make.make_style("120", sizes="S M L")
    front = style_specs([style])["110"].pieces[0].outlines["M"]
    assert isinstance(change(style, "M L XL", only_this=True), actions.Asks)
    assert isinstance(change(style, "M L XL", only_this=True, even_with_outlines=True), actions.Done)
    assert spec_of("110").sizes == ("M", "L", "XL")
    assert list(spec_of("110").pieces[0].outlines) == ["M", "L"]
    assert spec_of("110").pieces[0].outlines["M"] == front
    assert spec_of("120").sizes == ("S", "M", "L")
    assert PieceOutline.objects.filter(piece__style=other).count() == 12


def test_an_ordered_style_keeps_the_range_it_shares():
    style = make.make_style("110", sizes="S M L")
    make.make_style("120", sizes="S M L")
    make.make_order([(style, {}, "ink", {"L": 1})])
    assert isinstance(change(style, "S M L XL", only_this=True), actions.Refused)
    assert spec_of("110").sizes == ("S", "M", "L")


def care_label_in_s(style: Style) -> StyleNotion:
    colour = make.make_notion_colour("care label")
    return style.notions.create(notion_colour=colour, size=style.size_range.sizes.get(name="S"))


def test_a_size_in_which_alone_a_notion_is_taken_stays_and_that_is_the_reason():
    """Nobody ordered it."""
    style = make.make_style("110", sizes="S M L")
    care_label_in_s(style)
    refused = change(style, "M L", even_with_outlines=True)
    assert isinstance(refused, actions.Refused)
    assert "care label of style 110 is taken in S only, so that size has to stay." in refused.text
    assert "ordered" not in refused.text


def test_a_notion_of_one_size_goes_along_to_sizes_of_the_style_s_own():
    """Else its form would no longer know the size, and quietly make it every size."""
    style, _ = make.make_style("110", sizes="S M L"), make.make_style("120", sizes="S M L")
    notion = care_label_in_s(style)
    refused = change(style, "M L XL", only_this=True, even_with_outlines=True)
    assert isinstance(refused, actions.Refused)
    assert "taken in S only" in refused.text
    assert isinstance(change(style, "S M", only_this=True, even_with_outlines=True), actions.Done)
    notion.refresh_from_db()
    style.refresh_from_db()
    assert notion.size == style.size_range.sizes.get(name="S")


# --- parts ------------------------------------------------------------------------------------------------


def refusal(part) -> str:
    result = actions.drop_part(part)
    assert isinstance(result, actions.Refused)
    assert type(part).objects.filter(pk=part.pk).exists()
    return result.text


def test_parts_that_others_need_stay_with_the_reason():
    style = make.make_style("110")
    body, neck = ClothRole.objects.get(name="body"), Detail.objects.get()
    assert "pieces front, back, self neck band" in refusal(body)
    assert "piece rib neck band" in refusal(Option.objects.get(name="rib band"))
    assert "self neck band" in refusal(neck)
    assert "seams shoulder, neck, self band" not in refusal(style.pieces.get(name="front"))
    assert "seam" in refusal(style.pieces.get(name="front"))
    assert "seam shoulder" in refusal(style.operations.get(name="join shoulders"))
    assert "clear elastic 6 mm" in refusal(style.seams.get(name="shoulder"))
    pocket = style.pieces.create(name="pocket", role=body)
    style.notions.create(notion_colour=make.make_notion_colour("press stud"), basis="piece", piece=pocket)
    assert "pocket is still needed by the notion press stud." in refusal(pocket)


def test_parts_that_are_ordered_stay_with_the_reason():
    style = make.make_style("110")
    make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 2})])
    SeamEdge.objects.all().delete()
    for part in (
        style.pieces.get(name="front"),
        style.pieces.get(name="rib neck band"),
        Option.objects.get(name="rib band"),
        style.colourways.get(),
    ):
        assert "ordered already" in refusal(part)
    # The other option was never ordered, so its piece may go.
    assert isinstance(actions.drop_part(style.pieces.get(name="self neck band")), actions.Done)


def test_parts_that_nobody_needs_go():
    style = make.make_style("110")
    role = ClothRole.objects.create(style=style, name="facing", position=2)
    hem = style.operations.get(name="hem")
    for part in (role, hem, style.notions.first(), style.colourways.get()):
        assert isinstance(actions.drop_part(part), actions.Done)
        assert not type(part).objects.filter(pk=part.pk).exists()


def test_an_operation_changes_places_with_its_neighbour():
    style = make.make_style("110")
    rows = style.operations.all()
    names = [step.name for step in rows]
    actions.move_part(rows[1], style, up=True)
    assert [step.name for step in style.operations.all()] == [names[1], names[0], *names[2:]]
    actions.move_part(style.operations.first(), style, up=True)
    actions.move_part(style.operations.last(), style, up=False)
    assert [step.name for step in style.operations.all()] == [names[1], names[0], *names[2:]]


def test_outlines_are_kept_in_place_of_old_ones_and_taken_away():
    style = make.make_style("110", sizes="S M")
    front = style.pieces.get(name="front")
    small, medium = style.size_range.sizes.all()
    actions.keep_outlines(front, {small: rectangle(600, 500), medium: rectangle(620, 520)})
    assert list(front.outlines.values_list("area_mm2", flat=True)) == [300_000, 322_400]
    actions.drop_outline(front, small)
    assert front.outlines.get().size == medium
