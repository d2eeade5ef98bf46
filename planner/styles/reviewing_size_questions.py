"""Which sizes a pattern file has: what they are called, which of the style's they are, which one was drafted."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import PurePath

from django import forms

from planner.styles.reviewing_asking import LEFT_OUT, Asking
from planner.styles.reviewing_edges import plain_name
from planner.styles.reviewing_sizes import sizes_in_order

LONGEST_SIZE = 12


class SizeQuestions(Asking):
    """Only of sizes that cannot be told. Fields of a size are called size-0 …, in the order of the file."""

    def _add_size_fields(self) -> None:
        self.file_sizes = sizes_in_order(self.pattern)
        if self.known.may_take_sizes and not self._all_sizes_match():
            self.fields["take_sizes"] = forms.ChoiceField(
                label="Sizes of the style",
                choices=[
                    ("file", f"Take those of the file: {_sizes_in_words(self.file_sizes)}"),
                    ("style", f"Keep {' '.join(self.known.sizes)}"),
                ],
                initial="file" if all(map(_usable_size, self.file_sizes)) else "style",
                widget=forms.RadioSelect,
            )
        self.takes_sizes = not self.known.sizes or self.lenient("take_sizes") == "file"
        if self.takes_sizes:
            self._ask_names_of_sizes()
            self._ask_base_size()
        else:
            self._ask_which_sizes()

    def _all_sizes_match(self) -> bool:
        have = {size.lower() for size in self.known.sizes}
        return all(size.lower() in have for size in self.pattern.sizes)

    def _ask_names_of_sizes(self) -> None:
        """Only of sizes that the file does not name, or not as a size can be called."""
        counts = [size.lower() for size in self.file_sizes]
        for index, size in enumerate(self.file_sizes):
            if not _usable_size(size) or counts.count(size.lower()) > 1:
                self.fields[f"size-{index}"] = forms.CharField(
                    max_length=LONGEST_SIZE,
                    label=f"What is “{size}” called?" if size else "Which size is it?",
                    initial=re.sub(r"[\s,;/]+", "", size)[:LONGEST_SIZE],
                    help_text="For example M, 38 or one.",
                )

    @property
    def base_index(self) -> int:
        """Which of its sizes the file was drafted in as far as it says so, else the one that is drawn."""
        told = self._told_base_size()
        return next((i for i, size in enumerate(self.file_sizes) if size == (told or self.shown_size)), 0)

    def _told_base_size(self) -> str:
        told = self.pattern.sample_size.lower()
        return next((size for size in self.file_sizes if told and size.lower() == told), "")

    def _ask_base_size(self) -> None:
        """Only where the file does not name the size it was drafted in."""
        if len(self.file_sizes) > 1 and not self._told_base_size():
            start = self.base_index
            self.fields["base_size"] = forms.ChoiceField(
                label="Base size",
                choices=[
                    (str(i), size or "the size without a name") for i, size in enumerate(self.file_sizes)
                ],
                initial=str(start),
                help_text="The size the pattern was drafted in.",
            )

    def _ask_which_sizes(self) -> None:
        """Sizes called alike are the same; only of the others it is asked."""
        have = {size.lower(): size for size in self.known.sizes}
        before = self.remembered.get("sizes", {})
        free = [
            size for size in self.known.sizes if size.lower() not in {s.lower() for s in self.pattern.sizes}
        ]
        for index, size in enumerate(self.file_sizes):
            if size.lower() in have:
                continue
            guess = before.get(plain_name(size)) or self._size_in_file_name(have)
            if not size and not guess and len(self.known.sizes) == 1:
                guess = self.known.sizes[0]
            self.fields[f"size-{index}"] = forms.ChoiceField(
                label=f"“{size}” of the file is" if size else "Which size is it?",
                choices=[("", "choose …"), *((s, s) for s in free), (LEFT_OUT, "left out")],
                initial=guess if guess in [*free, LEFT_OUT] else (LEFT_OUT if not free else ""),
                error_messages={"unanswered": "Choose a size, or leave it out."},
            )

    def _size_in_file_name(self, have: Mapping[str, str]) -> str:
        words = re.split(r"[\W_]+", PurePath(self.pattern.file_name).stem.lower())
        return next((have[word] for word in reversed(words) if word in have), "")

    def _size_answers(self) -> dict[str, str]:
        have = {size.lower(): size for size in self.known.sizes}
        found = {}
        for index, size in enumerate(self.file_sizes):
            if f"size-{index}" in self.fields:
                answer = self.lenient(f"size-{index}") or ""
                found[size] = "" if answer == LEFT_OUT else plain_name(answer)
            else:
                found[size] = size if self.takes_sizes else have[size.lower()]
        # While a size has no name yet, its pieces are shown under the name that stands in the file.
        if self.takes_sizes:
            return {size: name or size or "?" for size, name in found.items()}
        return {size: name for size, name in found.items() if name}


def _usable_size(size: str) -> bool:
    return size.isprintable() and bool(re.fullmatch(r"[^\s,;/]{1,12}", size))


def _sizes_in_words(sizes: Sequence[str]) -> str:
    shown = " ".join(size or "(no name)" for size in sizes[:12])
    return shown + (" …" if len(sizes) > 12 else "")
