"""The first line of a batch's page: what has to happen next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.core.needs import ClothNeed, NotionNeed
from planner.core.spec import ClothKey, Workshop
from planner.cutting.figures_since import longer_than_table
from planner.cutting.narrow_cloth import wider_than_cloth
from planner.cutting.stored import PlannedBatch
from planner.cutting.there import hung_on
from planner.cutting.turns import in_turn
from planner.cutting.wording import cloth_to_buy, packs_to_buy


def buy_in_words(
    cloths: Iterable[ClothNeed],
    notions: Iterable[NotionNeed],
    shop: Workshop,
    display: str,
    in_all: Mapping[ClothKey, str] | None = None,
) -> str:
    """ "Buy 7.8 m jersey 180 ink and 3 × 5000 m cone overlock thread moss"; "" where nothing is short.

    `in_all` has words for cloths that are to be bought for other batches too.
    """
    with_others = {key: f" ({words})" for key, words in (in_all or {}).items()}
    parts = [
        f"{cloth_to_buy(need, shop.cloths[need.cloth], display)} {need.cloth.fabric} {need.cloth.colour}"
        f"{with_others.get(need.cloth, '')}"
        for need in cloths
        if need.to_buy_m > 0
    ]
    parts += [f"{packs_to_buy(n)} {n.key.notion} {n.key.colour}".strip() for n in notions if n.to_buy_packs]
    if not parts:
        return ""
    # “And 1 more” is no shorter than what it stands for.
    shown = parts if len(parts) <= 4 else parts[:3]
    rest = len(parts) - len(shown)
    *first, last = [*shown, f"{rest} more"] if rest else shown
    return f"Buy {', '.join(first)} and {last}" if first else f"Buy {last}"


def batch_answer(
    read: PlannedBatch,
    display: str,
    in_all: Mapping[ClothKey, str] | None = None,
    at_flaws: Mapping[int, int] | None = None,
) -> str:
    """What has to happen next in a planned batch: nesting, buying and cutting, or sewing.

    The lays must be read with their turn (`bundles_of` does that). `in_all` is as for :func:`buy_in_words`, `at_flaws`
    as for :func:`in_turn`.
    """
    if not read.is_nested:
        return _not_nested_in_words(read)
    # Labels and thread are wanted once the pieces are cut: nobody waits with the cutting for them.
    to_sew = buy_in_words((), read.needs.notions, read.shop, display).removeprefix("Buy ")
    hung = hung_on(read, read.needs.notions)
    once = f" {'All else' if to_sew else 'For sewing all'} is there {hung}." if hung else ""
    lays = _lays_to_cut(read, at_flaws)
    if not lays.uncut:
        return f"All lays are cut. {f'Buy {to_sew}, then sew' if to_sew else 'Sew'} the bundles.{once}"
    buy = buy_in_words(read.needs.cloths, (), read.shop, display, in_all)
    if buy:
        first = _buy_and_cut_in_words(buy, lays)
    elif hung_cloth := hung_on(read, read.needs.cloths):
        first = f"All cloth is there {hung_cloth}: then {lays.cut}"
    else:
        first = f"{'All cloth' if to_sew or hung else 'Everything'} is in stock: {lays.cut}"
    return f"{first}{lays.too_large}.{f' For sewing buy {to_sew}.' if to_sew else ''}{once}"


@dataclass(frozen=True)
class _LaysToCut:
    """Numbers of the lays not cut yet: all of them, those that fit table and cloth, and of those the ones whose cloth
    is there. `too_large` says in words how many do not fit."""

    uncut: Sequence[int]
    fit: Sequence[int]
    at_once: Sequence[int]
    too_large: str

    @property
    def cut(self) -> str:
        """ "cut lay 3", "cut 5 lays"."""
        return f"cut lay {self.uncut[0]}" if len(self.uncut) == 1 else f"cut {len(self.uncut)} lays"


def _lays_to_cut(read: PlannedBatch, at_flaws: Mapping[int, int] | None) -> _LaysToCut:
    long = longer_than_table(read.lays, read.shop)
    wide = wider_than_cloth(read.lays, read.shop.cloths)
    fit = [
        lay for lay in in_turn(read.lays, at_flaws) if lay.cut_at is None and lay.number not in {*long, *wide}
    ]
    return _LaysToCut(
        uncut=[lay.number for lay in read.lays if lay.cut_at is None],
        fit=[lay.number for lay in fit],
        at_once=[lay.number for lay in fit if not lay.waits],
        too_large=_too_large(long, "longer than the table") + _too_large(wide, "wider than the cloth is now"),
    )


def _too_large(numbers: Sequence[int], than: str) -> str:
    return f"; {len(numbers)} {'is' if len(numbers) == 1 else 'are'} {than}" if numbers else ""


def _buy_and_cut_in_words(buy: str, lays: _LaysToCut) -> str:
    """ "Lay 2 can be cut now. Buy 7.8 m jersey ink, then cut the other 3": cloth that lies there is cut first."""
    now = len(lays.at_once)
    if not 0 < now < len(lays.uncut):
        return f"{buy}, then {lays.cut}"
    which = f"Lay {lays.at_once[0]}" if now == 1 else f"{now} lays"
    others = len(lays.fit) - now
    if not others:
        return f"{which} can be cut now. {buy}"
    then = f"{others} more" if lays.too_large else f"the other{f' {others}' if others > 1 else ''}"
    return f"{which} can be cut now. {buy}, then cut {then}"


def _not_nested_in_words(read: PlannedBatch) -> str:
    waiting = sum(lay.marker.state in {"waiting", "nesting"} for lay in read.lays)
    if waiting:
        return _nesting_in_words(len(read.lays), sum(lay.marker.is_laid for lay in read.lays), waiting)
    if not read.is_settled and all(lay.marker.is_final for lay in read.lays):
        return "The lays are nested; whether their real lengths change the plan is being looked at."
    return "A lay could not be nested; see below."


def _nesting_in_words(lays: int, laid: int, waiting: int) -> str:
    """How many lays have a length by now; what the panels tell of each fabric adds up to it."""
    if laid == lays:
        again = "it is" if lays == 1 else f"{waiting} of {lays} {'is' if waiting == 1 else 'are'}"
        return f"{'The lay is' if lays == 1 else 'All lays are'} nested; {again} nested once more, to become shorter."
    if lays == 1:
        return "The lay is being nested. Figures follow as they come."
    which = f"{laid} of {lays} lays {'is' if laid == 1 else 'are'} nested"
    return f"{which if laid else f'None of the {lays} lays is nested yet'}. Figures follow as they come."
