"""A step that lets the paste fall below the limit is a cooling, judged as one; a fall in the hot zone is nothing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.food.allowance import allowances
from holdctl.food.codes import CODES, code
from holdctl.food.findings import Declared
from holdctl.food.judge_time import counted
from holdctl.food.rules import TimeControl
from holdctl.food.spells import Spell, SpellKind, falling_steps, with_falls
from holdctl.food.timeline import timeline
from holdctl.food.windows import WindowTracker
from holdctl.settings import Programme, Step
from tests.food.records import H, newton, straight, without
from tests.food.test_judge import ANZ, BROKEN, FDA, MET, NONE, OPEN, UK, of
from tests.food.test_judge_properties import record, steps

PROGRAMME = Programme(
    step=(
        Step(fall_to=66.0),
        Step(to=65.0, hold_for="4 h"),
        Step(fall_to=32.0),
        Step(prompt="add the culture"),
    )
)
HOUR = 3600.0


def planned(start_h: float, end_h: float) -> Declared:
    return Declared(spells=(Spell(SpellKind.PLANNED, start_h * H, end_h * H),))


def test_only_a_fall_below_the_limit_is_a_cooling() -> None:
    assert falling_steps(PROGRAMME, 57.0) == {2}
    assert falling_steps(PROGRAMME, 32.0) == frozenset()


def test_a_planned_fall_lasts_until_the_next_step() -> None:
    entered = [(0.0, 0), (60.0, 1), (600.0, 2), (900.0, 3)]
    assert with_falls((), entered, frozenset({2}), 5000.0) == (Spell(SpellKind.PLANNED, 600.0, 900.0),)
    assert with_falls((), entered[:3], frozenset({2}), 700.0) == (Spell(SpellKind.PLANNED, 600.0, 700.0),)


def test_what_a_person_declares_in_it_takes_its_place() -> None:
    declared = (Spell(SpellKind.COOLING, 700.0, 5000.0),)
    found = with_falls(declared, [(0.0, 1), (600.0, 2)], frozenset({2}), 5000.0)
    assert found == (Spell(SpellKind.PLANNED, 600.0, 700.0), *declared)
    early = (Spell(SpellKind.SOURING, 500.0, 5000.0),)
    assert with_falls(early, [(0.0, 1), (600.0, 2)], frozenset({2}), 5000.0) == early


def test_a_planned_fall_is_no_window_and_what_stays_below_after_it_is_one() -> None:
    falls = straight([(0, 65), (4, 65), (5, 32), (7, 32)])
    assert of(falls, "hot-holding").breaches[0].length_s == pytest.approx(2.76 * H, abs=60)
    (window,) = of(falls, "hot-holding", planned(4, 5)).breaches
    assert (window.start_s, window.end_s) == (5 * H, 7 * H)


def test_a_planned_fall_is_judged_as_a_cooling_and_not_called_met_where_it_ends_early() -> None:
    found = of(straight([(0, 65), (4, 65), (5, 32), (7, 32)]), "cooling", planned(4, 5))
    assert found.verdict is OPEN
    assert "to 21 °C (70 °F): the planned fall ends 45 min after the start" in found.observed
    assert "no cooling was declared or planned" in of(straight([(0, 65), (4, 65)]), "cooling").observed


def test_a_planned_fall_that_is_too_slow_is_broken_like_any_cooling() -> None:
    """Two hours from 57 to 21 °C, FDA Food Code 3-501.14(A); AU/NZ Standard 3.2.2 cl. 7(3) begins at 60 °C."""
    slow = straight([(0, 65), (1, 65), (6, 30)])
    for by in (FDA, ANZ):
        found = of(slow, "cooling", planned(1, 6), by)
        assert found.verdict is BROKEN and found.breaches[0].limit_s == 2 * H
    assert of(newton(65, 3, 60, 8), "cooling", planned(0, 8)).verdict is MET
    assert of(slow, "cooling", planned(1, 6), UK).verdict is OPEN  # as quickly as possible: no number


def test_a_cooling_declared_in_the_same_fall_goes_on_from_where_the_fall_began() -> None:
    fall = straight([(0, 65), (1, 65), (2.4, 20), (6, 4)])
    both = Declared(spells=(Spell(SpellKind.PLANNED, H, 1.5 * H), Spell(SpellKind.COOLING, 1.5 * H, 6 * H)))
    alone = Declared(spells=(Spell(SpellKind.COOLING, H, 6 * H),))
    assert of(fall, "cooling", both).observed == of(fall, "cooling", alone).observed
    assert of(fall, "hot-holding", both).verdict is MET


def test_a_fall_in_the_hot_zone_hides_no_paste_below_the_limit() -> None:
    """Its programme has no step below the limit, so nothing is declared: the dip is a window."""
    dip = straight([(0, 80), (0.5, 56), (0.6, 65), (3, 65)])
    assert (
        of(dip, "hot-holding", Declared(spells=with_falls((), [(0.0, 0)], frozenset(), 3 * H))).verdict
        is BROKEN
    )
    assert of(dip, "cooling").verdict is NONE


def test_a_gap_in_a_planned_fall_counts_as_time_that_ran() -> None:
    fall = without(straight([(0, 65), (1, 65), (2, 20), (3, 19)]), 1.5, 3)
    found = of(fall, "cooling", planned(1, 3))
    assert "to 21 °C (70 °F) in 1 h 49 min, 1 h 30 min of it not recorded" in found.observed
    late = without(straight([(0, 65), (1, 65), (2, 20), (4, 19)]), 1.5, 4)
    assert of(late, "cooling", planned(1, 4)).verdict is BROKEN


def fed(whole, spell, by=FDA):
    tracker = WindowTracker(by)
    for t, low, high in zip(whole.t_s.tolist(), whole.low_c.tolist(), whole.high_c.tolist(), strict=True):
        tracker.spell = SpellKind.PLANNED if spell[0] <= t < spell[1] else None
        tracker.add(t, None if np.isnan(low) else low, None if np.isnan(high) else high)
    return tracker


def test_live_each_stage_runs_down_while_the_fall_goes_on() -> None:
    fall = straight([(0, 65), (1, 65), (2, 40)], step_s=5)
    (first, total) = allowances(fed(fall, (H, 9 * H)), 2 * H)
    assert (first.kind, first.limit_s, total.limit_s) == ("planned fall", 2 * H, 6 * H)
    assert first.used_s == pytest.approx(0.68 * H, abs=6)  # 65 to 57 °C takes 0.32 h
    assert (
        "1 h 19 min left of 2 h (the planned fall is a cooling: 57 °C (135 °F) to 21 °C (70 °F))"
        in first.text
    )
    assert first.source.endswith("3-501.14(A)")
    down = straight([(0, 65), (1, 65), (2, 20), (2.1, 20)], step_s=5)
    assert [one.limit_s for one in allowances(fed(down, (H, 9 * H)), 2.1 * H)] == [6 * H]
    assert allowances(fed(fall, (H, 1.5 * H)), 2 * H) == ()


@pytest.mark.parametrize(
    ("points", "end_h", "counted_h"),
    [
        # it goes up again: no cooling
        ([(0, 65), (1, 65), (1.01, 45), (2.5, 45), (2.51, 65), (4, 65)], 2.505, 1.5),
        ([(0, 65), (1, 65), (2, 20), (4, 4), (4.5, 4)], 9.0, 0.0),
        # the 2 h to 21 °C are over
        ([(0, 65), (1, 65), (3, 40), (4, 40)], 9.0, 2.6),
    ],
)
def test_live_and_afterwards_a_fall_that_is_no_cooling_by_the_code_counts_among_all_times(
    points, end_h, counted_h
) -> None:
    whole, by = straight(points, step_s=5), ANZ
    told = Declared(spells=(Spell(SpellKind.PLANNED, H, end_h * H),), ended=False)
    live = fed(whole, (H, end_h * H), by).cumulative_s
    spans = counted(timeline(whole, told, by), next(r for r in by.of(TimeControl) if r.cumulative))
    assert live == pytest.approx(sum(s.length_s for s in spans), abs=10)
    assert live == pytest.approx(counted_h * H, abs=0.06 * H)


@given(steps, st.sampled_from([c.id for c in CODES]), st.data())
@settings(max_examples=150)
def test_live_and_afterwards_a_planned_fall_leaves_the_same_windows(drawn, by, data) -> None:
    whole, by = record(drawn), code(by)
    times = whole.t_s.tolist()
    start = data.draw(st.sampled_from(times))
    end = data.draw(st.sampled_from([t for t in times if t >= start]))
    told = Declared(spells=(Spell(SpellKind.PLANNED, start, end),), ended=False)
    windows = timeline(whole, told, by).hot_windows()
    tracker = fed(whole, (start, end), by)
    assert tracker.below_s == pytest.approx(sum(w.length_s for w in windows))
