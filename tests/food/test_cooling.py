"""Two-stage cooling: the clock, its traps, and Newton-cooling cases.

FDA Food Code 2022, 3-501.14(A): 57 → 21 °C within 2 h, 57 → 5 °C within a total of 6 h. Times of the Newton cases are
closed forms, t = τ ln((57 − T∞)/(T − T∞)) with τ = half-time / ln 2. Australia and New Zealand, Standard 3.2.2 clause
7(3): 60 → 21 °C in 2 h, 21 → 5 °C in 4 h more.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.food.cooling import CoolingWatch, Standing, judge

MIN, HOUR = 60.0, 3600.0


@dataclass(frozen=True)
class Row:
    clock_from_c: float
    to_c: float
    within_s: float


FDA = (Row(57.0, 21.0, 2 * HOUR), Row(57.0, 5.0, 6 * HOUR))
ANZ = (Row(60.0, 21.0, 2 * HOUR), Row(21.0, 5.0, 4 * HOUR))
MET, MISSED, RUNNING = Standing.MET, Standing.MISSED, Standing.RUNNING


def newton(half_min, ambient_c, start_c=65.0):
    return lambda t_s: ambient_c + (start_c - ambient_c) * exp(-log(2) * t_s / (half_min * MIN))


def line(rate_c_h, start_c=65.0):
    return lambda t_s: start_c - rate_c_h * t_s / HOUR


def sampled(curve, hours=13.0, every_s=1.0):
    return [
        (k * every_s, curve(k * every_s), curve(k * every_s)) for k in range(int(hours * HOUR / every_s) + 1)
    ]


def standings(stages, samples, **kwargs):
    return tuple(v.standing for v in judge(stages, samples, **kwargs))


@pytest.mark.parametrize(
    ("curve", "first_min", "total_min", "expected"),
    [
        (newton(60, 3), 95.1, 285.3, (MET, MET)),
        (newton(90, 3), 142.6, 427.9, (MISSED, MISSED)),
        (
            newton(75.7, 3),
            120.0,
            360.0,
            (MET, MET),
        ),  # the limit is a half-time of 120 min · ln 2 / ln 3 = 75.71 min
        (newton(75.8, 3), 120.1, 360.4, (MISSED, MISSED)),
        (line(12), 180.0, 260.0, (MISSED, MET)),
    ],
    ids=["half 60 min", "half 90 min", "just inside", "just outside", "12 °C/h"],
)
def test_the_cases_of_newtons_law_and_a_line_get_their_verdicts(curve, first_min, total_min, expected):
    verdicts = judge(FDA, sampled(curve))
    assert tuple(v.standing for v in verdicts) == expected
    assert verdicts[0].took_s / MIN == pytest.approx(first_min, abs=0.1)
    assert verdicts[1].took_s / MIN == pytest.approx(total_min, abs=0.1)


def test_paste_left_on_the_bench_misses_both_and_never_gets_cold():
    first, total = judge(FDA, sampled(newton(90, 20)))
    assert (first.standing, total.standing) == (MISSED, MISSED)
    assert first.took_s / MIN == pytest.approx(468.8, abs=0.1)
    assert total.reached_s is None


def test_exactly_on_both_limits_is_met():
    def curve(t_s):
        return 57 - 36 * t_s / (2 * HOUR) if t_s <= 2 * HOUR else 21 - 16 * (t_s - 2 * HOUR) / (4 * HOUR)

    verdicts = judge(FDA, sampled(curve, hours=6.0))
    assert [v.standing for v in verdicts] == [MET, MET]
    assert [v.took_s for v in verdicts] == [2 * HOUR, 6 * HOUR]


def test_the_total_runs_from_57_and_not_from_the_end_of_the_first_stage():
    """57 → 21 in 1 h, then 5 at 6 h 30 min: four hours and a half "after stage one", yet too late."""
    samples = [(0, 57.0, 57.0), (HOUR, 21.0, 21.0), (6.5 * HOUR, 5.0, 5.0)]
    assert standings(FDA, samples) == (MET, MISSED)


def test_a_stage_whose_clock_starts_at_the_end_of_the_first_has_its_own_time():
    samples = [(0, 60.0, 60.0), (HOUR, 21.0, 21.0), (HOUR + 1, 20.9, 20.9), (4.9 * HOUR, 5.0, 5.0)]
    assert standings(ANZ, samples) == (MET, MET)
    assert standings(ANZ, [*samples[:3], (5.1 * HOUR, 5.0, 5.0)]) == (MET, MISSED)


def test_the_clock_starts_at_57_and_not_when_heating_stops():
    watch = CoolingWatch(FDA)
    for k in range(100):  # an hour and a half at 58 °C, off the heat
        watch.add(k * MIN, 58.0, 58.0)
    assert watch.began_s is None
    assert watch.verdicts[0].standing is Standing.NOT_BEGUN
    watch.add(100 * MIN, 56.9, 57.5)
    assert watch.began_s == 99 * MIN


def test_the_hottest_paste_ends_a_stage_and_the_coldest_begins_it():
    """So that the flag does not depend on where the probe sat."""
    samples = [(0, 57.0, 65.0), (1, 56.9, 65.0), (2 * HOUR, 10.0, 21.1), (2 * HOUR + 1, 10.0, 21.0)]
    first = judge(FDA, samples)[0]
    assert (first.began_s, first.reached_s, first.standing) == (0, 2 * HOUR + 1, MISSED)


def test_a_gap_counts_as_used_up_at_both_ends():
    fast = [(0, 60.0, 60.0), (1 * HOUR, 50.0, 50.0), (2.5 * HOUR, 20.0, 20.0)]
    assert (
        standings(FDA, fast)[0] is MISSED
    )  # it may have fallen through 57 at once, and to 21 at the last moment
    without = [(0, 60.0, 60.0), (1, 56.0, 56.0), (HOUR, None, None), (3 * HOUR, None, None)]
    assert standings(FDA, without)[0] is MISSED


def test_a_fall_through_57_that_nobody_saw_is_not_shown_to_be_met():
    samples = [(0, 50.0, 50.0), (HOUR, 21.0, 21.0), (2 * HOUR, 5.0, 5.0)]
    assert standings(FDA, samples) == (Standing.NOT_SHOWN,) * 2
    assert standings(FDA, [(0, 50.0, 50.0), (2.1 * HOUR, 21.0, 21.0)])[0] is MISSED  # late even so


def test_what_was_known_before_the_declaration_starts_the_clock():
    watch = CoolingWatch(FDA, since_s=100.0)
    watch.add(4000.0, 40.0, 40.0)
    assert watch.began_s == 100.0
    assert watch.verdicts[0].standing is RUNNING


def test_paste_that_gets_warm_again_gets_no_new_clock():
    samples = [(0, 57.0, 57.0), (HOUR, 30.0, 30.0), (1.5 * HOUR, 58.0, 58.0), (3 * HOUR, 20.0, 20.0)]
    assert standings(FDA, samples)[0] is MISSED


def test_the_countdown_tells_what_is_left_and_how_far_it_is_over():
    watch = CoolingWatch(FDA)
    watch.add(0, 57.0, 57.0)
    watch.add(HOUR, 40.0, 40.0)
    assert [v.left_s for v in watch.verdicts] == [HOUR, 5 * HOUR]
    watch.add(2.5 * HOUR, 25.0, 25.0)
    assert watch.verdicts[0].left_s == -0.5 * HOUR
    assert not watch.done


def test_a_code_without_a_number_has_no_stage_and_is_never_done():
    watch = CoolingWatch(())
    watch.add(0, 57.0, 57.0)
    assert watch.verdicts == ()
    assert not watch.done


CURVES = st.builds(newton, st.floats(20, 200), st.floats(-2, 25), st.floats(40, 80))


@given(CURVES, st.integers(1, 40), st.integers(1, 30))
def test_a_longer_gap_never_gives_a_better_verdict(curve, first, length):
    whole = sampled(curve, hours=8.0, every_s=600.0)
    gappy = whole[:first] + whole[first + length :]
    best = {MET: 0, RUNNING: 0, Standing.NOT_BEGUN: 0, Standing.NOT_SHOWN: 1, MISSED: 2}
    end = whole[-1][0]
    for full, less in zip(judge(FDA, whole, end_s=end), judge(FDA, gappy, end_s=end), strict=True):
        assert best[less.standing] >= best[full.standing]
        if full.took_s is not None and less.took_s is not None and full.standing is not Standing.NOT_SHOWN:
            assert less.took_s >= full.took_s


@given(CURVES, st.floats(0.0, 2.0))
def test_a_larger_error_never_gives_a_better_verdict(curve, error_k):
    whole = sampled(curve, hours=8.0, every_s=300.0)
    unsure = [(t, cold - error_k, hot + error_k) for t, cold, hot in whole]
    for full, less in zip(judge(FDA, whole), judge(FDA, unsure), strict=True):
        assert full.standing is not MISSED or less.standing in (MISSED, Standing.NOT_SHOWN)
        if full.standing is MET:
            assert less.took_s is None or less.took_s >= full.took_s or less.standing is not MET


@given(CURVES, st.integers(2, 90))
def test_live_and_over_the_whole_record_are_the_same(curve, cut):
    whole = sampled(curve, hours=8.0, every_s=300.0)
    watch = CoolingWatch(FDA)
    for t_s, cold, hot in whole[:cut]:
        watch.add(t_s, cold, hot)
    assert watch.verdicts == judge(FDA, whole[:cut])
    for t_s, cold, hot in whole[cut:]:
        watch.add(t_s, cold, hot)
    assert watch.verdicts == judge(FDA, whole)


@given(CURVES)
def test_what_is_missed_stays_missed(curve):
    watch = CoolingWatch(FDA)
    seen = []
    for t_s, cold, hot in sampled(curve, hours=9.0, every_s=300.0):
        watch.add(t_s, cold, hot)
        seen.append(watch.verdicts[0].standing)
    assert all(after is MISSED for before, after in pairwise(seen) if before is MISSED)
