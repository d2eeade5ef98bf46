"""The open garment instances collected by ESICUP, where they lie beside this project."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from shapely import affinity
from shapely.geometry import Polygon

from planner.core.lays.solver import Arrangement, Shape, Strip

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "data" / "esicup"

#: Shortest strips published so far: J. Gardeyn, G. Vanden Berghe, T. Wauters, "An open-source heuristic to
#: reboot 2D nesting research", arXiv:2509.13329, its records folder.
SHORTEST = {
    "albano": 9692.056,
    "dagli": 56.087,
    "mao": 1696.802,
    "marques": 75.176,
    "shirts": 59.393,
    "swim": 5541.653,
    "trousers": 235.172,
}


@dataclass(frozen=True)
class Instance:
    """One instance in its own arbitrary unit."""

    name: str
    strip: Strip

    @property
    def area(self) -> float:
        """Area of all pieces."""
        return sum(Polygon(s.points).area * s.demand for s in self.strip.shapes)


def read(name: str) -> Instance:
    """The instance by its name."""
    data = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    shapes = []
    for item in data["items"]:
        ring = [(float(x), float(y)) for x, y in item["shape"]["data"]]
        if ring[0] == ring[-1]:
            ring.pop()
        shapes.append(Shape(tuple(ring), item["demand"], tuple(item["allowed_orientations"])))
    return Instance(name, Strip(float(data["strip_height"]), 0.0, tuple(shapes)))


def length_of(instance: Instance, arrangement: Arrangement) -> float:
    """The strip's length from the placed outlines, after judging them exactly with shapely.

    Asserts the demand, the allowed turns, that all lies on the strip and that nothing overlaps: pieces
    shrunk by a hundred-thousandth of the strip's height must be apart.
    """
    strip = instance.strip
    hair = strip.height * 1e-5
    counts = [0] * len(strip.shapes)
    placed = []
    for spot in arrangement:
        shape = strip.shapes[spot.shape]
        counts[spot.shape] += 1
        assert any(abs((spot.rotation_deg - turn + 180) % 360 - 180) < 1e-4 for turn in shape.turns), spot
        turned = affinity.rotate(Polygon(shape.points), spot.rotation_deg, origin=(0, 0))
        placed.append(affinity.translate(turned, spot.dx, spot.dy))
    assert counts == [s.demand for s in strip.shapes]
    assert_apart(p.buffer(-hair) for p in placed)
    assert min(p.bounds[1] for p in placed) >= -hair
    assert max(p.bounds[3] for p in placed) <= strip.height + hair
    return max(p.bounds[2] for p in placed) - min(p.bounds[0] for p in placed)


def assert_apart(shapes: Iterable[Polygon]) -> None:
    """No two of them share any area."""
    before: list[Polygon] = []
    for shape in shapes:
        assert not any(shape.intersects(other) for other in before)
        before.append(shape)
