"""Jobs and markers as plain JSON data, and the key by which a marker once found is found again."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from planner.core.lays.check import check_marker, marker_from_placements, placed
from planner.core.lays.grow import canonical_ring, rounded_from
from planner.core.lays.model import How, ItemToLay, Marker, MarkerJob, MatchPoint, Placement
from planner.core.outline import Outline, outline_from_json


def job_to_json(job: MarkerJob) -> dict[str, Any]:
    """The job as plain data; outlines are rounded to 0.001 mm."""
    return {
        "lay_width_mm": job.lay_width_mm,
        "one_way": job.one_way,
        "gap_mm": job.gap_mm,
        "items": [
            {
                "style": item.style,
                "piece": item.piece,
                "size": item.size,
                "garment_no": item.garment_no,
                "mirrored": item.mirrored,
                "may_turn": item.may_turn,
                "outline": item.outline.as_json(),
                **_rules(item),
            }
            for item in job.items
        ],
        **{name: length for name, length in _repeats(job).items() if length},
    }


def _repeats(job: MarkerJob) -> dict[str, float]:
    return {"repeat_length_mm": job.repeat_length_mm, "repeat_width_mm": job.repeat_width_mm}


def _rules(item: ItemToLay) -> dict[str, Any]:
    """What only some items have; left out where they have not, so that most jobs stay short."""
    matches = [[point.name, round(point.x_mm, 3), round(point.y_mm, 3)] for point in item.matches]
    rules = {"twin_no": item.twin_no, "beside": item.beside, "matches": matches}
    return {name: rule for name, rule in rules.items() if rule}


def job_from_json(data: Mapping[str, Any], outlines: dict[Outline, Outline] | None = None) -> MarkerJob:
    """Reads what :func:`job_to_json` wrote. Raises KeyError where a field is missing.

    Jobs of one batch have the same outlines over and over: `outlines` met before are used again, and new ones added.
    """
    known = {} if outlines is None else outlines

    def shared(outline: Outline) -> Outline:
        return known.setdefault(outline, outline)

    items = tuple(
        ItemToLay(
            style=str(row["style"]),
            piece=str(row["piece"]),
            size=str(row["size"]),
            garment_no=int(row["garment_no"]),
            mirrored=bool(row["mirrored"]),
            may_turn=bool(row["may_turn"]),
            outline=shared(outline_from_json(row["outline"])),
            twin_no=int(row.get("twin_no", 0)),
            beside=str(row.get("beside", "")),
            matches=tuple(MatchPoint(str(n), float(x), float(y)) for n, x, y in row.get("matches", ())),
        )
        for row in data["items"]
    )
    return MarkerJob(
        float(data["lay_width_mm"]),
        bool(data["one_way"]),
        float(data["gap_mm"]),
        items,
        float(data.get("repeat_length_mm", 0.0)),
        float(data.get("repeat_width_mm", 0.0)),
    )


_HOWS: dict[str, How] = {"rows": "rows", "unsearched": "unsearched", "library": "library"}


def marker_to_json(marker: Marker) -> dict[str, Any]:
    """The marker as plain data; outlines are rounded to 0.001 mm."""
    return {
        "lay_width_mm": marker.lay_width_mm,
        "length_mm": marker.length_mm,
        "efficiency": marker.efficiency,
        "how": marker.how,
        "placements": [placement_to_json(placement) for placement in marker.placements],
    }


def placement_to_json(placement: Placement) -> dict[str, Any]:
    """One placed piece as plain data, named as in the plan file save for the garment's number."""
    return {
        "style": placement.style,
        "piece": placement.piece,
        "size": placement.size,
        "garment_no": placement.garment_no,
        "mirrored": placement.mirrored,
        "rotation_deg": placement.rotation_deg,
        "outline": [[round(x, 3), round(y, 3)] for x, y in placement.outline],
        **({"twin_no": placement.twin_no} if placement.twin_no else {}),
    }


def marker_from_json(data: Mapping[str, Any]) -> Marker:
    """Reads what :func:`marker_to_json` wrote. Raises KeyError where a field is missing."""
    placements = tuple(
        Placement(
            style=str(row["style"]),
            piece=str(row["piece"]),
            size=str(row["size"]),
            garment_no=int(row["garment_no"]),
            mirrored=bool(row["mirrored"]),
            rotation_deg=int(row["rotation_deg"]),
            outline=tuple((float(x), float(y)) for x, y in row["outline"]),
            twin_no=int(row.get("twin_no", 0)),
        )
        for row in data["placements"]
    )
    return Marker(
        float(data["lay_width_mm"]),
        float(data["length_mm"]),
        float(data["efficiency"]),
        placements,
        _HOWS.get(data.get("how", ""), "nested"),
    )


def marker_key(job: MarkerJob) -> str:
    """SHA-256 in hex of what is asked: outlines to 0.01 mm, width, gap, turns, and what must lie together.

    Names and the order of the items do not count, so the same garments ordered again ask the same question.
    """
    return key_of_parts(strip_of(job), parts_of(job.items))


def family_of(job: MarkerJob) -> str:
    """SHA-256 in hex of which pieces are asked for and how often, in whatever sizes, and how they may be turned.

    Markers of a family lie much alike: one is an example for the next (`examples.py`). Empty where pieces are bound
    together, for these are laid as one.
    """
    if any(_is_bound(item) for item in job.items):
        return ""
    pieces = sorted([item.style, item.piece, item.mirrored, item.may_turn] for item in job.items)
    return _hash(json.dumps([job.one_way, pieces]))


def strip_of(job: MarkerJob) -> str:
    """What a question says of the cloth, as text."""
    strip = [round(job.lay_width_mm, 2), job.one_way, round(job.gap_mm, 2)]
    repeats = [round(job.repeat_length_mm, 2), round(job.repeat_width_mm, 2)]
    return json.dumps([*strip, *repeats] if any(repeats) else strip)


def parts_of(items: Iterable[ItemToLay]) -> list[str]:
    """What a question says of its items: a hash for each that lies where it will, one for those bound together.

    The parts of two garments together are those of the one and those of the other, so that the key of a marker
    follows from its garments without looking at an outline again.
    """
    free: list[str] = []
    bound: dict[int, list[str]] = defaultdict(list)
    for item in items:
        if _is_bound(item):
            bound[item.garment_no].append(_hash(_question(item)))
        else:
            free.append(_free_part(item))
    return free + [_hash(json.dumps(sorted(parts))) for parts in bound.values()]


def key_of_parts(strip: str, parts: Iterable[str]) -> str:
    """The key of a question from :func:`strip_of` and :func:`parts_of`."""
    return _hash(json.dumps([strip, sorted(parts)]))


def marker_for(job: MarkerJob, found: Marker, found_for: MarkerJob) -> Marker | None:
    """A marker found for another job with the same key, with the names and numbers of this one.

    None where the jobs differ or the marker does not pass the check for this job.
    """
    if marker_key(job) != marker_key(found_for) or len(found.placements) != len(found_for.items):
        return None
    numbers = _same_garments(job, found_for)
    by_question: dict[tuple[int, str], list[ItemToLay]] = {}
    for item in sorted(job.items, key=lambda i: -i.garment_no):
        number = item.garment_no if _is_bound(item) else 0
        by_question.setdefault((number, _question(item)), []).append(item)
    old_items = {(i.style, i.piece, i.size, i.garment_no, i.mirrored): i for i in found_for.items}
    placements = []
    for old in sorted(found.placements, key=lambda p: min(p.outline)):
        asked = old_items.get((old.style, old.piece, old.size, old.garment_no, old.mirrored))
        if asked is None:
            return None
        number = numbers.get(old.garment_no, 0) if _is_bound(asked) else 0
        waiting = by_question.get((number, _question(asked)))
        if not waiting:
            return None
        x, y = min(x for x, _ in old.outline), min(y for _, y in old.outline)
        placements.append(placed(waiting.pop(), old.rotation_deg, x, y))
    if check_marker(job, placements):
        return None
    return replace(marker_from_placements(job, placements), how=found.how)


def _is_bound(item: ItemToLay) -> bool:
    """Whether it matters of which garment the piece is, for others of that garment must lie beside it or match it."""
    return bool(item.beside or item.matches)


def _same_garments(job: MarkerJob, other: MarkerJob) -> dict[int, int]:
    """Which garment of `job` has the same bound items as a garment of `other`, by number."""

    def by_garment(one: MarkerJob) -> list[tuple[list[str], int]]:
        gathered: dict[int, list[str]] = defaultdict(list)
        for item in one.items:
            if _is_bound(item):
                gathered[item.garment_no].append(_question(item))
        return sorted((sorted(questions), number) for number, questions in gathered.items())

    return {old: new for (_, old), (_, new) in zip(by_garment(other), by_garment(job), strict=False)}


def _question(item: ItemToLay) -> str:
    rest: list[object] = [item.may_turn]
    if _is_bound(item):
        x0, y0 = _corner(item)
        points = [[m.name, rounded_from(x0, m.x_mm), rounded_from(y0, m.y_mm)] for m in item.matches]
        rest += [item.beside, points]
    return f"[{_ring_of(item.outline)}, {json.dumps(rest)[1:-1]}]"


def _free_part(item: ItemToLay) -> str:
    """The part of one that is not bound, kept with its outline as its ring is."""
    kept: dict[bool, str] = item.outline.__dict__.setdefault("_free_parts", {})
    if item.may_turn not in kept:
        kept[item.may_turn] = _hash(_question(item))
    return kept[item.may_turn]


def _ring_of(outline: Outline) -> str:
    """Its canonical ring as text; reckoned once, for planning asks for the same outlines hundreds of times."""
    kept = outline.__dict__  # where its cached properties are kept too
    if "_ring" not in kept:
        kept["_ring"] = json.dumps(canonical_ring(outline.points))
    ring: str = kept["_ring"]
    return ring


def _corner(item: ItemToLay) -> tuple[float, float]:
    points = item.outline.points
    return min(x for x, _ in points), min(y for _, y in points)


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
