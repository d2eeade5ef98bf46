"""Forms that bring pattern files in. A file that cannot be read is refused here, before anything is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.datastructures import MultiValueDict

from planner.common.forms import PlainWords
from planner.core.pattern_files.model import MOST_BYTES, PatternFileError
from planner.styles.forms import checked_number
from planner.styles.reviewing_edges import plain_name
from planner.styles.reviewing_known import read_for_review

#: Files that may be brought in at once.
MOST_FILES = 12
_LIMIT = f"{MOST_BYTES // 1_000_000} MB"


@dataclass(frozen=True)
class Upload:
    """A file that can be read, with the grade rules that lie beside it."""

    name: str
    content: bytes
    rules_name: str = ""
    rules: bytes | None = None


class FilesInput(forms.ClearableFileInput):
    """Several files at once."""

    allow_multiple_selected = True
    template_name = "django/forms/widgets/file.html"

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[UploadedFile]:
        return (
            files.getlist(name)
            if isinstance(files, MultiValueDict)
            else list(filter(None, [files.get(name)]))
        )


class FilesField(forms.Field):
    """Pattern files and their grade rules, cleaned to a list of :class:`Upload`; each was read once to try it."""

    widget = FilesInput

    def __init__(self, *, most: int = MOST_FILES, **kwargs: Any) -> None:
        self.most = most
        super().__init__(**kwargs)

    def clean(self, value: Sequence[UploadedFile]) -> list[Upload]:
        if not value:
            raise ValidationError("Choose a file first: .dxf, with its .rul if it has one, or .svg.")
        patterns = sum(not _is_rules(file.name or "") for file in value)
        # Counted before any is read: a hundred large ones would be in memory at once.
        if patterns > self.most or len(value) > 2 * self.most:
            words = "one pattern file" if self.most == 1 else f"{self.most} pattern files"
            raise ValidationError(f"At most {words} at once, please; these are {patterns or len(value)}.")
        uploads = _paired([_read(file) for file in value])
        problems = []
        for upload in uploads:
            try:
                read_for_review(upload.content, upload.name, upload.rules, upload.rules_name, None)
            except PatternFileError as problem:
                problems.append(str(problem))
        if problems:
            raise ValidationError(problems)
        return uploads


def _is_rules(name: str) -> bool:
    return name.lower().endswith(".rul")


def _read(file: UploadedFile) -> tuple[str, bytes]:
    """Name and content of one file, refused by its size before it is read."""
    name = plain_name(PurePath(file.name or "file").name)[-200:] or "file"
    if (file.size or 0) > MOST_BYTES:
        raise ValidationError(f"{name}: {(file.size or 0) / 1_000_000:.1f} MB; at most {_LIMIT} are read.")
    if not file.size:
        raise ValidationError(f"{name}: the file is empty.")
    return name, file.read()


def _paired(files: Sequence[tuple[str, bytes]]) -> list[Upload]:
    """Grade rules go with the pattern file of the same name, or with the only one."""
    rules = {name: content for name, content in files if _is_rules(name)}
    patterns = [(name, content) for name, content in files if name not in rules]
    if not patterns:
        raise ValidationError(
            f"{', '.join(rules)}: grade rules alone have no pieces. Choose the .dxf with it."
        )
    uploads, left = [], dict(rules)
    for name, content in patterns:
        stem = PurePath(name).stem.lower()
        beside = next((rule for rule in rules if PurePath(rule).stem.lower() == stem), None)
        if beside is None and len(patterns) == len(rules) == 1:
            beside = next(iter(rules))
        left.pop(beside or "", None)
        uploads.append(Upload(name, content, beside or "", rules.get(beside or "")))
    if left:
        alone = ", ".join(left)
        raise ValidationError(
            f"{alone}: no pattern file has that name. Call both alike, for example tee.dxf and tee.rul."
        )
    return uploads


class FilesForm(PlainWords, forms.Form):
    """Pattern files for a style that is there."""

    files = FilesField(
        label="Pattern files",
        help_text=f"DXF, with its grade rules (.rul) beside it if it has them, or SVG. At most {_LIMIT} a file.",
        widget=FilesInput(attrs={"accept": ".dxf,.rul,.svg", "multiple": True}),
    )


class StyleFromFileForm(PlainWords, forms.Form):
    """A style that is to be made from a pattern file."""

    number = forms.CharField(
        max_length=20, help_text="As you call it on tickets and labels, for example 110."
    )
    name = forms.CharField(max_length=120)
    files = FilesField(
        most=1,
        label="Pattern file",
        help_text=f"One DXF, with its grade rules (.rul) beside it if it has them, or one SVG; {_LIMIT} at most.",
        widget=FilesInput(attrs={"accept": ".dxf,.rul,.svg", "multiple": True}),
    )

    def clean_number(self) -> str:
        return checked_number(self.cleaned_data["number"])
