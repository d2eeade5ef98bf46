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
    """What a DXF file holds. `lost_letters`: text that could not be decoded; `code_page_assumed`: nor was it told.

    `code_page` is what texts that are no UTF-8 are written in, as it says or as is assumed.
    """

    header: dict[str, str] = field(default_factory=dict)
    blocks: list[Block] = field(default_factory=list)
    entities: list[Entity] = field(default_factory=list)
    lost_letters: bool = False
    code_page_assumed: bool = False
    code_page: str = "cp1252"
    #: Kinds of entity that are not read, and how often they stand there.
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
        finished = _take_apart(_tags(text), drawing, name)
    except DXFError as fault:
        raise PatternFileError(f"{name}: the DXF file is damaged ({_one_line(fault)})") from fault
    if not finished:
        raise PatternFileError(f"{name}: the DXF file is cut off; export or copy it again")
    return drawing


def _refuse_endless_lines(content: bytes, name: str) -> None:
    """Refuses a line of too many points by counting its bytes, which takes no time; to read them takes seconds."""
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
    """`Front, size M: ` from the texts of the block round this place, "" where it has none."""
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


def _take_apart(tags: Iterator[Tag], drawing: Drawing, name: str) -> bool:
    """Fills the drawing; False where the file stops before its end."""
    section = ""
    block: Block | None = None
    complete: set[str] = set()
    points = 0
    for entity in _entities(tags):
        kind = entity.kind
        if kind == "SECTION":
            section = entity.text(2).strip()
            if section == "HEADER":
                drawing.header = _header(entity.tags)
        elif kind == "ENDSEC":
            complete.add(section)
            section = ""
        elif kind == "EOF":
            return True
        elif section == "BLOCKS" and kind == "BLOCK":
            block = Block(_clean(entity.text(2)).strip())
            drawing.blocks.append(block)
            if len(drawing.blocks) > MOST_PIECES:
                raise PatternFileError(
                    f"{name}: more than {MOST_PIECES:,} blocks, which is more than is read"
                )
        elif kind == "ENDBLK":
            block = None
        elif section in ("BLOCKS", "ENTITIES"):
            points += _points_of(entity)
            if points > MOST_POINTS:
                raise PatternFileError(
                    f"{name}: more than {MOST_POINTS:,} points, which is more than is read"
                )
            into = block.entities if section == "BLOCKS" and block else drawing.entities
            _keep(entity, drawing, into, in_block=section == "BLOCKS")
    # Some programs leave out the end mark: fine where what it would end is there.
    return {"BLOCKS", "ENTITIES"} <= complete or (complete == {"ENTITIES"} and not drawing.blocks)


def _keep(entity: Entity, drawing: Drawing, into: list[Entity], *, in_block: bool) -> None:
    if entity.text(67).strip() == "1":
        return  # on the sheet for the printer, not in the drawing
    if entity.kind == "VERTEX":
        if into and into[-1].kind == "POLYLINE":
            into[-1].vertices.append(entity.tags)
    elif entity.kind in KEPT:
        if entity.kind in ("TEXT", "MTEXT", "ATTDEF"):
            entity.tags = [(c, _clean(value)) for c, value in entity.tags]
        into.append(entity)
    elif entity.kind not in ("SEQEND", "VIEWPORT", "ATTRIB") and (in_block or into is drawing.entities):
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
