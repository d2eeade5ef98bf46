"""Two people at the outlines of one piece: who saves a size second is told what the other saved of it."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any, TypeGuard

from django import forms

from planner.common.meanwhile import SAVED_MEANWHILE
from planner.core.outline import Outline, outline_from_json
from planner.core.units import format_length
from planner.styles.models import Piece, PieceOutline, Size

#: How the mark of a piece begins; behind it stands one of each size that has an outline.
_SEEN = "seen"


class SizesMeanwhile:
    """Mixed into a form that cleans to `outlines`, before all others; :meth:`note_stored` is called once it is made.

    As :class:`planner.common.meanwhile.Meanwhile`, but each size has a mark of its own: who enters another size than
    somebody else is not in the way. A form in which something is wrong keeps the marks it was sent with.
    """

    data: Any
    is_bound: bool
    cleaned_data: dict[str, Any]
    display: str
    _stored: Mapping[int, PieceOutline]

    def note_stored(self, piece: Piece) -> None:
        """Remembers what is saved of the piece in every size."""
        self._stored = {row.size_id: row for row in piece.outlines.all()}

    @property
    def version(self) -> str:
        """What the template carries as a hidden field of that name."""
        if self._sent and not self.is_stale:
            return self._sent
        return " ".join([_SEEN, *(f"{pk}.{_mark(row)}" for pk, row in self._stored.items())])

    @property
    def is_stale(self) -> bool:
        """Somebody else has saved a size that this form would write, since it was shown."""
        return bool(self._saved_otherwise())

    @property
    def newer(self) -> list[tuple[str, str]]:
        """Sizes that are saved otherwise than this form has them: ("Outline in 38", "61 cm along, …")."""
        found = []
        for size, outline in self._saved_otherwise().items():
            row = self._stored.get(size.pk)
            if not _is_same(row, outline):
                found.append((f"Outline in {size.name}", self._in_words(row)))
        return found

    def full_clean(self) -> None:
        """Refuses a form that is stale, once it is known what it would write."""
        super().full_clean()  # type: ignore[misc]
        if self.is_stale:
            self.add_error(None, forms.ValidationError(SAVED_MEANWHILE, code="stale"))  # type: ignore[attr-defined]

    @property
    def _sent(self) -> str:
        return str(self.data.get("version", "")) if self.is_bound else ""

    def _saved_otherwise(self) -> dict[Size, Outline]:
        if not self._sent:
            return {}
        seen = dict(word.split(".", 1) for word in self._sent.split() if "." in word)
        written: dict[Size, Outline] = getattr(self, "cleaned_data", {}).get("outlines", {})
        return {
            size: outline
            for size, outline in written.items()
            if seen.get(str(size.pk), "") != _mark(row := self._stored.get(size.pk))
            and not (_is_same(row, outline) and not row.marks)
        }

    def _in_words(self, row: PieceOutline | None) -> str:
        if row is None:
            return "none: it was taken away"
        shape = outline_from_json(row.shape)
        along, across = (
            format_length(mm, display=self.display, kind="small")  # type: ignore[arg-type]
            for mm in (shape.length_mm, shape.width_mm)
        )
        names = ", ".join(dict.fromkeys(edge.name for edge in shape.edges))
        return f"{along} along, {across} across, {len(shape.points)} points; edges: {names}"


def _is_same(row: PieceOutline | None, outline: Outline) -> TypeGuard[PieceOutline]:
    """Whether just this line is saved already."""
    return row is not None and row.shape == outline.as_json()


def _mark(row: PieceOutline | None) -> str:
    """A short mark of what is saved in one size, "" for nothing."""
    if row is None:
        return ""
    return hashlib.sha256(repr((row.shape, row.marks, row.is_interpolated)).encode()).hexdigest()[:12]
