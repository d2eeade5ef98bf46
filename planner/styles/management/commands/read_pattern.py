"""`manage.py read-pattern`: reads a pattern file without saving anything."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from planner.core.pattern_files.model import MENDED, MOST_BYTES, PatternFileError, ReadPattern
from planner.core.pattern_files.read import read_pattern
from planner.core.pattern_files.report import pattern_report


class Command(BaseCommand):
    help = "Reads a DXF (with its grade rules, if any) or SVG pattern file and writes what it holds as JSON."
    # Only files are read: neither the database nor its state matters.
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE", help="the drawing, DXF or SVG")
        parser.add_argument(
            "rules", metavar="RULES.rul", nargs="?", help="the grade rules of a DXF in base size"
        )
        parser.add_argument(
            "--units", choices=["mm", "in"], help="the drawing's units, where it does not say"
        )
        parser.add_argument(
            "--mend", action="store_true", help="close gaps and cut off crossings as the findings propose"
        )
        parser.add_argument("--json", metavar="OUT.json", required=True, help="where to write what was read")

    def handle(self, *args: Any, **options: Any) -> None:
        path = Path(options["file"])
        rules = Path(options["rules"]) if options["rules"] else None
        try:
            pattern = read_pattern(
                _content(path),
                name=path.name,
                rules=_content(rules) if rules else None,
                rules_name=rules.name if rules else "",
                units=options["units"],
                mend=options["mend"],
            )
        except PatternFileError as fault:
            raise CommandError(_one_line(str(fault)), returncode=2) from fault
        _refuse_open_questions(pattern)
        out = Path(options["json"])
        try:
            out.parent.mkdir(parents=True, exist_ok=True)
            out.write_text(json.dumps(pattern_report(pattern), ensure_ascii=False) + "\n", encoding="utf-8")
        except OSError as fault:
            raise CommandError(f"{out}: {fault.strerror}", returncode=2) from fault
        self._say(pattern, out)

    def _say(self, pattern: ReadPattern, out: Path) -> None:
        sizes = ", ".join(size for size in pattern.sizes if size) or "none named"
        say = self.stdout.write
        count = len(pattern.piece_names())
        pieces = "1 piece" if count == 1 else f"{count} pieces"
        say(f"{pattern.file_name}: {pattern.format}, {pieces}, sizes: {sizes}.")
        for finding in pattern.findings:
            say(f"  {finding.level}: {finding.text}")
        say(f"Written: {out}")


def _refuse_open_questions(pattern: ReadPattern) -> None:
    """Raises CommandError where nothing can be written without an answer."""
    if pattern.asks_units:
        text = f"{pattern.file_name}: the file does not say its units; add --units mm or --units in"
        raise CommandError(text, returncode=2)
    if not pattern.pieces:
        asked = [f.text for f in pattern.findings if f.level == "ask" and f.kind in MENDED]
        text = f"{asked[0]} Add --mend to do so" if asked else "no piece was read"
        raise CommandError(_one_line(f"{pattern.file_name}: {text}"), returncode=2)


def _content(path: Path) -> bytes:
    """What a file holds, up to just beyond what is read at all."""
    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)
    except OSError as fault:
        raise CommandError(f"{path}: {fault.strerror}", returncode=2) from fault


def _one_line(text: str) -> str:
    return " ".join(text.split())
