"""What is told at the cutting table: plies cut, metres used, from which roll, flaws and faults."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal

from django import forms

from planner.common.forms import PlainWords
from planner.core.units import format_length
from planner.cutting.actions.booking import Told
from planner.cutting.narrow_cloth import EXACT_MM
from planner.cutting.portions import Portion
from planner.cutting.roll_now import BY_TAPE_M, RollNow
from planner.cutting.table_fields import (
    ACROSS_A_FLAW,
    LESS_THAN_MARKER,
    MORE_THAN_PLANNED,
    MORE_THAN_ROLL,
    NARROWER_ROLL,
    PortionFields,
    fields_of,
)
from planner.cutting.table_flaws import across_in_words, lost_before_m
from planner.papers.layers import spreads_in_words

CUT_EARLY = "It is cut all the same: the lays of this batch then stay as they are now"
NOT_SETTLED = (
    "The plan of this batch is not settled yet, so its lays may still change. Is this one cut already?"
)
#: So many times what was planned is asked about: over a third more is no spreading, but a slip or a spoilt ply.
MUCH_MORE = Decimal(4) / 3


class LayCutForm(PlainWords, forms.Form):
    """What was really spread and cut of a lay, filled in with what was planned; a portion without plies is not told.

    With `only` (the key of a portion) the others are left alone, whatever is typed there. `rolls` says what is on
    rolls, by pk: more than that is taken for a slip unless it is ticked that the roll really gave it. So is less than
    the marker is long, ply by ply, unless it is ticked that they took no more; much more than planned, unless it is
    ticked that they took it, or that the roll gave it; less than plies take that begin behind a flaw, unless it is
    ticked that the flaw was cut with them; and a roll that is narrower than the lay, unless it is ticked that every
    piece lay on it. Of a lay that `is_moving`, whose plan does not stand yet, no plies are cut unless that is ticked.
    """

    def __init__(
        self,
        data: Mapping[str, str] | None,
        portions: Sequence[Portion],
        *,
        display: str = "metric",
        only: str = "",
        rolls: Mapping[int, RollNow] | None = None,
        is_moving: bool = False,
    ) -> None:
        self.on_rolls = rolls or {}
        self.is_moving = is_moving
        self.portions = list(portions)
        self.only = only
        unit = "yd" if display == "imperial" else "m"
        self.base_fields = {
            f"{name}-{portion.key}": field
            for portion in self.portions
            for name, field in fields_of(portion, unit).items()
        }
        if is_moving:
            self.base_fields["early"] = forms.BooleanField(label=CUT_EARLY, required=False)
        super().__init__(data, display=display)

    def rows(self) -> list[PortionFields]:
        """The portions with their fields."""
        names = (
            "spreads",
            "used",
            "roll",
            "note",
            "from",
            "to",
            "really",
            "less",
            "much",
            "across",
            "narrow",
        )
        return [PortionFields(p, *(self[f"{name}-{p.key}"] for name in names)) for p in self.portions]

    @property
    def asks_early(self) -> bool:
        """Whether to ask if it is cut although its plan does not stand: it was told so, or ticked before."""
        return self.is_moving and bool(self["early"].errors or self["early"].value())

    def told(self) -> list[Told]:
        """What is told; call it on a valid form."""
        return self._told

    def clean(self) -> None:
        """Each portion for itself, and the plies of a colour together."""
        told = [p for p in self.portions if self.only in ("", p.key)]
        wanted = {f"-{portion.key}" for portion in told}
        for name in list(self.errors):
            if f"-{name.partition('-')[2]}" not in wanted:
                del self.errors[name]
        read = [(portion, row) for portion in told if (row := self._read(portion)) is not None]
        self._told = [row for _, row in read]
        spread: dict[int, int] = {}
        for portion in told:
            here = int(self._typed("spreads", portion) or 0)
            together = spread[portion.cloth.pk] = spread.get(portion.cloth.pk, 0) + here
            if here and together > portion.left:
                left = spreads_in_words(portion.left, portion.way)
                plural = "is" if portion.left == 1 else "are"
                self.add_error(
                    f"spreads-{portion.key}", f"Only {left} {plural} still to be cut of this colour."
                )
        self._check_rolls(told)
        self._check_widths(told)
        self._check_lengths(told)
        self._check_flaws(told)
        self._check_beyond(read)
        if self.is_moving and any(self._typed("spreads", p) for p in told) and not self.cleaned_data["early"]:
            self.add_error("early", NOT_SETTLED)
        if not self._told and not self.errors and told:
            self.add_error(f"spreads-{told[0].key}", "Nothing is told yet. How many are cut?")

    def _check_rolls(self, told: Sequence[Portion]) -> None:
        """Of no roll more than it has, all portions together, unless that is ticked."""
        used: dict[str, Decimal] = {}
        for portion in told:
            roll, metres = self._typed("roll", portion), self._typed("used", portion)
            if not roll or not isinstance(metres, Decimal) or int(roll) not in self.on_rolls:
                continue
            if not self._typed("spreads", portion) and self._as_planned(portion):
                continue
            left = max(self.on_rolls[int(roll)].left_m, Decimal(0))
            used[str(roll)] = used.get(str(roll), Decimal(0)) + metres
            if used[str(roll)] > left + BY_TAPE_M and not self._typed("really", portion):
                words = format_length(float(left) * 1000, display=self.display, kind="cloth")
                washed = " on the table" if portion.is_washed_first else ""
                text = f"By the books this roll has {words}{washed}. Is it a slip, or another roll?"
                self.add_error(f"used-{portion.key}", forms.ValidationError(text, code=MORE_THAN_ROLL))

    def _check_widths(self, told: Sequence[Portion]) -> None:
        """No plies from a roll that is narrower than their lay, unless that is ticked."""
        for portion in told:
            roll = self._typed("roll", portion)
            there = self.on_rolls.get(int(roll)) if roll and self._typed("spreads", portion) else None
            if there is None or there.usable_mm is None or self._typed("narrow", portion):
                continue
            wide_mm = there.usable_mm / 2 if portion.mode == "folded" else there.usable_mm
            if portion.lay_width_mm > wide_mm + EXACT_MM:
                lay, own = (
                    format_length(mm, display=self.display, kind="small")
                    for mm in (portion.lay_width_mm, wide_mm)
                )
                half = " folded" if portion.mode == "folded" else ""
                text = f"The lay is {lay} wide, this roll only {own}{half} between its selvedges. Is it another roll?"
                self.add_error(f"roll-{portion.key}", forms.ValidationError(text, code=NARROWER_ROLL))

    def _check_lengths(self, told: Sequence[Portion]) -> None:
        """No plies of less cloth than their marker is long, nor of much more than planned, unless that is ticked: the
        next estimates learn of it."""
        for portion in told:
            spreads, metres = int(self._typed("spreads", portion) or 0), self._typed("used", portion)
            if not spreads or not isinstance(metres, Decimal):
                continue
            self._check_much(portion, spreads, metres)
            least_m = spreads * portion.marker_m
            if metres < least_m - BY_TAPE_M and not self._typed("less", portion):
                words = format_length(
                    float(least_m) * 1000, display=self.display, kind="cloth", at_least=True
                )
                if spreads == 1:
                    text = f"That is less than the marker is long ({words}). Is it right?"
                else:
                    plies = spreads_in_words(spreads, portion.way)
                    text = f"That is less than {plies} as long as the marker ({words}). Is it right?"
                self.add_error(f"used-{portion.key}", forms.ValidationError(text, code=LESS_THAN_MARKER))

    def _check_much(self, portion: Portion, spreads: int, metres: Decimal) -> None:
        """One question at a time: where the roll is said not to have so much, that is asked, and answers this too."""
        planned_m = spreads * portion.each_m
        if self._typed("roll", portion) == str(portion.roll):
            planned_m += portion.lost_before(spreads)
        if metres <= planned_m * MUCH_MORE + BY_TAPE_M or self._typed("much", portion):
            return
        if self._typed("really", portion) or self.has_error(f"used-{portion.key}", MORE_THAN_ROLL):
            return
        words = format_length(planned_m * 1000, display=self.display, kind="cloth", at_least=True)
        plies = spreads_in_words(spreads, portion.way)
        text = f"That is over a third more than planned for {plies} ({words}). Is it right?"
        self.add_error(f"used-{portion.key}", forms.ValidationError(text, code=MORE_THAN_PLANNED))

    def _check_flaws(self, told: Sequence[Portion]) -> None:
        """No flaw is dropped unasked: where one lies in what was cut, it is enough for the plies to begin behind it."""
        there = dict(self.on_rolls)
        for portion in told:
            roll, metres = self._typed("roll", portion), self._typed("used", portion)
            spreads = int(self._typed("spreads", portion) or 0)
            if not spreads or not roll or not isinstance(metres, Decimal) or int(roll) not in there:
                continue
            on_roll = there[int(roll)]
            there[int(roll)] = on_roll.without(metres)
            cut = [flaw for flaw in on_roll.flaws if flaw[0] < metres]
            if not cut or self._typed("across", portion) or self.has_error(f"used-{portion.key}"):
                continue
            lost = lost_before_m(portion, spreads, on_roll)
            least_m = None if lost is None else spreads * portion.marker_m + lost
            if least_m is None or metres < least_m - BY_TAPE_M:
                text = across_in_words(portion, spreads, cut, lost, self.display)
                self.add_error(f"used-{portion.key}", forms.ValidationError(text, code=ACROSS_A_FLAW))

    def _check_beyond(self, read: Sequence[tuple[Portion, Told]]) -> None:
        """No flaw lies beyond what is left of its roll once that is cut: it would be on no roll, and is a slip."""
        there = dict(self.on_rolls)
        for portion, row in read:
            if row.roll not in there or self.has_error(f"used-{portion.key}"):
                continue
            there[row.roll] = on_roll = there[row.roll].without(row.used_m)
            left_m = max(on_roll.left_m, Decimal(0))
            for low, high in row.flaws:
                if low < left_m and high <= left_m + BY_TAPE_M:
                    continue
                words = format_length(float(left_m) * 1000, display=self.display, kind="cloth")
                then = "once that is cut off" if row.used_m else "by the books"
                self.add_error(
                    f"{'from' if low >= left_m else 'to'}-{portion.key}",
                    f"There are only {words} on this roll {then}.",
                )

    def _typed(self, name: str, portion: Portion) -> Decimal | str | None:
        return self.cleaned_data.get(f"{name}-{portion.key}")

    def _as_planned(self, portion: Portion) -> bool:
        """Whether the metres stand as they were filled in."""
        bound = self[f"used-{portion.key}"]
        return str(bound.data or "").strip() == str(bound.field.prepare_value(bound.initial))

    def _read(self, portion: Portion) -> Told | None:
        """What is told of one portion; None for nothing. Errors are put at their fields."""
        key = portion.key
        spreads, used = int(self._typed("spreads", portion) or 0), self._typed("used", portion)
        roll, note = self._typed("roll", portion) or "", str(self._typed("note", portion) or "")
        flaws = self._flaws(portion, bool(roll))
        if not spreads and f"spreads-{key}" not in self.errors and _is_nothing(self.data.get(f"used-{key}")):
            self.errors.pop(f"used-{key}", None)
        if spreads and used is None and f"used-{key}" not in self.errors:
            self.add_error(f"used-{key}", "How much cloth did they take?")
        if not spreads:
            if used is not None and self._as_planned(portion) and f"spreads-{key}" not in self.errors:
                used = None
            if used is None and not flaws:
                if note and f"spreads-{key}" not in self.errors:
                    self.add_error(
                        f"used-{key}", "Type how much cloth was spoilt; what stood here was the plan."
                    )
                return None
            if used is not None and not note and f"spreads-{key}" not in self.errors:
                self.add_error(f"note-{key}", "Nothing is cut of this cloth: what became of it?")
        metres = used if isinstance(used, Decimal) else Decimal(0)
        return Told(portion.cloth.pk, spreads, metres, int(roll) if roll else None, note, flaws)

    def _flaws(self, portion: Portion, has_roll: bool) -> tuple[tuple[Decimal, Decimal], ...]:  # noqa: FBT001
        key = portion.key
        low, high = self._typed("from", portion), self._typed("to", portion)
        if f"from-{key}" in self.errors or f"to-{key}" in self.errors or (low is None and high is None):
            return ()
        if not isinstance(low, Decimal) or not isinstance(high, Decimal):
            missing = "from" if low is None else "to"
            self.add_error(f"{missing}-{key}", f"Where does it {'begin' if low is None else 'end'}?")
        elif high <= low:
            self.add_error(f"to-{key}", "A flaw ends after it begins.")
        elif not has_roll:
            self.add_error(f"roll-{key}", "Choose the roll the flaw is on.")
        else:
            return ((low, high),)
        return ()


def _is_nothing(typed: str | None) -> bool:
    """Whether no cloth at all was typed: "0 m"."""
    return bool(typed and re.fullmatch(r"\s*0+([.,]0+)?\s*\D*", typed))
