"""Fills the tickets of bundles from a plan: pieces, notions, steps, and whose garments they hold."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from planner.core.bundle_lots import lots_apart
from planner.core.planning import Plan, PlannedBundle
from planner.core.ply_list import PlyRun, runs_by_bundle
from planner.core.spec import Garment, OperationSpec, StyleSpec, Workshop
from planner.core.units import Display
from planner.cutting.bundle_orders import extra_in_words, several_in_words
from planner.cutting.lay_papers import Twins, plies_of_bundle, runs_of, twins_in
from planner.cutting.lengths import along_in_words, sewn_in
from planner.cutting.papers import PaperSetting
from planner.cutting.wording import (
    lots_apart_in_words,
    machine_in_words,
    named,
    options_in_words,
)
from planner.papers.data import (
    BundleTicket,
    TicketStep,
)


def ticket_data(plan: Plan, shop: Workshop, setting: PaperSetting) -> tuple[BundleTicket, ...]:
    """The tickets of all bundles."""
    runs = runs_by_bundle(runs_of(plan, setting.rolls, setting.told))
    twins = twins_in(plan)
    return tuple(
        _ticket(bundle, plan, shop, setting, runs.get(bundle.number, {}), twins) for bundle in plan.bundles
    )


def pieces_of(garment: Garment, shop: Workshop) -> tuple[tuple[str, int], ...]:
    """The pieces of one garment with their count."""
    return tuple((p.name, p.count) for p in shop.styles[garment.style].pieces_for(garment.options))


def notions_of(
    garment: Garment,
    style: StyleSpec,
    display: Display = "metric",
    bundle_of: int | None = None,
    counted: Collection[str] = (),
) -> tuple[str, ...]:
    """The notions for a garment, or a bundle of so many: "2 × shell button 12 mm", and see :func:`along_in_words`."""
    words = []
    garments = bundle_of or 1
    counts = {piece.name: piece.count for piece in style.pieces_for(garment.options)}
    for use in style.notions_for(garment.options):
        name = named(use.notion)
        if use.size not in ("", garment.size) or use.basis == "order":
            continue  # what an order takes goes with the parcel, not with a bundle
        if use.basis == "seam":
            words += filter(None, [along_in_words(use, style, garment, display, bundle_of, counted)])
            continue
        each = use.quantity * (counts.get(use.piece, 0) if use.basis == "piece" else 1)
        if each:
            words.append(f"{each * garments:g} × {name}")
    colourway = style.colourways[garment.colourway]
    if colourway.thread is not None:
        words.append(f"thread: {named(colourway.thread)}")
    words += [f"in the {position}s: {named(key)}" for position, key in colourway.threads.items()]
    return tuple(words)


def _ticket(
    bundle: PlannedBundle,
    plan: Plan,
    shop: Workshop,
    setting: PaperSetting,
    runs: Mapping[int, Sequence[PlyRun]],
    twins: Twins,
) -> BundleTicket:
    garment = bundle.garment
    style = shop.styles[garment.style]
    order, due_on = setting.orders.get(bundle.number, ("", ""))
    if wanted := setting.wanted.get(garment):
        order = order or several_in_words(bundle.quantity, wanted)
        order = "; ".join(filter(None, (order, extra_in_words(bundle.quantity, wanted))))
    apart = lots_apart_in_words(lots_apart(bundle.number, runs))
    counted = {key.notion for key, notion in shop.notions.items() if notion.unit == "pcs"}
    made = {piece.name for piece in style.pieces_for(garment.options) if garment.size in piece.interpolated}
    return BundleTicket(
        number=bundle.number,
        batch=plan.batch,
        style=garment.style,
        style_name=style.name,
        options=options_in_words(garment.options),
        colourway=garment.colourway,
        size=garment.size,
        quantity=bundle.quantity,
        lay=bundle.lay,
        shade_lot=bundle.shade_lot,
        lot_to_come=not bundle.shade_lot and not apart and _is_to_buy(bundle, runs),
        lots_apart=apart,
        order=order,
        due_on=due_on,
        pieces=tuple(
            (f"{name} (interpolated)" if name in made else name, count * bundle.quantity)
            for name, count in pieces_of(garment, shop)
        ),
        notions=notions_of(garment, style, _display(setting), bundle.quantity, counted),
        steps=tuple(
            _step(n, o, sewn_in(o, style, garment, _display(setting), counted))
            for n, o in enumerate(style.operations_for(garment.options), 1)
        ),
        url=setting.urls.get(bundle.number, bundle.number),
        lays=bundle.lays,
        plies=plies_of_bundle(bundle, runs, twins),
    )


def _is_to_buy(bundle: PlannedBundle, runs: Mapping[int, Sequence[PlyRun]]) -> bool:
    """Whether cloth of the bundle's own lay is still to be bought, so that its shade lot is not known yet."""
    own = [run for run in runs.get(bundle.lay, ()) if bundle.number in run.bundles]
    return any(run.roll is not None and not run.roll.roll for run in own)


def _step(number: int, operation: OperationSpec, take: str) -> TicketStep:
    return TicketStep(
        position=number,
        name=operation.name,
        machine=machine_in_words(operation.machine, operation.own_machine),
        stitch_type=operation.stitch_type,
        minutes=operation.standard_minutes,
        setup_note=operation.setup_note,
        stitch_length_mm=operation.stitch_length_mm,
        differential_feed=operation.differential_feed,
        tension_note=operation.tension_note,
        needle_note=operation.needle_note,
        quality_note=operation.quality_note,
        take=take,
    )


def _display(setting: PaperSetting) -> Display:
    return "imperial" if setting.display == "imperial" else "metric"
