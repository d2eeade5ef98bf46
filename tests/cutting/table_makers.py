"""Lays at the table for tests: three spreads of one size each in two colours, so that plies can be told in parts."""

from __future__ import annotations

from decimal import Decimal

from planner.core.lays.rows import first_marker
from planner.core.lays.stored import job_from_json
from planner.cutting.actions.booking import Told
from planner.cutting.actions.table import LayTold, left_of, tell_lay
from planner.cutting.marker_store import marker_fields
from planner.cutting.models import Batch, Lay, LayCloth, Marker
from planner.materials.models import FabricColour, Roll, Workroom
from tests.factories import NOON, make_order, stock
from tests.sewing.makers import make_planned_batch, nest_all, the_style

RIB = {"neck": "rib band"}


def plies_batch(count: int = 5) -> Batch:
    """`count` box tops M in ink; whatever the plan, `jersey_lay` gives one lay with as many spreads."""
    Workroom.the()
    Workroom.objects.update(most_plies=10)
    batch = make_planned_batch(make_order([(the_style(), RIB, "ink", {"M": count})]))
    one_garment_a_marker(batch)
    return batch


def one_garment_a_marker(batch: Batch) -> None:
    """Turns every lay of the batch into one garment a marker and as many spreads, so that tests can count plies."""
    for lay in batch.lays.prefetch_related("cloths__garments"):
        cloth = lay.cloths.get()
        held = cloth.garments.get()
        if held.per_marker > 1:
            assert cloth.spreads == 1, "the plan is not what this maker expects"
            cloth.spreads, held.per_marker = held.per_marker, 1
            cloth.save()
            held.save()
            job = {**lay.marker.job, "items": [i for i in lay.marker.job["items"] if i["garment_no"] == 1]}
            marker = Marker.objects.create(key="one of it", job=job, state=Marker.State.READY)
            Marker.objects.filter(pk=marker.pk).update(**marker_fields(first_marker(job_from_json(job))))
            lay.marker = marker
            lay.save()
    nest_all(batch)


def jersey_lay(batch: Batch) -> Lay:
    """The first lay of the batch that is cut from jersey."""
    return batch.lays.filter(cloths__fabric_colour__fabric__name="jersey").order_by("number").first()


def tell_all_of(lay: Lay, used_m: str) -> LayTold:
    """Tells what is still to cut of a lay, so many metres of each of its plies, from no roll that is noted."""
    told = [Told(cloth.pk, left_of(cloth), Decimal(used_m)) for cloth in lay.cloths.all()]
    return tell_lay(lay, told, None, NOON)


def only_cloth(lay: Lay) -> LayCloth:
    return lay.cloths.get()


def roll_of(cloth: LayCloth, number: str = "R9", metres: str = "20", shade_lot: str = "") -> Roll:
    """A roll of the plies' own colour with so much on it."""
    colour = FabricColour.objects.get(pk=cloth.fabric_colour_id)
    return stock(colour, metres, roll=number, shade_lot=shade_lot).roll
