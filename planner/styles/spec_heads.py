"""As much of many styles as says whether they can be planned: what the list of styles asks of each."""

from __future__ import annotations

from collections import defaultdict
from itertools import groupby
from operator import itemgetter
from typing import Any

from django.db.models import Q

from planner.core.outline import Outline
from planner.core.spec import BandSpec, ClothKey, ColourwaySpec, PieceSpec, StyleSpec
from planner.styles.models import Colourway, Detail, Piece
from planner.styles.specs import together

#: Stands for an outline that is there but was not read, where only its being there matters.
UNREAD = Outline((), ())
_NO_CLOTH = ClothKey("", "")
#: Stands for a band that is cut to measure, whose seam was not read.
_UNREAD_BAND = BandSpec("", 1.0)


def specs_without_shapes(styles: Any) -> dict[int, StyleSpec]:
    """What decides whether styles can be planned, by primary key: sizes, options, pieces, colourways.

    Four queries for any number of styles. Outlines are :data:`UNREAD`; seams, operations and notions are left
    out. `styles` is a queryset.
    """
    columns = ("pk", "base", "number", "name", "base_size__name")
    heads = styles.order_by("number", "size_range__sizes__position").values_list(
        *columns, "size_range__sizes__name"
    )
    own = styles.order_by()
    family = Q(style__in=own.values("pk")) | Q(style__in=own.filter(base__isnull=False).values("base"))
    details, pieces = _details_without_names(family), _pieces_without_shapes(family)
    colourways = _colourways_without_cloths(own.values("pk"))
    found = {}
    for (pk, base, number, name, base_size), rows in groupby(heads, itemgetter(0, 1, 2, 3, 4)):
        offers = {**details.get(base, {}), **details.get(pk, {})}
        found[pk] = StyleSpec(
            number=number,
            name=name,
            sizes=tuple(size for *_, size in rows if size),
            base_size=base_size,
            details=offers,
            pieces=together(pieces.get(base, ()), pieces.get(pk, ()), offers),
            colourways=colourways.get(pk, {}),
        )
    return found


def _details_without_names(family: Q) -> dict[int, dict[str, tuple[str, ...]]]:
    rows = Detail.objects.filter(family).order_by("style", "position", "pk", "options__position")
    found: dict[int, dict[str, tuple[str, ...]]] = defaultdict(dict)
    values = rows.values_list("style", "pk", "name", "options__name")
    for (style, _, name), options in groupby(values, itemgetter(0, 1, 2)):
        found[style][name] = tuple(option for *_, option in options if option is not None)
    return found


def _pieces_without_shapes(family: Q) -> dict[int, list[PieceSpec]]:
    rows = Piece.objects.filter(family).order_by("style", "position", "pk")
    columns = ("style", "pk", "name", "role__name", "count", "pair", "may_turn", "band")
    option = ("option__detail__name", "option__name")
    found: dict[int, list[PieceSpec]] = defaultdict(list)
    values = rows.values_list(*columns, *option, "outlines__size__name")
    for head, outlines in groupby(values, itemgetter(*range(10))):
        style, _, name, role, count, pair, may_turn, measured, detail, chosen = head
        sizes = dict.fromkeys((size for *_, size in outlines if size is not None), UNREAD)
        key = None if chosen is None else (detail, chosen)
        band = None if measured is None else _UNREAD_BAND
        found[style].append(PieceSpec(name, role, count, pair, may_turn, key, sizes, band=band))
    return found


def _colourways_without_cloths(pks: Any) -> dict[int, dict[str, ColourwaySpec]]:
    rows = Colourway.objects.filter(style__in=pks).order_by("style", "position", "pk")
    found: dict[int, dict[str, ColourwaySpec]] = defaultdict(dict)
    for (style, _, name), roles in groupby(
        rows.values_list("style", "pk", "name", "cloths__role__name"), itemgetter(0, 1, 2)
    ):
        cloths = dict.fromkeys((role for *_, role in roles if role is not None), _NO_CLOTH)
        found[style][name] = ColourwaySpec(name, cloths, None)
    return found
