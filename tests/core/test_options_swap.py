"""Another option of one detail changes what that detail's own pieces, seams and notions take, and nothing else."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from planner.core.needs import Needs, work_out_needs
from planner.core.outline import rectangle
from planner.core.spec import (
    ClothKey,
    Demand,
    EdgeRef,
    Garment,
    NotionKey,
    NotionUse,
    OperationSpec,
    Option,
    PieceSpec,
    SeamSpec,
    StyleSpec,
    Workshop,
    make_options,
)
from tests.core.makers import ELASTIC, JERSEY, LABEL, RIB, SIZES, THREAD, make_shop, make_tee, same_in_all

CLOTHS = {"body": JERSEY, "rib": RIB}
#: Thread per length of seam, by stitch type: thread makers' consumption tables (from memory).
THREAD_RATIO = {"301": 2.5, "504": 14.0, "406": 18.0}
DETAILS = ("front", "neck", "sleeve")
EDGES = ("low", "end", "high", "other end")


@dataclass(frozen=True)
class Own:
    """What belongs to an option: a piece of whole millimetres cut so often, and a seam along its length.

    `on_side` more rows are sewn along the side of the front, a piece of the base, 700 mm long.
    """

    option: Option
    role: str
    length_mm: int
    width_mm: int
    count: int
    stitch: str
    times: int
    on_side: int
    elastic_tail_mm: int | None
    labels: int

    @property
    def name(self) -> str:
        return " ".join(self.option)

    def area_mm2(self, cloth: ClothKey) -> int:
        return self.count * self.length_mm * self.width_mm if CLOTHS[self.role] == cloth else 0

    def amounts(self) -> Counter[NotionKey]:
        """Thread and elastic in mm, labels in pieces."""
        found: Counter[NotionKey] = Counter(
            {
                THREAD: (self.times * self.length_mm + self.on_side * 700) * THREAD_RATIO[self.stitch],
                LABEL: self.labels,
            }
        )
        if self.elastic_tail_mm is not None:
            found[ELASTIC] = self.times * (self.length_mm + 2 * self.elastic_tail_mm)
        return found


@st.composite
def parts_of_details(draw: st.DrawFn) -> dict[Option, Own | None]:
    """Two or three options of each detail, each with parts of its own; some options are plain: nothing is added."""
    found: dict[Option, Own | None] = {}
    for detail in DETAILS:
        for i in range(draw(st.integers(2, 3))):
            option = (detail, f"option {i}")
            if i and draw(st.booleans()):
                found[option] = None
                continue
            found[option] = Own(
                option,
                role=draw(st.sampled_from(sorted(CLOTHS))),
                length_mm=draw(st.integers(30, 900)),
                width_mm=draw(st.integers(30, 900)),
                count=draw(st.integers(1, 4)),
                stitch=draw(st.sampled_from(sorted(THREAD_RATIO))),
                times=draw(st.integers(1, 3)),
                on_side=draw(st.integers(0, 2)),
                elastic_tail_mm=draw(st.none() | st.integers(0, 40)),
                labels=draw(st.integers(0, 3)),
            )
    return found


def style_of(parts: dict[Option, Own | None]) -> StyleSpec:
    """The boxy top with these details in place of its neck; what it has without a neck is its base."""
    base = make_tee()
    details: dict[str, tuple[str, ...]] = {}
    for detail, option in parts:
        details[detail] = (*details.get(detail, ()), option)
    own = [part for part in parts.values() if part]
    return make_tee(
        details=details,
        pieces=tuple(piece for piece in base.pieces if piece.option is None)
        + tuple(
            PieceSpec(
                part.name, part.role, part.count, False, True, part.option,
                same_in_all(rectangle(part.length_mm, part.width_mm, EDGES)),
            )
            for part in own
        ),
        seams=tuple(seam for seam in base.seams if seam.option is None)
        + tuple(
            SeamSpec(name, part.option, (EdgeRef(piece, edge),), times, f"sew {part.name}")
            for part in own
            for name, piece, edge, times in (
                (part.name, part.name, "low", part.times),
                (f"{part.name} on the side", "front", "side", part.on_side),
            )
        ),
        operations=base.operations
        + tuple(
            OperationSpec(f"sew {part.name}", part.option, 9, "machine", part.stitch, 1.0) for part in own
        ),
        notions=base.notions
        + tuple(NotionUse(LABEL, part.option, "garment", part.labels) for part in own)
        + tuple(
            NotionUse(ELASTIC, part.option, "seam", seam=part.name, tail_mm=part.elastic_tail_mm)
            for part in own
            if part.elastic_tail_mm is not None
        ),
    )  # fmt: skip


def needs_of(shop: Workshop, chosen: dict[str, str], size: str, quantity: int) -> Needs:
    return work_out_needs([Demand(Garment("1", make_options(chosen), "ink", size), quantity)], shop)


def amounts_of(needs: Needs) -> dict[NotionKey, float]:
    """Thread and elastic in mm, labels in pieces."""
    return {need.key: need.need * (1000 if need.unit == "m" else 1) for need in needs.notions}


@given(parts_of_details(), st.data(), st.sampled_from(SIZES), st.integers(1, 40))
def test_swapping_one_option_changes_only_what_is_its_own(
    parts: dict[Option, Own | None], data: st.DataObject, size: str, quantity: int
) -> None:
    shop = make_shop(style_of(parts))
    options = {detail: [option for of, option in parts if of == detail] for detail in DETAILS}
    chosen = {detail: data.draw(st.sampled_from(names)) for detail, names in options.items()}
    detail = data.draw(st.sampled_from(DETAILS))
    swapped = chosen | {detail: data.draw(st.sampled_from(options[detail]))}
    before, after = (needs_of(shop, choice, size, quantity) for choice in (chosen, swapped))
    gone, come = parts[detail, chosen[detail]], parts[detail, swapped[detail]]

    counts = [
        {(row.piece, row.cloth): row.count for row in needs.cutting_counts} for needs in (before, after)
    ]
    for one, count in ((gone, counts[0]), (come, counts[1])):
        if one:
            assert count.pop((one.name, CLOTHS[one.role])) == quantity * one.count
    assert counts[0] == counts[1]

    areas = [{need.cloth: need.area_mm2 for need in needs.cloths} for needs in (before, after)]
    for cloth in CLOTHS.values():
        change = (come.area_mm2(cloth) if come else 0) - (gone.area_mm2(cloth) if gone else 0)
        assert areas[1].get(cloth, 0.0) - areas[0].get(cloth, 0.0) == quantity * change

    change_of = Counter(come.amounts() if come else {})
    change_of.subtract(gone.amounts() if gone else {})
    amounts = [amounts_of(needs) for needs in (before, after)]
    for key in (THREAD, ELASTIC, LABEL):
        assert abs(amounts[1][key] - amounts[0][key] - quantity * change_of[key]) < 1e-6 * amounts[1][key]

    cuts = [
        Counter({(cut.seam, cut.length_mm): cut.count for cut in needs.cut_lengths})
        for needs in (before, after)
    ]
    for one, cut in ((gone, cuts[0]), (come, cuts[1])):
        if one and one.elastic_tail_mm is not None:
            length = float(one.length_mm + 2 * one.elastic_tail_mm)
            assert cut.pop((one.name, length)) == quantity * one.times
    assert cuts[0] == cuts[1]
    # Both shoulders of every garment, 150 long with 20 mm tails, whatever else is chosen.
    assert cuts[0]["shoulder", 190.0] == 2 * quantity
