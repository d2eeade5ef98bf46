"""What a line will take, said while it is typed: metres of cloth and elastic from piece areas."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.core.listed import listed
from planner.core.missing import clash_in_words, find_missing
from planner.core.needs import ClothNeed, NotionNeed, Usage, work_out_needs
from planner.core.spec import ClothKey, Demand, Workshop, make_options
from planner.core.too_wide import told_once
from planner.materials.models import Workroom
from planner.orders.choices import find_style, style_names
from planner.orders.drafts import LineDraft, demand_of, still_to_choose
from planner.orders.usage import usage_of
from planner.styles.specs import workshop


@dataclass(frozen=True)
class Estimate:
    """What a line takes, or why that cannot be told yet.

    `hint` says what is still to be typed, `missing` what the style lacks, `clashes` which chosen options cannot be had
    together; with none of these there are needs. `how` says how metres were reckoned. `measured` are notions by the
    metre except thread (elastic, tape), `other` are thread and counted notions.
    """

    garments: int = 0
    hint: str = ""
    missing: tuple[str, ...] = ()
    clashes: tuple[str, ...] = ()
    how: str = ""
    cloths: tuple[ClothNeed, ...] = ()
    measured: tuple[NotionNeed, ...] = ()
    other: tuple[NotionNeed, ...] = ()


def estimate_needs(
    demand: Sequence[Demand], shop: Workshop | None = None, usage: Mapping[str, Usage] | None = None
) -> Estimate:
    """What the demand takes, or what keeps it from being reckoned; never raises for gaps in a style.

    `usage` tells how well fabrics are used, by name; it is asked for where it is not given.
    """
    if not demand:
        return Estimate(hint="Type how many, and what they take stands here.")
    garments = sum(row.quantity for row in demand)
    shop = shop or workshop(
        sorted({row.garment.style for row in demand}), sizes=sorted({row.garment.size for row in demand})
    )
    if missing := find_missing(demand, shop):
        return Estimate(garments, missing=told_once(missing, Workroom.the().display))
    if usage is None:
        usage = usage_of(_fabrics(shop))
    needs = work_out_needs(demand, shop, usage=usage)
    by_metre = [n for n in needs.notions if n.unit == "m" and shop.notions[n.key].kind != "thread"]
    return Estimate(
        garments,
        how=_how(needs.cloths),
        cloths=needs.cloths,
        measured=tuple(by_metre),
        other=tuple(n for n in needs.notions if n not in by_metre),
    )


def _fabrics(shop: Workshop) -> set[str]:
    """The names of all fabrics that its styles are cut from in some colourway."""
    colourways = (one for style in shop.styles.values() for one in style.colourways.values())
    return {cloth.fabric for colourway in colourways for cloth in colourway.cloths.values()}


def _how(cloths: Sequence[ClothNeed]) -> str:
    """How the metres are reckoned; where cloths differ in that, each way with the cloths it is for."""
    alike: dict[str, list[ClothKey]] = {}
    for need in cloths:
        alike.setdefault(need.how, []).append(need.cloth)
    if len(alike) < 2:
        return "".join(alike)
    # A colour is named only where it is not reckoned as the others of its fabric are.
    times = Counter(fabric for keys in alike.values() for fabric in {key.fabric for key in keys})
    named = (
        (how, dict.fromkeys(k.fabric if times[k.fabric] == 1 else f"{k.fabric} {k.colour}" for k in keys))
        for how, keys in alike.items()
    )
    return "; ".join(f"{listed(list(names))} {how}" for how, names in named)


def estimate_lines(drafts: Sequence[LineDraft]) -> list[Estimate]:
    """An estimate for each line as it is typed so far. Fifteen queries however many lines there are, four of them
    for how well the cloth was used."""
    names = style_names()
    meant = [find_style(draft.style_text, names) for draft in drafts]
    sizes = {size for draft in drafts for size, typed in draft.quantities.items() if typed.strip()}
    shop = workshop(sorted({style.number for style in meant if style}), sizes=sorted(sizes))
    usage = usage_of(_fabrics(shop))
    estimates = []
    for draft, style in zip(drafts, meant, strict=True):
        spec = shop.styles.get(style.number) if style else None
        if spec is None:
            estimates.append(Estimate(hint="Type a style, and what the line takes stands here."))
            continue
        demand, open_choices = demand_of(draft, spec), still_to_choose(draft, spec)
        clashes = spec.clashes_in(make_options(draft.options))
        if clashes:
            estimates.append(Estimate(clashes=tuple(clash_in_words(*pair) for pair in clashes)))
        elif demand and open_choices:
            estimates.append(
                Estimate(
                    hint=f"Choose {listed([f'the {one}' for one in open_choices])} to see what it takes."
                )
            )
        else:
            estimates.append(estimate_needs(demand, shop, usage))
    return estimates
