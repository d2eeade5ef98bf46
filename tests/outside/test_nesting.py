"""Nesting against instances and records that others published."""

import pytest

from planner.core.lays.model import ItemToLay, MarkerJob
from planner.core.lays.nest import nest
from planner.core.lays.solver import Spot, arrangements, hunted
from planner.core.outline import make_outline
from tests.outside import esicup

pytestmark = pytest.mark.usefixtures("compiled_search")
beside = pytest.mark.skipif(
    not esicup.FOLDER.exists(), reason="the ESICUP instances are not beside this project"
)


@beside
@pytest.mark.slow
@pytest.mark.parametrize("name", ["albano", "marques"])
def test_five_seconds_come_within_a_tenth_of_the_shortest_strip_published(name):
    """ESICUP instance against the record in arXiv:2509.13329; overlap judged by shapely."""
    instance = esicup.read(name)
    *_, last = arrangements(instance.strip, seconds=5, seed=1)
    length = esicup.length_of(instance, last)
    assert length <= 1.10 * esicup.SHORTEST[name]
    # Lower bound of any lay: area / width.
    assert length >= instance.area / instance.strip.height


@beside
@pytest.mark.slow
@pytest.mark.parametrize("name", ["dagli", "mao"])
def test_our_own_search_comes_as_near_from_nothing(name):
    """ESICUP instances against the records in arXiv:2509.13329, one turned by halves and one by quarters."""
    instance = esicup.read(name)
    lengths = [esicup.length_of(instance, a) for a in hunted(instance.strip, seconds=5, seed=1)]
    assert lengths == sorted(lengths, reverse=True)
    assert instance.area / instance.strip.height <= lengths[-1] <= 1.15 * esicup.SHORTEST[name]


@beside
@pytest.mark.slow
def test_the_whole_way_of_a_marker_does_as_well_with_a_hair_between_the_pieces():
    """The same albano instance (arXiv:2509.13329) as a marker in millimetres: width 4,900 as it is."""
    instance = esicup.read("albano")
    items = [
        ItemToLay("albano", f"part {n}", "M", copy + 1, False, True, make_outline(shape.points))
        for n, shape in enumerate(instance.strip.shapes)
        for copy in range(shape.demand)
    ]
    marker = nest(MarkerJob(instance.strip.height, False, 0.0, tuple(items)), seconds=5, seed=1)
    assert marker.length_mm <= 1.10 * esicup.SHORTEST["albano"]


@beside
def test_the_judge_of_these_tests_sees_an_overlap():
    instance = esicup.read("albano")
    heap = tuple(Spot(n, 0.0, 0.0, 0.0) for n, s in enumerate(instance.strip.shapes) for _ in range(s.demand))
    with pytest.raises(AssertionError):
        esicup.length_of(instance, heap)
