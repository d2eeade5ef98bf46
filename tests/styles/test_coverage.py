"""What can be planned of a style: every combination, size and colourway, against going through them one by one."""

import re
import time
from collections.abc import Iterable
from dataclasses import replace
from itertools import product

import pytest
from django.urls import reverse as url
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.lays.items import misfits
from planner.core.missing import find_missing
from planner.core.outline import rectangle
from planner.core.spec import (
    Cloth,
    ClothKey,
    ColourwaySpec,
    Demand,
    EdgeRef,
    Garment,
    Notion,
    NotionKey,
    NotionUse,
    OperationSpec,
    Options,
    PieceSpec,
    SeamSpec,
    StyleSpec,
    Workshop,
)
from planner.materials.models import Fabric, Workroom
from planner.styles import checks
from planner.styles.counting import Ruled, count_choices
from planner.styles.coverage import answer, coverage
from planner.styles.lacks import Lack, lacks
from planner.styles.models import Option, PieceOutline, Style
from tests import factories as make

SIZES = ("S", "M", "L")
DETAILS = {"neck": ("rib", "facing"), "sleeve": ("none", "cap", "long"), "hem": ("plain", "band")}
EVERY = [(detail, option) for detail, options in DETAILS.items() for option in options]
JERSEY, RIB = ClothKey("jersey", "ink"), ClothKey("rib", "ink")
CLOTHS = {
    JERSEY: Cloth(JERSEY, usable_width_mm=1500, weight_gsm=180, one_way=False),
    RIB: Cloth(RIB, usable_width_mm=450, weight_gsm=220, one_way=False),
}
ELASTIC = NotionKey("elastic")


def shapes(*sizes: str, edges=("end", "side", "end", "neckline")) -> dict:
    return {size: rectangle(600 + 10 * SIZES.index(size), 400, edges) for size in sizes}


def piece(name: str, option=None, *, sizes=SIZES, role="body", **fields) -> PieceSpec:
    return PieceSpec(name, role, 1, False, True, option, shapes(*sizes), **fields)


def style(**changes) -> StyleSpec:
    ways = {
        name: ColourwaySpec(name, {"body": JERSEY, "rib": RIB}, None) for name in ("ink", "moss")
    }  # fmt: skip
    fields = {
        "sizes": SIZES,
        "details": {"neck": ("rib", "facing"), "sleeve": ("none", "cap")},
        "pieces": (
            piece("front"), piece("neck rib", ("neck", "rib"), role="rib"), piece("cap", ("sleeve", "cap")),
        ),
        "colourways": ways,
    }  # fmt: skip
    return StyleSpec("110", "top", base_size="M", **(fields | changes))


def found(spec: StyleSpec):
    return coverage(spec, CLOTHS)


def row(spec: StyleSpec, *options):
    (one,) = [row for row in found(spec).rows if row.options == options]
    return one


def said(spec: StyleSpec, *options) -> list[str]:
    return [str(lack.problem) for lack in row(spec, *options).lacks]


# --- the first line ---------------------------------------------------------------------------------------


def test_all_is_there():
    assert answer(found(style())) == "All 4 combinations in 3 sizes can be planned."


def test_a_missing_outline_takes_its_combinations_out_in_its_size_alone():
    spec = style(pieces=(piece("front"), piece("cap", ("sleeve", "cap"), sizes=("S", "M"))))
    cover = found(spec)
    assert (cover.combinations, cover.ready) == (4, 2)
    assert cover.by_size == {"S": 4, "M": 4, "L": 2}
    assert answer(cover) == "2 of 4 combinations can be planned in every size and colourway. In S, M all can."
    # It is told before there is any colourway too.
    for one in (spec, replace(spec, colourways={})):
        assert [lack.problem for lack in row(one, ("sleeve", "cap")).lacks] == [checks.NoOutline("cap", "L")]


def test_what_excludes_each_other_is_not_counted():
    spec = style(exclusions=((("neck", "rib"), ("sleeve", "cap")),))
    assert answer(found(spec)) == "All 3 combinations in 3 sizes can be planned."
    one = replace(spec, exclusions=(*spec.exclusions, (("neck", "facing"), ("sleeve", "none"))))
    one = replace(one, exclusions=(*one.exclusions, (("neck", "facing"), ("sleeve", "cap"))))
    assert answer(found(one)) == "The only combination in 3 sizes can be planned."
    none = replace(one, exclusions=(*one.exclusions, (("neck", "rib"), ("sleeve", "none"))))
    assert answer(found(none)) == "Nothing can be planned: the options exclude each other until none is left."


def test_a_style_without_choices_counts_its_sizes():
    plain = style(details={}, pieces=(piece("front"),))
    assert answer(found(plain)) == "All 3 sizes can be planned."
    lacking = replace(plain, pieces=(piece("front", sizes=("S",)),))
    assert answer(found(lacking)) == "1 of 3 sizes can be planned in every colourway."
    assert answer(found(replace(plain, colourways={}))) == "Nothing can be planned yet: it has no colourway."


# --- what is missing --------------------------------------------------------------------------------------


def can_be_planned(found: Iterable[Lack], options: Options, size: str, colourway: str) -> bool:
    """Whether nothing of `found` is missing from this garment."""
    return not any(
        size in lack.sizes and colourway in lack.colourways and lack.rule.holds(options) for lack in found
    )


def test_a_role_without_cloth_is_missing_in_its_colourway_alone():
    ways = {
        "ink": ColourwaySpec("ink", {"body": JERSEY, "rib": RIB}, None),
        "moss": ColourwaySpec("moss", {"body": JERSEY}, None),
    }
    spec = style(colourways=ways)
    assert said(spec, ("neck", "rib")) == ["the colourway moss has no cloth for rib"]
    missing = lacks(spec, CLOTHS)
    chosen = (("neck", "rib"), ("sleeve", "none"))
    assert can_be_planned(missing, chosen, "M", "ink")
    assert not can_be_planned(missing, chosen, "M", "moss")
    assert can_be_planned(missing, (("neck", "facing"), ("sleeve", "none")), "M", "moss")


def _plain(text: str) -> str:
    return " ".join(text.split())


def test_a_piece_wider_than_its_cloth_is_named_with_both_widths():
    wide = replace(piece("neck rib", ("neck", "rib"), role="rib"), outlines={"S": rectangle(60, 460)})
    spec = style(pieces=(piece("front"), wide), sizes=("S",))
    assert (
        "neck rib in S is 46\u2009cm wide, but rib, ink of the colourway ink lies only 45\u2009cm wide"
        in said(spec, ("neck", "rib"))
    )
    wider = replace(
        wide, outlines={"S": rectangle(60, 460), "M": rectangle(60, 470), "L": rectangle(60, 480)}
    )
    lacks = row(style(pieces=(piece("front"), wider)), ("neck", "rib")).lacks
    assert [text for _, text in checks.in_words([lack.problem for lack in lacks], SIZES)] == [
        f"neck rib is 46\u2009cm (S), 47\u2009cm (M) and 48\u2009cm (L) wide, but rib, ink of the colourway {way} "
        f"lies only "
        "45\u2009cm wide"
        for way in ("ink", "moss")
    ]


def test_pieces_too_wide_side_by_side_are_told_where_the_cloth_shades_as_the_plan_tells_them():
    beside = [piece("front", beside="body"), piece("back", beside="body")]
    spec = style(pieces=(*beside, piece("cap", ("sleeve", "cap"), beside="body")))
    narrow = replace(CLOTHS[JERSEY], usable_width_mm=900)
    assert coverage(spec, CLOTHS | {JERSEY: narrow}).is_complete
    cloths = CLOTHS | {JERSEY: replace(narrow, shades=True)}
    found = coverage(spec, cloths)
    # Front and back take 802 mm, a gap of 2 mm between them; with the cap they are too wide.
    assert found.ready == 2
    (told,) = [row for row in found.rows if row.lacks]
    assert told.options == (("sleeve", "cap"),)
    assert {lack.problem.size for lack in told.lacks} == set(SIZES)
    in_ink = next(lack.problem for lack in told.lacks if lack.problem.colourway == "ink")
    assert str(in_ink) == (
        "front, back, cap must lie side by side on jersey, ink of the colourway ink; that takes 120.4\u2009cm (S), "
        "but it "
        "lies 90\u2009cm wide"
    )
    # 1204 mm are 47.40 in, 900 mm are 35.43 in; told to the sixteenth.
    assert _plain(in_ink.told_in("imperial")).endswith(
        "; that takes 47 3/8 in (S), but it lies 35 7/16 in wide"
    )
    # One sentence a colourway, whatever the sizes: pieces of the tests are as wide in all of them.
    together = [text for _, text in checks.in_words([lack.problem for lack in told.lacks], SIZES)]
    assert together == [
        f"front, back, cap must lie side by side on jersey, ink of the colourway {way}; that takes 120.4\u2009cm (S), "
        "120.4\u2009cm (M) and 120.4\u2009cm (L), but it lies 90\u2009cm wide"
        for way in ("ink", "moss")
    ]
    shop = Workshop({spec.number: spec}, cloths, {})
    for sleeve in ("none", "cap"):
        garment = Garment(spec.number, (("neck", "rib"), ("sleeve", sleeve)), "ink", "S")
        problems = misfits(garment, cloths[JERSEY], "open", shop)
        assert [one.width_mm for one in problems] == ([in_ink.across_mm] if sleeve == "cap" else [])


def test_a_seam_of_every_garment_whose_operation_belongs_to_an_option_fails_the_others():
    spec = style(
        seams=(SeamSpec("side", None, (EdgeRef("front", "side"),), 2, "overlock sides"),),
        operations=(OperationSpec("overlock sides", ("neck", "rib"), 0, "overlock", "504", 1.0),),
    )
    text = "the seam side is sewn by “overlock sides”, which only garments with neck rib have"
    assert said(spec) == [text]
    assert found(spec).ready == 2
    assert said(replace(spec, operations=())) == [
        "the seam side is sewn by “overlock sides”, which the style does not have"
    ]


def test_an_edge_that_is_missing_only_matters_where_the_seam_is_sewn():
    narrow = replace(piece("cap", ("sleeve", "cap")), outlines=shapes(*SIZES, edges=("a", "b", "c", "d")))
    step = OperationSpec("bind", None, 0, "overlock", "504", 1.0)
    seam = SeamSpec("bound", ("neck", "rib"), (EdgeRef("cap", "neckline"),), 1, "bind")
    spec = style(pieces=(piece("front"), narrow), seams=(seam,), operations=(step,))
    assert said(spec, ("neck", "rib"), ("sleeve", "cap")) == [
        "the seam bound joins the edge “neckline” of cap, which has none in S, M, L"
    ]
    assert found(spec).ready == 3


# --- held against going through every garment -------------------------------------------------------------

some_option = st.sampled_from([None, *EVERY])
some_sizes = st.sets(st.sampled_from(SIZES), min_size=1)


@st.composite
def any_style(draw) -> StyleSpec:
    names = ("front", "back", "band", "cuff")
    pieces = tuple(
        PieceSpec(
            name, draw(st.sampled_from(("body", "rib"))), draw(st.integers(1, 2)), draw(st.booleans()), True,
            draw(some_option), shapes(*draw(some_sizes), edges=draw(st.sampled_from((("a", "b"), ("a",))))),
        )
        for name in names[: draw(st.integers(0, 4))]
    )  # fmt: skip
    edge = st.builds(
        EdgeRef, st.sampled_from((*names, "nowhere")), st.sampled_from(("a", "b")), st.sampled_from((1, 2))
    )
    seams = tuple(
        SeamSpec(f"seam {i}", draw(some_option), tuple(draw(st.lists(edge, max_size=2))), 1,
                 draw(st.sampled_from(("join", "trim"))))
        for i in range(draw(st.integers(0, 2)))
    )  # fmt: skip
    operations = tuple(
        OperationSpec(
            name, draw(some_option), i, "overlock", draw(st.sampled_from(("504", "504", "999"))), 1.0
        )
        for i, name in enumerate(draw(st.lists(st.sampled_from(("join", "trim")), max_size=3)))
    )
    notions = tuple(
        NotionUse(ELASTIC, draw(some_option), "seam", seam=f"seam {draw(st.integers(0, 1))}")
        for _ in range(draw(st.integers(0, 1)))
    )
    both = st.lists(st.sampled_from(EVERY), min_size=2, max_size=2, unique_by=lambda option: option[0])
    pairs = {tuple(sorted(pair)) for pair in draw(st.lists(both, max_size=2))}
    ways = {
        name: ColourwaySpec(
            name, {role: key for role, key in (("body", JERSEY), ("rib", RIB)) if draw(st.booleans())}, None
        )
        for name in ("ink", "moss")[: draw(st.integers(1, 2))]
    }  # fmt: skip
    return StyleSpec(
        "110", "top", SIZES, "M", DETAILS, pieces, seams, operations, notions, ways, tuple(sorted(pairs))
    )


@settings(max_examples=50, deadline=None)
@given(spec=any_style())
def test_it_agrees_with_what_is_said_of_each_garment(spec):
    elastic = Notion(ELASTIC, "elastic", "m", "roll", 25, 6)
    shop = Workshop({"110": spec}, CLOTHS, {ELASTIC: elastic})
    missing, cover = lacks(spec, CLOTHS), coverage(spec, CLOTHS)
    ready, by_size, allowed, idle = 0, dict.fromkeys(SIZES, 0), 0, set(missing)
    for chosen in product(*([(detail, option) for option in options] for detail, options in DETAILS.items())):
        options = tuple(sorted(chosen))
        if spec.clashes_in(options):
            continue
        allowed += 1
        idle = {lack for lack in idle if not lack.rule.holds(options)}
        fine = {}
        for size, way in product(SIZES, spec.colourways):
            told = find_missing([Demand(Garment("110", options, way, size), 1)], shop)
            assert can_be_planned(missing, options, size, way) == (not told), [gap.text for gap in told]
            fine[size, way] = not told
        ready += all(fine.values())
        for size in SIZES:
            by_size[size] += all(fine[size, way] for way in spec.colourways)
    assert (cover.combinations, cover.ready, cover.by_size) == (allowed, ready, by_size)
    # Nothing is called missing that no garment misses; what belongs to every garment is said in any case.
    assert all(not lack.rule.details for lack in idle)


details_of_rules = st.lists(st.sampled_from(EVERY), max_size=3)


@given(
    rules=st.lists(
        st.builds(Ruled, details_of_rules.map(frozenset), details_of_rules.map(frozenset)), max_size=4
    )
)
def test_choices_are_counted_as_one_by_one(rules):
    every = product(*([(detail, option) for option in options] for detail, options in DETAILS.items()))
    assert count_choices(DETAILS, rules) == sum(not any(r.holds(choice) for r in rules) for choice in every)


def test_twelve_details_are_counted_without_going_through_them():
    details = {f"detail {i}": tuple(f"option {j}" for j in range(5)) for i in range(12)}
    out = [Ruled(frozenset({("detail 0", "option 0"), ("detail 1", "option 0")}))]
    start = time.perf_counter()
    assert count_choices(details, out) == (25 - 1) * 5**10
    chain = [
        Ruled(frozenset({(f"detail {i}", "option 0"), (f"detail {i + 1}", "option 1")})) for i in range(11)
    ]
    assert count_choices(details, chain) is None
    assert time.perf_counter() - start < 5  # 244 million combinations would take minutes
    pieces = tuple(piece(f"piece {i}", (f"detail {i}", "option 0")) for i in range(12))
    spec = style(details=details, pieces=pieces, exclusions=())
    assert answer(found(spec)).startswith("Nothing") is False
    tied = replace(
        spec, exclusions=tuple(tuple(sorted(rule.needs)) for rule in chain), pieces=(piece("front"),)
    )
    assert answer(found(tied)) == "All combinations in 3 sizes can be planned; there are too many to count."


# --- on the page ------------------------------------------------------------------------------------------


def text_of(response) -> str:
    return " ".join(response.content.decode().split())


@pytest.mark.django_db
def test_the_page_says_what_can_be_planned(maker_client):
    make.make_style("110")
    page = text_of(maker_client.get(url("style-detail", args=["110"])))
    assert "All 2 combinations in 6 sizes can be planned." in page


@pytest.mark.django_db
def test_the_first_line_of_the_page_agrees_with_what_can_be_planned(maker_client):
    make.make_style("110")
    Fabric.objects.update(full_width_mm=300)
    # So wide lies a cloth of 300 mm with selvedges of 15 mm each: 270 mm are 10.63 in.
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    page = text_of(maker_client.get(url("style-detail", args=["110"])))
    assert "Ready to plan." not in page
    assert "Not wholly ready to plan: 0 of " in page
    assert "jersey, ink of the colourway ink lies only 10 5/8 in wide" in page
    assert not re.search(r"\d mm wide", page)


@pytest.mark.django_db
def test_what_is_missing_leads_to_where_it_is_mended(maker_client, helper_client):
    style = make.make_style("110")
    built = make.make_built_on(style, "111")
    band = style.pieces.get(name="rib neck band")
    PieceOutline.objects.filter(piece=band, size__name="XL").delete()
    style.colourways.get().cloths.filter(role__name="rib").delete()
    for number in ("110", "111"):
        page = text_of(maker_client.get(url("style-detail", args=[number])))
        assert "1 of 2 combinations can be planned in every size and colourway." in page
        assert f'href="{url("outline-edit", args=["110", band.pk])}?size=XL"' in page
    colourway = style.colourways.get()
    page = text_of(maker_client.get(url("style-detail", args=["110"])))
    assert f'href="{url("part-change", args=["110", "colourway", colourway.pk])}"' in page
    assert "ink has no cloth for rib" in page
    read = text_of(helper_client.get(url("style-detail", args=["110"])))
    assert url("outline-edit", args=["110", band.pk]) not in read
    assert "No outline for rib neck band in XL" in read
    assert Style.objects.get(pk=built.pk).base == style


@pytest.mark.django_db
def test_excluded_pairs_and_changes_reach_the_table(maker_client):
    style = make.make_style("110")
    sleeve = style.details.create(name="sleeve", position=1)
    cap, plain = (Option.objects.create(detail=sleeve, name=name) for name in ("cap", "plain"))
    cap.not_with.add(Option.objects.get(name="rib band"))
    page = text_of(maker_client.get(url("style-detail", args=["110"])))
    assert "All 3 combinations in 6 sizes can be planned." in page
    assert "neck rib band with sleeve cap" in page
    step = style.operations.get(name="hem")
    answer = maker_client.post(
        url("part-drop", args=["110", "operation", step.pk]), headers={"hx-request": "true"}
    )
    assert 'id="section-coverage"' in text_of(answer)
    assert plain.pk
