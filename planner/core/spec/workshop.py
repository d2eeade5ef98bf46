"""What a plan looks things up in, and the workroom's machines and times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from planner.core.spec.materials import Cloth, ClothKey, Notion, NotionKey
from planner.core.spec.styles import Position, StyleSpec


@dataclass(frozen=True, slots=True)
class StitchSetting:
    """A stitch type as one of the workroom's machines makes it.

    Lengths in mm, None where nobody set them. `measured` is the thread per length of seam at each position, unpicked
    and measured on this machine; empty where that was not done.
    """

    stitch_type: str
    stitch_length_mm: float | None = None
    width_mm: float | None = None
    measured: Mapping[Position, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MachineSpec:
    """One of the workroom's own machines: its kind, and the stitch types it makes by number."""

    name: str
    kind: str
    stitches: Mapping[str, StitchSetting] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LayTimes:
    """What laying and cutting takes, in minutes, and what an hour of it costs.

    A lay: `setup` for making ready, `mark_piece` and `cut_piece` for each piece of its marker, however many plies lie
    under it. A spread: `spread`, and `spread_metre` for each metre of it. The defaults are our own, for a workroom that
    cuts by hand, until she has put in hers.
    """

    setup: float = 10.0
    spread: float = 1.0
    spread_metre: float = 0.5
    mark_piece: float = 0.4
    cut_piece: float = 0.8
    rate_per_hour: Decimal = Decimal("18")


@dataclass(frozen=True)
class Workshop:
    """What a plan looks things up in: styles by number, cloths and notions by key, the table, the machines.

    The tool cuts `most_plies` layers, and of cloth whose thickness is known no more than `cut_thickness_mm` (0 where
    nobody said).
    """

    styles: Mapping[str, StyleSpec]
    cloths: Mapping[ClothKey, Cloth]
    notions: Mapping[NotionKey, Notion]
    table_length_mm: float = 6000.0
    most_plies: int = 2
    piece_gap_mm: float = 2.0
    bundle_size: int = 10
    machines: tuple[MachineSpec, ...] = ()
    cut_thickness_mm: float = 0.0
    times: LayTimes = field(default_factory=LayTimes)
