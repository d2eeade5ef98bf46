"""Plies that must be of one lot: what a lot that is there in part still lacks."""

from planner.core.rolls import PliesShort, PliesWanted, RollThere, more_of_lots

TWO = PliesWanted("2", 2993.561, 2, one_lot=True)


def test_a_roll_that_gives_one_ply_of_two_leaves_one_ply_of_its_lot():
    """Old ends of 1.4 m give none; 3.5 m of lot B03 gives one of two plies of 2.99 m."""
    rolls = [RollThere("4", 1400.0, "B02", is_end=True), RollThere("12", 3500.0, "B03")]
    (more,) = more_of_lots([TWO], rolls)
    assert (more.wanted, more.shade_lot, more.given) == ("2", "B03", 1)
    assert more.missing == PliesShort("2", 1, 2993.561)


def test_two_lots_of_one_ply_each_do_not_add_up():
    """Not spread from both: one of them is named, and a ply of it is missing still."""
    (more,) = more_of_lots([TWO], [RollThere("1", 3500.0, "B03"), RollThere("2", 3100.0, "B04")])
    assert (more.given, more.missing.plies) == (1, 1)


def test_the_lot_that_gives_most_is_named():
    three = PliesWanted("2", 2000.0, 3)
    rolls = [RollThere("1", 2500.0, "A"), RollThere("2", 2500.0, "B"), RollThere("3", 2100.0, "B")]
    (more,) = more_of_lots([three], rolls)
    assert (more.shade_lot, more.given, more.missing.plies) == ("B", 2, 1)


def test_nothing_is_told_where_a_lot_gives_none_or_all_or_is_not_noted():
    assert not more_of_lots([TWO], [])
    assert not more_of_lots([TWO], [RollThere("1", 1400.0, "A")])
    assert not more_of_lots([TWO], [RollThere("1", 3500.0, "A"), RollThere("2", 3100.0, "A")])
    assert not more_of_lots([TWO], [RollThere("1", 3500.0)])
