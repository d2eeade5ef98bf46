"""Bytes of an ASCII DXF file to its blocks and entities, nothing interpreted yet.

Only what a pattern needs is kept. The low-level tag loader of ezdxf is used rather than its document: pattern files
come without tables, with an empty header and with texts in any code page, and a 2 MB file is to be read in seconds.
"""

from __future__ import annotations

import codecs
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from ezdxf.lldxf.const import DXFError
from ezdxf.lldxf.encoding import decode_dxf_unicode, has_dxf_unicode
from ezdxf.lldxf.tagger import ascii_tags_loader
from ezdxf.tools.codepage import toencoding

from planner.core.pattern_files.model import MOST_PIECES, MOST_POINTS, MOST_POINTS_A_PIECE, PatternFileError

Tag = tuple[int, str]

LINES = frozenset({"POLYLINE", "LWPOLYLINE", "LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"})
KEPT = LINES | {"POINT", "TEXT", "MTEXT", "INSERT", "ATTDEF"}
#: The first bytes of a file in which the start of a DXF must stand.
HEAD_BYTES = 4_000


@dataclass(slots=True)
class Entity:
    """One entity as it stands in the file; the vertices of a POLYLINE are with it."""

    kind: str
    tags: list[Tag]
    vertices: list[list[Tag]] = field(default_factory=list)

    def text(self, code: int, default: str = "") -> str:
        """The first value with this group code."""
        return next((value for c, value in self.tags if c == code), default)

    @property
    def layer(self) -> str:
        """The layer it is drawn on."""
        return self.text(8, "0").strip()


@dataclass(slots=True)
class Block:
    """A named block and what is drawn in it."""

    name: str
    entities: list[Entity] = field(default_factory=list)


@dataclass(slots=True)
class Drawing:
    """What a DXF file holds.

    `code_page` is the encoding of texts that are not UTF-8: the one the file names, or else one that is assumed
    (`code_page_assumed`). `lost_letters`: some text could not be decoded with it.
    """

    header: dict[str, str] = field(default_factory=dict)
    blocks: list[Block] = field(default_factory=list)
    entities: list[Entity] = field(default_factory=list)
    lost_letters: bool = False
    code_page_assumed: bool = False
    code_page: str = "cp1252"
    #: Kinds of entity that are not read, and how often each occurs.
    other_kinds: dict[str, int] = field(default_factory=dict)


def looks_like_dxf(content: bytes) -> bool:
    """True where the file begins as an ASCII DXF: pairs of lines, the first of them a section or a comment."""
    head = content[:HEAD_BYTES].lstrip(b"\xef\xbb\xbf \t\r\n")
    return bool(re.match(rb"(999[ \t]*\r?[\n\r].*\r?[\n\r]\s*)*0[ \t]*(\r\n|\n|\r)[ \t]*SECTION\b", head))


def load_drawing(content: bytes, *, name: str) -> Drawing:
    """Takes a DXF file apart. Raises PatternFileError where it is damaged, cut off or too large."""
    _refuse_endless_lines(content, name)
    drawing = Drawing()
    text = _decoded(content, drawing)
    try:
        finished = _Reader(drawing, name).read(_entities(_tags(text)))
    except DXFError as fault:
        raise PatternFileError(f"{name}: the DXF file is damaged ({_one_line(fault)})") from fault
    if not finished:
        raise PatternFileError(f"{name}: the DXF file is cut off; export or copy it again")
    return drawing


def _refuse_endless_lines(content: bytes, name: str) -> None:
    """Refuses a line of too many points by counting marks in the bytes: that is instant, and reading takes seconds."""
    if content.count(b"VERTEX") <= MOST_POINTS_A_PIECE:
        return
    at = content.find(b"POLYLINE")
    while at >= 0:
        following = content.find(b"POLYLINE", at + 1)
        line = content[at : following if following >= 0 else len(content)]
        if line.partition(b"SEQEND")[0].count(b"VERTEX") > MOST_POINTS_A_PIECE:
            raise PatternFileError(
                f"{name}: {_piece_round(content, at)}a line has more than {MOST_POINTS_A_PIECE:,} points, "
                "which is more than is read"
            )
        at = following


def _piece_round(content: bytes, at: int) -> str:
    """ "Front, size M: " from the texts of the block this place is in; "" where it has none."""
    begin, end = max(content.rfind(b"BLOCK", 0, at), 0), content.find(b"ENDBLK", at)
    block = content[begin : end if end >= 0 else len(content)]
    told = {}
    for key in (b"piece name", b"size"):
        found = re.search(rb"(?i)[\r\n][ \t]*" + key + rb":([^\r\n]*)", block)
        told[key] = _clean(found[1].decode("utf-8", "replace")).strip()[:60] if found else ""
    piece, size = told.values()
    return (f"{piece}, size {size}: " if size else f"{piece}: ") if piece else ""


def _tags(text: str) -> Iterator[Tag]:
    for tag in ascii_tags_loader(io.StringIO(text, newline=None)):
        yield tag.code, tag.value


def _decoded(content: bytes, drawing: Drawing) -> str:
    if content.startswith(b"\xef\xbb\xbf"):
        content = content[3:]
    told = re.search(rb"\$DWGCODEPAGE\s+3\s+(\S+)", content[:100_000])
    if told:
        code_page = toencoding(told[1].decode("ascii", "replace"))
        drawing.code_page = code_page if _is_known(code_page) else "cp1252"
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        pass
    drawing.code_page_assumed = told is None
    text = content.decode(drawing.code_page, "replace")
    drawing.lost_letters = "\ufffd" in text
    return text


def _is_known(code_page: str) -> bool:
    try:
        codecs.lookup(code_page)
    except LookupError:
        return False
    return True


class _Reader:
    """Puts entities where they belong as they come: into the header, a block or the drawing itself."""

    def __init__(self, drawing: Drawing, name: str) -> None:
        self.drawing, self.name = drawing, name
        self.section = ""
        self.ended: set[str] = set()
        self.block: Block | None = None
        self.points = 0

    def read(self, entities: Iterator[Entity]) -> bool:
        """Fills the drawing; False where the file stops before its end."""
        for entity in entities:
            if entity.kind == "EOF":
                return True
            self._take(entity)
        # Some programs leave out the end mark: fine where the sections it would follow have ended.
        only_entities = self.ended == {"ENTITIES"} and not self.drawing.blocks
        return {"BLOCKS", "ENTITIES"} <= self.ended or only_entities

    def _take(self, entity: Entity) -> None:
        if entity.kind == "SECTION":
            self.section = entity.text(2).strip()
            if self.section == "HEADER":
                self.drawing.header = _header(entity.tags)
        elif entity.kind == "ENDSEC":
            self.ended.add(self.section)
            self.section = ""
        elif self.section == "BLOCKS" and entity.kind == "BLOCK":
            self._begin_block(entity)
        elif entity.kind == "ENDBLK":
            self.block = None
        elif self.section in ("BLOCKS", "ENTITIES"):
            self._draw(entity)

    def _begin_block(self, entity: Entity) -> None:
        self.block = Block(_clean(entity.text(2)).strip())
        self.drawing.blocks.append(self.block)
        if len(self.drawing.blocks) > MOST_PIECES:
            raise PatternFileError(
                f"{self.name}: more than {MOST_PIECES:,} blocks, which is more than is read"
            )

    def _draw(self, entity: Entity) -> None:
        self.points += _points_of(entity)
        if self.points > MOST_POINTS:
            raise PatternFileError(
                f"{self.name}: more than {MOST_POINTS:,} points, which is more than is read"
            )
        in_block = self.section == "BLOCKS"
        into = self.block.entities if in_block and self.block else self.drawing.entities
        _keep(entity, self.drawing, into)


def _keep(entity: Entity, drawing: Drawing, into: list[Entity]) -> None:
    """Adds an entity to those of its block or of the drawing; of a kind that is not read it only counts that."""
    if entity.text(67).strip() == "1":
        return  # on the sheet for the printer, not in the drawing
    if entity.kind == "VERTEX":
        if into and into[-1].kind == "POLYLINE":
            into[-1].vertices.append(entity.tags)
    elif entity.kind in KEPT:
        if entity.kind in ("TEXT", "MTEXT", "ATTDEF"):
            entity.tags = [(c, _clean(value)) for c, value in entity.tags]
        into.append(entity)
    elif entity.kind not in ("SEQEND", "VIEWPORT", "ATTRIB"):
        kind = _clean(entity.kind)[:30]
        drawing.other_kinds[kind] = drawing.other_kinds.get(kind, 0) + 1


def _entities(tags: Iterator[Tag]) -> Iterator[Entity]:
    current: Entity | None = None
    for code, value in tags:
        if code == 0:
            if current is not None:
                yield current
            current = Entity(value.strip(), [])
        elif current is not None:
            current.tags.append((code, value))
    if current is not None and current.kind in ("EOF", "ENDSEC"):
        yield current


def _points_of(entity: Entity) -> int:
    """How many points an entity brings, at the least."""
    if entity.kind in ("LWPOLYLINE", "SPLINE"):
        return sum(code in (10, 11) for code, _ in entity.tags)
    return 2 if entity.kind == "LINE" else 1


def _header(tags: list[Tag]) -> dict[str, str]:
    variables: dict[str, str] = {}
    variable = ""
    for code, value in tags:
        if code == 9:
            variable = value.strip()
        elif variable and variable not in variables:
            variables[variable] = value.strip()
    return variables


def _clean(text: str) -> str:
    """Text without control characters, and with the letters that DXF writes as codes."""
    if has_dxf_unicode(text):
        text = decode_dxf_unicode(text)
    return "".join(c if c.isprintable() and not 0xD800 <= ord(c) <= 0xDFFF else " " for c in text)


def _one_line(fault: Exception) -> str:
    return " ".join(_clean(str(fault).replace('\\n"', '"')).split())[:120].rstrip(".")
