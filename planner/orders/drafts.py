"""Order lines as they are being typed: everything is kept as it was typed, and checked against the style."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.core.missing import clash_in_words
from planner.core.spec import Demand, Garment, Option, StyleSpec, make_options
from planner.orders.choices import StyleChoice, StyleName, find_style, style_choices
from planner.orders.data import LineData, Problem
from planner.orders.models import Order

MOST_IN_A_BOX = 9_999
MOST_LINES = 100
#: Longer than any number that fits; what is longer is cut so that the page stays readable.
_LONGEST_SHOWN = 12


@dataclass
class LineDraft:
    """One line of the form. `options` maps detail to option, `quantities` size to what stands in its box."""

    key: int
    line_pk: int | None = None
    style_text: str = ""
    options: dict[str, str] = field(default_factory=dict)
    colourway: str = ""
    quantities: dict[str, str] = field(default_factory=dict)
    style: StyleChoice | None = None
    problems: list[Problem] = field(default_factory=list)

    @property
    def is_blank(self) -> bool:
        """Nothing was typed here."""
        return not (
            self.line_pk or self.style_text.strip() or any(v.strip() for v in self.quantities.values())
        )

    @property
    def total(self) -> int:
        """Garments in the boxes that can be read."""
        return sum(n for n in map(quantity_or_none, self.quantities.values()) if n)

    def errors(self, place: str) -> list[str]:
        """What is wrong at "style", "colourway", "option:neck", "size:M" or "sizes"."""
        return [problem.text for problem in self.problems if problem.field == place]


def read_quantity(text: str) -> int:
    """How many stand in a box; blank is 0. Raises ValueError saying what was typed and what to type instead."""
    text = text.strip()
    if not text:
        return 0
    if re.fullmatch(r"\d+", text):
        if len(text.lstrip("0")) > 4:
            raise ValueError(f"at most {MOST_IN_A_BOX:,} in one box, not “{text}”.")
        return int(text)
    if re.fullmatch(r"[-−–]\s*\d+([.,]\d+)?", text):
        raise ValueError(f"“{text}” is less than nothing. Enter 0 or more.")
    if re.fullmatch(r"\d*[.,]\d+", text):
        raise ValueError(f"only whole garments can be ordered, not “{text}”.")
    raise ValueError(f"type a whole number, such as 12, not “{text}”.")


def quantity_or_none(text: str) -> int | None:
    """The quantity, None where the box cannot be read."""
    try:
        return read_quantity(text)
    except ValueError:
        return None


def read_lines(typed: Mapping[str, str], keys: Iterable[str]) -> list[LineDraft]:
    """The lines of a submitted form, field by field, nothing checked yet.

    Fields are line-<key>-id, -style, -colourway, -option-<detail> and -size-<size>. At most MOST_LINES + 1
    are read; one too many is enough to say so.
    """
    drafts: dict[int, LineDraft] = {}
    for key in keys:
        if key.isdecimal() and len(key) < 7 and len(drafts) <= MOST_LINES:
            drafts.setdefault(int(key), LineDraft(int(key)))
    for name, value in typed.items():
        found = re.fullmatch(r"line-(\d{1,6})-(id|style|colourway|option-(.+)|size-(.+))", name, re.DOTALL)
        draft = drafts.get(int(found[1])) if found else None
        if found is None or draft is None:
            continue
        if found[3] is not None:
            draft.options[found[3]] = value
        elif found[4] is not None:
            draft.quantities[found[4]] = value.strip()[:_LONGEST_SHOWN]
        elif found[2] == "id":
            draft.line_pk = int(value) if value.isdecimal() and len(value) < 19 else None
        elif found[2] == "style":
            draft.style_text = value
        else:
            draft.colourway = value
    return list(drafts.values())


def drafts_of(order: Order) -> list[LineDraft]:
    """The lines of an order (read `with_sizes`) as the form shows them."""
    return [
        LineDraft(
            key=key,
            line_pk=line.pk,
            style_text=line.style.number,
            options={option.detail.name: option.name for option in line.options.all()},
            colourway=line.colourway.name,
            quantities={row.size.name: str(row.quantity) for row in line.quantities.all()},
        )
        for key, line in enumerate(order.lines.all())
    ]


def match_styles(drafts: Sequence[LineDraft], names: Sequence[StyleName]) -> None:
    """Gives each draft the style it names, and chooses where there is only one choice. Four queries."""
    meant = {draft.key: find_style(draft.style_text, names) for draft in drafts}
    choices = style_choices(style.pk for style in meant.values() if style)
    for draft in drafts:
        style = meant[draft.key]
        draft.style = choices.get(style.pk) if style else None
        if draft.style:
            _choose_the_only_choice(draft, draft.style)


def _choose_the_only_choice(draft: LineDraft, style: StyleChoice) -> None:
    for detail in style.details:
        if len(detail.options) == 1:
            draft.options.setdefault(detail.name, next(iter(detail.options)))
    if len(style.colourways) == 1 and not draft.colourway:
        draft.colourway = style.colourways[0].name


def copy_of(draft: LineDraft, key: int, drafts: Sequence[LineDraft]) -> LineDraft:
    """The same style and options in the next colourway no such line has yet, its boxes empty."""
    colourway = ""
    if draft.style:
        same = [d for d in drafts if d.style == draft.style and d.options == draft.options]
        taken = {d.colourway for d in same} | {draft.colourway}
        free = [c.name for c in draft.style.colourways if c.name not in taken]
        colourway = free[0] if free else ""
    return replace(
        draft,
        key=key,
        line_pk=None,
        options=dict(draft.options),
        colourway=colourway,
        quantities={},
        problems=[],
    )


def check_lines(
    drafts: Sequence[LineDraft],
    *,
    kept_styles: frozenset[int] = frozenset(),
    kept_options: Mapping[int, Mapping[str, str]] | None = None,
) -> list[Problem]:
    """Everything wrong with the lines, each problem also noted at its line.

    `kept_styles` may still be ordered although they are no longer sold, and `kept_options` (by line) although they
    cannot be had together any more: the order held them before.
    """
    written = [draft for draft in drafts if not draft.is_blank]
    if len(drafts) > MOST_LINES:
        return [
            Problem(f"One order holds at most {MOST_LINES} lines. Please put the rest into a second order.")
        ]
    for draft in written or drafts[:1]:
        draft.problems = _line_problems(draft, kept_styles, kept_options or {})
    if not drafts:
        return [Problem("An order needs at least one line. Add one and type its style.")]
    return [problem for draft in drafts for problem in draft.problems]


def _line_problems(
    draft: LineDraft, kept_styles: frozenset[int], kept_options: Mapping[int, Mapping[str, str]]
) -> list[Problem]:
    style = draft.style
    if style is None:
        typed = draft.style_text.strip()
        short = typed if len(typed) <= 40 else f"{typed[:40]}…"
        text = f"There is no style “{short}”. Type a style's number." if typed else "Type the style's number."
        return [Problem(text, draft.key, "style")]
    problems = []
    if style.retired and style.pk not in kept_styles:
        problems.append(Problem(f"{style} is no longer sold.", draft.key, "style"))
    for detail in style.details:
        if draft.options.get(detail.name) not in detail.options:
            problems.append(Problem(f"Choose the {detail.name}.", draft.key, f"option:{detail.name}"))
    if kept_options.get(draft.line_pk or 0) != draft.options:
        problems += clash_problems(draft, style)
    if style.colourway(draft.colourway) is None:
        text = (
            "Choose a colourway."
            if style.colourways
            else f"{style} has no colourway yet. Add one to the style."
        )
        problems.append(Problem(text, draft.key, "colourway"))
    return problems + _box_problems(draft, style)


def clash_problems(draft: LineDraft, style: StyleChoice) -> list[Problem]:
    """Chosen options that cannot be had together, each pair at the later of its two details."""
    return [
        Problem(
            f"{_sentence(one, other)}. Choose another {other[0]}, or another {one[0]}.",
            draft.key,
            f"option:{other[0]}",
        )
        for one, other in style.clashes_in(draft.options)
    ]


def _sentence(one: Option, other: Option) -> str:
    text = clash_in_words(one, other)
    return text[0].upper() + text[1:]


def _box_problems(draft: LineDraft, style: StyleChoice) -> list[Problem]:
    problems = []
    for size, text in draft.quantities.items():
        place = f"size:{size}"
        try:
            quantity = read_quantity(text)
        except ValueError as error:
            problems.append(Problem(f"{size}: {error}", draft.key, place))
            continue
        if quantity and size not in style.sizes:
            text = f"{style} has no size {size}. Empty that box, or type another style."
            problems.append(Problem(text, draft.key, place))
    if not problems and not draft.total:
        problems.append(Problem("Type at least one quantity.", draft.key, "sizes"))
    return problems


def line_data(drafts: Sequence[LineDraft]) -> tuple[LineData, ...]:
    """The lines by database keys; every draft that is not blank must have passed :func:`check_lines`."""
    lines = []
    for draft in drafts:
        style = draft.style
        colourway = style.colourway(draft.colourway) if style else None
        if draft.is_blank or style is None or colourway is None:
            continue
        typed = {size: read_quantity(text) for size, text in draft.quantities.items()}
        lines.append(
            LineData(
                key=draft.key,
                line_pk=draft.line_pk,
                style_pk=style.pk,
                colourway_pk=colourway.pk,
                option_pks=frozenset(d.options[draft.options[d.name]] for d in style.details),
                quantities={style.sizes[size]: n for size, n in typed.items() if n},
            )
        )
    return tuple(lines)


def demand_of(draft: LineDraft, spec: StyleSpec) -> tuple[Demand, ...]:
    """The boxes of a draft as demand, small sizes first; boxes that cannot be read are left out."""
    options = make_options({detail: draft.options.get(detail, "") for detail in spec.details})
    wanted = ((size, quantity_or_none(draft.quantities.get(size, ""))) for size in spec.sizes)
    return tuple(Demand(Garment(spec.number, options, draft.colourway, size), n) for size, n in wanted if n)


def still_to_choose(draft: LineDraft, spec: StyleSpec) -> list[str]:
    """Details, and the colourway, of which nothing the style offers is chosen yet."""
    details = [
        name for name, options in spec.details.items() if options and draft.options.get(name) not in options
    ]
    return details if draft.colourway in spec.colourways else [*details, "colourway"]


def next_key(drafts: Iterable[LineDraft], gone: Iterable[str] = ()) -> int:
    """A key no line of the form has or had; `gone` are those of lines taken out, which may come back."""
    taken = [draft.key for draft in drafts] + [int(key) for key in gone if key.isdecimal() and len(key) < 7]
    return max(taken, default=-1) + 1
