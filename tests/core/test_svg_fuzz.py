"""Whatever an SVG file holds, the reader gives pieces or its own error and nothing else."""

import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.core.pattern_files.model import PatternFileError, ReadPattern
from planner.core.pattern_files.svg import read_svg
from planner.core.pattern_files.write_svg import lay_as_svg, style_as_svg
from tests.core.written import LAY, STYLE

DRAWN = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="50cm" height="40cm" viewBox="0 0 1000 800">'
    b'<defs><symbol id="s" viewBox="0 0 9 9"><rect width="9" height="9" rx="2"/></symbol></defs>'
    b'<g id="front_M" transform="translate(150 100) rotate(12)">'
    b'<path d="m100,100 400-20q50 100 0 250A90 50 3 0 1 9 9z"/>'
    b'<line id="fold" x1="100" y1="100" x2="500" y2="80"/><path id="grain" d="M1 1L9 90"/><path d="M5 5C1 2 3 4 5 6"/>'
    b'<circle id="notch" cx="120" cy="100" r="2"/></g><use id="cuff_L" href="#s" width="50" height="50" x="3cm"/>'
    b'<g id="open"><polyline points="0,0 90,0 90,90"/><polyline points="90,91 0,90 0,3"/></g>'
    b'<ellipse id="yoke-38" rx="50" ry="20" style="display:inline"/><polygon points="1,1 8,80 70,3"/></svg>'
)
FILES = (DRAWN, style_as_svg(STYLE), lay_as_svg(LAY))
NASTY = [
    *b"NaN|inf|1e300|-1e-300|1e9||0|-1|99999999999999999999|%|mm|M|z|A1 1 0 0 1|fold|grain|notch|#s|#front_M".split(
        b"|"
    ),
    *b"matrix(0 0 0 0 0 0)|scale(0)|scale(1e9)|rotate(1e9)|skewX(90)|&lt;|&#0;|&x;|<![CDATA[|]]>|<svg>".split(
        b"|"
    ),
    *b"</g>|<g>|/>|<!DOCTYPE svg [|<!ENTITY a 'b'>|<use href='#front_M'/>|data-edge='a'|data-part='sew'".split(
        b"|"
    ),
    *(b"data-part='hole'", b"d='M0 0'", b"\xff", b"\x00", b"\xc3"),
]
#: What may stand in a value between quotes.
PLAIN = [value.decode("latin-1") for value in NASTY if not set(value) & set(b"<&\0'")]


def read(content: bytes, *, mend: bool = True) -> ReadPattern | None:
    """The pattern, whole and sound; None where it was refused in one line."""
    pattern, said = None, ""
    try:
        pattern = read_svg(content, name="file.svg", mend=mend)
    except PatternFileError as fault:
        said = str(fault)
    if pattern is None:
        assert said.startswith("file.svg: ")
        assert "\n" not in said
        return None
    for piece in pattern.pieces:
        assert piece.outline.polygon.is_valid
        assert piece.outline.area_mm2 > 0
        assert mend or not piece.mends
        piece.marks.as_json()
    return pattern


def damaged(content: bytes, seed: int) -> bytes:
    """The file with bytes changed, stretches dropped or doubled, or something nasty put in; the seed says which."""
    chance = random.Random(seed)
    data = bytearray(content)
    for _ in range(chance.randrange(1, 6)):
        at, to = sorted((chance.randrange(len(data)), chance.randrange(len(data))))
        to = min(to, at + 200)
        kind = chance.randrange(9)
        if kind == 0:
            data[at] = chance.randrange(256)
        elif kind == 1:
            del data[at:to]
        elif kind == 2:
            data[at:at] = data[at:to]
        elif kind == 3:
            data[at:at] = chance.choice(NASTY)
        else:
            # A whole value, between its quotes, so that the file stays a drawing.
            begin = data.find(b'="', at) + 2
            end = data.find(b'"', begin)
            if begin > 1 and end > 0:
                data[begin:end] = chance.choice(NASTY)
        if len(data) < 2:
            break
    return bytes(data)


def test_the_files_to_be_damaged_are_read():
    for content in FILES:
        assert read(content) is not None
    drawn = read(DRAWN)
    assert drawn is not None
    assert {"cuff", "open", "yoke"} <= set(drawn.piece_names())


def test_damaged_files_are_read_or_refused():
    outcomes = [read(damaged(content, seed), mend=seed % 2 == 0) for seed in range(60) for content in FILES]
    # Damage that refuses everything, or nothing, would test little.
    assert any(outcomes)
    assert not all(outcomes)


VALUES = st.one_of(
    st.sampled_from(PLAIN),
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.integers(-500, 500).map(str),
)
PATH_BITS = st.one_of(st.sampled_from("MmLlHhVvCcSsQqTtAaZz,. -+e"), VALUES)
STEADY = settings(max_examples=50, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@STEADY
@given(st.lists(PATH_BITS, max_size=40).map(" ".join), VALUES, st.lists(VALUES, max_size=6))
def test_any_path_data_and_transform(d: str, width: str, numbers: list[str]):
    plain = d.replace('"', "").replace("'", "")
    turn = f"matrix({' '.join(numbers)})".replace("'", "")
    read(
        f"<svg width='{width.replace(chr(39), '')}' viewBox='0 0 10 10'><g transform='{turn}'>"
        f"<path d='{plain}'/><path d='M0 0H100V100H0Z{plain}'/></g></svg>".encode("utf-8", "replace")
    )


@STEADY
@given(st.binary(max_size=300))
def test_any_bytes_at_all(content: bytes):
    read(content)
    read(b"<svg>" + content + b"</svg>")
    read(b'<svg><path d="M0 0H9V9Z" id="' + content + b'"/></svg>')


NAMES = st.text(max_size=30).filter(lambda text: all(c.isprintable() and c not in "<>&'" for c in text))


@STEADY
@given(st.lists(st.tuples(NAMES, NAMES), min_size=1, max_size=6))
def test_any_names(names: list[tuple[str, str]]):
    groups = "".join(
        f"<g id='{outer}'><rect id='{inner}' x='{i * 200}' width='100' height='{100 + i}'/></g>"
        for i, (outer, inner) in enumerate(names)
    )
    read(f"<svg width='10mm' viewBox='0 0 10 10'>{groups}</svg>".encode("utf-8", "replace"))
