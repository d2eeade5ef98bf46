"""The thread of a seam from the best that is known of it.

What was measured on the maker's own machine comes before what the stitch looks like, and that before the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.core.notions.along import as_printed
from planner.core.notions.stitches import place_word, threads_at
from planner.core.notions.thread import STITCH_TYPES, ratio_from_geometry, shares_at
from planner.core.spec import (
    Cloth,
    ClothKey,
    ColourwaySpec,
    MachineSpec,
    NotionKey,
    OperationSpec,
    PieceSpec,
    Position,
    SeamSpec,
    StitchSetting,
)

ThreadSource = Literal["measured", "geometry", "table"]


@dataclass(frozen=True, slots=True)
class SeamThread:
    """Thread per length of seam at each position of a stitch type, and what it is known from.

    `how` tells it in words and figures: "504 by the table", "401 as measured on the chainstitch".
    """

    number: str
    at: Mapping[Position, float]
    source: ThreadSource
    how: str

    @property
    def ratio(self) -> float:
        """Thread per length of seam at all positions together."""
        return sum(self.at.values())


@dataclass(frozen=True, slots=True)
class ThreadPart:
    """The part of a seam's thread that one notion gives: thread per length of seam, and the reckoning in words."""

    key: NotionKey
    ratio: float
    how: str


def thread_of_seam(
    operation: OperationSpec, machines: Sequence[MachineSpec], layer_mm: float | None
) -> SeamThread | None:
    """The thread of a seam sewn by this operation, None where it sews no stitch.

    `layer_mm` is the thickness of one layer of its cloth, None where that is not known. A measurement on the
    operation's own machine comes first, else one on the first machine of its kind that has one for this stitch type.
    Geometry is used only where everything its formula needs is known. Raises KeyError for an unknown stitch type.
    """
    number = operation.stitch_type
    if not number:
        return None
    settings = tuple(_settings(operation, machines))
    for machine, setting in settings:
        if set(threads_at(number)) <= set(setting.measured):
            measured = {place: setting.measured[place] for place in threads_at(number)}
            return SeamThread(number, measured, "measured", f"{number} as measured on {machine.name}")
    found = _from_geometry(operation, [setting for _, setting in settings], layer_mm)
    ratio, source, how = found or (STITCH_TYPES[number].ratio, "table", f"{number} by the table")
    return SeamThread(
        number, {place: ratio * share for place, share in shares_at(number).items()}, source, how
    )


def _settings(
    operation: OperationSpec, machines: Sequence[MachineSpec]
) -> Iterator[tuple[MachineSpec, StitchSetting]]:
    """How the operation's own machine makes its stitch, or those of its kind where none of that name is there."""
    own = [machine for machine in machines if machine.name == operation.own_machine]
    for machine in own or [machine for machine in machines if machine.kind == operation.machine]:
        setting = machine.stitches.get(operation.stitch_type)
        if setting is not None:
            yield machine, setting


def _from_geometry(
    operation: OperationSpec, settings: Sequence[StitchSetting], layer_mm: float | None
) -> tuple[float, ThreadSource, str] | None:
    """Ratio and words by the formula of the stitch type; None where there is none or something is not known."""
    geometry = STITCH_TYPES[operation.stitch_type].geometry
    length, width = operation.stitch_length_mm, operation.stitch_width_mm
    for setting in settings:
        length = length or setting.stitch_length_mm
        width = width or setting.width_mm
    if geometry is None or not length or not layer_mm or (geometry.per_width and not width):
        return None
    wide = width or 0.0
    thick = operation.layers * layer_mm
    ratio = ratio_from_geometry(
        operation.stitch_type, stitch_length_mm=length, thickness_mm=thick, width_mm=wide
    )
    across = f"{geometry.per_thickness:g} × {operation.layers} × {_in_full(layer_mm, 4)} mm thick"
    if geometry.per_width:
        across += f" + {geometry.per_width:g} × {_plain(wide)} mm wide"
    how = f"{operation.stitch_type} by its stitch: {geometry.base:g} + ({across}) / {_plain(length)} mm long"
    return ratio, "geometry", how


def layer_thickness_mm(
    seam: SeamSpec,
    pieces: Mapping[str, PieceSpec],
    colourway: ColourwaySpec,
    cloths: Mapping[ClothKey, Cloth],
) -> float | None:
    """Mean thickness in mm of one layer of the cloths a seam joins; None where one of them was not measured.

    `pieces` are those of the chosen options by name; each piece in the seam counts once. To four places, as printed.
    """
    met = dict.fromkeys(ref.piece for ref in seam.edges if ref.piece in pieces)
    thick = []
    for name in met:
        key = colourway.cloths.get(pieces[name].role)
        cloth = None if key is None else cloths.get(key)
        if cloth is None or not cloth.thickness_mm > 0:
            return None
        thick.append(cloth.thickness_mm)
    return as_printed(sum(thick) / len(thick), 4) if thick else None


def parts_by_thread(thread: SeamThread, colourway: ColourwaySpec) -> tuple[ThreadPart, ...]:
    """The seam's thread shared out over the threads of its positions; positions without a thread are left out.

    `how` of a part goes on from the length of the seam: " × 14.00, 504 by the table". Ratios are reckoned with as they
    are printed, to the thousandth, and the shares of positions to the hundredth of a percent.
    """
    positions: dict[NotionKey, list[Position]] = {}
    for place in thread.at:
        key = colourway.thread_at(place)
        if key is not None:
            positions.setdefault(key, []).append(place)
    return tuple(
        ThreadPart(key, _part_of(thread, places), _part_in_words(thread, places))
        for key, places in positions.items()
    )


def _part_of(thread: SeamThread, places: Sequence[Position]) -> float:
    """Thread per length of seam that these positions take, from the figures that are printed for it."""
    taken = sum(thread.at[place] for place in places)
    if len(places) == len(thread.at) or thread.source == "measured":
        return as_printed(taken, 3)
    return as_printed(thread.ratio, 3) * _share_percent(thread, places) / 100.0


def _share_percent(thread: SeamThread, places: Sequence[Position]) -> float:
    return as_printed(sum(thread.at[place] for place in places) / thread.ratio * 100.0, 2)


def _part_in_words(thread: SeamThread, places: Sequence[Position]) -> str:
    if len(places) == len(thread.at):
        return f" × {_in_full(thread.ratio)}, {thread.how}"
    counts = threads_at(thread.number)
    who = " and ".join(place_word(thread.number, place, counts[place]) for place in places)
    if thread.source == "measured":
        return f" × {_in_full(_part_of(thread, places))}, {who} of {thread.how}"
    ratio, share = as_printed(thread.ratio, 3), _share_percent(thread, places)
    return f" × {_in_full(ratio)} × {_plain(share)} % at the {who}, {thread.how}"


def positions_of(number: str, colourway: ColourwaySpec) -> dict[NotionKey, int]:
    """Cones of each thread that stand on a machine at once while it sews this stitch type in the colourway."""
    cones: dict[NotionKey, int] = {}
    for place, count in threads_at(number).items():
        key = colourway.thread_at(place)
        if key is not None:
            cones[key] = cones.get(key, 0) + count
    return cones


def _in_full(figure: float, places: int = 3) -> str:
    """With at most so many decimals, without needless zeros but with two at least: 0.60, 0.775."""
    whole, _, parts = f"{as_printed(figure, places):.{places}f}".partition(".")
    return f"{whole}.{parts.rstrip('0'):0<2}"


def _plain(figure: float) -> str:
    """To two decimals, without those that say nothing."""
    return f"{figure:.2f}".rstrip("0").rstrip(".")
