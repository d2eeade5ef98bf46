"""What the page of a band cut to measure shows: in every cloth and size how long it is cut, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.core.notions.band_pieces import Opening, cloths_of_piece, openings_of, proposals
from planner.core.notions.band_proposals import BandProposal
from planner.core.spec import Cloth, ClothKey, PieceSpec, StyleSpec
from planner.core.units import Display


@dataclass(frozen=True)
class BandRow:
    """The band in one size; `proposal` is None where the opening cannot be measured, and `why_not` says why."""

    size: str
    opening: Opening
    proposal: BandProposal | None
    why_not: str = ""


@dataclass(frozen=True)
class BandCloth:
    """The band cut from one fabric, in every size. `colours` are those that the colourways cut it from."""

    fabric: str
    colours: Sequence[str]
    stretch_percent: float
    is_chosen: bool
    rows: Sequence[BandRow]

    @property
    def measured(self) -> list[BandProposal]:
        """The band in the sizes that can be measured."""
        return [row.proposal for row in self.rows if row.proposal]

    @property
    def warned(self) -> int:
        """Sizes in which something speaks against it."""
        return sum(bool(proposal.problems) for proposal in self.measured)


@dataclass(frozen=True)
class BandTable:
    """The band in every cloth it may be cut from."""

    cloths: Sequence[BandCloth]
    base_size: str
    lacking: Sequence[str]

    @property
    def answer(self) -> str:
        """The first line: what is cut in the base size, from the first cloth."""
        if not self.cloths or not any(cloth.measured for cloth in self.cloths):
            return (
                "It cannot be cut yet: "
                + (self.lacking[0] if self.lacking else "no size has an opening")
                + "."
            )
        warned = sum(cloth.warned for cloth in self.cloths)
        if not warned:
            return "It lies well in every size and cloth."
        return f"Look at {warned} {'size' if warned == 1 else 'sizes'}: something speaks against the band."


def band_table(
    piece: PieceSpec, style: StyleSpec, cloths: Mapping[ClothKey, Cloth], display: Display
) -> BandTable:
    """The table of a band, by fabric: colours of one fabric stretch alike."""
    openings = openings_of(piece, style)
    fabrics: dict[str, list[ClothKey]] = {}
    for key in cloths_of_piece(piece, style):
        if key in cloths:
            fabrics.setdefault(key.fabric, []).append(key)
    lacking = list(dict.fromkeys(filter(None, (one.why_not_in(display) for one in openings.values()))))
    found = [_cloth(piece, style, openings, cloths[keys[0]], keys, display) for keys in fabrics.values()]
    if not found:
        found = [_cloth(piece, style, openings, None, [], display)]
    return BandTable(found, style.base_size, lacking)


def _cloth(
    piece: PieceSpec,
    style: StyleSpec,
    openings: Mapping[str, Opening],
    cloth: Cloth | None,
    keys: Sequence[ClothKey],
    display: Display,
) -> BandCloth:
    made = proposals(piece, style, cloth, openings=openings, display=display)
    return BandCloth(
        fabric=cloth.key.fabric if cloth else "",
        colours=[key.colour for key in keys],
        stretch_percent=cloth.stretch_share * 100 if cloth else 0.0,
        is_chosen=cloth is not None,
        rows=[
            BandRow(size, opening, made.get(size), opening.why_not_in(display))
            for size, opening in openings.items()
        ],
    )
