"""The workroom's own machines: noted, set, measured, taken out; thread that is counted in cones; thickness."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.materials.models import Fabric, Machine, MachineStitch, Notion, NotionColour, Workroom
from planner.styles.models import Operation
from tests import factories as make
from tests.answers import assert_refused_at

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
BOTH = pytest.mark.parametrize("headers", [{}, HTMX], ids=["plain", "htmx"])


def text_of(answer: Any) -> str:
    return answer.content.decode()


def make_machine(name: str = "Goose", kind: str = "overlock", makes: str = "504") -> Machine:
    machine = Machine.objects.create(name=name, kind=kind, setup_note="needle 75")
    MachineStitch.objects.bulk_create(MachineStitch(machine=machine, stitch_type=n) for n in makes.split())
    return machine


def stitch_of(machine: Machine, number: str = "504") -> MachineStitch:
    return machine.stitches.get(stitch_type=number)


def data(**changed: Any) -> dict[str, Any]:
    """A machine filled in as a person would."""
    return {
        "name": " Goose ",
        "kind": "overlock",
        "makes": ["503", "504"],
        "setup_note": "needle 75",
        **changed,
    }


def test_an_empty_list_teaches_the_next_step(maker_client: Client, helper_client: Client) -> None:
    page = text_of(maker_client.get(reverse("machine-list")))
    assert "No machine is noted yet." in page
    assert "Add the first machine" in page
    assert "Add the first machine" not in text_of(helper_client.get(reverse("machine-list")))


def test_a_machine_is_noted_with_its_stitches_and_told_with_its_threads(maker_client: Client) -> None:
    made = maker_client.post(reverse("machine-new"), data())
    machine = Machine.objects.get()
    assert made.url == reverse("machine-detail", args=[machine.pk])
    assert (machine.name, machine.kind, machine.setup_note) == ("Goose", "overlock", "needle 75")
    assert [stitch.stitch_type for stitch in machine.stitches.all()] == ["503", "504"]
    page = text_of(maker_client.get(reverse("machine-list")))
    assert "1 machine." in page
    assert "504 three-thread overedge" in page
    assert "1 needle, 2 loopers" in page


def test_stitches_that_stay_keep_how_they_are_set(maker_client: Client) -> None:
    machine = make_machine(makes="503 504")
    MachineStitch.objects.filter(stitch_type="504").update(stitch_length_mm=Decimal("2.5"))
    url = reverse("machine-change", args=[machine.pk])
    assert maker_client.post(url, data(makes=["504", "514"])).status_code == 302
    assert dict(machine.stitches.values_list("stitch_type", "stitch_length_mm")) == {
        "504": Decimal("2.50"), "514": None,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        (
            {"makes": ["406"]},
            "makes",
            "406 two-needle coverstitch is not made by an overlock, but by a coverstitch",
        ),
        ({"makes": ["999"]}, "makes", "choose one of the list"),
        ({"kind": "loom"}, "kind", "choose one of the list"),
        ({"name": ""}, "name", "Please fill this in"),
        ({"name": "goose"}, "name", "There is “goose” already"),
        ({"setup_note": "x" * 301}, "setup_note", "At most 300 letters"),
    ],
)
def test_a_slip_is_answered_at_its_field(
    maker_client: Client, changed: dict[str, Any], field: str, said: str
) -> None:
    make_machine("Goose", makes="")
    answer = maker_client.post(reverse("machine-new"), data(**{"name": "Gander", **changed}))
    assert_refused_at(answer, field, said)
    assert Machine.objects.count() == 1


def test_another_machine_may_make_any_stitch(maker_client: Client) -> None:
    assert maker_client.post(reverse("machine-new"), data(kind="other", makes=["607"])).status_code == 302


def name_it(machine: Machine) -> Operation:
    make.make_style("110")
    Operation.objects.filter(stitch_type="504").update(own_machine=machine)
    return Operation.objects.get(name="join shoulders")


def test_what_steps_of_sewing_name_is_not_changed_under_them(maker_client: Client) -> None:
    machine = make_machine(makes="503 504")
    name_it(machine)
    url = reverse("machine-change", args=[machine.pk])
    answer = maker_client.post(url, data(makes=["503"]))
    assert answer.status_code == 422
    (said,) = answer.context["form"].errors["makes"]
    assert "504 on this machine is named by join shoulders of 110, close sides of 110" in said
    answer = maker_client.post(url, data(kind="sewing machine", makes=[]))
    assert "It is named by join shoulders of 110" in answer.context["form"].errors["kind"][0]
    assert machine.stitches.count() == 2


def test_ticking_the_first_stitches_must_hold_those_that_steps_name(maker_client: Client) -> None:
    machine = make_machine(makes="")
    name_it(machine)
    answer = maker_client.post(reverse("machine-change", args=[machine.pk]), data(makes=["503"]))
    assert "Tick it too" in answer.context["form"].errors["makes"][0]


def test_a_measured_stitch_is_not_lost_by_a_tick(maker_client: Client) -> None:
    machine = make_machine(makes="503 504")
    MachineStitch.objects.filter(stitch_type="503").update(unpicked_mm=150, needle_mm=200, looper_mm=900)
    answer = maker_client.post(reverse("machine-change", args=[machine.pk]), data(makes=["504"]))
    assert "Forget the measurement first" in answer.context["form"].errors["makes"][0]


def test_taking_a_machine_out_says_which_steps_named_it(maker_client: Client) -> None:
    machine = make_machine()
    step = name_it(machine)
    page = text_of(maker_client.get(reverse("machine-detail", args=[machine.pk])))
    assert "join shoulders" in page
    assert "any overlock will do there then" in page
    gone = maker_client.post(reverse("machine-delete", args=[machine.pk]), follow=True)
    said = text_of(gone)
    assert "Goose is taken out of the workroom." in said
    steps = "join shoulders of 110, close sides of 110, set self band of 110 and set rib band of 110"
    assert f"{steps} named Goose; any machine of the kind will do there now." in said
    step.refresh_from_db()
    assert step.own_machine is None
    assert not Machine.objects.exists()


def test_a_machine_nobody_names_goes_without_a_warning(maker_client: Client) -> None:
    machine = make_machine()
    said = text_of(maker_client.post(reverse("machine-delete", args=[machine.pk]), follow=True))
    assert "is taken out" in said
    assert "will do there now" not in said


@BOTH
def test_a_stitch_is_set(maker_client: Client, headers: dict[str, str]) -> None:
    stitch = stitch_of(make_machine())
    url = reverse("stitch-set", args=[stitch.pk])
    asked = maker_client.get(url, headers=headers)
    assert ("<html" in text_of(asked)) == (not headers)
    done = maker_client.post(url, {"stitch_length_mm": "2,5", "width_mm": "5 mm"}, headers=headers)
    assert done.status_code == (200 if headers else 302)
    stitch.refresh_from_db()
    assert (stitch.stitch_length_mm, stitch.width_mm) == (Decimal("2.50"), Decimal("5.00"))
    page = text_of(maker_client.get(reverse("machine-detail", args=[stitch.machine_id])))
    assert "2.5&#8239;mm long, 5&#8239;mm wide" in page
    wrong = maker_client.post(url, {"stitch_length_mm": "25", "width_mm": "-1"}, headers=headers)
    assert wrong.status_code == 422
    assert list(wrong.context["form"].errors) == ["stitch_length_mm", "width_mm"]


def test_dials_are_in_mm_in_every_workroom(maker_client: Client) -> None:
    Workroom.objects.update_or_create(pk=1, defaults={"display": "imperial"})
    stitch = stitch_of(make_machine())
    maker_client.post(reverse("stitch-set", args=[stitch.pk]), {"stitch_length_mm": "2.5", "width_mm": ""})
    stitch.refresh_from_db()
    assert stitch.stitch_length_mm == Decimal("2.50")
    page = text_of(maker_client.get(reverse("stitch-set", args=[stitch.pk])))
    assert 'value="2.5 mm"' in page


@BOTH
def test_a_seam_is_unpicked_and_the_ratio_kept(maker_client: Client, headers: dict[str, str]) -> None:
    # The published worked example of a 401: 15 cm, 19.5 cm needle and 62.0 cm looper thread.
    machine = make_machine("Heron", "sewing machine", "401")
    stitch = stitch_of(machine, "401")
    url = reverse("stitch-measure", args=[stitch.pk])
    asked = text_of(maker_client.get(url, headers=headers))
    assert 'value="15 cm"' in asked
    assert "19.5 ÷ 15 = 1.30 and 62.0 ÷ 15 = 4.13, together 5.43" in asked
    assert "cover_mm" not in asked.replace("needle_mm,looper_mm,cover_mm", "")
    typed = {"unpicked_mm": "15", "needle_mm": "19.5 cm", "looper_mm": "62"}
    done = maker_client.post(url, typed, headers=headers)
    assert done.status_code == (200 if headers else 302)
    stitch.refresh_from_db()
    assert (stitch.unpicked_mm, stitch.needle_mm, stitch.looper_mm, stitch.cover_mm) == (
        Decimal("150.0"), Decimal("195.0"), Decimal("620.0"), None,
    )  # fmt: skip
    assert stitch.measured_on == timezone.localdate()
    page = text_of(maker_client.get(reverse("machine-detail", args=[machine.pk])))
    assert "Takes <strong>5.43</strong> times the seam: needle 1.30, looper 4.13." in page
    assert "measured 5.43 : 1" in text_of(maker_client.get(reverse("machine-list")))
    gone = maker_client.post(reverse("stitch-forget", args=[stitch.pk]), headers=headers)
    assert gone.status_code == (200 if headers else 302)
    stitch.refresh_from_db()
    assert (stitch.unpicked_mm, stitch.needle_mm, stitch.measured_on) == (None, None, None)


def test_threads_of_several_needles_are_added_as_typed(maker_client: Client) -> None:
    stitch = stitch_of(make_machine("Wren", "coverstitch", "406"), "406")
    url = reverse("stitch-measure", args=[stitch.pk])
    assert "Both needle threads" in text_of(maker_client.get(url))
    typed = {"unpicked_mm": "15", "needle_mm": "31 + 29.5 cm", "looper_mm": "1.2 m"}
    assert maker_client.post(url, typed).status_code == 302
    stitch.refresh_from_db()
    assert (stitch.needle_mm, stitch.looper_mm) == (Decimal("605.0"), Decimal("1200.0"))


IMPOSSIBLE_LENGTHS = (
    ({"unpicked_mm": "0"}, "unpicked_mm", "must be more than 0"),
    ({"unpicked_mm": "-15"}, "unpicked_mm", "less than nothing"),
    ({"unpicked_mm": "15 km"}, "unpicked_mm", "is not a length"),
    ({"unpicked_mm": "5 mm"}, "unpicked_mm", "Unpick between 30 mm and 3 m"),
    ({"unpicked_mm": ""}, "unpicked_mm", "Please fill this in"),
    ({"needle_mm": "0"}, "needle_mm", "must be more than 0"),
    ({"needle_mm": "-3"}, "needle_mm", "less than nothing"),
    ({"needle_mm": "10"}, "needle_mm", "Too short"),
    ({"looper_mm": "19.5 m"}, "looper_mm", "130 times the seam"),
    ({"looper_mm": "31 +"}, "looper_mm", "could be a length"),
)


def test_lengths_that_cannot_be_are_refused_at_their_field(maker_client: Client, subtests: Any) -> None:
    """With HTMX and without by turns."""
    stitch = stitch_of(make_machine("Heron", "sewing machine", "401"), "401")
    fine = {"unpicked_mm": "15", "needle_mm": "19.5", "looper_mm": "62"}
    url = reverse("stitch-measure", args=[stitch.pk])
    for at, (typed, field, said) in enumerate(IMPOSSIBLE_LENGTHS):
        with subtests.test(said, **typed):
            answer = maker_client.post(url, {**fine, **typed}, headers=HTMX if at % 2 else {})
            assert_refused_at(answer, field, said, typed[field])
            stitch.refresh_from_db()
            assert stitch.unpicked_mm is None


def test_the_ratio_is_shown_while_it_is_typed(maker_client: Client) -> None:
    stitch = stitch_of(make_machine("Heron", "sewing machine", "401"), "401")
    url = reverse("stitch-measured", args=[stitch.pk])
    some = {"unpicked_mm": "15 cm", "needle_mm": "19.5"}
    assert "Type every length" in text_of(maker_client.get(url, some, headers=HTMX))
    whole = text_of(maker_client.get(url, {**some, "looper_mm": "62"}, headers=HTMX))
    assert "Needle 1.30, looper 4.13" in whole
    assert "5.43" in whole
    assert "<html" not in whole
    assert "Too short" in text_of(maker_client.get(url, {**some, "needle_mm": "3", "looper_mm": "62"}))
    assert MachineStitch.objects.get().unpicked_mm is None


def test_helpers_look_and_strangers_do_not(helper_client: Client, client: Client) -> None:
    machine = make_machine()
    stitch = stitch_of(machine)
    for name, key in (("machine-list", None), ("machine-detail", machine.pk)):
        url = reverse(name, args=[key] if key else [])
        page = helper_client.get(url)
        assert page.status_code == 200
        assert "Change the machine" not in text_of(page)
        assert "Measure thread" not in text_of(page)
        assert client.get(url).status_code == 302
    makers = [("machine-new", None), ("machine-change", machine.pk), ("machine-delete", machine.pk)]
    makers += [("stitch-set", stitch.pk), ("stitch-measure", stitch.pk), ("stitch-forget", stitch.pk)]
    for name, key in makers:
        assert helper_client.post(reverse(name, args=[key] if key else []), {}).status_code == 403, name
    assert helper_client.get(reverse("stitch-measured", args=[stitch.pk])).status_code == 403
    assert Machine.objects.exists()


def test_lists_take_the_same_queries_for_many(maker_client: Client, django_assert_num_queries: Any) -> None:
    for number in range(8):
        make_machine(f"Goose {number}", makes="503 504 514")
    # Session, person, count, machines, stitches.
    with django_assert_num_queries(5):
        maker_client.get(reverse("machine-list"))
    machine = Machine.objects.first()
    name_it(machine)
    # Session, person, the machine, its stitches, the steps that name it.
    with django_assert_num_queries(5):
        maker_client.get(reverse("machine-detail", args=[machine.pk]))


# --- cones, waste, thickness, stretch ---------------------------------------------------------------------


@BOTH
def test_cones_are_counted_with_the_thread(maker_client: Client, headers: dict[str, str]) -> None:
    thread = make.make_notion_colour("overlock thread", "ink", "#26324a")
    url = reverse("notion-count", args=[thread.pk])
    assert "Cones, started ones too" in text_of(maker_client.get(url, headers=headers))
    done = maker_client.post(url, {"quantity": "7000 m", "cones": "3"}, headers=headers)
    assert done.status_code == (200 if headers else 302)
    thread.refresh_from_db()
    assert thread.cones == 3
    assert "on 3 cones" in text_of(maker_client.get(reverse("notion-detail", args=[thread.notion_id])))
    # Another two cones of 5,000 m come in.
    maker_client.post(reverse("notion-receive", args=[thread.pk]), {"quantity": "10000 m"}, headers=headers)
    thread.refresh_from_db()
    assert thread.cones == 5
    out = {"quantity": "17000 m", "reason": "used"}
    maker_client.post(reverse("notion-take-out", args=[thread.pk]), out, headers=headers)
    thread.refresh_from_db()
    assert thread.cones == 0


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"quantity": "500 m", "cones": "0"}, "on a cone or more"),
        ({"quantity": "0", "cones": "2"}, "no cones of it"),
        ({"quantity": "500 m", "cones": "1.5"}, "whole number"),
        ({"quantity": "500 m", "cones": "-1"}, "less than nothing"),
        ({"quantity": "500 m", "cones": "1000"}, "at most 999"),
    ],
)
def test_cones_that_cannot_be_are_refused(maker_client: Client, typed: dict[str, str], said: str) -> None:
    thread = make.make_notion_colour("overlock thread", "ink", "#26324a")
    answer = maker_client.post(reverse("notion-count", args=[thread.pk]), typed)
    assert answer.status_code == 422
    assert said in answer.context["form"].errors["cones"][0]
    assert NotionColour.objects.get(pk=thread.pk).cones is None


def test_cones_nobody_counts_stay_uncounted(maker_client: Client) -> None:
    thread = make.make_notion_colour("overlock thread", "ink", "#26324a")
    maker_client.post(reverse("notion-receive", args=[thread.pk]), {"quantity": "5000 m"})
    maker_client.post(reverse("notion-count", args=[thread.pk]), {"quantity": "4000 m", "cones": ""})
    thread.refresh_from_db()
    assert thread.cones is None
    elastic = make.make_notion_colour("clear elastic 6 mm")
    assert "Cones" not in text_of(maker_client.get(reverse("notion-count", args=[elastic.pk])))


@pytest.mark.parametrize(
    ("kind", "typed", "kept"),
    [("thread", "", "15"), ("elastic", "", "5"), ("thread", "10 %", "10"), ("thread", "0", "0")],
)
def test_new_thread_starts_with_the_waste_of_thread(
    maker_client: Client, kind: str, typed: str, kept: str
) -> None:
    form = {
        "name": "new", "kind": kind, "unit": "m", "supplier": "", "pack": "5000 m cone", "pack_quantity": "5000",
        "pack_price": "5", "waste_percent": typed, "low_quantity": "0",
    }  # fmt: skip
    assert maker_client.post(reverse("notion-new"), form).status_code == 302
    notion = Notion.objects.get()
    assert notion.waste_percent == Decimal(kept)
    change = reverse("notion-change", args=[notion.pk])
    assert maker_client.post(change, {**form, "waste_percent": ""}).status_code == 422


def fabric_data(**changed: str) -> dict[str, str]:
    return {
        "name": "jersey", "composition": "", "supplier": "", "full_width_mm": "150 cm", "selvedge_mm": "15 mm",
        "weight_gsm": "180", "thickness_mm": "", "stretch_percent": "40", "shrinkage_length_percent": "0",
        "shrinkage_width_percent": "0", "shrinkage_handling": "in_pattern", "sold_by": "metre",
        "pack_quantity": "0.1 m", "minimum_quantity": "0", "price": "12", "low_m": "0", "end_allowance_mm": "20",
        "damage_percent": "2", "lay_open": "on", **changed,
    }  # fmt: skip


def test_a_layer_of_cloth_has_a_thickness(maker_client: Client) -> None:
    page = text_of(maker_client.get(reverse("fabric-new")))
    assert "stack of ten layers" in page
    assert maker_client.post(reverse("fabric-new"), fabric_data(thickness_mm="0.85")).status_code == 302
    fabric = Fabric.objects.get()
    assert fabric.thickness_mm == Decimal("0.85")
    own = reverse("fabric-detail", args=[fabric.pk])
    assert "0.85\u2009mm a layer" in text_of(maker_client.get(own))


def test_a_workroom_that_measures_in_inches_has_thickness_in_them(maker_client: Client) -> None:
    # 1/32 in are 0.79375 mm (NIST SP 811: an inch is 25.4 mm), kept as 0.79 mm: 0.031 in.
    Workroom.the()
    Workroom.objects.update(display="imperial")
    assert "5/16 in high means 1/32 in" in text_of(maker_client.get(reverse("fabric-new")))
    assert (
        maker_client.post(
            reverse("fabric-new"), fabric_data(thickness_mm="1/32", end_allowance_mm="1", weight_gsm="5.3")
        ).status_code
        == 302
    )
    fabric = Fabric.objects.get()
    assert fabric.thickness_mm == Decimal("0.79")
    own = reverse("fabric-detail", args=[fabric.pk])
    assert "0.031\u2009in a layer" in text_of(maker_client.get(own))
    change = reverse("fabric-change", args=[fabric.pk])
    assert 'name="thickness_mm" value="0.031 in"' in maker_client.get(change).content.decode()
    refused = maker_client.post(reverse("fabric-new"), fabric_data(thickness_mm="1", end_allowance_mm="1"))
    assert "at most 0.7874 in" in text_of(refused)
    assert "3/8 to 5/8 in" in text_of(maker_client.get(reverse("workroom")))


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("thickness_mm", "0", "at least 0.02 mm"),
        ("thickness_mm", "-1", "less than nothing"),
        ("thickness_mm", "8 cm", "at most 20 mm"),
        ("stretch_percent", "301 %", "300 %"),
        ("stretch_percent", "500", "6 times as long"),
        ("stretch_percent", "-5", "less than nothing"),
    ],
)
def test_a_cloth_that_cannot_be_is_refused_at_its_field(
    maker_client: Client, field: str, typed: str, said: str
) -> None:
    answer = maker_client.post(reverse("fabric-new"), fabric_data(**{field: typed}))
    assert_refused_at(answer, field, said)
    assert not Fabric.objects.exists()


def test_three_hundred_percent_is_the_most(maker_client: Client) -> None:
    assert maker_client.post(reverse("fabric-new"), fabric_data(stretch_percent="300")).status_code == 302


# --- before anything is chosen ---


@pytest.mark.parametrize("name", ["machine-new", "notion-new"])
def test_a_box_of_choices_says_that_one_is_to_be_chosen(maker_client: Client, name: str) -> None:
    page = maker_client.get(reverse(name)).content.decode()
    assert '<option value="" selected>choose one</option>' in page
    assert "---------" not in page
