"""Straight edges cut in two: a length along them, or at a notch; what a dropped shoulder needs."""

import html
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.edge_cuts import with_points
from planner.core.notions.along import sewn_edge_mm
from planner.core.outline import Edge, Outline, OutlineError, outline_from_json, rectangle, unfold
from planner.core.pattern_files.model import Marks, Notch
from planner.core.propose_seams import propose_seams
from planner.core.spec import StyleSpec
from planner.styles.edge_words import lengths_each_mm
from planner.styles.models import Piece, SeamEdge, Style
from planner.styles.specs import style_specs
from tests import factories as make

pytestmark = pytest.mark.django_db


def boxy(step: int) -> Outline:
    """A front whose side runs straight from the hem to a dropped shoulder: 610, 630 and 650 mm in S, M and L."""
    long, half = 630 + 20 * step, 280 + 10 * step
    points = [(0, 0), (0, half), (long, half), (long + 20, 90), (long - 10, 40), (long - 60, 0)]
    named = [Edge("hem", 0), Edge("side", 1), Edge("shoulder", 2), Edge("neckline", 3)]
    return unfold([(float(x), float(y)) for x, y in points], named)


@pytest.fixture
def style() -> Style:
    """Its front is boxy, both sides called "side", in a seam of that name; it has a notch 210 mm below each shoulder.

    In S the notches are a little nearer to it; in L there are none.
    """
    style = make.make_style("110", sizes="S M L")
    front = style.pieces.get(name="front")
    for row in front.outlines.select_related("size"):
        step = "SML".index(row.size.name) - 1
        shape = boxy(step)
        half = shape.width_mm / 2
        at = 630 + 20 * step - (210 + 5 * step)
        notches = tuple(Notch(at, y) for y in (half, -half)) if step < 1 else ()
        row.shape, row.marks = shape.as_json(), Marks(notches=notches).as_json()
        row.save()
    SeamEdge.objects.filter(piece=front).delete()
    SeamEdge.objects.create(seam=style.seams.get(name="side"), piece=front, edge="side", side=1, takes=2)
    return style


@pytest.fixture
def front(style: Style) -> Piece:
    return style.pieces.get(name="front")


def shapes(piece: Piece) -> dict[str, Outline]:
    return {row.size.name: outline_from_json(row.shape) for row in piece.outlines.select_related("size")}


def lengths(piece: Piece, name: str) -> dict[str, list[float]]:
    """The lengths of the edges of a name in every size, each edge by itself."""
    return {
        size: [round(mm, 1) for mm in lengths_each_mm(shape).get(name, ())]
        for size, shape in shapes(piece).items()
    }


def sent(client: Client, piece: Piece, **changes: str) -> tuple[int, str]:
    address = reverse("piece-edges", args=["110", piece.pk])
    form = client.get(address).context["form"]
    data = {name: form[name].value() or "" for name in form.fields if not name.startswith("join")}
    answer = client.post(address, data | {"version": form.version} | changes, follow=True)
    return answer.status_code, html.unescape(answer.content.decode()).replace("\u2009", " ")


def sides(piece: Piece) -> tuple[int, int]:
    """The numbers of the right side, which runs up, and of the left, which runs down."""
    shape = shapes(piece)["M"]
    up, down = (i for i, edge in enumerate(shape.edges) if edge.name == "side")
    assert shape.edge_path(up)[0][0] == shape.edge_path(down)[-1][0] == 0
    return up, down


def test_the_armhole_of_a_dropped_shoulder_is_cut_from_both_sides(
    maker_client: Client, style: Style, front: Piece
) -> None:
    up, down = sides(front)
    area = {size: shape.area_mm2 for size, shape in shapes(front).items()}
    cuts = {f"cut_{up}": "end", f"cut_{down}": "start"}
    cuts |= {f"{what}_{i}": words for i in (up, down) for what, words in (("far", "22"), ("step", "0.6"))}
    status, page = sent(maker_client, front, **cuts)
    assert status == 200
    assert "The seam side still joins both parts: take one out where it is sewn elsewhere." in page
    # Left and right are named alike, though one runs up and the other down.
    assert lengths(front, "side 2") == {"S": [214, 214], "M": [220, 220], "L": [226, 226]}
    assert lengths(front, "side") == {"S": [396, 396], "M": [410, 410], "L": [424, 424]}
    assert {size: shape.area_mm2 for size, shape in shapes(front).items()} == pytest.approx(area, abs=1.0)
    side = style.seams.get(name="side")
    rows = side.edges.filter(piece=front).values_list("edge", "takes")
    assert sorted(rows) == [("side", 2), ("side 2", 2)]
    # Named as is suggested it is an armhole, with an allowance of its own; seams are as long as before.
    status, page = sent(maker_client, front, take="all")
    names = {f"name_{i}": "armhole" for i, e in enumerate(shapes(front)["M"].edges) if e.name == "side 2"}
    assert page.count('value="armhole"') >= len(names) == 2
    deep = {name.replace("name", "allowance"): "12 mm" for name in names}
    assert sent(maker_client, front, **names, **deep)[0] == 200
    assert sorted(side.edges.filter(piece=front).values_list("edge", flat=True)) == ["armhole", "side"]
    # What is proposed of it: sides and armholes apart, the sleeve set in all round.
    body = next(one for one in style_specs([style])["110"].pieces if one.name == "front")
    sewn = {size: sewn_edge_mm(shape, "armhole", body)[0] for size, shape in shapes(front).items()}
    heads = {
        size: rectangle(2 * mm, 200, ("sleeve head", "end", "sleeve hem", "end")) for size, mm in sewn.items()
    }
    plain = replace(body, name="sleeve", count=2, outlines=heads, allowance_mm=0, edge_allowances={})
    found = propose_seams(
        StyleSpec("1", "boxy", ("S", "M", "L"), "M", {}, (body, replace(body, name="back"), plain))
    )
    written = {
        one.seam.name: ({(ref.piece, ref.edge) for ref in one.seam.edges}, one.seam.times, one.sure)
        for one in found
    }
    both = [(name, edge) for name in ("front", "back") for edge in ("armhole",)]
    assert written["armhole"] == ({*both, ("sleeve", "sleeve head")}, 2, True)
    assert written["side"] == ({("front", "side"), ("back", "side")}, 2, True)


def test_an_edge_is_cut_at_its_notch_in_every_size_that_has_one(maker_client: Client, front: Piece) -> None:
    up, down = sides(front)
    status, page = sent(maker_client, front, **{f"cut_{up}": "notch 0", f"cut_{down}": "notch 0"})
    assert status == 200
    assert lengths(front, "side 2") == {"S": [205, 205], "M": [210, 210], "L": []}
    assert f"L: edge {up + 1} was not cut, because no notch lies in the same place." in page
    assert "L: nothing in it matches" in page, "sizes with other edges are told"


def test_slips_are_answered_at_their_fields(
    maker_client: Client, front: Piece, subtests: pytest.Subtests
) -> None:
    up, _ = sides(front)
    before = shapes(front)
    for changes, words in (
        ({f"cut_{up}": "end"}, "Type how far from the corner it is cut."),
        ({f"cut_{up}": "end", f"far_{up}": "80"}, "The edge is 63 cm long: cut it between its ends."),
        ({f"cut_{up}": "end", f"far_{up}": "0.1"}, "cut it between its ends"),
        ({f"far_{up}": "22"}, "Choose the corner this is measured from, or empty both boxes."),
        ({f"cut_{up}": "notch 7"}, "Please choose one of the list."),
        ({f"cut_{up}": "end", f"far_{up}": "22", f"join_{up}": "on"}, "Cut and join in two steps"),
    ):
        with subtests.test(words):
            status, page = sent(maker_client, front, **changes)
            assert (status, words in page) == (422, True)
            assert shapes(front) == before
    # In S the side is too short for what is told.
    far = {f"cut_{up}": "start", f"far_{up}": "62", f"step_{up}": "0"}
    assert (
        f"S: edge {up + 1} was not cut, because it is not that long." in sent(maker_client, front, **far)[1]
    )


def test_a_point_is_put_into_any_edge_of_a_ring_and_edges_stay() -> None:
    shape = boxy(0)
    for edge in range(len(shape.edges)):
        whole = shape.edge_lengths_mm()
        places = [(edge, 20.0), ((edge + 2) % len(shape.edges), 33.3)]
        more, points = with_points(shape, places)
        assert more.edge_lengths_mm() == pytest.approx(whole)
        for (at, far), point in zip(places, points, strict=True):
            path = more.edge_path(at)
            assert more.points[point] in path
            start = path.index(more.points[point])
            assert sum(map(_far, path[:start], path[1 : start + 1])) == pytest.approx(far)
        assert with_points(more, places) == (more, points), "a point that is there is taken"
    with pytest.raises(OutlineError, match="cannot be cut"):
        with_points(shape, [(0, 1e4)])


def _far(one: tuple[float, float], other: tuple[float, float]) -> float:
    return ((one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2) ** 0.5
