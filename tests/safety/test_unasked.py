"""A place that gets hotter and hotter though nobody orders heat, from readings made by hand."""

import pytest

from holdctl.safety.unasked import BACK_K, QUIET_MS, SCALES, Unasked

SHORT_S = SCALES[0][0] * SCALES[0][1] // 1000
LONG_S = SCALES[1][0] * SCALES[1][1] // 1000
OVER_C = {1: 71.0}


def follow(unasked, curve, seconds, from_s=0):
    """Look once a second at what `curve` says of probe 1; return what was found last and the second of the first."""
    first, found = None, None
    for second in range(from_s, from_s + seconds):
        found = unasked.look({1: curve(second)}, OVER_C, 1000 * second)
        first = second if first is None and found else first
    return found, first


@pytest.mark.parametrize(("k_per_min", "within_s"), [(10.0, SHORT_S), (0.6, SHORT_S), (0.25, LONG_S)])
def test_what_climbs_from_the_begin_without_a_lease_is_told_within_its_looks(k_per_min, within_s):
    climb, first = follow(Unasked(), lambda s: 72.0 + k_per_min * s / 60, within_s + 1)
    assert first == within_s
    assert climb.channel == 1
    assert (climb.lasted_s, climb.quiet_s) == (within_s, within_s)
    assert (climb.from_c, climb.to_c) == (72.0, pytest.approx(72.0 + k_per_min * within_s / 60))


@pytest.mark.parametrize(
    "curve",
    [
        lambda s: 72.0 + 0.10 * s / 60,  # too slow for both
        lambda s: 72.0 + (8.0 if s > 100 else 0.0),  # a stir, or a spoon of hot water: one step
        lambda s: 90.0 - 0.5 * s / 60,  # hot paste that settles
        lambda s: 20.0 + min(50.5, s / 10),  # a cold wall that the paste warms up
        lambda s: 72.0 + (s % 120) / 10,  # up and down again
    ],
)
def test_a_step_a_fall_and_what_is_not_over_the_ceiling_are_no_climb(curve):
    assert follow(Unasked(), curve, 3 * LONG_S)[1] is None


def test_while_leases_come_nothing_is_heat_without_orders():
    unasked = Unasked()
    for second in range(2 * LONG_S):
        if second % 80 == 0:
            unasked.ordered(1000 * second)
        assert unasked.look({1: 72.0 + second / 60}, OVER_C, 1000 * second) is None


def test_after_the_last_lease_what_it_has_stored_may_come_for_three_minutes():
    unasked = Unasked()
    unasked.ordered(0)
    _, first = follow(unasked, lambda s: 72.0 + s / 60, 2 * LONG_S)
    assert first == QUIET_MS // 1000 + SHORT_S


def test_it_stands_until_it_has_fallen_from_its_peak_boiling_or_not():
    unasked = Unasked()
    climb, _ = follow(unasked, lambda s: min(100.0, 72.0 + s / 6), 1000)
    assert climb is not None, "paste that boils climbs no more, and is as hot as before"
    assert unasked.look({1: 100.0 - BACK_K + 0.1}, OVER_C, 1_000_000) is not None
    assert unasked.look({}, OVER_C, 1_001_000) is not None, "a probe that is out says nothing"
    assert unasked.look({1: 100.0 - BACK_K}, OVER_C, 1_002_000) is None


def test_a_gap_begins_anew():
    unasked = Unasked()
    follow(unasked, lambda s: 72.0 + s / 60, SHORT_S)
    unasked.forget()
    assert follow(unasked, lambda s: 72.0 + s / 60, SHORT_S, SHORT_S)[1] is None
    assert follow(unasked, lambda s: 72.0 + s / 60, 1, 2 * SHORT_S)[1] is not None
    unasked.forget()
    assert unasked.look({1: 99.0}, OVER_C, 10**6) is None
