"""Steps of sewing on the workroom's machines, threads by position, notions by piece, order and size."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from planner.materials.models import Machine, MachineStitch
from planner.styles.actions import copy_style
from planner.styles.models import ColourwayThread, Operation, Option, Style, StyleNotion
from tests import factories as make
from tests.answers import assert_refused_at

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
BOTH = pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])


def text_of(response) -> str:
    return response.content.decode()


def own_machine(name: str, kind: str, makes: str = "") -> Machine:
    machine = Machine.objects.create(name=name, kind=kind)
    MachineStitch.objects.bulk_create(MachineStitch(machine=machine, stitch_type=n) for n in makes.split())
    return machine


def operation(**changed: object) -> dict[str, object]:
    """A step filled in as a maker would."""
    return {
        "name": "set the band", "option": "", "machine": "overlock", "own_machine": "", "stitch_type": "504",
        "standard_minutes": "2,5", "stitch_length_mm": "2.5", "stitch_width_mm": "5 mm", "layers": "3",
        "differential_feed": "1.3", "tension_note": "needle 4, loopers 3", "needle_note": "ball point 75",
        "setup_note": "test on a scrap", "quality_note": "join of the band just behind the shoulder seam", **changed,
    }  # fmt: skip


def add(client, kind: str, data: dict, headers: dict | None = None):
    return client.post(reverse("part-new", args=["110", kind]), data, headers=headers or {})


@BOTH
def test_a_step_knows_its_machine_and_how_it_is_set(maker_client, headers):
    make.make_style("110")
    goose = own_machine("Goose", "overlock", "503 504")
    answer = add(maker_client, "operation", operation(own_machine=goose.pk), headers)
    assert answer.status_code == (200 if headers else 302), text_of(answer)
    step = Operation.objects.get(name="set the band")
    assert (step.own_machine, step.stitch_length_mm, step.stitch_width_mm) == (
        goose,
        Decimal("2.50"),
        Decimal("5.00"),
    )
    assert (step.layers, step.differential_feed) == (3, Decimal("1.30"))
    page = text_of(maker_client.get(reverse("style-detail", args=["110"])))
    assert "Look at: join of the band just behind the shoulder seam" in page
    assert (
        "2.5 mm long, 5 mm wide, 3 layers, differential feed 1.3, needle: ball point 75, "
        "tension: needle 4, loopers 3"
    ) in page
    assert '<td data-label="Machine"><span>Goose<span class="under">504 three-thread overedge' in page


@BOTH
def test_the_form_shows_what_was_kept(maker_client, headers):
    make.make_style("110")
    add(maker_client, "operation", operation())
    step = Operation.objects.get(name="set the band")
    page = text_of(
        maker_client.get(reverse("part-change", args=["110", "operation", step.pk]), headers=headers)
    )
    for value in ("2.5 mm", "5 mm", "1.3", "ball point 75"):
        assert f'value="{value}"' in page
    assert 'data-made-by="sewing machine,overlock,coverstitch"' in page


def test_what_is_left_empty_is_as_the_machine_is_usually_set(maker_client):
    make.make_style("110")
    bare = operation(
        stitch_length_mm="", stitch_width_mm="", layers="", differential_feed="", tension_note=""
    )
    assert add(maker_client, "operation", bare).status_code == 302
    step = Operation.objects.get(name="set the band")
    assert (step.stitch_length_mm, step.stitch_width_mm, step.differential_feed) == (None, None, None)
    assert step.layers == 2


CANNOT_BE_SEWN = (
    ({"stitch_type": "406"}, "stitch_type", "not made by an overlock, but by a coverstitch machine"),
    ({"machine": "iron"}, "stitch_type", "No stitch is sewn with an iron"),
    ({"machine": "hand"}, "stitch_type", "No stitch is sewn with hand work"),
    (
        {"own_machine": "wren"},
        "own_machine",
        "Wren is a coverstitch machine, and this step is sewn on an",
    ),
    ({"own_machine": "goose", "stitch_type": "514"}, "stitch_type", "Goose is noted as making 503, 504"),
    ({"own_machine": "999"}, "own_machine", "choose one of the list"),
    ({"stitch_length_mm": "0"}, "stitch_length_mm", "at least 0.3 mm"),
    ({"stitch_length_mm": "-2"}, "stitch_length_mm", "less than nothing"),
    ({"stitch_length_mm": "2.5 cm"}, "stitch_length_mm", "at most 12 mm"),
    ({"stitch_width_mm": "30"}, "stitch_width_mm", "at most 25 mm"),
    ({"layers": "0"}, "layers", "at least 1"),
    ({"layers": "2.5"}, "layers", "whole number"),
    ({"differential_feed": "0.4"}, "differential_feed", "at least 0.5"),
    ({"differential_feed": "3"}, "differential_feed", "at most 2.5"),
    ({"differential_feed": "a lot"}, "differential_feed", "is not a number"),
    ({"needle_note": "x" * 121}, "needle_note", "At most 120 letters"),
    ({"quality_note": "x" * 301}, "quality_note", "At most 300 letters"),
)


def test_a_step_that_cannot_be_sewn_is_refused_at_its_field(maker_client, subtests):
    make.make_style("110")
    machines = {
        "goose": own_machine("Goose", "overlock", "503 504").pk,
        "wren": own_machine("Wren", "coverstitch", "406").pk,
    }
    for at, (changed, field, said) in enumerate(CANNOT_BE_SEWN):
        with subtests.test(said):
            typed = {name: machines.get(value, value) for name, value in changed.items()}
            headers = HTMX if at % 2 else {}
            answer = add(maker_client, "operation", operation(**typed), headers)
            assert_refused_at(answer, field, said, typed.get(field, "504"))
            assert not Operation.objects.filter(name="set the band").exists()


def test_a_machine_of_no_usual_kind_may_stand_in(maker_client):
    make.make_style("110")
    plover = own_machine("Plover", "other", "607")
    step = operation(machine="coverstitch", stitch_type="607", own_machine=plover.pk)
    assert add(maker_client, "operation", step).status_code == 302


def test_a_machine_without_noted_stitches_makes_what_its_kind_makes(maker_client):
    make.make_style("110")
    goose = own_machine("Goose", "overlock")
    assert (
        add(maker_client, "operation", operation(own_machine=goose.pk, stitch_type="514")).status_code == 302
    )


# --- threads by position ----------------------------------------------------------------------------------


def colourway(style: Style, **changed: object) -> dict[str, object]:
    return {
        "name": "chalk",
        "thread": make.make_notion_colour("overlock thread", "chalk").pk,
        f"role_{style.roles.get(name='body').pk}": make.make_fabric_colour("jersey", "chalk").pk,
        **changed,
    }


@BOTH
def test_loopers_may_carry_another_thread(maker_client, headers):
    style = make.make_style("110")
    grey = make.make_notion_colour("overlock thread", "grey", "#888888")
    data = colourway(style, thread_looper=grey.pk)
    answer = add(maker_client, "colourway", data, headers)
    assert answer.status_code == (200 if headers else 302), text_of(answer)
    way = style.colourways.get(name="chalk")
    assert [(row.position, row.notion_colour) for row in way.threads.all()] == [("looper", grey)]
    page = text_of(maker_client.get(reverse("style-detail", args=["110"])))
    assert "loopers and bobbin:" in page
    form = text_of(maker_client.get(reverse("part-change", args=["110", "colourway", way.pk])))
    assert f'<option value="{grey.pk}" selected>' in form
    assert "as the thread" in form
    change = reverse("part-change", args=["110", "colourway", way.pk])
    maker_client.post(change, {**data, "thread_looper": data["thread"], "thread_cover": ""}, headers=headers)
    assert not way.threads.exists()


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"thread": ""}, "thread", "Choose the thread that the other positions carry"),
        ({"thread_needle": "elastic"}, "thread_needle", "choose one of the list"),
    ],
)
def test_threads_that_cannot_be_are_refused(maker_client, changed, field, said):
    style = make.make_style("110")
    grey = make.make_notion_colour("overlock thread", "grey", "#888888")
    elastic = make.make_notion_colour("clear elastic 6 mm")
    changed = {name: elastic.pk if value == "elastic" else value for name, value in changed.items()}
    answer = add(maker_client, "colourway", {**colourway(style, thread_looper=grey.pk), **changed})
    assert_refused_at(answer, field, said)
    assert not ColourwayThread.objects.exists()


# --- notions ----------------------------------------------------------------------------------------------


def notion(**changed: object) -> dict[str, object]:
    return {
        "notion_colour": make.make_notion_colour("button 15 mm").pk, "option": "", "size": "", "basis": "garment",
        "quantity": "2", "piece": "", "seam": "", "ratio": "1", "tail_mm": "20", **changed,
    }  # fmt: skip


@BOTH
def test_notions_are_counted_by_piece_order_and_size(maker_client, headers):
    style = make.make_style("110")
    front, size = style.pieces.get(name="front"), style.size_range.sizes.get(name="M")
    for data in (
        notion(basis="piece", piece=front.pk, quantity="3"),
        notion(basis="order", quantity="1"),
        notion(size=size.pk),
    ):
        answer = add(maker_client, "notion", data, headers)
        assert answer.status_code == (200 if headers else 302), text_of(answer)
    rows = StyleNotion.objects.filter(notion_colour__notion__name="button 15 mm").order_by("pk")
    assert [(row.basis, row.piece, row.size) for row in rows] == [
        ("piece", front, None), ("order", None, None), ("garment", None, size),
    ]  # fmt: skip
    page = text_of(maker_client.get(reverse("style-detail", args=["110"])))
    for words in ("3 for each front", "1 an order", "2 a garment, only in M"):
        assert words in page


def test_what_the_way_of_counting_does_not_ask_for_is_not_kept(maker_client):
    style = make.make_style("110")
    front, side = style.pieces.get(name="front"), style.seams.get(name="side")
    assert add(maker_client, "notion", notion(piece=front.pk, seam=side.pk)).status_code == 302
    row = StyleNotion.objects.get(notion_colour__notion__name="button 15 mm")
    assert (row.piece, row.seam) == (None, None)


NONSENSE = (
    ({"basis": "piece"}, "piece", "Choose the piece"),
    ({"basis": "seam"}, "seam", "Choose the seam"),
    ({"basis": "piece", "piece": "999999"}, "piece", "choose one of the list"),
    ({"basis": "order", "size": "M"}, "size", "An order is of many sizes"),
    ({"size": "999999"}, "size", "choose one of the list"),
    ({"quantity": "0"}, "quantity", "more than"),
    ({"quantity": "-1"}, "quantity", "less than nothing"),
    ({"basis": "piece", "piece": "rib neck band", "option": "self band"}, "piece", "no garment has it"),
    ({"basis": "dozen"}, "basis", "choose one of the list"),
)


def test_nonsense_is_refused_at_its_field(maker_client, subtests):
    style = make.make_style("110")
    keys = {
        "M": style.size_range.sizes.get(name="M").pk,
        "rib neck band": style.pieces.get(name="rib neck band").pk,
        "self band": Option.objects.get(name="self band").pk,
    }
    usual = notion()
    for at, (changed, field, said) in enumerate(NONSENSE):
        with subtests.test(said):
            typed = usual | {name: keys.get(value, value) for name, value in changed.items()}
            answer = add(maker_client, "notion", typed, HTMX if at % 2 else {})
            assert answer.status_code == 422
            errors = answer.context["form"].errors
            assert field in errors
            assert said in errors[field][0]
            assert not StyleNotion.objects.filter(notion_colour__notion__name="button 15 mm").exists()
    along = usual | {"basis": "seam", "seam": style.seams.get(name="side").pk}
    answer = add(maker_client, "notion", along)
    assert "counted in pieces" in answer.context["form"].errors["basis"][0], "buttons do not run along a seam"


# --- copies, access, queries ------------------------------------------------------------------------------


def test_a_copy_has_all_of_it(maker_client):
    style = make.make_style("110")
    goose = own_machine("Goose", "overlock", "504")
    add(maker_client, "operation", operation(own_machine=goose.pk))
    grey = make.make_notion_colour("overlock thread", "grey", "#888888")
    add(maker_client, "colourway", colourway(style, thread_looper=grey.pk))
    front, size = style.pieces.get(name="front"), style.size_range.sizes.get(name="M")
    add(maker_client, "notion", notion(basis="piece", piece=front.pk, size=size.pk))
    copy = copy_style(style, number="111", name="copy")
    step = copy.operations.get(name="set the band")
    assert (step.own_machine, step.layers, step.quality_note) == (
        goose, 3, "join of the band just behind the shoulder seam",
    )  # fmt: skip
    assert copy.colourways.get(name="chalk").threads.get().notion_colour == grey
    use = copy.notions.get(basis="piece")
    assert (use.piece, use.size) == (copy.pieces.get(name="front"), size)
    assert use.piece != front


def test_helpers_do_not_change_steps(helper_client):
    style = make.make_style("110")
    assert add(helper_client, "operation", operation()).status_code == 403
    step = style.operations.first()
    change = reverse("part-change", args=["110", "operation", step.pk])
    assert helper_client.get(change).status_code == 403


def queries(ask) -> int:
    with CaptureQueriesContext(connection) as found:
        ask()
    return len(found)


def test_the_page_and_the_form_take_the_same_queries_for_many(maker_client):
    style = make.make_style("110")
    grey = make.make_notion_colour("overlock thread", "grey", "#888888")
    front, sizes = style.pieces.first(), list(style.size_range.sizes.all())
    button = make.make_notion_colour("button 15 mm")

    def add_one(number: int) -> None:
        step, way = style.operations.all()[number], style.colourways.first()
        step.own_machine = own_machine(f"Goose {number}", "overlock", "503 504")
        step.save()
        StyleNotion.objects.create(
            style=style, notion_colour=button, basis="piece", piece=front, size=sizes[number]
        )
        position = ColourwayThread.Position.values[number]
        ColourwayThread.objects.create(colourway=way, position=position, notion_colour=grey)

    def page() -> None:
        assert maker_client.get(reverse("style-detail", args=["110"])).status_code == 200

    def form() -> None:
        address = reverse("part-change", args=["110", "operation", style.operations.first().pk])
        assert maker_client.get(address, headers=HTMX).status_code == 200

    add_one(0)
    page()  # the workroom's row is made at first use
    before = queries(page), queries(form)
    add_one(1)
    add_one(2)
    assert (queries(page), queries(form)) == before
    assert max(before) <= 15
