"""The plan file, judged without the program's own eyes where the checking tool is at hand."""

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from planner.core.lays import nestings
from planner.core.lays.check import allowed_turns, check_marker, marker_from_placements, placed
from planner.core.lays.rows import first_marker
from planner.core.planfile import plan_to_json
from planner.core.planning import plan_batch
from tests.core.makers import make_cloth, make_shop, make_tee, wanted

CHECKER = Path(__file__).resolve().parents[3] / "shared" / "tools" / "check_plan.py"


def turned_rows(job, **_):
    """In place of nesting, which has its own tests: plain rows, in which every piece is turned that may be turned."""
    placements = []
    for item, lies in zip(job.items, _in_order(job), strict=True):
        x, y = (min(axis) for axis in zip(*lies.outline, strict=True))
        placements.append(placed(item, allowed_turns(job, item)[-1], x, y))
    marker = marker_from_placements(job, placements)
    assert check_marker(job, marker.placements) == []
    return marker


def _in_order(job):
    """The placements of plain rows in the order of the job's items."""
    lies = {(p.style, p.piece, p.garment_no, p.mirrored, p.size): p for p in first_marker(job).placements}
    assert len(lies) == len(job.items)
    return [lies[i.style, i.piece, i.garment_no, i.mirrored, i.size] for i in job.items]


def a_plan(one_way):
    jersey = make_cloth(
        end_allowance_mm=20,
        one_way=one_way,
        shrinkage_length=0.05,
        shrinkage_width=0.03,
        shrinkage_handling="wash_first" if one_way else "cut_larger",
        damage_share=0.02,
        in_stock_m=1.5,
    )
    shop = make_shop(make_tee("1"), make_tee("2"), jersey=jersey, table_length_mm=3500, bundle_size=3)
    demand = [
        wanted(2, "S"),
        wanted(7, "M"),
        wanted(1, "L", neck="self band"),
        wanted(1, "M", style="2"),
    ]
    return plan_batch(demand, shop, batch="B-0007")


@pytest.fixture(scope="module", params=[False, True], ids=["two-way", "one-way"])
def plan(request):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nestings, "nest_ruled", turned_rows)
        return a_plan(request.param)


@pytest.fixture
def data(plan):
    """As a reader gets it: through text."""
    return json.loads(json.dumps(plan_to_json(plan)))


@pytest.mark.skipif(not CHECKER.exists(), reason="the checking tool is not beside this project")
def test_the_independent_checker_finds_no_fault(data, tmp_path):
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    command = [sys.executable, str(CHECKER), str(path), "--piece-gap", "2"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert done.stdout.startswith("OK: 11 garments")
    # It would have found a fault.
    data["cloths"][0]["lays"][0]["placements"].pop()
    path.write_text(json.dumps(data), encoding="utf-8")
    assert subprocess.run(command, capture_output=True, check=False).returncode == 1


def test_the_fields_are_those_of_the_agreed_file(data):
    assert list(data) == ["schema", "batch", "demand", "cloths", "notions", "cutting_counts", "bundles"]
    assert (data["schema"], data["batch"]) == ("notchbook-plan/1", "B-0007")
    assert data["demand"][0] == {
        "style": "1",
        "options": {"neck": "rib band"},
        "colourway": "ink",
        "size": "S",
        "quantity": 2,
    }
    cloth, lay = data["cloths"][0], data["cloths"][0]["lays"][0]
    assert set(cloth) == {
        *("fabric", "colour", "usable_width_mm", "one_way", "lays"),
        *("lay_m", "need_m", "in_stock_m", "to_buy_m"),
    }
    assert set(lay) == {
        *("section", "mode", "spreads", "lay_width_mm", "marker_length_mm", "end_allowance_mm"),
        *("efficiency", "garments", "placements"),
    }
    assert set(lay["garments"][0]) == {"style", "options", "colourway", "size", "per_marker"}
    assert set(lay["placements"][0]) == {
        *("style", "piece", "size", "garment", "mirrored", "rotation_deg", "outline"),
    }
    assert set(data["notions"][0]) == {"notion", "colour", "unit", "need", "to_buy", "pack"}
    assert set(data["cutting_counts"][0]) == {
        *("style", "options", "colourway", "piece", "fabric", "colour", "size", "count"),
    }
    assert set(data["bundles"][0]) == {"number", "style", "options", "colourway", "size", "quantity", "lay"}


def test_lengths_and_sums_follow_from_the_outlines(data):
    for cloth in data["cloths"]:
        metres = 0.0
        for lay in cloth["lays"]:
            shapes = [Polygon(p["outline"]) for p in lay["placements"]]
            assert min(s.bounds[0] for s in shapes) == pytest.approx(0, abs=0.001)
            assert max(s.bounds[2] for s in shapes) == pytest.approx(lay["marker_length_mm"], abs=0.002)
            assert max(s.bounds[3] for s in shapes) <= lay["lay_width_mm"] + 0.001
            area = sum(s.area for s in shapes)
            whole = lay["lay_width_mm"] * lay["marker_length_mm"]
            assert lay["efficiency"] == pytest.approx(area / whole, abs=1e-4)
            metres += lay["spreads"] * (lay["marker_length_mm"] + 2 * lay["end_allowance_mm"]) / 1000
        assert cloth["lay_m"] == pytest.approx(metres, abs=0.002)
        assert cloth["need_m"] >= cloth["lay_m"]
        assert cloth["in_stock_m"] + cloth["to_buy_m"] >= cloth["need_m"] - 0.001


def test_pieces_cut_are_the_cutting_counts(data):
    cut, counted = Counter(), Counter()
    for cloth in data["cloths"]:
        for lay in cloth["lays"]:
            for p in lay["placements"]:
                cut[p["style"], p["piece"], cloth["fabric"], p["size"]] += lay["spreads"]
    for row in data["cutting_counts"]:
        counted[row["style"], row["piece"], row["fabric"], row["size"]] += row["count"]
    assert cut == counted


def test_bundles_hold_the_demand(data):
    bundled = sum(b["quantity"] for b in data["bundles"])
    assert bundled == sum(d["quantity"] for d in data["demand"]) == 11
    sections = {lay["section"] for cloth in data["cloths"] for lay in cloth["lays"]}
    assert {b["lay"] for b in data["bundles"]} <= sections


def test_one_way_cloth_turns_nothing(data):
    for cloth in data["cloths"]:
        turns = {p["rotation_deg"] for lay in cloth["lays"] for p in lay["placements"]}
        assert turns == ({0} if cloth["one_way"] else {180})
