"""Text on paper in any script: embedded free typefaces, measured, wrapped and fitted.

Nothing is read until the first text is measured. A letter the main typeface lacks is taken from another one,
run by run, so a Japanese name stands in the middle of an English line. Sizes and widths are points.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Literal

import uharfbuzz
from arabic_reshaper import reshape
from bidi import get_display
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import ShapeData, ShapedStr, TTFont
from reportlab.pdfgen.canvas import Canvas

Align = Literal["left", "right", "centre"]
Run = tuple[str, str]

FONTS = Path(__file__).parent / "fonts"
#: Scripts with a typeface of their own, shaped by HarfBuzz: conjuncts, vowels before their letter, stacked marks.
_NOTO = (
    "Thai", "Lao", "Khmer", "Myanmar", "Devanagari", "Bengali", "Tamil", "Telugu", "Gujarati", "Gurmukhi",
    "Kannada", "Malayalam", "Sinhala", "Ethiopic",
)  # fmt: skip
_FILES = {
    "Paper": "DejaVuSans.ttf",
    "PaperBold": "DejaVuSans-Bold.ttf",
    "PaperFallback": "DroidSansFallbackFull.ttf",
    "PaperHangul": "NanumGothic.ttf",
    **{f"Paper{script}": f"NotoSans{script}-Regular.ttf" for script in _NOTO},
}
_SHAPED = frozenset(f"Paper{script}" for script in _NOTO)
#: Glyphs that stand for no single letter (a conjunct) are named by their number from here on: Unicode's private
#: area. The number is the typeface's own, so the same text gives the same bytes whatever was printed before it.
_PRIVATE = 0xE000
#: Zero width non-joiner and joiner: they stay where they decide the shape of a letter.
_JOINERS = "\u200c\u200d"
#: Vowels written before the letter they are spoken after (Thai, Lao).
_LEADING_VOWELS = "เแโใไເແໂໃໄ"
_VIRAMA = 9  # its combining class in Unicode
#: A space between a figure and its unit, at which no line ends. A thin space never ends one.
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:mm|cm|m|in|yd|kg|min|%)(?!\w))")
#: Stretches of a word that spaces which are no break hold together, each with the one behind it.
_HELD_TOGETHER = re.compile("[^\N{NO-BREAK SPACE}]*\N{NO-BREAK SPACE}+|[^\N{NO-BREAK SPACE}]+")
#: What parts the entries of a list on the papers.
_LIST_MARK = re.compile(r"([,;:.] | · )")
#: Line height as a share of the letter size.
LEADING = 1.22
#: Height of capitals and figures as a share of the letter size (DejaVu Sans).
CAP_HEIGHT = 0.729


@cache
def _font(name: str) -> TTFont:
    font = TTFont(name, str(FONTS / _FILES[name]))
    if name in _SHAPED:
        face, shaper = font.face, _shaper(name)
        for glyph in range(shaper.face.glyph_count):
            if glyph not in face.glyphToChar:
                face.charToGlyph[_PRIVATE + glyph] = glyph
                face.charWidths[_PRIVATE + glyph] = shaper.get_glyph_h_advance(glyph)
    pdfmetrics.registerFont(font)
    return font


@cache
def _shaper(name: str) -> uharfbuzz.Font:
    """The typeface as HarfBuzz reads it, measured in thousandths of the letter size as in a PDF."""
    font = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(FONTS / _FILES[name]))))
    font.scale = (1000, 1000)
    return font


def _shaped(name: str, part: str) -> ShapedStr:
    """A stretch of one typeface as glyphs in printed order, each with its place (OpenType rules of its script)."""
    buffer = uharfbuzz.Buffer()
    buffer.add_str(part)
    buffer.guess_segment_properties()
    uharfbuzz.shape(_shaper(name), buffer)
    face = _font(name).face
    letters, places = "", []
    for info, at in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        code = face.glyphToChar.get(info.codepoint, (_PRIVATE + info.codepoint,))[0]
        letters += chr(code)
        width = face.charWidths[code]
        places.append(ShapeData(info.cluster, at.x_advance, at.y_advance, at.x_offset, at.y_offset, width))
    return ShapedStr(letters, places)


@lru_cache(maxsize=65536)
def _font_name_of(letter: str, bold: bool) -> str:  # noqa: FBT001 - a cache key, called here only
    main = "PaperBold" if bold else "Paper"
    code = ord(letter)
    if code in _font(main).face.charToGlyph:
        return main
    # The name of a letter in the Unicode standard begins with its script.
    script = unicodedata.name(letter, "").partition(" ")[0].capitalize()
    for name in (f"Paper{script}", "PaperFallback"):
        if name in _FILES and code in _font(name).face.charToGlyph:
            return name
    return main


@lru_cache(maxsize=8192)
def clean(text: str) -> str:
    """Text as it can be printed on one line: composed letters, no control characters, single spaces.

    A joiner or non-joiner stays behind letters without capitals (Persian, Hindi, Sinhala …), whose shape it decides.
    """
    composed = unicodedata.normalize("NFC", str(text))
    kept: list[str] = []
    for ch in composed:
        if ch in "\t\n\r\v\f\u2028\u2029":
            kept.append(" ")
        elif unicodedata.category(ch) not in ("Cc", "Cs", "Cf") or (
            ch in _JOINERS and kept and unicodedata.category(kept[-1]) in ("Lo", "Mn", "Mc")
        ):
            kept.append(ch)
    return "".join(kept)


def as_printed(text: str) -> str:
    """One line in the order it is printed from left to right.

    Hebrew and Arabic are turned round by the Unicode bidirectional algorithm (UAX #9), Arabic letters joined
    before that. What stands between the marks of a list is turned by itself: in "2 × …, 1 × …" the algorithm
    alone would carry a count over to the other name. Everything else comes back as it is.
    """
    if text.isascii() or not any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text):
        return text
    if all(_is_from_right(letter) or not letter.isalnum() for letter in text):
        return _turned(text)
    return "".join(_turned(part) if n % 2 == 0 else part for n, part in enumerate(_LIST_MARK.split(text)))


def _is_from_right(letter: str) -> bool:
    return unicodedata.bidirectional(letter) in ("R", "AL", "NSM")


def _turned(part: str) -> str:
    """One part of a line; it runs from the right when its first letter or figure does."""
    first = next((letter for letter in part if letter.isalnum()), "")
    return str(get_display(reshape(part), base_dir="R" if first and _is_from_right(first) else "L"))


@lru_cache(maxsize=32768)
def runs(text: str, *, bold: bool = False) -> tuple[Run, ...]:
    """The text as printed, in stretches of one typeface each: (typeface name, stretch, shaped where needed)."""
    found: list[Run] = []
    for letter in as_printed(text):
        name = found[-1][0] if found and letter in _JOINERS else _font_name_of(letter, bold)
        if found and found[-1][0] == name:
            found[-1] = (name, found[-1][1] + letter)
        else:
            found.append((name, letter))
    return tuple((name, _shaped(name, part) if name in _SHAPED else part) for name, part in found)


def _run_width(name: str, part: str) -> float:
    """Width of a stretch in thousandths of the letter size."""
    if isinstance(part, ShapedStr):
        return float(sum(place.x_advance for place in part.__shapeData__))
    return float(_font(name).stringWidth(part, 1000))


@lru_cache(maxsize=32768)
def _unit_width(text: str, bold: bool) -> float:  # noqa: FBT001 - a cache key, called here only
    return sum(_run_width(name, part) for name, part in runs(text, bold=bold)) / 1000


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Printed width in points."""
    return _unit_width(text, bold) * size


def draw_text(
    canvas: Canvas, x: float, y: float, text: str, size: float, *, bold: bool = False, align: Align = "left"
) -> float:
    """Print one line with its base line at y; the width printed comes back."""
    text = clean(text)
    width = width_of(text, size, bold=bold)
    if align == "right":
        x -= width
    elif align == "centre":
        x -= width / 2
    found = runs(text, bold=bold)
    # What is copied or read aloud is the text as typed, not its glyphs. Readers turn Hebrew and Arabic round by
    # themselves and would do it twice.
    names_glyphs = any(name in _SHAPED for name, _ in found) and as_printed(text) == text
    if names_glyphs:
        as_typed = ("\ufeff" + text).encode("utf-16-be").hex()
        canvas._code.append(f"/Span <</ActualText <{as_typed}>>> BDC")
    for name, part in found:
        canvas.setFont(name, size)
        canvas.drawString(x, y, part)
        if len(found) > 1:
            x += _run_width(name, part) * size / 1000
    if names_glyphs:
        canvas._code.append("EMC")
    return width


def _breaks_anywhere(letter: str) -> bool:
    """Scripts without spaces between words may break after any letter."""
    return unicodedata.east_asian_width(letter) in ("W", "F")


def _words(text: str, fits: Callable[[str], bool]) -> Iterable[str]:
    """Pieces a line may be broken between; each but the last of a word carries its own space.

    A figure and its unit are one where that `fits` on a line.
    """
    whole = {found.start() for found in _BEFORE_UNIT.finditer(text)}
    word, parts = "", [0]
    for at, letter in enumerate(text):
        word += letter
        if at in whole:
            parts.append(len(word))
        elif letter == " " or _breaks_anywhere(letter):
            yield from _fitting(word, parts, fits)
            word, parts = "", [0]
    if word:
        yield from _fitting(word, parts, fits)


def _fitting(word: str, parts: Sequence[int], fits: Callable[[str], bool]) -> Iterable[str]:
    if len(parts) == 1 or fits(word):
        return (word,)
    return (word[begin:end] for begin, end in pairwise([*parts, len(word)]))


def _letters(word: str) -> Iterable[str]:
    """Letters with everything that belongs to them: marks, conjuncts, the vowel before them."""
    whole = ""
    for letter in word:
        belongs = whole and (
            letter in _JOINERS
            or unicodedata.category(letter) in ("Mn", "Mc", "Me")
            or whole[-1] in _LEADING_VOWELS
            or whole[-1] in _JOINERS
            or unicodedata.combining(whole[-1]) == _VIRAMA
        )
        if whole and not belongs:
            yield whole
            whole = ""
        whole += letter
    yield whole


def _chop(word: str, size: float, width: float, *, bold: bool) -> Iterable[str]:
    """A word wider than the line, in pieces that fit (at least one letter each).

    Where spaces that are no break hold it together it parts at them first, so that a number in it stays whole.
    """
    parts = _HELD_TOGETHER.findall(word)
    piece = ""
    for part in parts if len(parts) > 1 else _letters(word):
        if piece and width_of((piece + part).rstrip(), size, bold=bold) > width:
            yield piece.rstrip()
            piece = ""
        piece += part
        if len(parts) > 1 and width_of(piece.rstrip(), size, bold=bold) > width:
            *full, piece = _chop(piece, size, width, bold=bold)
            yield from full
    yield piece


@lru_cache(maxsize=16384)
def wrap(text: str, size: float, width: float, *, bold: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than `width` points; nothing is left out. Empty text gives no line."""
    lines: list[str] = []
    line = ""

    def fits(words: str) -> bool:
        return width_of(words.rstrip(), size, bold=bold) <= width

    for word in _words(clean(text), fits):
        if fits(line + word):
            line += word
            continue
        if line.strip():
            lines.append(line.rstrip())
        *full, line = _chop(word, size, width, bold=bold)
        lines.extend(full)
    if line.strip():
        lines.append(line.rstrip())
    return tuple(lines)


@lru_cache(maxsize=16384)
def fitting_size(text: str, largest: float, smallest: float, width: float, *, bold: bool = False) -> float:
    """The largest size in the range at which the text fits on one line, else the smallest."""
    natural = _unit_width(clean(text), bold)
    if natural <= 0:
        return largest
    return max(smallest, min(largest, width / natural))


@lru_cache(maxsize=16384)
def fitted(
    text: str, largest: float, smallest: float, width: float, *, bold: bool = False, lines: int = 1
) -> tuple[float, tuple[str, ...]]:
    """Size and lines of a name: shrunk to stay within `lines`; at the smallest size it takes its need."""
    size = largest
    while size > smallest:
        found = wrap(text, size, width, bold=bold)
        if len(found) <= lines:
            return size, found
        size = max(smallest, size * 0.92)
    return smallest, wrap(text, smallest, width, bold=bold)


def draw_lines(
    canvas: Canvas, x: float, y: float, lines: Iterable[str], size: float, *, bold: bool = False
) -> float:
    """Print lines downward, the first base line at y; the base line that would come next comes back."""
    for line in lines:
        draw_text(canvas, x, y, line, size, bold=bold)
        y -= size * LEADING
    return y
