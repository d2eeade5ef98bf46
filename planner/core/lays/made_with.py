"""The figures of the workroom that a cut plan was made with: with others it may be another one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import astuple, dataclass, replace
from typing import Any

from planner.core.cloth import cut_factors, lay_width_mm, price_per_m, repeats_mm
from planner.core.lays.cloth_limits import layers_allowed
from planner.core.spec import Cloth, Workshop


@dataclass(frozen=True, slots=True)
class AsLaid:
    """How a cloth lay: its usable width as it lies (mm), the ways it may be laid, whether pieces lie one way only and
    beside each other, whether it is a tube, and how much larger pieces are cut along and across (factors).
    """

    width_mm: float
    modes: tuple[str, ...]
    one_way: bool
    shades: bool
    is_tube: bool
    larger: tuple[float, float]


@dataclass(frozen=True, slots=True)
class MadeWith:
    """What a plan was made with: the most layers of the cloth that the tool cuts, the length of the table (mm), the
    minutes and hourly rate of the work (as text, in the order of `LayTimes`), and the price of a metre of each colour
    (as text); how often the pattern of the cloth comes again along and across as it lies (mm, 0 for none), and how the
    cloth lay, both None where an earlier version did not note them.
    """

    plies: int
    table_mm: float
    work: tuple[str, ...]
    prices: tuple[tuple[str, str], ...]
    repeats: tuple[float, float] | None = None
    laid: AsLaid | None = None

    def as_far_as(self, other: MadeWith) -> MadeWith:
        """The same without what the other did not note, so that the two can be compared."""
        return replace(
            self,
            repeats=None if other.repeats is None else self.repeats,
            laid=None if other.laid is None else self.laid,
        )


def made_with(cloths: Iterable[Cloth], shop: Workshop) -> MadeWith:
    """The figures of a workshop for the colours of one fabric."""
    cloths = list(cloths)
    return MadeWith(
        max((layers_allowed(cloth, shop) for cloth in cloths), default=shop.most_plies),
        shop.table_length_mm,
        tuple(f"{float(one):g}" for one in astuple(shop.times)),
        tuple(sorted((cloth.key.colour, f"{float(price_per_m(cloth)):.4f}") for cloth in cloths)),
        next(((round(along, 1), round(across, 1)) for along, across in map(repeats_mm, cloths)), None),
        next(map(as_laid, cloths), None),
    )


def as_laid(cloth: Cloth) -> AsLaid:
    """How a cloth lies."""
    along, across = cut_factors(cloth)
    return AsLaid(
        round(lay_width_mm(cloth), 1),
        tuple(cloth.modes),
        cloth.one_way,
        cloth.shades,
        cloth.is_tube,
        (round(along, 4), round(across, 4)),
    )


def made_with_from_json(data: Mapping[str, Any]) -> MadeWith:
    """Reads what `asdict` makes of it once it was written as JSON."""
    prices = tuple((colour, price) for colour, price in data["prices"])
    repeats = data.get("repeats")
    noted = None if repeats is None else (float(repeats[0]), float(repeats[1]))
    laid = as_laid_from_json(data["laid"]) if data.get("laid") else None
    return MadeWith(data["plies"], data["table_mm"], tuple(data["work"]), prices, noted, laid)


def as_laid_from_json(data: Mapping[str, Any]) -> AsLaid:
    """Reads what `asdict` makes of it once it was written as JSON."""
    return AsLaid(**{**data, "modes": tuple(data["modes"]), "larger": tuple(data["larger"])})
