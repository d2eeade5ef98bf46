"""Styles as the core knows them, read from the database in a fixed number of queries.

One query a table (:mod:`spec_rows`), so the number of queries depends neither on how many styles are read nor on how
many pieces, sizes or options they have.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any, TypeVar

from planner.core.cloth import with_matched
from planner.core.notions.band_pieces import with_bands
from planner.core.spec import LayTimes, OperationSpec, Option, PieceSpec, SeamSpec, StyleSpec, Workshop
from planner.materials.models import Workroom
from planner.materials.specs import cloths, machines, notions
from planner.styles import spec_rows as rows
from planner.styles.models import Style

#: Options by detail, as `StyleSpec.details` has them.
Offers = Mapping[str, tuple[str, ...]]
Part = TypeVar("Part", PieceSpec, SeamSpec, OperationSpec)


def workshop(
    style_numbers: Iterable[str] | None = None,
    *,
    sizes: Collection[str] | None = None,
    marks: bool = False,
) -> Workshop:
    """Everything a plan looks things up in: these styles (all where None), all cloths, notions and machines, the table.

    Pieces have their outlines in these sizes only (all where None): who asks what an order takes need not read
    those that nobody ordered. Notches and other `marks` are read where they are
    asked for. Eleven queries: the workroom's settings, seven for the styles, one each for cloths, notions and
    machines. A number that no style has is left out; whoever asks for it will not find it.
    """
    room = Workroom.the()
    wanted: Any = Style.objects.values_list("pk", flat=True)
    if style_numbers is not None:
        numbers = list(style_numbers)
        wanted = wanted.filter(number__in=numbers) if numbers else []
    known = cloths()
    shop = Workshop(
        styles={
            number: with_bands(style, known)
            for number, style in _specs_of(wanted, sizes, marks=marks).items()
        },
        cloths=known,
        notions=notions(),
        table_length_mm=float(room.table_length_mm),
        most_plies=room.most_plies,
        piece_gap_mm=float(room.piece_gap_mm),
        bundle_size=room.bundle_size,
        machines=machines(),
        cut_thickness_mm=float(room.cut_thickness_mm or 0),
        times=lay_times(room),
    )
    return with_matched(shop)


def lay_times(room: Workroom) -> LayTimes:
    """What laying and cutting takes in this workroom."""
    return LayTimes(
        setup=float(room.lay_minutes),
        spread=float(room.spread_minutes),
        spread_metre=float(room.spread_metre_minutes),
        mark_piece=float(room.mark_minutes),
        cut_piece=float(room.cut_minutes),
        rate_per_hour=room.labour_rate_per_hour,
    )


def style_specs(styles: Iterable[Style]) -> dict[str, StyleSpec]:
    """The styles by their number, in the order of their numbers.

    Seven queries however many styles there are, one more where a queryset is given that was not read yet, and one
    for the cloths where any has a band that is cut to measure.
    """
    found = _specs_of([style.pk for style in styles])
    if not any(piece.band for style in found.values() for piece in style.pieces):
        return found
    known = cloths()
    return {number: with_bands(style, known) for number, style in found.items()}


def _specs_of(
    pks: Any, drawn_in: Collection[str] | None = None, *, marks: bool = False
) -> dict[str, StyleSpec]:
    """`pks` is a list of primary keys or a query for them; outlines are read in the sizes of `drawn_in`."""
    if isinstance(pks, list) and not pks:
        return {}
    columns = ("pk", "base", "number", "name", "base_size__name", "size_range__sizes__name")
    sizes = Style.objects.filter(pk__in=pks).order_by("number", "size_range__sizes__position")
    heads = rows.by(sizes.values(*columns), "pk")
    bases = {of_style[0]["base"] for of_style in heads.values()} - {None}
    of_style = {"style__in": [*heads, *(bases - heads.keys())]}
    details, exclusions = rows.details(of_style)
    pieces = rows.pieces(of_style, drawn_in, marks=marks)
    seams = rows.seams(of_style)
    operations = rows.operations(of_style)
    uses = rows.notion_uses(of_style)
    colourways = rows.colourways(of_style)
    found = {}
    for pk, in_sizes in heads.items():
        head, base = in_sizes[0], in_sizes[0]["base"]
        offers = {**details.get(base, {}), **details.get(pk, {})}
        steps = together(operations.get(base, ()), operations.get(pk, ()), offers)
        found[head["number"]] = StyleSpec(
            number=head["number"],
            name=head["name"],
            sizes=tuple(row["size_range__sizes__name"] for row in in_sizes if row["size_range__sizes__name"]),
            base_size=head["base_size__name"],
            details=offers,
            pieces=together(pieces.get(base, ()), pieces.get(pk, ()), offers),
            seams=together(seams.get(base, ()), seams.get(pk, ()), offers),
            operations=tuple(sorted(steps, key=lambda step: step.position)),
            notions=tuple(
                use
                for use in (*uses.get(base, ()), *uses.get(pk, ()))
                if use.option is None or _offered(use.option, offers)
            ),
            colourways=colourways.get(pk, {}),
            exclusions=_exclusions_among(exclusions, {pk, base}, offers),
        )
    return found


def together(base: Iterable[Part], own: Iterable[Part], offers: Offers) -> tuple[Part, ...]:
    """Parts of a base and of a style built on it; one of the style's own takes the place of its namesake.

    Parts of options that the style does not offer (it has a detail of that name of its own) are left out.
    """
    mine = {(part.name, part.option): part for part in own}
    kept = [mine.pop((part.name, part.option), part) for part in base]
    found = (*kept, *mine.values())
    return tuple(part for part in found if part.option is None or _offered(part.option, offers))


def _offered(option: Option, offers: Offers) -> bool:
    detail, name = option
    return name in offers.get(detail, ())


def _exclusions_among(
    pairs: Iterable[rows.Exclusion], family: set[int], offers: Offers
) -> tuple[tuple[Option, Option], ...]:
    """Those of a style and its base, each pair once, both options offered."""
    return tuple(
        sorted(
            {pair for styles, pair in pairs if styles <= family and all(_offered(o, offers) for o in pair)}
        )
    )
