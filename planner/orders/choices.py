"""What can be ordered: a style with its sizes, details and colourways, as the order form offers it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Value

from planner.core.spec import Option
from planner.styles.loading import DetailRow, exclusions_of, read_details
from planner.styles.models import Colourway, Detail, PieceOutline, Size, Style


@dataclass(frozen=True, slots=True)
class DetailChoice:
    """A detail and the names of its options with their keys."""

    name: str
    options: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class ColourwayChoice:
    """A colourway; `swatches` are (#rrggbb, cloth) in the order of the roles, each cloth once."""

    pk: int
    name: str
    swatches: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class StyleChoice:
    """A style as it is ordered. Sizes map name to key, from small to large.

    `interpolated` are sizes in which an outline was made from those of the sizes beside it.
    """

    pk: int
    number: str
    name: str
    retired: bool
    sizes: Mapping[str, int]
    details: tuple[DetailChoice, ...]
    colourways: tuple[ColourwayChoice, ...]
    exclusions: tuple[tuple[Option, Option], ...] = ()
    interpolated: frozenset[str] = frozenset()

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    def colourway(self, name: str) -> ColourwayChoice | None:
        """The colourway of that name."""
        return next((c for c in self.colourways if c.name == name), None)

    def clashes_in(self, options: Mapping[str, str]) -> list[tuple[Option, Option]]:
        """Pairs among the chosen options (by detail) that cannot be had together, in the order of the details."""
        place = {detail.name: i for i, detail in enumerate(self.details)}
        chosen = set(options.items())
        pairs = [sorted(pair, key=lambda option: place[option[0]]) for pair in self.exclusions]
        return [(one, other) for one, other in pairs if one in chosen and other in chosen]


@dataclass(frozen=True, slots=True)
class StyleName:
    """A style by number and name only, for the list under the style field."""

    pk: int
    number: str
    name: str
    retired: bool


def style_names() -> list[StyleName]:
    """Every style by number. One query."""
    return [StyleName(*row) for row in Style.objects.values_list("pk", "number", "name", "retired")]


def detail_names() -> list[str]:
    """What the details of all styles are called, each name once. One query."""
    return list(Detail.objects.order_by().values_list("name", flat=True).distinct())


def find_style(typed: str, names: Iterable[StyleName]) -> StyleName | None:
    """The style somebody means by "110", "110 box top" or "box top"; never a shared name."""
    words = " ".join(typed.split()).casefold()
    if not words:
        return None
    by_name = []
    for style in names:
        if words in (style.number.casefold(), f"{style.number} {style.name}".casefold()):
            return style
        if words == style.name.casefold():
            by_name.append(style)
    return by_name[0] if len(by_name) == 1 else None


def style_choices(pks: Iterable[int]) -> dict[int, StyleChoice]:
    """What can be ordered of these styles. Four queries, none where no style is named.

    A style built on a base offers the base's details and its own; colourways are its own.
    """
    wanted = set(pks)
    if not wanted:
        return {}
    styles = list(Style.objects.filter(pk__in=wanted).select_related("base"))
    families = {pk for style in styles for pk in style.family}
    sizes, made = _sizes({style.size_range_id for style in styles}, families)
    details, colourways = read_details(styles), _colourways(wanted)
    return {
        style.pk: StyleChoice(
            pk=style.pk,
            number=style.number,
            name=style.name,
            retired=style.retired,
            sizes=sizes.get(style.size_range_id, {}),
            details=_choices(details[style.pk]),
            colourways=colourways.get(style.pk, ()),
            exclusions=exclusions_of(details[style.pk]),
            interpolated=frozenset().union(*(made.get(pk, ()) for pk in style.family)),
        )
        for style in styles
    }


#: In place of the position of a size, in the rows that tell interpolated sizes.
_MADE = -1


def _sizes(ranges: set[int], styles: set[int]) -> tuple[dict[int, dict[str, int]], dict[int, set[str]]]:
    """(keys of the sizes by name, small to large, by size range; names of interpolated sizes by style). One query."""
    here = Size.objects.filter(size_range__in=ranges).order_by()
    made = PieceOutline.objects.filter(is_interpolated=True, piece__style__in=styles).order_by()
    rows = here.values_list("size_range", "name", "position", "pk").union(
        made.values_list("piece__style", "size__name", Value(_MADE), Value(0))
    )
    sizes: dict[int, dict[str, int]] = {}
    interpolated: dict[int, set[str]] = {}
    for of, name, position, pk in sorted(rows, key=lambda row: row[2:]):
        if position == _MADE:
            interpolated.setdefault(of, set()).add(name)
        else:
            sizes.setdefault(of, {})[name] = pk
    return sizes, interpolated


def _choices(details: Iterable[DetailRow]) -> tuple[DetailChoice, ...]:
    """Details without any option offer no choice and are left out."""
    return tuple(
        DetailChoice(detail.name, dict(zip(detail.options, detail.option_pks, strict=True)))
        for detail in details
        if detail.options
    )


def _colourways(styles: set[int]) -> dict[int, tuple[ColourwayChoice, ...]]:
    rows = Colourway.objects.filter(style__in=styles)
    rows = rows.order_by("position", "pk", "cloths__role__position", "cloths__role")
    cloth = (
        "cloths__fabric_colour__swatch",
        "cloths__fabric_colour__fabric__name",
        "cloths__fabric_colour__name",
    )
    found: dict[int, dict[tuple[int, str], dict[tuple[str, str], None]]] = {}
    for style, pk, name, swatch, fabric, colour in rows.values_list("style", "pk", "name", *cloth):
        swatches = found.setdefault(style, {}).setdefault((pk, name), {})
        if fabric is not None:
            swatches[swatch, f"{fabric}, {colour}"] = None
    return {
        style: tuple(ColourwayChoice(pk, name, tuple(swatches)) for (pk, name), swatches in of_style.items())
        for style, of_style in found.items()
    }
