"""Options that cannot be had together: entered at the style, refused wherever a garment is asked for."""

import pytest
from django.urls import reverse as url

from planner.core.demand_file import read_demand
from planner.core.missing import find_missing
from planner.core.spec import Demand, Garment
from planner.cutting.actions.gathering import create_batch, fill_batch
from planner.cutting.actions.planning import copy_operations, plan_batch
from planner.cutting.demand import batch_demand
from planner.cutting.models import BatchItem, BatchOperation
from planner.orders.models import LineQuantity, Order
from planner.styles.models import Detail, Option, Style
from planner.styles.specs import style_specs, workshop
from tests import factories as make
from tests.orders.conftest import order_form

pytestmark = pytest.mark.django_db

BOTH = {"neck": "rib band", "sleeve": "cap"}
SAID = "neck rib band and the sleeve cap cannot be had together"


@pytest.fixture
def style() -> Style:
    """110 with a neck (self band, rib band) and a sleeve (plain, cap); rib band and cap exclude each other."""
    style = make.make_style("110")
    sleeve = Detail.objects.create(style=style, name="sleeve", position=1)
    for i, name in enumerate(("plain", "cap")):
        Option.objects.create(detail=sleeve, name=name, position=i)
    return style


def option(style: Style, name: str) -> Option:
    return Option.objects.get(detail__style=style, name=name)


def exclude(style: Style) -> None:
    option(style, "cap").not_with.add(option(style, "rib band"))


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def detail_form(style: Style, **changes) -> dict:
    data = {"name": "sleeve"}
    data |= {
        f"option_{o.pk}": o.name for o in Option.objects.filter(detail__style=style, detail__name="sleeve")
    }
    return data | changes


# --- entered ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("headers", [{}, {"hx-request": "true"}])
def test_what_excludes_what_is_entered_at_either_of_the_two(maker_client, style, headers):
    cap, rib = option(style, "cap"), option(style, "rib band")
    sleeve = style.details.get(name="sleeve")
    page = text_of(maker_client.get(url("part-change", args=["110", "detail", sleeve.pk]), headers=headers))
    assert "cap cannot be had together with" in page
    assert "neck: rib band" in page
    assert "sleeve: plain" not in page  # of one detail only one is chosen anyway
    data = detail_form(style, **{f"not_with_{cap.pk}": [rib.pk]})
    maker_client.post(url("part-change", args=["110", "detail", sleeve.pk]), data, headers=headers)
    assert list(rib.not_with.all()) == [cap]
    assert style_specs([style])["110"].exclusions == ((("neck", "rib band"), ("sleeve", "cap")),)
    neck = style.details.get(name="neck")
    form = maker_client.get(url("part-change", args=["110", "detail", neck.pk])).context["form"]
    assert form[f"not_with_{rib.pk}"].initial == [str(cap.pk)]
    assert "cap not with neck rib band" in text_of(maker_client.get(url("style-detail", args=["110"])))


def test_what_is_unticked_may_be_had_again(maker_client, style):
    exclude(style)
    sleeve = style.details.get(name="sleeve")
    maker_client.post(url("part-change", args=["110", "detail", sleeve.pk]), detail_form(style))
    assert not option(style, "rib band").not_with.exists()


def test_an_option_of_another_style_is_refused(maker_client, style):
    other = make.make_style("120")
    cap, sleeve = option(style, "cap"), style.details.get(name="sleeve")
    data = detail_form(style, **{f"not_with_{cap.pk}": [option(other, "rib band").pk]})
    answer = maker_client.post(url("part-change", args=["110", "detail", sleeve.pk]), data)
    assert answer.status_code == 422
    assert not cap.not_with.exists()


def test_an_own_option_excludes_one_of_the_base_in_that_style_alone(maker_client, style):
    built = make.make_built_on(style, "111")
    make.make_built_on(style, "112")
    tie = Detail.objects.create(style=built, name="tie")
    long = Option.objects.create(detail=tie, name="long tie")
    rib = option(style, "rib band")
    data = {"name": "tie", f"option_{long.pk}": "long tie", "new_1": "none", f"not_with_{long.pk}": [rib.pk]}
    maker_client.post(url("part-change", args=["111", "detail", tie.pk]), data)
    specs = style_specs(Style.objects.all())
    assert specs["111"].exclusions == ((("neck", "rib band"), ("tie", "long tie")),)
    assert specs["110"].exclusions == specs["112"].exclusions == ()
    # Kept when the base's own detail is kept: there the tie is not shown.
    neck = style.details.get(name="neck")
    data = {"name": "neck"} | {f"option_{o.pk}": o.name for o in neck.options.all()}
    maker_client.post(url("part-change", args=["110", "detail", neck.pk]), data)
    assert list(rib.not_with.all()) == [long]


def test_open_orders_that_clash_from_now_on_are_named_and_kept(maker_client, style):
    make.make_order([(style, BOTH, "ink", {"M": 2})])
    make.make_order([(style, BOTH, "ink", {"M": 2})], state="dispatched")
    make.make_order([(style, {**BOTH, "sleeve": "plain"}, "ink", {"M": 2})])
    cap, sleeve = option(style, "cap"), style.details.get(name="sleeve")
    data = detail_form(style, **{f"not_with_{cap.pk}": [option(style, "rib band").pk]})
    answer = maker_client.post(url("part-change", args=["110", "detail", sleeve.pk]), data, follow=True)
    said = text_of(answer)
    assert "O-0001 asks for options that cannot be had together now." in said
    assert "O-0002" not in said
    assert "O-0003" not in said
    assert Order.objects.get(number="O-0001").lines.get().options.count() == 2


# --- refused ----------------------------------------------------------------------------------------------


def line(sleeve: str = "cap", **sizes) -> dict:
    fields = {"style": "110", "colourway": "ink", "option-neck": "rib band", "option-sleeve": sleeve}
    fields |= {f"size-{size}": n for size, n in (sizes or {"M": "2"}).items()}
    return {f"line-0-{name}": value for name, value in fields.items()}


def test_an_order_or_stock_make_is_refused_at_the_field(maker_client, style):
    exclude(style)
    for customer in ("Tidewater Stores", ""):
        for headers in ({}, {"hx-request": "true"}):
            answer = maker_client.post("/orders/new/", order_form(line(), customer=customer), headers=headers)
            page = text_of(answer)
            assert answer.status_code == 422
            assert f"The {SAID}. Choose another sleeve, or another neck." in page
            (sleeve,) = [g for g in answer.context["lines"][0]["fields"].groups if g.legend == "sleeve"]
            assert len(sleeve.errors) == 1
            assert 'value="2"' in page
            assert not Order.objects.exists()
    for count, customer in enumerate(("Tidewater Stores", ""), 1):
        maker_client.post("/orders/new/", order_form(line("plain"), customer=customer))
        assert Order.objects.count() == count


def test_it_is_said_while_the_line_is_typed(maker_client, style):
    exclude(style)
    for typed in ("2", ""):
        said = text_of(maker_client.get("/orders/estimate/", line(M=typed) | {"line": "0"}))
        assert SAID in said
        assert "No estimate" not in said
    assert SAID not in text_of(maker_client.get("/orders/estimate/", line("plain") | {"line": "0"}))


def test_a_demand_file_is_refused_with_line_and_column(style):
    exclude(style)
    text = "style,options,colourway,size,quantity\n110,neck=rib band;sleeve=plain,ink,M,1\n"
    text += "110,sleeve=cap;neck=rib band,ink,M,1\n"
    found = read_demand(text.encode(), style_specs([style]))
    assert [str(problem) for problem in found.problems] == [f"line 3, column options: the {SAID}"]


def test_it_is_named_while_a_batch_is_filled_and_not_taken(maker_client, style):
    make.make_order([(style, BOTH, "ink", {"M": 2}), (style, {**BOTH, "sleeve": "plain"}, "ink", {"M": 3})])
    batch = create_batch(None, make.TODAY)
    address = url("batch-fill", args=[batch.number])
    assert "cannot be had together" not in text_of(maker_client.get(address))
    exclude(style)
    page = text_of(maker_client.get(address))
    assert page.count(f"The {SAID}. It cannot be planned:") == 1
    clashing, fine = LineQuantity.objects.order_by("line__position")
    answer = maker_client.post(address, {f"q-{clashing.pk}": "2", f"q-{fine.pk}": "3"})
    assert answer.status_code == 422
    assert f"the {SAID}: change the order first" in text_of(answer)
    assert not batch.items.exists()
    assert fill_batch(batch, {fine.pk: 3}).garments == 3


def test_nothing_is_planned_of_it(style):
    make.make_order([(style, BOTH, "ink", {"M": 2})])
    batch = create_batch(None, make.TODAY)
    fill_batch(batch, {LineQuantity.objects.get().pk: 2})
    exclude(style)
    garment = Garment("110", (("neck", "rib band"), ("sleeve", "cap")), "ink", "M")
    missing = find_missing([Demand(garment, 1)], workshop(["110"]))
    assert [gap.text for gap in missing] == [f"the {SAID} in style 110"]
    planned = plan_batch(batch, make.NOON)
    assert planned.problems == (f"the {SAID} in style 110",)
    assert planned.batch.state == "gathering"


# --- what was ordered before ------------------------------------------------------------------------------


def test_an_order_from_before_is_named_kept_and_may_change_in_other_ways(maker_client, style):
    order = make.make_order([(style, BOTH, "ink", {"M": 2})])
    assert "Cannot be made" not in text_of(maker_client.get("/orders/O-0001/"))
    exclude(style)
    page = text_of(maker_client.get("/orders/O-0001/"))
    assert f"110 box top, ink: the {SAID}" in page
    sent = line(M="5") | {"line-0-id": str(order.lines.get().pk)}
    answer = maker_client.post("/orders/O-0001/edit/", order_form(sent, version="1"))
    assert answer.status_code == 302
    assert order.lines.get().quantities.get().quantity == 5
    # But not into another pair that excludes each other.
    option(style, "self band").not_with.add(option(style, "cap"))
    sent |= {"line-0-option-neck": "self band"}
    answer = maker_client.post("/orders/O-0001/edit/", order_form(sent, version="2"))
    assert answer.status_code == 422


def test_an_order_that_clashes_is_not_entered_a_second_time(maker_client, style):
    make.make_order([(style, BOTH, "ink", {"M": 2})])
    exclude(style)
    answer = maker_client.post("/orders/O-0001/duplicate/", follow=True)
    assert "O-0001 is not copied: the neck rib band" in text_of(answer)
    assert Order.objects.count() == 1


# --- a family at order entry and in a batch ---------------------------------------------------------------


def test_options_of_the_base_are_ordered_for_a_style_built_on_it(maker_client, style):
    make.make_built_on(style, "111")
    sent = line("plain") | {"line-0-style": "111", "line-0-colourway": "moss"}
    assert maker_client.post("/orders/new/", order_form(sent)).status_code == 302
    saved = Order.objects.get().lines.get()
    assert {o.detail.style.number for o in saved.options.all()} == {"110"}
    assert "rib band, plain" in text_of(maker_client.get("/orders/O-0001/"))
    said = text_of(maker_client.get("/orders/estimate/", sent | {"line": "0"}))
    assert "2 garments take about" in said


def test_a_batch_copies_the_steps_of_the_base_for_each_style(style):
    built = make.make_built_on(style, "111")
    own = Detail.objects.create(style=built, name="neck")
    for name in ("rib band", "tie"):
        Option.objects.create(detail=own, name=name)
    plain = {"neck": "rib band", "sleeve": "plain"}
    order = make.make_order(
        [
            (style, {**plain, "neck": "self band"}, "ink", {"M": 1}),
            (built, plain, "moss", {"M": 1}),
        ]
    )
    batch = create_batch(None, make.TODAY)
    for row in LineQuantity.objects.filter(line__order=order):
        BatchItem.objects.create(batch=batch, line=row.line, size=row.size, quantity=1)
    copy_operations(batch, batch_demand(batch))
    steps = {}
    for row in BatchOperation.objects.filter(batch=batch).order_by("position"):
        steps.setdefault(row.style.number, []).append(row.name)
    assert steps == {
        "110": ["join shoulders", "close sides", "set self band", "hem"],
        "111": ["join shoulders", "close sides", "set rib band", "hem"],
    }
    band = BatchOperation.objects.get(batch=batch, name="set rib band")
    assert band.option == own.options.get(name="rib band")
    assert plan_batch(batch, make.NOON).problems == ()
