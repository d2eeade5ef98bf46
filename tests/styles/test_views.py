"""The pages of this room, with and without HTMX, for makers and helpers."""

import pytest
from django.urls import reverse

from planner.materials.models import FabricColour, Workroom
from planner.styles.models import (
    ClothRole,
    Detail,
    Operation,
    Option,
    Piece,
    PieceOutline,
    Seam,
    SizeRange,
    Style,
)
from tests import factories as make

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


def url(name: str, *args) -> str:
    return reverse(name, args=args)


def text_of(response) -> str:
    return response.content.decode()


# --- the list ---------------------------------------------------------------------------------------------


def test_an_empty_list_teaches_the_next_step(maker_client, helper_client):
    page = text_of(maker_client.get(url("style-list")))
    assert "No styles yet." in page
    assert "Enter the first style" in page
    assert "Enter the first style" not in text_of(helper_client.get(url("style-list")))


def test_the_list_answers_first_and_says_what_is_missing(maker_client):
    make.make_style("110")
    style = make.make_style("120", "long top")
    assert "2 styles, nothing missing." in text_of(maker_client.get(url("style-list")))
    PieceOutline.objects.filter(piece__style=style, piece__name="back", size__name="XXL").delete()
    page = text_of(maker_client.get(url("style-list")))
    assert "1 style lacks outlines in XXL." in page
    assert "no outline for back in XXL" in page
    assert page.count("nothing missing</span>") == 1
    assert page.count('class="to-scale"') == 4
    assert "2 options" in page


def test_a_style_of_which_every_piece_is_a_choice_is_drawn_too(maker_client):
    style = make.make_style("110")
    style.pieces.update(option=Option.objects.get(name="rib band"))
    page = text_of(maker_client.get(url("style-list")))
    assert page.count('class="to-scale"') == 2
    assert "not drawn yet" not in page


def test_styles_are_found_by_number_and_name(maker_client):
    make.make_style("110", "box top")
    make.make_style("120", "long top")
    page = text_of(maker_client.get(url("style-list"), {"q": "LONG 12"}))
    assert "120 long top" in page
    assert "110 box top" not in page
    assert "No style has" in text_of(maker_client.get(url("style-list"), {"q": "<b>coat"}))


def test_a_style_that_is_no_longer_sold_moves_to_its_own_list(maker_client):
    make.make_style("110")
    answer = maker_client.post(url("style-retire", "110"), {"retired": "1"}, follow=True)
    assert "no longer sold" in text_of(answer)
    assert "110 box top" not in text_of(maker_client.get(url("style-list")))
    assert "110 box top" in text_of(maker_client.get(url("style-list"), {"retired": "1"}))
    maker_client.post(url("style-retire", "110"), {"retired": "0"})
    assert "110 box top" in text_of(maker_client.get(url("style-list")))
    assert maker_client.get(url("style-retire", "110")).status_code == 405


def test_two_hundred_styles_take_few_queries_and_pages(maker_client, django_assert_max_num_queries):
    first = make.make_style("1000", sizes="S M")
    Style.objects.bulk_create(
        Style(number=f"{n}", name="top", size_range=first.size_range, base_size=first.base_size)
        for n in range(1001, 1200)
    )
    with django_assert_max_num_queries(15):
        page = text_of(maker_client.get(url("style-list")))
    assert "199 of 200 styles are not ready to plan." in page
    assert page.count('<li class="panel') == 50
    assert "Page 1 of 4" in page
    assert "1199 top" in text_of(maker_client.get(url("style-list"), {"page": "4"}))
    assert maker_client.get(url("style-list"), {"page": "nonsense"}).status_code == 200


def test_the_list_takes_as_many_queries_for_many_styles_as_for_one(maker_client):
    counts = []
    for numbers in (["110"], ["120", "130", "140", "150"]):
        for number in numbers:
            make.make_style(number)
        counts.append(_queries(maker_client, url("style-list")))
    assert counts[0] == counts[1] <= 15


def _queries(client, address: str) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


# --- a new style ------------------------------------------------------------------------------------------


def new_style(**changes) -> dict[str, str]:
    usual = {
        "number": "200", "name": "vest", "size_range": "", "sizes": "XS S M L XL XXL", "base_size": "m",
        "roles": "body, rib",
    }  # fmt: skip
    return {**usual, **changes}


def test_a_new_style_by_typed_sizes(maker_client):
    answer = maker_client.post(url("style-new"), new_style(), follow=True)
    style = Style.objects.get()
    assert answer.redirect_chain == [(url("style-detail", "200"), 302)]
    assert (style.base_size.name, [role.name for role in style.roles.all()]) == ("M", ["body", "rib"])
    assert "No pieces yet" in text_of(answer)
    assert "Not ready to plan: 2 things are missing." in text_of(answer)


def test_a_new_style_of_a_range_that_is_there(maker_client):
    size_range = make.make_size_range("S M L")
    maker_client.post(url("style-new"), new_style(size_range=size_range.pk, sizes=""))
    assert Style.objects.get().size_range == size_range
    assert SizeRange.objects.count() == 1


SLIPS_IN_A_NEW_STYLE = (
    ({"number": ""}, "Please fill this in."),
    ({"number": "a/b"}, "letters, figures"),
    ({"number": "new"}, "letters, figures"),
    ({"number": "110"}, "already: 110 box top"),
    ({"number": "x" * 21}, "At most 20 letters"),
    ({"name": "n" * 1_000_000}, "At most 120 letters"),
    ({"sizes": ""}, "Type at least one size"),
    ({"sizes": "S M s"}, "stands there twice"),
    ({"sizes": " ".join(f"s{i}" for i in range(31))}, "At most 30 sizes"),
    ({"sizes": "S M extremely-large"}, "too long for a size"),
    ({"base_size": "XXXL"}, "XXXL is not one of the sizes"),
    ({"roles": " , "}, "at least one cloth role"),
    ({"roles": "body, Body"}, "twice"),
    ({"size_range": "999"}, "choose one of the list"),
)


def test_a_slip_in_a_new_style_is_answered_and_nothing_is_made(maker_client, subtests):
    make.make_style("110")
    ranges = SizeRange.objects.count()
    for changes, words in SLIPS_IN_A_NEW_STYLE:
        with subtests.test(words):
            answer = maker_client.post(url("style-new"), new_style(**changes))
            assert answer.status_code == 422
            assert words in text_of(answer)
            assert (Style.objects.count(), SizeRange.objects.count()) == (1, ranges)


def test_a_style_is_copied(maker_client):
    make.make_style("110")
    assert "Copy 110 box top" in text_of(maker_client.get(url("style-copy", "110")))
    answer = maker_client.post(url("style-copy", "110"), {"number": "115", "name": "boxer"}, follow=True)
    assert answer.redirect_chain == [(url("style-detail", "115"), 302)]
    assert "Ready to plan." in text_of(answer)
    again = maker_client.post(url("style-copy", "110"), {"number": "115", "name": "boxer"})
    assert again.status_code == 422
    assert Style.objects.count() == 2


def test_number_name_and_note_are_changed(maker_client):
    make.make_style("110")
    make.make_style("120")
    data = {"number": "111", "name": "<i>box", "note": "softly", "for_children": "on"}
    answer = maker_client.post(url("style-change", "110"), data, follow=True)
    assert "111 &lt;i&gt;box" in text_of(answer)
    assert "softly" in text_of(answer)
    wrong = maker_client.post(url("style-change", "111"), {**data, "number": "120"})
    assert wrong.status_code == 422
    assert "already: 120" in text_of(wrong)


# --- the page ---------------------------------------------------------------------------------------------


def test_the_page_shows_everything_in_few_queries(maker_client, django_assert_max_num_queries):
    make.make_style("110", colourways=("ink", "chalk"))
    Workroom.the()  # made at its first use, which is not counted here
    with django_assert_max_num_queries(15):
        page = text_of(maker_client.get(url("style-detail", "110")))
    for words in (
        "Ready to plan.", "cut 1", "self band or rib band", "jersey, chalk", "504 three-thread overedge",
        "front: left shoulder + back: left shoulder", "along the seam shoulder",
    ):  # fmt: skip
        assert words in page, words
    # 2 + 3 + 4 minutes belong to every garment; the bands belong to options.
    assert "9 minutes a garment" in page
    assert page.count('class="to-scale nest"') == 4


def test_pieces_are_drawn_in_the_size_asked_for(maker_client):
    make.make_style("110")
    page = text_of(maker_client.get(url("style-detail", "110"), {"size": "XS"}))
    assert "front, size XS" in page
    assert "60 cm along".replace(" cm", "\u2009cm") in page
    assert "front, size L" in text_of(maker_client.get(url("style-detail", "110"), {"size": "nonsense"}))


def test_the_cord_caution_stands_on_childrens_wear_only(maker_client):
    style = make.make_style("110")
    Piece.objects.create(style=style, name="neck tie", role=style.roles.first(), position=9)
    assert "EN 14682" not in text_of(maker_client.get(url("style-detail", "110")))
    Style.objects.update(for_children=True)
    page = text_of(maker_client.get(url("style-detail", "110")))
    for words in ("neck tie", "EN 14682", "ASTM F1816", "16 CFR 1120", "Local law comes first"):
        assert words in page


def test_helpers_look_and_do_not_change(helper_client, client):
    style = make.make_style("110")
    page = text_of(helper_client.get(url("style-detail", "110")))
    for words in ("New piece", "Change", "Copy", "Stop selling"):
        assert words not in page.replace("Changes", "")
    piece = style.pieces.first()
    for address in (
        url("style-new"), url("style-copy", "110"), url("style-change", "110"), url("style-sizes", "110"),
        url("part-new", "110", "piece"), url("part-change", "110", "piece", piece.pk),
        url("outline-edit", "110", piece.pk),
    ):  # fmt: skip
        assert helper_client.get(address).status_code == 403, address
        assert helper_client.post(address, {}).status_code == 403, address
    for address in (
        url("style-retire", "110"), url("part-drop", "110", "piece", piece.pk),
        url("part-move", "110", "piece", piece.pk), url("outline-drop", "110", piece.pk),
        url("outline-preview", "110", piece.pk),
    ):  # fmt: skip
        assert helper_client.post(address, {}).status_code == 403, address
    assert client.get(url("style-list")).status_code == 302


def test_what_is_not_there_is_not_found(maker_client):
    make.make_style("110")
    other = make.make_style("120").pieces.first()
    for address in (
        url("style-detail", "999"), url("part-new", "110", "sleeve"),
        url("part-change", "110", "piece", other.pk), url("outline-edit", "110", other.pk),
    ):  # fmt: skip
        assert maker_client.get(address).status_code == 404, address
    assert maker_client.post(url("part-drop", "110", "piece", other.pk)).status_code == 404


# --- sizes ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])
def test_a_size_with_outlines_goes_only_with_the_box_ticked(maker_client, headers):
    make.make_style("110", sizes="S M L")
    data = {"sizes": "S M", "base_size": "M"}
    asked = maker_client.post(url("style-sizes", "110"), data, headers=headers)
    assert asked.status_code == 422
    assert "with it 4 outlines" in text_of(asked)
    assert 'type="checkbox" name="even_with_outlines"' in text_of(asked)
    done = maker_client.post(url("style-sizes", "110"), {**data, "even_with_outlines": "on"}, headers=headers)
    assert done.status_code == (200 if headers else 302)
    assert PieceOutline.objects.count() == 8


def test_an_ordered_size_is_refused_at_its_field(maker_client):
    style = make.make_style("110", sizes="S M L")
    make.make_order([(style, {}, "ink", {"L": 1})])
    answer = maker_client.post(url("style-sizes", "110"), {"sizes": "S M", "base_size": "M"})
    assert answer.status_code == 422
    assert "L is ordered already" in text_of(answer)
    wrong = maker_client.post(url("style-sizes", "110"), {"sizes": "S M L", "base_size": "XL"})
    assert "XL is not one of the sizes" in text_of(wrong)


# --- parts ------------------------------------------------------------------------------------------------


def part_data(style: Style) -> dict[str, dict[str, object]]:
    """What a maker types for a new part of each kind."""
    role, front = style.roles.get(name="body"), style.pieces.get(name="front")
    back = style.pieces.get(name="back")
    step = style.operations.first()
    return {
        "role": {"name": "facing"},
        "detail": {"name": "sleeve", "new_1": "short", "new_2": "long"},
        "piece": {
            "name": "sleeve", "role": role.pk, "count": "2", "pair": "on", "seam_allowance_mm": "1 cm",
            "option": Option.objects.get(name="rib band").pk,
        },
        "operation": {
            "name": "press", "machine": "iron", "stitch_type": "", "standard_minutes": "1,5",
            "setup_note": "",
        },
        "seam": {
            "name": "second side", "times": "2", "operation": step.pk, "fullness": "", "ratio": "1",
            "edge_1_0": f"{front.pk}|left side", "takes_1_0": "1", "edge_2_0": f"{back.pk}|left side",
        },
        "notion": {
            "notion_colour": make.make_notion_colour("clear elastic 6 mm").pk, "basis": "seam",
            "seam": style.seams.get(name="side").pk, "quantity": "1", "ratio": "0.9", "tail_mm": "1 in",
        },
        "colourway": {
            "name": "chalk", "thread": make.make_notion_colour("overlock thread", "ink").pk,
            f"role_{role.pk}": make.make_fabric_colour("jersey", "chalk").pk,
        },
    }  # fmt: skip


KINDS = ["role", "detail", "piece", "operation", "seam", "notion", "colourway"]


def test_a_part_is_entered_changed_and_taken_out(maker_client):
    """Of each kind: two steps with HTMX, the others without, by turns, and a page of its own or a region each time."""
    style = make.make_style("110", sizes="S M")
    usual = part_data(style)
    for turn, kind in enumerate(KINDS):
        enter_change_and_take_out(
            maker_client, style, kind, usual[kind], [HTMX, {}] if turn % 2 else [{}, HTMX]
        )


def enter_change_and_take_out(maker_client, style, kind, data, by_turns):
    from planner.styles.parts import PARTS

    rows, (one, other) = PARTS[kind].of(style), by_turns
    before = rows.count()
    form = maker_client.get(url("part-new", "110", kind), headers=other)
    assert ("<html" in text_of(form)) == (not other), kind
    made = maker_client.post(url("part-new", "110", kind), data, headers=one)
    assert made.status_code == (200 if one else 302), (kind, text_of(made))
    assert rows.count() == before + 1
    part = rows.order_by("-pk").first()
    shown = maker_client.get(url("part-change", "110", kind, part.pk), headers=one)
    assert shown.status_code == 200
    assert ("<html" in text_of(shown)) == (not one), kind
    changed = maker_client.post(
        url("part-change", "110", kind, part.pk), {**data, **_again(kind, part)}, headers=other
    )
    assert changed.status_code == (200 if other else 302), (kind, text_of(changed))
    assert rows.count() == before + 1
    gone = maker_client.post(url("part-drop", "110", kind, part.pk), headers=one)
    assert gone.status_code == (200 if one else 302), kind
    assert rows.count() == before


def _again(kind: str, part) -> dict[str, str]:
    """What else the form of a stored part sends along."""
    if kind != "detail":
        return {}
    first, second = part.options.all()
    # The two options change names with each other, and a third one comes.
    return {f"option_{first.pk}": second.name, f"option_{second.pk}": first.name, "new_1": "cap", "new_2": ""}


def test_htmx_gets_the_section_with_what_hangs_together(maker_client):
    style = make.make_style("110")
    answer = text_of(
        maker_client.post(url("part-new", "110", "piece"), part_data(style)["piece"], headers=HTMX)
    )
    assert answer.lstrip().startswith('<section id="section-pieces"')
    assert (
        '<section id="section-outlines" class="panel" hx-target="this" hx-swap="outerHTML" hx-swap-oob="true"'
        in answer
    )
    assert '<div id="style-head" hx-swap-oob="true">' in answer
    assert "No outline for sleeve in any size" in answer
    assert "cut 2, mirrored pair" in answer
    assert "<html" not in answer


def test_a_section_comes_alone_for_htmx_and_leads_to_the_page_otherwise(maker_client):
    make.make_style("110")
    address = url("style-section", "110", "pieces") + "?size=S"
    assert "front, size S" in text_of(maker_client.get(address, headers=HTMX))
    assert maker_client.get(address).url == url("style-detail", "110") + "?size=S#section-pieces"
    assert maker_client.get(url("style-section", "110", "nonsense"), headers=HTMX).status_code == 302


def test_options_keep_what_belongs_to_them_when_renamed(maker_client):
    style = make.make_style("110")
    detail = Detail.objects.get()
    self_band, rib_band = detail.options.all()
    data = {"name": "neck", f"option_{self_band.pk}": "rib band", f"option_{rib_band.pk}": "self band"}
    maker_client.post(url("part-change", "110", "detail", detail.pk), data)
    rib_piece = style.pieces.get(name="rib neck band")
    assert rib_piece.option.name == "self band"
    assert [o.name for o in detail.options.all()] == ["rib band", "self band"]


def test_units_are_taken_as_typed(maker_client):
    style = make.make_style("110")
    maker_client.post(url("part-new", "110", "piece"), part_data(style)["piece"])
    sleeve = style.pieces.get(name="sleeve")
    assert (sleeve.count, sleeve.pair, float(sleeve.seam_allowance_mm)) == (2, True, 10.0)
    maker_client.post(url("part-new", "110", "notion"), part_data(style)["notion"])
    assert float(style.notions.get(seam__name="side").tail_mm) == 25.4
    maker_client.post(url("part-new", "110", "operation"), part_data(style)["operation"])
    assert float(Operation.objects.get(name="press").standard_minutes) == 1.5


#: Forms with a slip or several, each with what is said of it.
SLIPS_IN_A_PART = (
    ("role", {"name": "BODY"}, "has one called BODY already"),
    ("role", {"name": "  "}, "Please fill this in"),
    ("detail", {"new_2": "Short"}, "stands there twice"),
    ("detail", {"new_1": "", "new_2": ""}, "Name the options"),
    ("detail", {"new_1": "x" * 41}, "At most 40 letters"),
    ("piece", {"count": "3"}, "even number of times"),
    ("piece", {"count": "-1"}, "less than nothing", {"seam_allowance_mm": "7 parsecs"}, "“7 parsecs” is not",
     {"beside": "b" * 21}, "At most 20 letters", {"role": "999999"}, "choose one of the list"),
    ("piece", {"count": "many"}, "“many” is not", {"name": "p" * 5000}, "At most 60 letters"),
    ("piece", {"count": "10000000000"}, "too large", {"option": "999999"}, "choose one of the list"),
    ("piece", {"pair": "", "together": "on"}, "Only a mirrored pair can be cut together"),
    ("seam", {"match": "on", "edge_2_0": ""}, "choose edges of two pieces"),
    ("seam", {"edge_1_0": ""}, "at least one edge"),
    ("seam", {"edge_1_0": "1|nothing"}, "choose one of the list", {"times": "1.5"}, "whole number"),
    ("operation", {"standard_minutes": "0"}, "more than", {"machine": "loom"}, "choose one of the list"),
    ("notion", {"seam": ""}, "Choose the seam"),
    ("notion", {"ratio": "50"}, "at most", {"notion_colour": ""}, "Please fill this in"),
    ("colourway", {"name": "ink"}, "has one called ink already", {"thread": "999999"}, "choose one of the list"),
)  # fmt: skip


def test_a_slip_is_answered_at_its_field_and_nothing_is_kept(maker_client):
    """The first of each kind of part with HTMX, the others without."""
    from planner.styles.parts import PARTS

    style = make.make_style("110")
    usual, with_htmx = part_data(style), set()
    before = {kind: PARTS[kind].of(style).count() for kind in KINDS}
    for kind, *slips in SLIPS_IN_A_PART:
        typed = {name: value for changes in slips[::2] for name, value in changes.items()}
        answer = maker_client.post(
            url("part-new", "110", kind), usual[kind] | typed, headers={} if kind in with_htmx else HTMX
        )
        page = text_of(answer)
        assert answer.status_code == 422, (kind, typed)
        assert ("<html" in page) == (kind in with_htmx)
        for words in slips[1::2]:
            assert words in page, (kind, words)
        assert PARTS[kind].of(style).count() == before[kind]
        with_htmx.add(kind)
    assert with_htmx == set(KINDS)


def test_a_label_cannot_run_along_a_seam(maker_client):
    style = make.make_style("110")
    label = make.make_notion_colour("size label").pk
    answer = maker_client.post(
        url("part-new", "110", "notion"), {**part_data(style)["notion"], "notion_colour": label}
    )
    assert "counted in pieces" in text_of(answer)


def test_an_option_with_pieces_is_not_emptied_away(maker_client):
    make.make_style("110")
    detail = Detail.objects.get()
    self_band, rib_band = detail.options.all()
    data = {"name": "neck", f"option_{self_band.pk}": "self band", f"option_{rib_band.pk}": ""}
    answer = maker_client.post(url("part-change", "110", "detail", detail.pk), data)
    assert answer.status_code == 422
    assert "still needed by the piece rib neck band" in text_of(answer)
    assert detail.options.count() == 2


@pytest.mark.parametrize(("headers", "status"), [({}, 200), (HTMX, 409)])
def test_a_part_that_is_needed_stays_and_the_reason_is_said(maker_client, headers, status):
    make.make_style("110")
    role = ClothRole.objects.get(name="body")
    answer = maker_client.post(url("part-drop", "110", "role", role.pk), headers=headers, follow=True)
    assert answer.status_code == status
    assert "body is still needed by the pieces front, back, self neck band" in text_of(answer)
    assert ClothRole.objects.filter(pk=role.pk).exists()


@pytest.mark.parametrize(("headers", "status"), [({}, 302), (HTMX, 200)])
def test_an_operation_moves_up_and_down(maker_client, headers, status):
    style = make.make_style("110")
    second = style.operations.all()[1]
    answer = maker_client.post(url("part-move", "110", "operation", second.pk), {"to": "up"}, headers=headers)
    assert answer.status_code == status
    assert style.operations.first() == second
    maker_client.post(url("part-move", "110", "operation", second.pk), {"to": "down"}, headers=headers)
    assert style.operations.all()[1] == second


def test_notions_have_no_order_to_move_in(maker_client):
    style = make.make_style("110")
    use = style.notions.first()
    assert maker_client.post(url("part-move", "110", "notion", use.pk), {"to": "up"}).status_code == 404


def test_a_seam_shows_an_edge_that_no_outline_has_any_more(maker_client):
    style = make.make_style("110")
    seam = Seam.objects.get(style=style, name="side")
    seam.edges.update(edge="gone")
    page = text_of(maker_client.get(url("part-change", "110", "seam", seam.pk)))
    assert "gone (no outline has it)" in page
    assert "joins the edge “gone” of front" in text_of(maker_client.get(url("style-detail", "110")))


def test_a_colour_that_gets_another_name_is_shown_with_it(maker_client):
    make.make_style("110")
    assert "jersey, ink" in text_of(maker_client.get(url("style-detail", "110")))
    FabricColour.objects.filter(fabric__name="jersey").update(name="midnight")
    page = text_of(maker_client.get(url("style-detail", "110")))
    assert "jersey, midnight" in page
    assert "jersey, ink" not in page
