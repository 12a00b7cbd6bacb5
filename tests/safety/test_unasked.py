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


def steps(unasked, *looks, above=OVER_C, from_ms=0):
    """Look at the shorter scale's pace; return what each look says."""
    every_ms = SCALES[0][0]
    return [unasked.look(temps, above, from_ms + every_ms * n) for n, temps in enumerate(looks)]


def test_each_place_is_followed_by_itself():
    looks = [{1: 50.0, 2: 72.0 + n} for n in range(7)]
    found = steps(Unasked(), *looks, above={1: 71.0, 2: 71.0})
    assert (found[-1].channel, found[-1].from_c, found[-1].to_c) == (2, 72.0, 78.0)


@pytest.mark.parametrize(("step_k", "told"), [(0.25, True), (0.24, False)])
def test_the_whole_climb_counts_from_its_first_look_to_its_last(step_k, told):
    # Six steps: 1.5 K, which is just enough.
    found = steps(Unasked(), *({1: 72.0 + step_k * n} for n in range(7)))
    assert not any(found[:-1])
    assert bool(found[-1]) is told


def test_only_the_last_looks_count_and_each_of_them_has_to_be_upward():
    # It stands still first and is told once six steps running have been upward; from where those began.
    rise = [72.0] * 5 + [72.0 + n for n in range(1, 7)]
    found = steps(Unasked(), *({1: c} for c in rise))
    assert not any(found[:-1])
    assert (found[-1].from_c, found[-1].to_c) == (72.0, 78.0)
    slow = [72.0 + 0.24 * n for n in range(20)]
    assert not any(steps(Unasked(), *({1: c} for c in slow))), "with one look more it would be enough"


def test_what_comes_to_its_ceiling_and_no_further_and_what_has_none_is_not_told():
    climb = [{1: 65.0 + n} for n in range(7)]
    assert steps(Unasked(), *climb, above={1: 71.0})[-1] is None
    assert steps(Unasked(), *climb, above={1: 70.9})[-1] is not None
    assert steps(Unasked(), *climb, above={2: 20.0})[-1] is None


def test_the_time_without_orders_is_told_from_the_first_look_or_the_last_lease():
    late = 7_000_000
    found = steps(Unasked(), *({1: 72.0 + n} for n in range(7)), from_ms=late)[-1]
    assert (found.lasted_s, found.quiet_s) == (180.0, 180.0)
    unasked = Unasked()
    unasked.ordered(late)
    assert not any(steps(unasked, *({1: 72.0 + n} for n in range(6)), from_ms=late)), (
        "its heat may still come"
    )
    found = steps(unasked, *({1: 78.0 + n} for n in range(7)), from_ms=late + QUIET_MS)[-1]
    assert (found.from_c, found.to_c, found.quiet_s) == (78.0, 84.0, (QUIET_MS + 180_000) / 1000)


def test_what_falls_at_once_falls_from_where_it_was_told():
    unasked = Unasked()
    told = steps(unasked, *({1: 72.0 + n} for n in range(7)))[-1]
    assert told.to_c == 78.0
    assert unasked.look({1: 78.0 - BACK_K}, OVER_C, 10**6) is None


@pytest.mark.parametrize(("leased", "after_ms", "rests"), [
    (False, 0, False), (True, 0, True), (True, QUIET_MS - 1, True), (True, QUIET_MS, False),
])  # fmt: skip
def test_only_soon_after_a_lease_a_look_could_show_nothing(leased, after_ms, rests):
    unasked = Unasked()
    assert not unasked.resting(0), "before all looks"
    unasked.look({1: 60.0}, OVER_C, 5_000_000)
    if leased:
        unasked.ordered(5_000_000)
    assert unasked.resting(5_000_000 + after_ms) is rests


def test_what_stands_is_looked_at_though_leases_come_again():
    unasked = Unasked()
    steps(unasked, *({1: 72.0 + n} for n in range(7)))
    unasked.ordered(200_000)
    assert not unasked.resting(201_000)
