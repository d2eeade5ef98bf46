"""An SVG file's elements, parsed so that nothing in the file can reach out, blow up or run.

Entities are refused before the first is read, whatever the encoding; nothing outside the file is fetched; depth and
number of elements are bounded. Text between elements is not kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from planner.core.pattern_files.model import MOST_BYTES, PatternFileError

#: Most elements of one file.
MOST_ELEMENTS = 100_000
#: Most elements inside one another.
DEEPEST = 60
#: A longer name is cut (letters).
LONGEST_NAME = 120

#: Some programs write a character that an id must not hold as its number: `front_x20_M`, `front_x5F_M`.
ESCAPED = re.compile(r"_x([0-9A-Fa-f]{2,4})_")
STYLE_MOVES = re.compile(
    r"(?:^|;)\s*(?:transform|translate|rotate|scale|zoom)\s*:\s*(?!\s|none\b)", re.IGNORECASE
)
STYLE_DISPLAY = re.compile(r"(?:^|;)\s*(display|visibility)\s*:\s*([\w-]+)", re.IGNORECASE)


@dataclass(eq=False, slots=True)
class Element:
    """One element: its tag without prefix ("" for one that is not SVG), attributes as written, and children."""

    tag: str
    attributes: dict[str, str]
    children: list[Element] = field(default_factory=list)

    def get(self, name: str, default: str = "") -> str:
        """An attribute by its name as written."""
        return self.attributes.get(name, default)

    @property
    def label(self) -> str:
        """What a person called it: a label attribute of any namespace, `data-name`, else the id."""
        labels = [value for name, value in self.attributes.items() if name.rpartition(":")[2] == "label"]
        said = next((text for text in (*labels, self.get("data-name")) if text.strip()), "")
        said = said.strip() or ESCAPED.sub(_unescaped, self.get("id")[:LONGEST_NAME]).strip()
        return said[:LONGEST_NAME]

    @property
    def href(self) -> str:
        """What it refers to, with or without the old prefix."""
        return self.get("href") or self.get("xlink:href")

    @property
    def hidden(self) -> bool:
        """Whether the file says not to show it, by attribute or in its style."""
        said = {name.lower(): value for name, value in STYLE_DISPLAY.findall(self.get("style"))}
        display = said.get("display", self.get("display"))
        visibility = said.get("visibility", self.get("visibility"))
        return display == "none" or visibility in ("hidden", "collapse")

    @property
    def moved_by_style(self) -> bool:
        """Whether its style moves or stretches it (CSS Transforms), which is not the transform attribute."""
        return STYLE_MOVES.search(self.get("style")) is not None

    def walk(self) -> Iterator[Element]:
        """The element and all below it."""
        waiting = [self]
        while waiting:
            element = waiting.pop()
            yield element
            waiting.extend(reversed(element.children))


def _unescaped(match: re.Match[str]) -> str:
    letter = chr(int(match[1], 16))
    return letter if letter.isprintable() else "_"


def parse_svg(content: bytes, *, name: str) -> Element:
    """The root of an SVG file. Raises PatternFileError, naming the file, where it is not one or is not safe."""
    if len(content) > MOST_BYTES:
        raise PatternFileError(f"{name}: the file is larger than {MOST_BYTES // 1_000_000} MB")
    if not content.strip():
        raise PatternFileError(f"{name}: the file is empty")
    if content[:2] in (b"\x1f\x8b", b"PK"):
        raise PatternFileError(f"{name}: the file is packed; unpack it first and give the SVG inside")
    builder = _Builder(name)
    parser = expat.ParserCreate()
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    parser.StartDoctypeDeclHandler = builder.doctype
    parser.EntityDeclHandler = builder.entity
    parser.ExternalEntityRefHandler = builder.entity
    parser.SkippedEntityHandler = builder.entity
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    try:
        parser.Parse(content, True)
    except PatternFileError:
        raise
    except expat.ExpatError as error:
        where = f"line {error.lineno}: {expat.ErrorString(error.code)}"
        raise PatternFileError(f"{name}: the file is not a complete SVG drawing ({where})") from error
    except (ValueError, LookupError) as error:
        # An encoding that is not known, or that is not one for text.
        raise PatternFileError(f"{name}: the file is in an encoding that cannot be read") from error
    if builder.root is None or builder.root.tag != "svg":
        raise PatternFileError(f"{name}: the file is XML but not an SVG drawing")
    return builder.root


class _Builder:
    """Takes the parser's events; counts before it keeps."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.root: Element | None = None
        self.open: list[Element] = []
        self.prefix = ""
        self.count = 0

    def doctype(self, root: str, system: str | None, public: str | None, has_inside: int) -> None:
        """The plain document type of SVG 1.1 is harmless; one with declarations of its own is not."""
        if has_inside:
            self.entity()

    def entity(self, *_what: object) -> int:
        """Any declaration or use of an entity ends the reading."""
        raise PatternFileError(
            f"{self.name}: the file declares XML entities, which are not read; save it as plain SVG"
        )

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        if self.count > MOST_ELEMENTS:
            raise PatternFileError(f"{self.name}: the file has more than {MOST_ELEMENTS:,} elements")
        if len(self.open) >= DEEPEST:
            raise PatternFileError(f"{self.name}: the file nests elements more than {DEEPEST} deep")
        prefix, _, local = tag.rpartition(":")
        if not self.open:
            self.prefix = prefix
        # What stands in another namespace is a program's own note, not a drawing.
        known = {
            key: text[:LONGEST_NAME] if key.startswith("data-") else text for key, text in attributes.items()
        }
        element = Element(local if prefix == self.prefix else "", known)
        if self.open:
            self.open[-1].children.append(element)
        elif self.root is None:
            self.root = element
        self.open.append(element)

    def end(self, _tag: str) -> None:
        self.open.pop()
