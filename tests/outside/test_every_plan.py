"""Whatever is asked, the plan passes the independent checker of plan files, which shares no code with this program."""

from __future__ import annotations

import importlib.util
import json
from argparse import Namespace
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from planner.core.lays import nestings, settle
from planner.core.lays.check import check_marker
from planner.core.lays.problems import CannotPlan
from planner.core.lays.rows import first_marker
from planner.core.lays.wishes import Wishes
from planner.core.planfile import plan_to_json
from planner.core.planning import plan_batch
from planner.core.rolls import RollThere
from planner.core.spec import ClothKey, Demand, Garment, make_options
from tests.core.makers import JERSEY, RIB, make_cloth, make_shop, make_tee

CHECKER = Path(__file__).resolve().parents[3] / "shared" / "tools" / "check_plan.py"
pytestmark = pytest.mark.skipif(not CHECKER.exists(), reason="the checking tool is not beside this project")
WHITE = ClothKey("jersey", "white")


@pytest.fixture(scope="module")
def check():
    """The checker's own function: faults and a summary of a plan file."""
    spec = importlib.util.spec_from_file_location("check_plan", CHECKER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return lambda plan: module.check(plan, Namespace(tolerance=0.1, piece_gap=1.9))[0]


@pytest.fixture
def quick(monkeypatch):
    """Plain rows in place of nesting, and little time to plan in: both must hold whatever comes out."""

    def rows(job, **_):
        marker = first_marker(job)
        assert check_marker(job, marker.placements) == []
        return marker

    monkeypatch.setattr(nestings, "nest_ruled", rows)
    monkeypatch.setattr(settle, "PLAN_SECONDS", 0.3)


demands = st.lists(
    st.builds(
        lambda q, size, neck, style, colour, extra: Demand(
            Garment(style, make_options({"neck": neck}), colour, size), q, extra
        ),
        st.integers(1, 9),
        st.sampled_from(["S", "M", "L"]),
        st.sampled_from(["rib band", "self band"]),
        st.sampled_from(["1", "2"]),
        st.sampled_from(["ink", "pale"]),
        st.sampled_from([0, 0, 1, 3]),
    ),
    min_size=1,
    max_size=7,
)
modes = st.lists(st.sampled_from(["open", "face_to_face", "folded"]), min_size=1, max_size=3, unique=True)


def a_shop(jersey_modes, table_mm, plies, *, one_way, striped, together):
    """Two tops in two colours of one jersey, with the same rib."""
    ways = make_tee().colourways["ink"]
    colourways = {"ink": ways, "pale": replace(ways, name="pale", cloths={"body": WHITE, "rib": RIB})}
    jersey = make_cloth(
        modes=tuple(jersey_modes),
        one_way=one_way,
        end_allowance_mm=20.0,
        repeat_length_mm=40.0 if striped else 0.0,
        damage_share=0.02,
        shades=together,
    )
    tees = [make_tee(number, colourways=colourways) for number in ("1", "2")]
    if striped:
        seams = [tuple(replace(s, match=s.name == "side") for s in tee.seams) for tee in tees]
        tees = [replace(tee, seams=own) for tee, own in zip(tees, seams, strict=True)]
    if together:
        tees[0] = replace(
            tees[0],
            pieces=tuple(
                replace(p, beside="body") if p.name in ("front", "back") else p for p in tees[0].pieces
            ),
        )
    shop = make_shop(*tees, jersey=jersey, table_length_mm=table_mm, most_plies=plies, bundle_size=4)
    cloths = {**shop.cloths, WHITE: replace(shop.cloths[JERSEY], key=WHITE)}
    return replace(shop, cloths=cloths)


@pytest.mark.slow
@pytest.mark.usefixtures("quick")
@settings(max_examples=7, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    demand=demands,
    jersey_modes=modes,
    table_mm=st.sampled_from([1900.0, 3000.0, 8000.0]),
    plies=st.integers(1, 6),
    one_way=st.booleans(),
    striped=st.sampled_from([False, False, True]),
    together=st.sampled_from([False, False, True]),
    aim=st.sampled_from(["money", "money", "fewest_lays", "least_cloth"]),
    pieces_mm=st.sampled_from([[], [1000.0] * 6, [1600.0] * 6, [3500.0] * 4, [3500.0, 1600.0, 1000.0]]),
)
def test_the_checker_finds_no_fault(
    check, demand, jersey_modes, table_mm, plies, one_way, striped, together, aim, pieces_mm
):
    shop = a_shop(jersey_modes, table_mm, plies, one_way=one_way, striped=striped, together=together)
    try:
        plan = plan_batch(
            demand, shop, batch="B-1", seconds=1, wishes={"jersey": Wishes(aim=aim)}, stock={
                cloth: tuple(RollThere(f"{n}", length_mm) for n, length_mm in enumerate(pieces_mm))
                for cloth in (JERSEY, WHITE)
            },
        )  # fmt: skip
    except CannotPlan:
        # Only paired layers can be asked for what they cannot cut: odd numbers, one layer, half the width.
        if "open" in jersey_modes:
            raise
        event("refused")
        return
    stock = plan.facts["jersey"].stock
    event("planned from stock" if stock is not None and stock.is_aim else "planned")
    assert check(json.loads(json.dumps(plan_to_json(plan)))) == []
    ordered = sum(row.quantity for row in demand)
    assert (
        ordered
        <= sum(row.quantity for row in plan.demand)
        <= ordered + sum(row.extra_allowed for row in demand)
    )
    for lay in plan.lays:
        layers = lay.planned.spreads * (1 if lay.planned.mode == "open" else 2)
        assert layers <= plies
        assert lay.ply_mm <= table_mm + 0.001
