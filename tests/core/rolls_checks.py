"""Questions about plies on rolls, and what must hold for every answer."""

import itertools

import pytest

from planner.core.rolls import PliesWanted, RollQuestion, RollThere, free_stretches


def ask(wanted, rolls, keep_from_mm=500.0, **options):
    """A question from (ply, plies) pairs or PliesWanted, and lengths or RollThere."""
    return RollQuestion(
        tuple(
            w if isinstance(w, PliesWanted) else PliesWanted(f"lay {n}", *w) for n, w in enumerate(wanted, 1)
        ),
        tuple(r if isinstance(r, RollThere) else RollThere(f"roll {n}", r) for n, r in enumerate(rolls, 1)),
        keep_from_mm,
        **options,
    )


def plies_by_lot(answer, key):
    """Plies of a lay from each shade lot."""
    lots = {}
    for cut in answer.cuts:
        if cut.wanted == key:
            lots[cut.shade_lot] = lots.get(cut.shade_lot, 0) + cut.plies
    return lots


def check(question, answer):
    """What must hold for every answer, reckoned from the answer alone."""
    rolls = {roll.key: roll for roll in question.rolls}
    wanted = {w.key: w for w in question.wanted}
    short = {s.wanted: s.plies for s in answer.short}
    for key, w in wanted.items():
        cut = [c for c in answer.cuts if c.wanted == key]
        assert sum(c.plies for c in cut) + short.get(key, 0) == w.plies
        assert all(sum(c.plies for c in cut if c.roll == roll) % w.plies_per_spread == 0 for roll in rolls)
        assert not w.one_lot or len(plies_by_lot(answer, key)) <= 1
    for cut in answer.cuts:
        roll, w = rolls[cut.roll], wanted[cut.wanted]
        assert cut.plies > 0
        assert cut.to_mm - cut.from_mm == pytest.approx(cut.plies * w.ply_mm, abs=0.02 * cut.plies)
        assert cut.shade_lot == roll.shade_lot
        assert roll.usable_width_mm is None or roll.usable_width_mm >= w.cloth_width_mm
        stretches = free_stretches(roll.length_mm, roll.flaws)
        assert any(a - 0.02 <= cut.from_mm and cut.to_mm <= b + 0.02 for a, b in stretches)
    waste = 0.0
    for key, roll in rolls.items():
        places = sorted((c.from_mm, c.to_mm) for c in answer.cuts if c.roll == key)
        assert all(one[1] <= other[0] + 0.005 for one, other in itertools.pairwise(places))
        pieces = [r for r in answer.remnants if r.roll == key]
        if not places:
            assert not pieces
            continue
        used = sum(b - a for a, b in places)
        assert used + sum(p.length_mm for p in pieces) <= roll.length_mm + 0.05
        for piece in pieces:
            longest = max((b - a for a, b in free_stretches(piece.length_mm, piece.flaws)), default=0.0)
            assert piece.is_kept == (longest >= question.keep_from_mm - 0.02)
        last = places[-1][1]
        for low, high in free_stretches(roll.length_mm, roll.flaws):
            cut_here = sum(b - a for a, b in places if low - 0.02 <= a < high)
            if low < last and 0.02 < high - low - cut_here < question.keep_from_mm - 0.02:
                waste += high - low - cut_here
    assert answer.waste_mm == pytest.approx(waste, abs=0.2)
    assert answer.rolls_opened == len({c.roll for c in answer.cuts})
    assert answer.bound_mm <= answer.value_mm + 1e-6
    assert answer.is_proven == (answer.gap_mm == 0.0) or answer.value_mm - answer.bound_mm < 0.03
