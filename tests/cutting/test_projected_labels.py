"""Labels of projected pieces: inside their piece, or left out."""

from __future__ import annotations

from shapely import Polygon, box

from planner.common.drawing import draw_lay
from planner.cutting.projecting import LEAST_LABEL_MM, LETTER, LINE, Label, label_in

WIDTH = 600.0


def rectangle(x: float, y: float, long: float, wide: float) -> list[tuple[float, float]]:
    return [(x, y), (x + long, y), (x + long, y + wide), (x, y + wide)]


def labels_of(*pieces: tuple[str, list[tuple[float, float]]]) -> list[Label | None]:
    drawn = draw_lay(WIDTH, 1_000, pieces).pieces
    return [label_in(outline, WIDTH, one) for (_, outline), one in zip(pieces, drawn, strict=True)]


def room_of(label: Label) -> Polygon:
    half, high = LETTER * label.size_mm * len(label.text) / 2, LINE * label.size_mm / 2
    return box(label.x_mm - half, label.y_mm - high, label.x_mm + half, label.y_mm + high)


def test_a_large_piece_bears_its_whole_label() -> None:
    (label,) = labels_of(("back M", rectangle(0, 0, 700, 400)))
    assert label is not None
    assert label.text == "1 back M"
    assert label.size_mm > 20


def test_neighbouring_small_pieces_do_not_overprint_each_other() -> None:
    pieces = [("pocket bag XL (mirrored)", rectangle(62 * n, 0, 60, 60)) for n in range(6)]
    found = [label for label in labels_of(*pieces) if label]
    assert [label.text for label in found] == ["1", "2", "3", "4", "5", "6"]
    rooms = [room_of(label) for label in found]
    assert not any(a.intersects(b) for n, a in enumerate(rooms) for b in rooms[n + 1 :])


def test_a_long_label_shrinks_before_it_is_cut_to_the_number() -> None:
    (label,) = labels_of(("front facing L", rectangle(0, 0, 200, 90)))
    assert label is not None
    assert label.text == "1 front facing L"
    assert LEAST_LABEL_MM <= label.size_mm < 0.8 * 90 / 2


def test_what_could_not_be_read_is_left_out() -> None:
    assert labels_of(("tab S", rectangle(0, 0, 30, 6))) == [None]
