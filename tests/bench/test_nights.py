"""A few short nights of `holdsim.bench.nights`: the rest of its table is the command's and stands in docs/plan.md."""

from holdctl.plan.night import foretell
from holdsim.bench.nights import _line, compare, planned, taught

NEAR, NEAR_K = 0.10, 1.5
"""The forecast's goal: time to the range, and coldest and hottest paste on the way."""


SURE_S = 300


def _extremes_are_near(row):
    for foretold, came in (row.coldest_c, row.hottest_c):
        assert abs(foretold - came) <= NEAR_K


def test_what_a_night_has_identified_tells_how_slowly_the_next_one_falls():
    """Nobody tells a kettle's loss to the room: the first forecast of its fall is a wide range, the second is near."""
    early, expected, late = foretell(planned("stirred-kettle", 70.0)).band_s
    known = taught("stirred-kettle", 3600)
    row = compare(planned("stirred-kettle", 70.0, known=known), "stirred-kettle", "learned", SURE_S)
    assert abs(row.off) <= NEAR
    _extremes_are_near(row)
    assert early <= row.came_s <= 1.05 * late
    first, again, last = row.foretold_s
    assert (last - first) / again < 0.5 * (late - early) / expected
    assert "| stirred-kettle | 70 | learned |" in _line(row)


def test_a_baker_who_stirs_a_hot_mix_down_as_planned_brings_it_into_range_in_minutes():
    night = planned("lamp-box", 74.0, stirred=True)
    assert night.baker.down_to_c == 66.0
    row = compare(night, "lamp-box", "stirred", SURE_S)
    alone = planned("lamp-box", 74.0)
    assert row.came_s < 600.0 < alone.runner(alone.warmer().model()).run().band_s
    assert row.foretold_s[0] <= row.came_s <= row.foretold_s[2]
    _extremes_are_near(row)
