"""Orders as the pages show them: plain rows, put together before a template sees them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.core.missing import clash_in_words
from planner.core.size_order import in_range_order
from planner.core.spec import Demand, Garment, make_options
from planner.orders.data import Problem
from planner.orders.drafts import LineDraft, quantity_or_none
from planner.orders.due import Due
from planner.orders.models import LineQuantity, Order, OrderLine
from planner.orders.querysets import Held

# ---- reading an order ----


@dataclass(frozen=True)
class LineRow:
    """One line to be read. `swatches` are #rrggbb by cloth role, `pairs` (size, quantity).

    Of its `total` garments `batched` are in batches.
    """

    style_number: str
    style: str
    options: str
    colourway: str
    swatches: tuple[str, ...]
    pairs: tuple[tuple[str, int], ...]
    total: int
    batched: int


@dataclass(frozen=True)
class OrderRow:
    """One order to be read. `who` is the customer or "stock make"."""

    order: Order
    who: str
    due: Due
    lines: tuple[LineRow, ...]
    total: int
    batched: int

    @property
    def batched_words(self) -> str:
        """How much of it is in batches, as somebody would say it."""
        if not self.batched:
            return "not in a batch yet"
        if self.batched >= self.total:
            return "all in a batch"
        return f"{self.batched:,} of {self.total:,} in a batch"


def demand_of_rows(rows: Iterable[LineQuantity]) -> tuple[Demand, ...]:
    """Quantities (read `of_order`) as the core reckons with them."""
    return tuple(
        Demand(
            Garment(
                row.line.style.number,
                make_options((option.detail.name, option.name) for option in row.line.options.all()),
                row.line.colourway.name,
                row.size.name,
            ),
            row.quantity,
        )
        for row in rows
    )


def clashes_in_words(order: Order) -> list[str]:
    """What this order asks for although it cannot be had together (any more), line by line.

    One query, one more where there is any.
    """
    clashing = OrderLine.objects.filter(order=order).clashing()
    lines = order.lines.select_related("style", "colourway").filter(pk__in=clashing) if clashing else ()
    return [
        f"{line.style}, {line.colourway.name}: {clash_in_words(*pair)}"
        for line in lines
        for pair in clashing.get(line.pk, ())
    ]


@dataclass(frozen=True)
class BatchHold:
    """What one batch holds of an order."""

    number: str
    pairs: tuple[tuple[str, int], ...]
    total: int


def batch_holds(held: Iterable[Held]) -> list[BatchHold]:
    """What each batch holds, sizes of all lines added up."""
    by_batch: dict[str, Counter[str]] = {}
    for row in held:
        by_batch.setdefault(row.batch, Counter())[row.size] += row.quantity
    return [
        BatchHold(number, tuple(sizes.items()), sum(sizes.values())) for number, sizes in by_batch.items()
    ]


# ---- typing an order ----


@dataclass(frozen=True)
class Choice:
    """A radio button; `swatches` are (#rrggbb, cloth)."""

    name: str
    id: str
    checked: bool
    swatches: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Group:
    """Radio buttons under one legend."""

    legend: str
    field: str
    choices: tuple[Choice, ...]
    errors: tuple[str, ...]


@dataclass(frozen=True)
class Box:
    """One box of the size grid. `stray` stands for a size the style does not have."""

    size: str
    field: str
    id: str
    value: str
    wrong: bool
    stray: bool
    interpolated: bool = False


@dataclass(frozen=True)
class LineFields:
    """The fields of one line. `kept` are (field, value) of choices no style asks for just now."""

    draft: LineDraft
    prefix: str
    title: str
    groups: tuple[Group, ...]
    boxes: tuple[Box, ...]
    style_errors: tuple[str, ...]
    box_errors: tuple[str, ...]
    kept: tuple[tuple[str, str], ...]
    batched: str = ""

    @property
    def interpolated(self) -> str:
        """The sizes that no file or hand has drawn, in words."""
        return " and ".join(box.size for box in self.boxes if box.interpolated)


def line_fields(draft: LineDraft, batched: str = "") -> LineFields:
    """The form of one line with everything as it was typed. `batched` says which batches hold some of it."""
    prefix = f"line-{draft.key}"
    style = draft.style
    boxes = _boxes(draft, prefix)
    kept = () if style else ((f"{prefix}-colourway", draft.colourway),)
    kept += tuple((f"{prefix}-option-{d}", o) for d, o in draft.options.items()) if not style else ()
    return LineFields(
        draft=draft,
        prefix=prefix,
        title=str(style) if style else "",
        groups=_groups(draft, prefix),
        boxes=boxes,
        style_errors=tuple(draft.errors("style")),
        box_errors=tuple(e for box in boxes for e in draft.errors(f"size:{box.size}"))
        + tuple(draft.errors("sizes")),
        kept=kept,
        batched=batched,
    )


def _groups(draft: LineDraft, prefix: str) -> tuple[Group, ...]:
    if draft.style is None:
        return ()
    details = [
        Group(
            detail.name,
            f"{prefix}-option-{detail.name}",
            tuple(
                Choice(name, f"{prefix}-option-{i}-{j}", draft.options.get(detail.name) == name)
                for j, name in enumerate(detail.options)
            ),
            tuple(draft.errors(f"option:{detail.name}")),
        )
        for i, detail in enumerate(draft.style.details)
    ]
    colourways = Group(
        "colourway",
        f"{prefix}-colourway",
        tuple(
            Choice(c.name, f"{prefix}-colourway-{j}", draft.colourway == c.name, _one_a_colour(c.swatches))
            for j, c in enumerate(draft.style.colourways)
        ),
        tuple(draft.errors("colourway")),
    )
    return (*details, colourways)


def _one_a_colour(swatches: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """One swatch for each colour, shared by the cloths that have it."""
    cloths: dict[str, list[str]] = {}
    for colour, cloth in swatches:
        cloths.setdefault(colour, []).append(cloth)
    return tuple((colour, " and ".join(names)) for colour, names in cloths.items())


def _boxes(draft: LineDraft, prefix: str) -> tuple[Box, ...]:
    """A box for every size, and one for every size that was typed but is not the style's."""
    own = list(draft.style.sizes) if draft.style else []
    made = draft.style.interpolated if draft.style else frozenset()
    stray = [size for size, text in draft.quantities.items() if text and size not in own]
    return tuple(
        Box(
            size=size,
            field=f"{prefix}-size-{size}",
            id=f"{prefix}-size-{i}",
            value=draft.quantities.get(size, ""),
            wrong=bool(draft.errors(f"size:{size}")) or (draft.style is not None and size in stray),
            stray=size in stray,
            interpolated=size in made,
        )
        for i, size in enumerate([*own, *stray])
    )


def typed_totals(drafts: Sequence[LineDraft]) -> tuple[int, tuple[tuple[str, int], ...]]:
    """Garments in all, and by size over all lines, small to large, from the boxes that can be read."""
    sizes: Counter[str] = Counter()
    for draft in drafts:
        for size, text in draft.quantities.items():
            sizes[size] += quantity_or_none(text) or 0
    ranges = ([*(draft.style.sizes if draft.style else ()), *draft.quantities] for draft in drafts)
    return sizes.total(), in_range_order(((size, n) for size, n in sizes.items() if n), ranges)


def listed_in_words(drafts: Sequence[LineDraft], unknown: Sequence[str]) -> str:
    """What was read from a list, and what has to be put right before it can be saved."""
    lines, garments = len(drafts), sum(draft.total for draft in drafts)
    marked = sum(bool(draft.problems) for draft in drafts)
    text = (
        f"{lines:,} line{'' if lines == 1 else 's'} with {garments:,} garment{'' if garments == 1 else 's'}"
    )
    text += " came from the list. "
    if marked:
        text += f"{marked:,} of them {'wants' if marked == 1 else 'want'} putting right where marked. "
    return text + " ".join([*unknown, "Nothing is saved yet."])


def order_problems(problems: Iterable[Problem]) -> list[str]:
    """What is wrong with the order as a whole, and not with one of its lines."""
    return [problem.text for problem in problems if problem.line is None]
