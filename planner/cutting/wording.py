"""Short words for garments, options and amounts, the same on screens and papers."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import groupby

from planner.core.bundle_lots import LotPlies
from planner.core.listed import counted, listed
from planner.core.needs import ClothNeed, NotionNeed
from planner.core.notions.thread import cones_needed, cones_on_hand
from planner.core.spec import Cloth, Notion, NotionKey, Options
from planner.core.units import Display, format_length, format_mass, plain_number, round_up_to_pack, yards_of

THIN = "\N{THIN SPACE}"

#: Why an end long enough for one ply may be of no use to a lay face to face.
ODD_PLY = "face to face both plies of a pair come from one roll, so an odd ply's length is left over"


def count_of_plies(count: int) -> str:
    """ "1 ply", "3 plies"."""
    return f"{count} {'ply' if count == 1 else 'plies'}"


def options_in_words(options: Options) -> str:
    """("neck", "rib band"), ("sleeve", "short") as "neck: rib band, sleeve: short"."""
    return ", ".join(f"{detail}: {option}" for detail, option in options)


def named(key: NotionKey) -> str:
    """A notion with its colour."""
    return f"{key.notion} {key.colour}".strip()


def cloth_to_buy(need: ClothNeed, cloth: Cloth, display: str) -> str:
    """What to buy of a cloth as it is sold: "7.8 m", "2 rolls (50 m)", "1.5 kg (5.6 m)"; "" for nothing."""
    if need.to_buy_m <= 0:
        return ""
    length = length_to_buy(need.to_buy_m, display)  # type: ignore[arg-type]
    if cloth.sold_by == "roll":
        return f"{plain_number(need.to_buy_packs)} {'roll' if need.to_buy_packs == 1 else 'rolls'} ({length})"
    if cloth.sold_by == "kg":
        return f"{format_mass(need.to_buy_packs, display)} ({length})"  # type: ignore[arg-type]
    return length


def length_to_buy(metres: float, display: Display) -> str:
    """A length to buy, rounded up so that it suffices as told: to the centimetre, as it is booked, or from there to
    the eighth of a yard; whole eighths, as a shop measures them off, are told as they are.
    """
    if display == "imperial" and yards_of(Decimal(repr(metres))) * 8 % 1 == 0:
        return format_length(metres * 1000, display, "cloth")
    return format_length(float(booked_m(metres)) * 1000, display, "cloth", at_least=True)


def booked_m(metres: float) -> Decimal:
    """Metres bought as they are told and booked: up to the centimetre, those of cloth sold by weight too."""
    return round_up_to_pack(metres, Decimal("0.01"))


def to_spread_in_words(metres: float, display: str) -> str:
    """What several plies or lays take together, rounded up as the length of each one is: of one it is the same."""
    return format_length(metres * 1000, display, "cloth", at_least=True)  # type: ignore[arg-type]


def how_reckoned(need: ClothNeed, display: Display) -> str:
    """How a need of cloth is reckoned, from what its lays take on the table, as the plan of its fabric tells it."""
    how = need.how
    if need.by_lays and not need.cut_m:
        how = f"{to_spread_in_words(need.lay_m, display)} to spread, {how}"
    if not need.lost_m:
        return how
    return f"{how}; {format_length(need.lost_m * 1000, display, 'cloth')} lost at flaws of its rolls"


def packs_to_buy(need: NotionNeed) -> str:
    """ "2 × 5000 m cone"; "" for nothing."""
    return f"{need.to_buy_packs} × {need.pack}" if need.to_buy_packs else ""


def cones_in_words(need: NotionNeed, notion: Notion) -> str:
    """Why thread is to be bought although its metres are there: "not for its metres: 4 cones of this colour are
    threaded at once, 3 are there"; "" where the metres say so themselves.
    """
    short = max(need.need - float(notion.in_stock), 0.0)
    if need.to_buy_packs <= cones_needed(short, float(notion.pack_quantity), 0):
        return ""
    there = cones_on_hand(notion)
    words = (
        f"{'more than its metres ask' if short else 'not for its metres'}: "
        f"{counted(need.threads_at_once, 'cone of this colour is', 'cones of this colour are')} threaded at once, "
        f"{counted(there, 'is', 'are')} there"
    )
    return f"{words} as far as its metres tell; nobody counted them" if notion.cones is None else words


def not_settled_in_words(*, is_nested: bool, is_settled: bool, has_rolls: bool) -> str:
    """What stands beside the metres of a cloth that may still change, where she would buy or cut by them; "" once
    they stand. `has_rolls`: it is known what the pieces in stock hold, for the whole batch is settled.
    """
    if not is_nested:
        return "Estimate: not all of its lays are nested yet. Wait with buying and cutting it."
    if not is_settled:
        return "Not settled: its lays may still change. Wait with buying and cutting it."
    if not has_rolls:
        return (
            "Not settled: rolls are chosen once all cloths of the batch are settled; more may have to be bought where"
            " the ends in stock are too short. Wait with buying and cutting it."
        )
    return ""


def machine_in_words(kind: str, own_machine: str) -> str:
    """The machine to sit down at: one's own by its name, with its kind where the name does not say it."""
    if not own_machine or own_machine.casefold() == kind.casefold():
        return kind
    return own_machine if kind.casefold() in own_machine.casefold() else f"{own_machine} ({kind})"


def lots_apart_in_words(parts: Sequence[LotPlies]) -> str:
    """ "jersey, ink: lot B is lay 1, ply 1; lot C is lay 1, ply 2", for a bundle of several shade lots; "" for none."""
    told = []
    for cloth, of_cloth in groupby(parts, key=lambda part: part.cloth):
        lots = "; ".join(
            f"{f'lot {part.shade_lot}' if part.shade_lot else 'a lot not known yet'} is "
            + " and ".join(f"lay {lay}, {plies_in_words(plies)}" for lay, plies in part.plies.items())
            for part in of_cloth
        )
        told.append(f"{cloth.fabric}, {cloth.colour}: {lots}")
    return ". ".join(told)


def plies_in_words(stretches: Sequence[tuple[int, int]]) -> str:
    """ "ply 2", "plies 3 to 7 and 9"."""
    words = [str(first) if first == last else f"{first} to {last}" for first, last in stretches]
    one = len(stretches) == 1 and stretches[0][0] == stretches[0][1]
    return f"{'ply' if one else 'plies'} {listed(words)}" if words else ""
