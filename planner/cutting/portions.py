"""What is still to cut of a lay, colour by colour and roll by roll, with the rolls that may be chosen for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from django.db.models import Exists, OuterRef, Q

from planner.core.lays.model import LENGTHS
from planner.core.rolls import still_from
from planner.core.units import PACK_NOISE, format_length
from planner.cutting.actions.table import left_of
from planner.cutting.kept_rolls import planned_rolls
from planner.cutting.models import Lay, LayCloth, LayFact, LayRoll
from planner.cutting.narrow_rolls import own_width_in_words
from planner.materials.models import Roll
from planner.materials.washed import left_of_a_metre, on_table_m
from planner.papers.layers import spreads_in_words, way_of

NOT_NOTED = ("", "not noted")


def spread_m(lay: Lay) -> Decimal:
    """Metres of cloth that one spread takes as planned, end allowances included."""
    return marker_m(lay) + Decimal(LENGTHS[lay.mode] * 2 * lay.end_allowance_mm) / 1000  # type: ignore[index]


def marker_m(lay: Lay) -> Decimal:
    """The least metres of cloth one spread takes: the marker's length, without end allowances."""
    length_mm = lay.marker.length_mm or lay.estimated_length_mm
    return Decimal(LENGTHS[lay.mode] * length_mm) / 1000  # type: ignore[index]


def up_to_cm(metres: Decimal) -> Decimal:
    """Metres to spread, rounded up to the centimetre as :func:`planner.core.units.format_length` tells them."""
    # Adding zero makes a plain 0 of the −0 that subtracting the noise gives.
    return (metres - PACK_NOISE / 1000).quantize(Decimal("0.01"), ROUND_CEILING) + Decimal(0)


@dataclass(frozen=True)
class Portion:
    """Spreads of one colour that are still to be cut, planned from one roll (pk; None where none was chosen)."""

    cloth: LayCloth
    number: int
    spreads: int
    roll: int | None
    each_m: Decimal
    rolls: tuple[tuple[str, str], ...]
    mode: str
    #: What a spread takes at the least, see :func:`marker_m`.
    marker_m: Decimal = Decimal(0)
    #: Whether they were planned from cloth that is still to be bought.
    to_buy: bool = False
    #: What is lost at flaws of the planned roll before the first spread, before the first two, and so on (m on the
    #: table).
    lost_m: tuple[Decimal, ...] = ()
    #: How wide it is laid (mm).
    lay_width_mm: float = 0.0

    @property
    def key(self) -> str:
        """What the fields of this portion end in."""
        return f"{self.cloth.pk}-{self.number}"

    @property
    def planned_roll(self) -> str:
        """The number of the roll as planned; "" where none was."""
        return next((text.partition(",")[0] for key, text in self.rolls if key == str(self.roll)), "")

    @property
    def planned_m(self) -> Decimal:
        """Metres these spreads take as planned, with what is lost at flaws, rounded up to the centimetre."""
        return self.metres_of(self.spreads)

    def metres_of(self, spreads: int) -> Decimal:
        """Metres that this many spreads take as planned, rounded up to the centimetre."""
        return up_to_cm(spreads * self.each_m + self.lost_before(spreads))

    def lost_before(self, spreads: int) -> Decimal:
        """Metres of the planned roll that are lost at flaws when this many spreads are cut."""
        return self.lost_m[min(spreads, len(self.lost_m)) - 1] if spreads > 0 and self.lost_m else Decimal(0)

    @property
    def planned_mm(self) -> Decimal:
        """The same in mm and not rounded, to be rounded up as the length of a lay is."""
        return (self.spreads * self.each_m + self.lost_before(self.spreads)) * 1000

    @property
    def left(self) -> int:
        """Spreads of the colour that are still to be cut, whatever roll they come from."""
        return left_of(self.cloth)

    @property
    def is_washed_first(self) -> bool:
        """Whether the cloth lies shorter on the table than the books say."""
        return left_of_a_metre(self.cloth.fabric_colour.fabric) < 1

    @property
    def words(self) -> str:
        """ "3 plies"."""
        return spreads_in_words(self.spreads, self.way)

    @property
    def way(self) -> str:
        """How they are spread, in the words of `papers.layers`."""
        return way_of(self.mode, is_tube=self.cloth.fabric_colour.fabric.is_tube)


def portions_of(
    lay: Lay,
    cloths: Sequence[LayCloth],
    facts: Iterable[LayFact],
    rolls: Mapping[int, Sequence[tuple[str, str]]],
    lost_m: Mapping[tuple[int, int], Sequence[Decimal]] | None = None,
) -> tuple[Portion, ...]:
    """What is left to cut, colour by colour and roll by roll as planned. No query.

    `rolls` are the choices by colour (FabricColour pk), `lost_m` is what plies lose at flaws (see `FlawsAhead`). A roll
    that is only kept for plies still to be bought is not planned for them: it has not enough to cut.
    """
    each = spread_m(lay)
    cut: dict[int, dict[int | None, int]] = defaultdict(lambda: defaultdict(int))
    for fact in facts:
        if fact.taken_back_at is None:
            cut[fact.lay_cloth_id][fact.roll_id] += fact.spreads
    found = []
    for cloth in cloths:
        left = left_of(cloth)
        planned = [(one.roll_id, one.spreads) for one in planned_rolls(cloth)]
        shares = still_from(planned or [(None, cloth.spreads)], cut[cloth.pk], left)
        for number, (roll, spreads) in enumerate(shares):
            if spreads:
                choices = _promised_first(rolls.get(cloth.fabric_colour_id, ()), roll)
                to_buy = roll is None and bool(planned)
                plies = (lost_m or {}).get((cloth.pk, roll or 0), ())
                spreads_lost = plies[LENGTHS[lay.mode] - 1 :: LENGTHS[lay.mode]]  # type: ignore[index]
                lost = tuple(on_table_m(one, cloth.fabric_colour.fabric) for one in spreads_lost)
                found.append(
                    Portion(
                        cloth,
                        number,
                        spreads,
                        roll,
                        each,
                        choices,
                        lay.mode,
                        marker_m(lay),
                        to_buy,
                        lost,
                        lay.lay_width_mm,
                    )
                )
    return tuple(found)


def _promised_first(choices: Sequence[tuple[str, str]], roll: int | None) -> tuple[tuple[str, str], ...]:
    first = [one for one in choices if one[0] == str(roll)]
    return (*first, *(one for one in choices if one[0] != str(roll)), NOT_NOTED)


def rolls_to_choose(lay: Lay, display: str) -> dict[int, list[tuple[str, str]]]:
    """Rolls of the lay's colours with something on them, and those it is planned from, as choices. One query."""
    colours = {cloth.fabric_colour_id for cloth in lay.cloths.all()}
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    of_lay = LayRoll.objects.filter(lay_cloth__lay=lay, roll=OuterRef("pk"))
    rolls = Roll.objects.with_left().filter(fabric_colour__in=colours)
    rolls = rolls.select_related("fabric_colour__fabric")
    for roll in rolls.filter(Q(left_m__gt=0) | Q(Exists(of_lay))).order_by("pk"):
        found[roll.fabric_colour_id].append((str(roll.pk), roll_in_words(roll, display)))
    return found


def roll_in_words(roll: Roll, display: str) -> str:
    """ "R2, lot A, 140 cm wide, 12.4 m left"; its width where it is not that of its cloth. No query where the roll was
    read with that."""
    left = _left_in_words(roll, display)
    lot = f"lot {roll.shade_lot}" if roll.shade_lot else ""
    return ", ".join(part for part in (roll.number, lot, own_width_in_words(roll, display), left) if part)


def _left_in_words(roll: Roll, display: str) -> str:
    """ "12.4 m left", of cloth that is washed first "11.16 m left, washed (12.4 m as bought)"."""
    fabric = roll.fabric_colour.fabric
    bought, laid = (
        format_length(float(metres) * 1000, display=display, kind="cloth")  # type: ignore[arg-type]
        for metres in (roll.left_m, on_table_m(roll.left_m, fabric))
    )
    return f"{bought} left" if bought == laid else f"{laid} left, washed ({bought} as bought)"
