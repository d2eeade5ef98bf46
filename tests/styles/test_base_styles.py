"""Styles built on a base: they have its parts and their own besides."""

import pytest
from django.urls import reverse as url

from planner.core.missing import find_missing
from planner.core.spec import Demand, Garment
from planner.styles import actions
from planner.styles.loaded_spec import spec_of
from planner.styles.loading import details_of
from planner.styles.models import (
    ClothRole,
    Colourway,
    ColourwayCloth,
    Detail,
    Operation,
    Option,
    Piece,
    PieceOutline,
    Seam,
    Style,
    StyleNotion,
)
from planner.styles.spec_heads import specs_without_shapes
from planner.styles.specs import style_specs, workshop
from tests import factories as make

pytestmark = pytest.mark.django_db

NECKS = ("self band", "rib band")


@pytest.fixture
def base() -> Style:
    return make.make_style("110")


@pytest.fixture
def built(base: Style) -> Style:
    return make.make_built_on(base, "111", "long box top")


def spec(style: Style | str):
    number = style if isinstance(style, str) else style.number
    return style_specs([Style.objects.get(number=number)])[number]


def page_spec(number: str):
    style = Style.objects.with_everything().get(number=number)
    return spec_of(style, details_of(style))


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


# --- what it has ------------------------------------------------------------------------------------------


def test_it_has_the_parts_of_the_base_and_can_be_planned_with_its_own_colourway(base, built):
    ours, theirs = spec(built), spec(base)
    assert ours.pieces == theirs.pieces
    assert len(ours.pieces) == 4
    assert ours.details == {"neck": NECKS}
    assert (ours.seams, ours.operations, ours.notions) == (theirs.seams, theirs.operations, theirs.notions)
    assert list(ours.colourways) == ["moss"]
    assert list(theirs.colourways) == ["ink"]
    garment = Garment("111", (("neck", "rib band"),), "moss", "M")
    assert find_missing([Demand(garment, 3)], workshop(["111"])) == ()


def test_a_new_neck_finish_of_the_base_is_orderable_in_all_styles_that_share_it(base, built):
    make.make_built_on(base, "112", "short box top")
    neck = base.details.get(name="neck")
    facing = Option.objects.create(detail=neck, name="facing", position=2)
    role = base.roles.get(name="body")
    piece = Piece.objects.create(style=base, option=facing, name="neck facing", role=role, position=9)
    shape = make.band_outline(400)
    PieceOutline.objects.bulk_create(
        PieceOutline(piece=piece, size=size, shape=shape.as_json(), area_mm2=shape.area_mm2)
        for size in base.size_range.sizes.all()
    )
    shop = workshop(["111", "112"])
    for number in ("111", "112"):
        garment = Garment(number, (("neck", "facing"),), "moss", "L")
        assert find_missing([Demand(garment, 1)], shop) == ()
        assert [p.name for p in shop.styles[number].pieces_for(garment.options)] == [
            "front",
            "back",
            "neck facing",
        ]


def test_its_own_parts_stand_beside_those_of_the_base_and_take_the_place_of_namesakes(base, built):
    role = base.roles.get(name="body")
    Piece.objects.create(style=built, name="pocket", role=role, position=4)
    Piece.objects.create(style=built, name="front", role=role, position=5, count=2, pair=True)
    Operation.objects.create(style=built, name="hem", position=4, machine="sewing machine", stitch_type="301")
    found = spec(built)
    assert [p.name for p in found.pieces] == ["front", "back", "self neck band", "rib neck band", "pocket"]
    assert found.pieces[0].count == 2
    assert [(o.name, o.machine) for o in found.operations][-1] == ("hem", "sewing machine")
    assert len(found.operations) == 5
    assert spec(base).pieces[0].count == 1


def test_a_detail_of_its_own_takes_the_place_of_the_bases(base, built):
    neck = Detail.objects.create(style=built, name="neck")
    for i, name in enumerate(("rib band", "tie")):
        Option.objects.create(detail=neck, name=name, position=i)
    found = spec(built)
    assert found.details == {"neck": ("rib band", "tie")}
    assert [p.name for p in found.pieces] == ["front", "back", "rib neck band"]
    assert "set self band" not in [o.name for o in found.operations]
    assert [p.name for p in found.pieces_for((("neck", "rib band"),))] == ["front", "back", "rib neck band"]


def test_every_way_of_reading_a_style_agrees(base, built):
    role = ClothRole.objects.create(style=built, name="pocket cloth", position=2)
    Piece.objects.create(style=built, name="pocket", role=role, position=4)
    neck = Detail.objects.create(style=built, name="neck")
    for i, name in enumerate(("rib band", "tie")):
        Option.objects.create(detail=neck, name=name, position=i)
    Operation.objects.create(style=built, name="set pocket", position=2)
    for number in ("110", "111"):
        assert page_spec(number) == spec(number)
        lean = specs_without_shapes(Style.objects.filter(number=number)).popitem()[1]
        assert lean.details == spec(number).details
        assert [(p.name, p.option) for p in lean.pieces] == [(p.name, p.option) for p in spec(number).pieces]


def test_own_parts_of_a_style_do_not_reach_its_base_or_its_siblings(base, built):
    other = make.make_built_on(base, "112", "short box top")
    neck, tie = base.details.get(name="neck"), Detail.objects.create(style=built, name="tie")
    own = Option.objects.create(detail=tie, name="long tie")
    Option.objects.create(detail=Detail.objects.create(style=other, name="tie"), name="long tie")
    own.not_with.add(neck.options.get(name="rib band"))
    assert spec(built).exclusions == ((("neck", "rib band"), ("tie", "long tie")),)
    assert page_spec("111").exclusions == spec(built).exclusions
    assert spec(base).exclusions == spec(other).exclusions == ()
    assert page_spec("112").exclusions == ()


@pytest.mark.parametrize("numbers", [["111"], ["111", "112", "113"]])
def test_reading_takes_as_many_queries_as_for_a_style_without_base(base, numbers, django_assert_num_queries):
    for number in numbers:
        make.make_built_on(base, number, "top")
    styles = list(Style.objects.filter(number__in=numbers))
    with django_assert_num_queries(7):
        style_specs(styles)
    with django_assert_num_queries(12):
        list(Style.objects.with_everything().filter(number__in=numbers))
    with django_assert_num_queries(4):
        specs_without_shapes(Style.objects.filter(number__in=numbers))


# --- made, copied, moved ----------------------------------------------------------------------------------


def test_a_style_is_made_on_a_base_with_its_sizes(maker_client, base):
    form = {"number": "111", "name": "long box top", "base": base.pk, "roles": "Body, pocket cloth"}
    answer = maker_client.post(url("style-new"), form, follow=True)
    style = Style.objects.get(number="111")
    assert (style.base, style.size_range, style.base_size) == (base, base.size_range, base.base_size)
    assert [role.name for role in style.roles.all()] == ["pocket cloth"]
    page = text_of(answer)
    assert "Built on <a" in page
    assert "rib neck band" in page
    assert "from 110" in page


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"sizes": "S M"}, "110 box top has the sizes XS S M L XL XXL"),
        ({"base_size": "4XL"}, "4XL is not one of the sizes"),
        ({"base": "built"}, "choose one of the list"),
    ],
)
def test_what_does_not_fit_the_base_is_refused_at_its_field(maker_client, base, built, changes, said):
    form = {"number": "120", "name": "x", "base": base.pk, "roles": "body", **changes}
    if form["base"] == "built":
        form["base"] = built.pk
    answer = maker_client.post(url("style-new"), form)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert not Style.objects.filter(number="120").exists()


def test_a_base_is_not_itself_built_on_another(built):
    with pytest.raises(ValueError, match="itself built on"):
        actions.new_style(
            number="9", name="x", sizes=["S"], base_size="S", roles=[], for_children=False, base=built
        )


def test_a_copy_shares_the_base_and_uses_its_parts(base, built):
    tie = Detail.objects.create(style=built, name="tie")
    long = Option.objects.create(detail=tie, name="long tie")
    long.not_with.add(Option.objects.get(detail__style=base, name="rib band"))
    seam = Seam.objects.create(
        style=built, name="tie seam", option=long, operation=base.operations.get(name="hem"),
        ratio="1.250", fullness="gathered",
    )  # fmt: skip
    seam.edges.create(piece=base.pieces.get(name="front"), edge="hem", side=2, takes=2)
    Piece.objects.create(style=built, name="tie", role=base.roles.get(name="body"), option=long)
    copy = actions.copy_style(built, number="115", name="copy")
    assert copy.base == base
    ours, theirs = spec(copy), spec(built)
    assert (ours.details, ours.exclusions) == (theirs.details, theirs.exclusions)
    assert (ours.pieces, ours.seams, ours.notions) == (theirs.pieces, theirs.seams, theirs.notions)
    assert ours.colourways == theirs.colourways
    assert ours.seams[-1].ratio == 1.25
    assert ours.seams[-1].edges[0].takes == 2
    assert copy.details.get().options.get() != long


def test_the_sizes_of_a_family_change_together(maker_client, base, built):
    page = maker_client.get(url("style-sizes", args=["111"]))
    assert "only_this" not in page.context["form"].fields
    refused = actions.change_sizes(built, ["S"], base_size="S", only_this=True, even_with_outlines=True)
    assert isinstance(refused, actions.Refused)
    assert "built on 110" in refused.text
    refused = actions.change_sizes(base, ["S"], base_size="S", only_this=True, even_with_outlines=True)
    assert isinstance(refused, actions.Refused)
    assert "111 is built on this style" in refused.text


def test_its_own_steps_move_between_those_of_the_base(base, built):
    other = make.make_built_on(base, "112", "short box top")
    own = Operation.objects.create(style=built, name="set pocket", position=5)
    Operation.objects.create(style=other, name="bar tack", position=5)

    def order(style):
        return [step.name for step in spec(style).operations]

    every = ["join shoulders", "close sides", "set self band", "set rib band", "hem"]
    assert order(built) == [*every, "set pocket"]
    for place in (4, 3, 2, 1, 0, 0):
        actions.move_part(Operation.objects.get(pk=own.pk), built, up=True)
        assert order(built) == [*every[:place], "set pocket", *every[place:]]
        assert order(base) == every
        assert order(other) == [*every, "bar tack"]
    actions.move_part(Operation.objects.get(pk=own.pk), built, up=False)
    assert order(built)[:2] == ["join shoulders", "set pocket"]
    actions.move_part(base.operations.get(name="hem"), base, up=True)
    moved = [*every[:3], "hem", "set rib band"]
    assert order(base) == moved
    assert order(other) == [*moved, "bar tack"]
    assert order(built) == ["join shoulders", "set pocket", *moved[1:]]


# --- on the page ------------------------------------------------------------------------------------------


def test_inherited_parts_are_marked_and_changed_at_the_base(maker_client, base, built):
    page = text_of(maker_client.get(url("style-detail", args=["111"])))
    front = base.pieces.get(name="front")
    assert url("part-change", args=["110", "piece", front.pk]) in page
    assert url("part-change", args=["111", "piece", front.pk]) not in page
    assert url("outline-edit", args=["110", front.pk]) in page
    assert url("outline-edit", args=["111", front.pk]) not in page
    theirs = text_of(maker_client.get(url("style-detail", args=["110"])))
    assert "Shared by" in theirs
    assert "what changes here changes there too" in theirs
    assert "from 110" not in theirs


def test_a_part_of_the_base_leads_to_the_base(maker_client, base, built):
    front = base.pieces.get(name="front")
    here, there = (url("part-change", args=[n, "piece", front.pk]) for n in ("111", "110"))
    assert maker_client.get(here).url == there
    assert maker_client.get(here, headers={"hx-request": "true"}).headers["HX-Redirect"] == there
    assert maker_client.post(url("part-drop", args=["111", "piece", front.pk])).status_code == 404
    assert maker_client.get(url("part-change", args=["111", "piece", 99999])).status_code == 404


def test_a_change_of_a_base_part_names_the_styles_it_reaches(maker_client, base, built):
    make.make_built_on(base, "112", "short box top")
    Piece.objects.create(style=built, name="back", role=base.roles.get(name="body"))
    front, back = (base.pieces.get(name=name) for name in ("front", "back"))
    form = text_of(maker_client.get(url("part-change", args=["110", "piece", front.pk])))
    assert "111 and 112 are built on this style and change with it." in form
    form = text_of(maker_client.get(url("part-change", args=["110", "piece", back.pk])))
    assert "112 is built on this style and changes with it." in form
    data = {"name": "front", "role": front.role_id, "count": "1", "seam_allowance_mm": "7"}
    kept = maker_client.post(url("part-change", args=["110", "piece", front.pk]), data, follow=True)
    assert "front is kept. 111 and 112 are built on this style" in text_of(kept)
    label = StyleNotion.objects.get(style=base, basis="garment")
    gone = maker_client.post(url("part-drop", args=["110", "notion", label.pk]), follow=True)
    assert "is taken out, also of 111 and 112." in text_of(gone)


def test_forms_of_a_built_style_offer_the_parts_of_its_base(maker_client, base, built):
    own = ClothRole.objects.create(style=built, name="pocket cloth")
    form = maker_client.get(url("part-new", args=["111", "piece"])).context["form"]
    assert set(form.fields["role"].queryset) == {*base.roles.all(), own}
    assert {o.name for o in form.fields["option"].queryset} == set(NECKS)
    form = maker_client.get(url("part-new", args=["111", "notion"])).context["form"]
    assert set(form.fields["seam"].queryset) == set(base.seams.all())
    body, rib = base.roles.all()
    colour = make.make_fabric_colour("jersey", "rust")
    data = {"name": "rust", f"role_{body.pk}": colour.pk, f"role_{rib.pk}": colour.pk, f"role_{own.pk}": ""}
    maker_client.post(url("part-new", args=["111", "colourway"]), data)
    assert set(spec(built).colourways["rust"].cloths) == {"body", "rib"}
    assert not Colourway.objects.filter(style=base, name="rust").exists()


def test_a_namesake_for_other_garments_is_refused_at_its_field(maker_client, base, built):
    rib = Option.objects.get(detail__style=base, name="rib band")
    data = {
        "name": "front", "role": base.roles.first().pk, "count": "1", "seam_allowance_mm": "7", "option": rib.pk,
    }  # fmt: skip
    answer = maker_client.post(url("part-new", args=["111", "piece"]), data)
    assert answer.status_code == 422
    assert "Style 110 has a front too, for every garment." in text_of(answer)
    assert not built.pieces.exists()
    answer = maker_client.post(url("part-new", args=["111", "piece"]), {**data, "option": ""})
    assert answer.status_code == 302
    assert built.pieces.get().name == "front"


def test_names_are_those_of_the_family_in_whatever_letters(maker_client, base, built):
    """Two fronts in one garment, or a cloth asked for twice, would come of a capital."""
    role = {"name": "Body"}
    assert maker_client.post(url("part-new", args=["111", "role"]), role).status_code == 302
    front = {"name": "Front", "role": built.roles.get().pk, "count": "1", "seam_allowance_mm": "7"}
    assert maker_client.post(url("part-new", args=["111", "piece"]), front).status_code == 302
    assert (built.roles.get().name, built.pieces.get().name) == ("body", "front")
    assert [piece.name for piece in spec(built).pieces] == [piece.name for piece in spec(base).pieces]
    # And the other way round: a base gets what a style built on it has already.
    built.pieces.create(name="Tab", role=base.roles.first())
    assert (
        maker_client.post(
            url("part-new", args=["110", "piece"]), front | {"name": "tab", "role": base.roles.first().pk}
        ).status_code
        == 302
    )
    assert base.pieces.filter(name="Tab").exists()
    # What is there in other letters keeps its name until it is given another.
    old = built.pieces.create(name="BACK", role=base.roles.first())
    maker_client.post(
        url("part-change", args=["111", "piece", old.pk]), front | {"name": "BACK", "count": "3"}
    )
    old.refresh_from_db()
    assert (old.name, old.count) == ("BACK", 3)


# --- what is ordered stays --------------------------------------------------------------------------------


def test_orders_of_any_style_of_the_family_keep_a_base_part(maker_client, base, built):
    make.make_order([(built, {"neck": "rib band"}, "moss", {"M": 2})])
    front, band = (base.pieces.get(name=name) for name in ("front", "rib neck band"))
    for piece in (front, band):
        refused = actions.drop_part(piece)
        assert isinstance(refused, actions.Refused)
        assert "of 111 that are ordered already" in refused.text
    rib = Option.objects.get(detail__style=base, name="rib band")
    assert "is ordered already" in actions.reason_to_keep(rib)
    unordered = base.pieces.get(name="self neck band")
    assert "ordered" not in actions.reason_to_keep(unordered)


def test_a_base_piece_that_the_ordered_style_replaces_may_go(base, built):
    Piece.objects.create(style=built, name="back", role=base.roles.get(name="body"))
    Seam.objects.filter(edges__piece__name="back").delete()
    make.make_order([(built, {"neck": "rib band"}, "moss", {"M": 2})])
    assert isinstance(actions.drop_part(base.pieces.get(name="back")), actions.Done)


def test_parts_of_a_built_style_keep_what_they_need_of_the_base(base, built):
    role = base.roles.get(name="rib")
    base.pieces.filter(role=role).delete()
    Piece.objects.create(style=built, name="cuff", role=role)
    refused = actions.drop_part(role)
    assert isinstance(refused, actions.Refused)
    assert refused.text == "rib is still needed by the piece cuff of 111. Change or take out the piece first."


def test_colourways_fill_roles_of_the_base(built):
    cloths = ColourwayCloth.objects.filter(colourway__style=built)
    assert {cloth.role.style.number for cloth in cloths.select_related("role__style")} == {"110"}
