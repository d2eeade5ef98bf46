"""The SVG reader against the CSS and SVG specifications, analytic areas, and drawings by independent writers."""

import io
import math

import ezdxf
import pytest
import svgelements
from ezdxf.addons.drawing import Frontend, RenderContext, layout
from ezdxf.addons.drawing.svg import SVGBackend
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, Rect
from shapely.geometry import LineString, MultiPoint
from shapely.geometry import Polygon as Ground

from planner.core.outline import Outline
from planner.core.pattern_files.svg import read_svg
from planner.core.pattern_files.svg_shapes import flat_points, shape_trails
from planner.core.pattern_files.svg_units import IDENTITY, transform

#: Analytic figures are met within this share.
SHARE = 0.001


def outline_of(body: str, head: str = 'width="1000mm" height="1000mm" viewBox="0 0 1000 1000"') -> Outline:
    content = f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()
    (piece,) = read_svg(content, name="shape.svg").pieces
    return piece.outline


@pytest.mark.parametrize(
    ("length", "mm"),
    [
        # W3C, CSS Values and Units Module Level 3, 6.2 "Absolute lengths": 1 cm = 96/2.54 px, 1 mm = 1/10 cm,
        # 1 Q = 1/40 cm, 1 in = 2.54 cm = 96 px, 1 pc = 1/6 in, 1 pt = 1/72 in, 1 px = 1/96 in.
        ("10cm", 100.0),
        ("100mm", 100.0),
        ("400Q", 100.0),
        ("2in", 50.8),
        ("12pc", 50.8),
        ("144pt", 50.8),
        ("192px", 50.8),
        # A number without a unit is one in user units, of which one is a CSS pixel (SVG 2, 8.2).
        ("192", 50.8),
        # CSS Values 3, 5: units are the same in capital letters; a number may have a sign and powers of ten.
        ("2IN", 50.8),
        ("+1e1cm", 100.0),
    ],
)
def test_absolute_lengths(length: str, mm: float):
    whole = outline_of(
        '<rect width="10" height="10"/>', f'width="{length}" height="{length}" viewBox="0 0 10 10"'
    )
    assert whole.length_mm == pytest.approx(mm, rel=1e-9)
    inside = outline_of(f'<rect width="{length}" height="{length}"/>', "")
    assert inside.length_mm == pytest.approx(mm, rel=1e-9)


def test_view_box_is_fitted_evenly():
    """SVG 2, 8.6 preserveAspectRatio: by "meet" the smaller scale counts, by "slice" the larger, by "none" both."""
    head = 'width="300mm" height="200mm" viewBox="0 0 100 100" preserveAspectRatio="{}"'
    sizes = {
        how: (shape.width_mm, shape.length_mm)
        for how in ("xMidYMid meet", "xMinYMax slice", "none")
        for shape in [outline_of('<rect width="100" height="100"/>', head.format(how))]
    }
    assert sizes["xMidYMid meet"] == pytest.approx((200.0, 200.0))
    assert sizes["xMinYMax slice"] == pytest.approx((300.0, 300.0))
    assert sizes["none"] == pytest.approx((300.0, 200.0))


def test_transforms_apply_from_the_right():
    """CSS Transforms 1, transform lists: as if each stood in a group of its own, the first outermost."""
    x, y = flat_points(
        shape_trails("line", {"x1": "10"})[0], transform("translate(5,7) rotate(90), scale(2 3)")
    )[0]
    assert (x, y) == pytest.approx((5.0, 27.0))


@pytest.mark.parametrize("radius", [2.0, 25.0, 300.0])
def test_circle_and_ellipse(radius: float):
    """Area π·a·b."""
    assert outline_of(f'<circle r="{radius}"/>').area_mm2 == pytest.approx(math.pi * radius**2, rel=SHARE)
    ellipse = outline_of(f'<ellipse rx="{radius}" ry="{radius / 3}" transform="rotate(33)"/>')
    assert ellipse.area_mm2 == pytest.approx(math.pi * radius**2 / 3, rel=SHARE)
    assert outline_of(f'<circle r="{radius}"/>').perimeter_mm == pytest.approx(math.tau * radius, rel=SHARE)


def test_rounded_rectangle():
    """SVG 2, 10.2: corners are quarter ellipses; a missing radius takes the other, none is more than half a side."""
    for radii, rx, ry in (('rx="20" ry="10"', 20, 10), ('rx="15"', 15, 15), ('ry="90"', 50, 40), ("", 0, 0)):
        area = outline_of(f'<rect width="100" height="80" {radii}/>').area_mm2
        assert area == pytest.approx(100 * 80 - (4 - math.pi) * rx * ry, rel=SHARE), radii


def test_quarter_ellipses_as_an_armhole():
    """A rectangle less two quarter ellipses: 400·600 − 2·π·80·150/4."""
    d = "M0 0H400V450A80 150 0 0 1 320 600H80A80 150 0 0 1 0 450Z"
    # Both arcs bulge outwards: what they take off the corners is 80·150 less the quarter.
    expected = 400 * 600 - 2 * (80 * 150 - math.pi * 80 * 150 / 4)
    assert outline_of(f'<path d="{d}"/>').area_mm2 == pytest.approx(expected, rel=SHARE)


@pytest.mark.parametrize(("large", "sweep"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_arc_flags(large: int, sweep: int):
    """SVG 2, 9.3.8: the flags choose the larger or smaller arc, and the side. Segment area by trigonometry."""
    # Chord 100 in a circle of radius 70.
    half = math.asin(50 / 70)
    small = 70**2 * (half - math.sin(half) * math.cos(half))
    segment = math.pi * 70**2 - small if large else small
    # Going right along the foot of a box drawn below it, a sweep runs above: it adds, otherwise it takes away.
    expected = 500 * 500 + (segment if sweep else -segment)
    shape = outline_of(f'<path d="M300 300A70 70 0 {large}{sweep}400 300H600V800H100V300Z"/>')
    assert shape.area_mm2 == pytest.approx(expected, rel=SHARE)


def test_radii_too_small_are_scaled_up():
    """SVG 2, appendix B.2.5: an arc whose radii do not reach becomes the half ellipse that just does."""
    shape = outline_of('<path d="M0 0A10 5 0 0 1 200 0V300H0Z"/>')
    assert shape.area_mm2 == pytest.approx(200 * 300 + math.pi * 100 * 50 / 2, rel=SHARE)


def test_bezier_areas():
    """Areas under Bézier curves of length L with control points at height h, integrated by hand."""
    # Cubic with both controls h above, at 1/3 and 2/3 of the way: x = L·t, y = 3h·t(1−t), area L·h/2.
    cubic = outline_of('<path d="M0 500C100 400 200 400 300 500Z"/>')
    assert cubic.area_mm2 == pytest.approx(300 * 100 / 2, rel=SHARE)
    # Quadratic with its control h above the middle: a parabola, area 2/3 · L · h/2 (Archimedes).
    quadratic = outline_of('<path d="M0 500Q150 400 300 500Z"/>')
    assert quadratic.area_mm2 == pytest.approx(2 / 3 * 300 * 50, rel=SHARE)
    # The smooth commands mirror the last control point: an S-curve, as much above as below, closed by a box.
    for d in ("M0 500Q75 400 150 500T300 500V900H0Z", "M0 500C50 400 100 400 150 500S250 600 300 500V900H0Z"):
        assert outline_of(f'<path d="{d}"/>').area_mm2 == pytest.approx(300 * 400, rel=SHARE)


NUMBERS = st.integers(-300, 300)
COMMANDS = st.one_of(
    st.tuples(st.sampled_from("LlTt"), st.tuples(NUMBERS, NUMBERS)),
    st.tuples(st.sampled_from("HhVv"), st.tuples(NUMBERS)),
    st.tuples(st.sampled_from("QqSs"), st.tuples(NUMBERS, NUMBERS, NUMBERS, NUMBERS)),
    st.tuples(st.sampled_from("Cc"), st.tuples(NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)),
    st.tuples(
        st.sampled_from("Aa"),
        st.tuples(
            st.integers(20, 200),
            st.integers(20, 200),
            st.integers(-90, 90),
            st.integers(0, 1),
            st.integers(0, 1),
            NUMBERS,
            NUMBERS,
        ),
    ),
)


@settings(max_examples=20, deadline=None)
@given(st.lists(COMMANDS, min_size=1, max_size=6))
def test_any_path_as_an_independent_reader_draws_it(commands: list[tuple[str, tuple[int, ...]]]):
    """Every command against svgelements: its curve lies on our chords, and ends where they do.

    Left out: a smooth command after a curve of the other kind, where svgelements mirrors the control point all the
    same; SVG 2, 9.3.6 and 9.3.7, says not to (next test).
    """
    letters = "M" + "".join(letter.upper() for letter, _ in commands)
    assume(not any(pair in letters for pair in ("QS", "TS", "CT", "ST")))
    d = "M10 20" + "".join(letter + " ".join(map(str, numbers)) for letter, numbers in commands)
    trails = shape_trails("path", {"d": d})
    assume(trails)
    points = flat_points(trails[0], IDENTITY)
    ends = [(segment.end.x, segment.end.y) for segment in svgelements.Path(d)[1:]]
    assert points[-1] == pytest.approx(ends[-1], abs=1e-6)
    theirs = [
        (at.x, at.y)
        for segment in svgelements.Path(d)[1:]
        for at in (segment.point(i / 40) for i in range(41))
    ]
    if len(points) > 1 and LineString(points).length > 0:
        assert MultiPoint(theirs).distance(LineString(points)) <= 0.2
        assert max(LineString(points).distance(one) for one in MultiPoint(theirs).geoms) <= 0.2


@pytest.mark.parametrize(
    ("smooth", "plain"),
    [
        ("M0 0Q50 50 100 0S200 50 200 0", "M0 0Q50 50 100 0C100 0 200 50 200 0"),
        ("M0 0C0 50 100 50 100 0T200 0", "M0 0C0 50 100 50 100 0Q100 0 200 0"),
        ("M0 0H100S200 50 200 0", "M0 0H100C100 0 200 50 200 0"),
        ("M0 0H100T200 50", "M0 0H100L200 50"),
    ],
)
def test_smooth_commands_after_another_kind(smooth: str, plain: str):
    """SVG 2, 9.3.6 and 9.3.7: without a curve of the same kind before, the control point is the current point."""
    ours, theirs = (flat_points(shape_trails("path", {"d": d})[0], IDENTITY) for d in (smooth, plain))
    assert LineString(ours).hausdorff_distance(LineString(theirs)) < 0.1


def test_a_drawing_by_reportlab():
    """reportlab's SVG renderer: it writes points of 1/72 in, turns y round with a transform, and nests groups."""
    sheet = Drawing(500, 500)
    front = Polygon([0, 0, 300, 0, 300, 200, 150, 280, 0, 200])
    layer = Group(front, transform=(0, 1, -1, 0, 400, 20))
    sheet.add(layer)
    content = renderSVG.drawToString(sheet).encode()
    sizes = [piece.outline.area_mm2 for piece in read_svg(content, name="front.svg", units="mm").pieces]
    assert max(sizes) == pytest.approx(300 * 200 + 300 * 80 / 2, rel=SHARE)
    curved = Drawing(500, 500)
    curved.add(Circle(250, 250, 200))
    curved.add(Rect(0, 0, 40, 30))
    content = renderSVG.drawToString(curved).encode()
    found = [piece.outline.area_mm2 for piece in read_svg(content, name="yoke.svg", units="mm").pieces]
    assert max(found) == pytest.approx(math.pi * 200**2, rel=SHARE)
    assert any(area == pytest.approx(1200.0, rel=SHARE) for area in found)


def test_a_drawing_by_ezdxf():
    """ezdxf's SVG backend: a view box of a million units on a page in mm."""
    doc = ezdxf.new()
    space = doc.modelspace()
    points = [(0, 0), (300, 0), (300, 200), (150, 280), (0, 200)]
    space.add_lwpolyline(points, close=True)
    backend = SVGBackend()
    Frontend(RenderContext(doc), backend).draw_layout(space)
    page = layout.Page(400, 400, layout.Units.mm, margins=layout.Margins.all(0))
    content = backend.get_string(page, settings=layout.Settings(fit_page=False, scale=1)).encode()
    pattern = read_svg(content, name="front.svg")
    # The backend paints the page first; that is no piece.
    assert [piece.outline.area_mm2 for piece in pattern.pieces] == [
        pytest.approx(Ground(points).area, rel=SHARE)
    ]
    assert "page" in {finding.kind for finding in pattern.findings}


def test_the_same_file_read_by_svgelements():
    """Groups, transforms and units of a whole file, against svgelements at 25.4 px to the inch, that is in mm."""
    content = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="50cm" height="40cm" viewBox="100 50 1000 800">'
        b'<g transform="translate(150 100) rotate(12)"><g transform="skewX(10) scale(.5 .75)">'
        b'<path id="cuff" d="m100,100 400-20q50 100 0 250l-380 10c-30-80 40-100-20-240z"/></g></g></svg>'
    )
    (piece,) = read_svg(content, name="cuff.svg").pieces
    sheet = svgelements.SVG.parse(io.BytesIO(content), ppi=25.4)
    (path,) = [shape for shape in sheet.elements() if isinstance(shape, svgelements.Path)]
    theirs = Ground(
        [(p.x, p.y) for segment in path[1:] for p in (segment.point(i / 200) for i in range(200))]
    )
    assert piece.outline.area_mm2 == pytest.approx(theirs.area, rel=SHARE)
    assert piece.outline.perimeter_mm == pytest.approx(theirs.length, rel=SHARE)
