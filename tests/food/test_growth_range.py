"""Growth by layer and as a range over the published fits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.food.curves import segments
from holdctl.food.growth import exposure, log_count
from holdctl.food.growth_range import growth_range
from holdctl.food.layers import NAMES, Layer, fastest_c, ranked
from holdctl.food.organisms import Organism, sets_of
from holdctl.food.rates import optimum

T = np.arange(0, 12 * 3600, 60.0)
CEREUS = Organism.BACILLUS_CEREUS


def cooling(half_time_min):
    return 5 + 60 * np.exp2(-T / 60 / half_time_min)


def test_five_layers_lie_evenly_between_coldest_and_hottest():
    layers = ranked(np.array([60.0, np.nan]), np.array([68.0, 70.0]))
    assert [layer.name for layer in layers] == list(NAMES)
    assert [layer.temp_c[0] for layer in layers] == [60, 62, 64, 66, 68]
    assert all(np.isnan(layer.temp_c[1]) for layer in layers)


def test_in_a_cooling_the_hottest_layer_grows_most():
    """It stays longest near 39 °C."""
    found = growth_range(CEREUS, T, ranked(cooling(60), cooling(120)))
    assert found.layer == "hottest"
    assert {grown.layer for grown in found.sets} == {"hottest"}


def test_in_paste_held_between_the_limits_the_middle_may_grow_most():
    cold, hot = np.full(len(T), 12.0), np.full(len(T), 62.0)
    assert growth_range(CEREUS, T, ranked(cold, hot)).layer == "middle"


def test_the_range_runs_over_all_sets_that_count_with_and_without_their_lag():
    found = growth_range(CEREUS, T, ranked(cooling(90), cooling(120)))
    assert {grown.fit for grown in found.sets} == set(sets_of(CEREUS))
    values = [v for g in found.sets for v in (g.with_lag_log, g.without_lag_log) if v is not None]
    assert (found.least_log, found.most_log) == (min(values), max(values))
    assert found.least_log < found.most_log <= found.any_part_log


def test_a_set_without_a_published_lag_is_given_without_one_only():
    found = growth_range(Organism.CLOSTRIDIUM_PERFRINGENS, T, ranked(cooling(90), cooling(120)))
    assert {g.fit.id for g in found.sets if g.with_lag_log is None} >= {"cp-roast-chicken", "cp-braised-beef"}
    assert "upper bound" in found.upper_bound


@given(st.floats(0, 1), st.floats(0, 1), st.integers(0, 11), st.sampled_from(sets_of(CEREUS)))
@settings(max_examples=60, deadline=None)
def test_no_part_exceeds_the_bound_wherever_it_moves(before, after, hour, one):
    """Even one that is near the coldest first and near the hottest later, as a core is."""
    cold, hot = cooling(60) + 3 * np.sin(T / 2000), cooling(120) + 4
    share = np.where(hour * 3600 > T, before, after)
    wandering = exposure(one, segments(T, cold + share * (hot - cold))).recorded
    bound = exposure(one, segments(T, fastest_c(optimum(one)[0], cold, hot))).recorded
    assert wandering <= bound + 1e-3


def test_an_unrecorded_hour_is_in_the_bound_and_not_in_the_range():
    hours = np.array([0.0, 10.0, 3610.0, 3620.0])
    layers = ranked(np.full(4, 62.0), np.full(4, 66.0))
    found = growth_range(CEREUS, hours, layers, gap_s=10.0)
    assert (found.least_log, found.most_log, found.unrecorded_s) == (0.0, 0.0, 3600.0)
    fastest = max(optimum(one)[1] for one in sets_of(CEREUS))
    assert found.any_part_log == pytest.approx(log_count(fastest, 0.0) - 2.0)


def test_toxin_is_told_of_bacillus_cereus_only():
    t = np.arange(0, 20 * 3600, 60.0)
    layers = [Layer("middle", np.full(len(t), 25.0))]
    assert growth_range(CEREUS, t, layers).emetic is not None
    assert growth_range(Organism.STAPHYLOCOCCUS_AUREUS, t, layers).emetic is None


def test_growth_without_a_layer_is_refused():
    with pytest.raises(ValueError, match="at least one layer"):
        growth_range(CEREUS, T, [])
