"""Pattern files: held for review, taken over, thrown away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction
from django.db.models import Count
from django.utils import timezone

from planner.core.outline import Outline
from planner.core.pattern_files.model import Marks
from planner.styles.actions.options import option_called
from planner.styles.actions.parts import next_position
from planner.styles.actions.results import Done, Refused
from planner.styles.actions.sizes import needed_by_notions, notions_follow, range_of
from planner.styles.actions.styles import new_style
from planner.styles.models import ClothRole, PatternFile, Piece, PieceOutline, Size, SizeRange, Style
from planner.styles.reviewing_known import known_of

GONE = "Somebody threw this file away meanwhile. Nothing was changed."
CHANGED = "The style changed while you looked. What changes is drawn anew below; nothing was taken over yet."


@dataclass(frozen=True)
class NewStyle:
    """A style to be made from the file; `sizes` in order."""

    number: str
    name: str
    for_children: bool = False


@dataclass(frozen=True)
class NewSizes:
    """Sizes of the file, in order, that a style without outlines takes as its own."""

    names: Sequence[str]
    base_size: str


@dataclass(frozen=True)
class TakenPiece:
    """A piece to be taken: into the piece with the key `into`, or as a new one of that name.

    `outlines` by size of the style. The other fields are those of a new piece; its `option` is (detail, option), made
    with its detail where the style has none of that name yet.
    """

    name: str
    outlines: Mapping[str, tuple[Outline, Marks]]
    into: int | None = None
    role: str = ""
    count: int = 1
    pair: bool = False
    option: tuple[str, str] | None = None
    allowance_mm: Decimal = Decimal("7")
    edge_allowances: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Taking:
    """All that was confirmed of a file. `state` is that of the style when it was shown (`Known.state`)."""

    pieces: Sequence[TakenPiece]
    answers: Mapping[str, Any]
    state: str = ""
    new_style: NewStyle | None = None
    new_sizes: NewSizes | None = None


@dataclass(frozen=True)
class Taken:
    """The file is taken; `text` says what came of it."""

    style: Style
    outlines: int
    text: str


@transaction.atomic
def hold_file(
    style: Style | None,
    *,
    name: str,
    content: bytes,
    rules_name: str = "",
    rules: bytes | None = None,
    answers: Mapping[str, Any] | None = None,
    person: AbstractBaseUser,
    today: date,
) -> PatternFile:
    """Keeps a file that can be read until somebody has looked through it; the same file is not held twice."""
    held = waiting_files(style).filter(name=name, rules_name=rules_name, read_by=person)
    for file in held:
        same_rules = (bytes(file.rules) if file.rules is not None else None) == rules
        if bytes(file.content) == content and same_rules:
            file.answers = dict(answers or {})
            file.save(update_fields=["answers"])
            return file
    return PatternFile.objects.create(
        style=style, name=name, content=content, rules_name=rules_name, rules=rules,
        answers=dict(answers or {}), read_by=person, read_on=today,
    )  # fmt: skip


def waiting_files(style: Style | None) -> Any:
    """Files of a style (or of styles still to be made) that wait to be looked through, the oldest first."""
    return PatternFile.objects.filter(style=style, taken_at=None).order_by("pk")


def last_answers(style: Style | None) -> dict[str, Any]:
    """What was answered when a file of the style was last taken."""
    if style is None:
        return {}
    taken = PatternFile.objects.filter(style=style, taken_at__isnull=False).order_by("-taken_at", "-pk")
    return dict(taken.values_list("answers", flat=True).first() or {})


@transaction.atomic
def throw_away(file: PatternFile) -> Done | Refused:
    """Forgets a file under review. One that was taken stays on record."""
    row = PatternFile.objects.select_for_update().filter(pk=file.pk).first()
    if row is None:
        return Done(f"{file.name} is thrown away.")
    if row.taken_at is not None:
        return Refused(f"{row.name} {_taken_in_words(row)}; the pieces can be changed on the style’s page.")
    row.delete()
    return Done(f"{file.name} is thrown away. Nothing was taken from it.")


@transaction.atomic
def take_over(
    file: PatternFile, taking: Taking, *, person: AbstractBaseUser, today: date, now: datetime
) -> Taken | Refused:
    """Writes what was confirmed of a file into its style, and remembers the answers.

    Refused, with nothing changed, where the file is taken or gone already or the style is not as it was shown.
    """
    # Of a file for a style still to be made there is no style to lock.
    file_alone = PatternFile.objects.select_for_update(of=("self",))
    row = file_alone.select_related("style").filter(pk=file.pk).first()
    if row is None:
        return Refused(GONE)
    if row.taken_at is not None:
        return Refused(already_taken(row))
    style = row.style
    if style is not None:
        style = Style.objects.select_for_update().select_related("size_range", "base_size").get(pk=style.pk)
        if known_of(style).state != taking.state:
            return Refused(CHANGED)
    sizes = taking.new_sizes
    if taking.new_style is not None:
        if Style.objects.filter(number__iexact=taking.new_style.number).exists():
            return Refused(
                f"There is a style with the number {taking.new_style.number} by now. Choose another."
            )
        style = _style_from(taking)
    elif sizes is not None and style is not None:
        if needed := needed_by_notions(style.notions.all(), sizes.names):
            return Refused(needed)
        style.size_range = _range_with(sizes.names)
        style.base_size = style.size_range.sizes.get(name=sizes.base_size)
        style.save(update_fields=["size_range", "base_size"])
        notions_follow(style, {size.name: size for size in style.size_range.sizes.all()})
    assert style is not None
    known = {size.name: size for size in style.size_range.sizes.all()}
    source = f"{row.name}, {today.day} {today:%b %Y}"[-200:]
    new_pieces = outlines = 0
    for taken in taking.pieces:
        piece = _piece_for(style, taken)
        new_pieces += taken.into is None
        outlines += _write(piece, taken.outlines, known, source)
    row.style, row.taken_at, row.content, row.rules = style, now, b"", None
    row.answers = {**taking.answers, "taken_by": person.get_username()}
    row.save()
    return Taken(style, outlines, _in_words(row.name, taking, new_pieces, outlines))


def already_taken(file: PatternFile) -> str:
    """What the second of two people is told who take the same file."""
    return f"{file.name} {_taken_in_words(file)}. Nothing was changed now."


def _taken_in_words(row: PatternFile) -> str:
    by = row.answers.get("taken_by", "")
    at = timezone.localtime(row.taken_at) if row.taken_at else None
    when = f"{at:%H:%M} on {at.day} {at:%b}" if at else ""
    return f"was taken over by {by} at {when}" if by else f"was taken over at {when}"


def _style_from(taking: Taking) -> Style:
    assert taking.new_style is not None
    assert taking.new_sizes is not None
    return new_style(
        number=taking.new_style.number,
        name=taking.new_style.name,
        sizes=_range_with(taking.new_sizes.names),
        base_size=taking.new_sizes.base_size,
        roles=list(dict.fromkeys(piece.role for piece in taking.pieces)),
        for_children=taking.new_style.for_children,
    )


def _range_with(names: Sequence[str]) -> SizeRange:
    """The range that has exactly these sizes in this order, or a new one."""
    alike = (
        SizeRange.objects.annotate(count=Count("sizes")).filter(count=len(names)).prefetch_related("sizes")
    )
    same = (found for found in alike if [size.name for size in found.sizes.all()] == list(names))
    return next(same, None) or range_of(names)


def _piece_for(style: Style, taken: TakenPiece) -> Piece:
    if taken.into is not None:
        return Piece.objects.get(style=style, pk=taken.into)
    family = [pk for pk in (style.base_id, style.pk) if pk is not None]
    role = ClothRole.objects.filter(style__in=family, name__iexact=taken.role).order_by("pk").first()
    role = role or ClothRole.objects.create(
        style=style, name=taken.role, position=next_position(style.roles.all())
    )
    option = option_called(style, *taken.option) if taken.option else None
    return Piece.objects.create(
        style=style,
        name=taken.name,
        role=role,
        option=option,
        count=taken.count,
        pair=taken.pair,
        seam_allowance_mm=taken.allowance_mm,
        edge_allowances=dict(taken.edge_allowances),
        position=next_position(style.pieces.all()),
    )


def _write(
    piece: Piece, outlines: Mapping[str, tuple[Outline, Marks]], sizes: Mapping[str, Size], source: str
) -> int:
    """Outlines in place of those of the same size; how many."""
    PieceOutline.objects.filter(piece=piece, size__in=[sizes[name] for name in outlines]).delete()
    rows = [
        PieceOutline(
            piece=piece,
            size=sizes[name],
            shape=shape.as_json(),
            area_mm2=shape.area_mm2,
            marks=marks.as_json(),
            source=source,
            is_interpolated=False,
        )
        for name, (shape, marks) in outlines.items()
    ]
    return len(PieceOutline.objects.bulk_create(rows))


def _in_words(name: str, taking: Taking, new_pieces: int, outlines: int) -> str:
    counted = f"{outlines} outline{'' if outlines == 1 else 's'}"
    if new_pieces:
        counted = f"{new_pieces} new piece{'' if new_pieces == 1 else 's'}, {counted}"
    if taking.new_style:
        return f"{taking.new_style.number} {taking.new_style.name} is made from {name}: {counted}."
    if not outlines:
        return f"{name} is looked through; no outline of the style was changed."
    return f"{name} is taken over: {counted}."
