"""Every choice of plies of a tiny question, counted out; shares no code with what it checks but the dataclasses."""

import itertools

EPS = 1e-6


def _stretches(roll):
    """Free stretches, flaws sorted and apart (as the cases here have them)."""
    at, found = 0.0, []
    for low, high in sorted(roll.flaws):
        if low > at:
            found.append((at, min(low, roll.length_mm)))
        at = max(at, high)
    if at < roll.length_mm:
        found.append((at, roll.length_mm))
    return found


def count_out(question):
    """Yields (value, {(lay, roll, stretch): plies}) of every choice that keeps the rules."""
    places = []
    for w in question.wanted:
        own = []
        for roll in question.rolls:
            if roll.usable_width_mm is not None and roll.usable_width_mm < w.cloth_width_mm:
                continue
            for n, (low, high) in enumerate(_stretches(roll)):
                most = min(int((high - low) / w.ply_mm + EPS), w.plies)
                if most:
                    own.append(((w.key, roll.key, n), most))
        places.append(own)
    lots = {roll.key: roll.shade_lot for roll in question.rolls}
    per_lay = [
        [
            choice
            for counts in itertools.product(*(range(most + 1) for _, most in own))
            if _is_allowed(w, choice := {k: c for (k, _), c in zip(own, counts, strict=True) if c}, lots)
        ]
        for w, own in zip(question.wanted, places, strict=True)
    ]
    for choices in itertools.product(*per_lay):
        together = {key: count for choice in choices for key, count in choice.items()}
        value = _value(question, together, lots)
        if value is not None:
            yield value, together


def _is_allowed(w, choice, lots):
    by_roll = {}
    for (_, roll, _), count in choice.items():
        by_roll[roll] = by_roll.get(roll, 0) + count
    if sum(by_roll.values()) > w.plies or (w.one_lot and len({lots[roll] for roll in by_roll}) > 1):
        return False
    return all(count % w.plies_per_spread == 0 for count in by_roll.values())


def _value(question, choice, lots):
    """1000 × short + waste + rolls opened (ends and short ones a little less) + lots; None where a roll is overused."""
    ply = {w.key: w.ply_mm for w in question.wanted}
    longest = max(roll.length_mm for roll in question.rolls)
    value = 0.0
    for roll in question.rolls:
        lefts, last = [], -1
        for n, (low, high) in enumerate(_stretches(roll)):
            used = sum(c * ply[lay] for (lay, key, m), c in choice.items() if key == roll.key and m == n)
            if used > high - low + EPS:
                return None
            lefts.append(high - low - used)
            if used:
                last = n
        if last >= 0:
            value += sum(left for left in lefts[: last + 1] if left < question.keep_from_mm - EPS)
            value += question.opening_mm * (
                1.0 - (0.1 if roll.is_end else 0.0) + 0.05 * roll.length_mm / longest + 0.05 * last
            )
    for w in question.wanted:
        given = sum(c for (lay, _, _), c in choice.items() if lay == w.key)
        value += 1000.0 * (w.plies - given) * w.ply_mm
        value += question.lot_change_mm * len({lots[roll] for (lay, roll, _) in choice if lay == w.key})
    return value


def least_value_of(question):
    """The least value of any choice."""
    return min(value for value, _ in count_out(question))
