"""What must hold of every record: parts add up, a longer gap is never better, a colder curve is never better."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.food.codes import CODES, code
from holdctl.food.findings import Declared, Verdict
from holdctl.food.judge import judge, worst
from holdctl.food.spells import Spell, SpellKind
from holdctl.food.timeline import timeline
from holdctl.food.windows import WindowTracker
from holdctl.food.worst_case import GAP_S, Curve, curve

FDA = code("fda-2022")
BY_ID = {c.id: c for c in CODES}
RANK = {Verdict.NOT_APPLICABLE: 0, Verdict.MET: 0, Verdict.CANNOT_TELL: 1, Verdict.BROKEN: 2}
TOLD = [
    Declared(),
    Declared(begins="chilled"),
    Declared(time_control=True),
    Declared(begins="chilled", time_control="from cold"),
    Declared(begins="chilled", time_control="6 h from cold"),
    Declared(spells=(Spell(SpellKind.COOLING, 100.0, 1e9),)),
    Declared(spells=(Spell(SpellKind.PLANNED, 100.0, 6000.0),)),
    Declared(spells=(Spell(SpellKind.SOURING, 100.0, 6000.0),)),
    Declared(spells=(Spell(SpellKind.PLANNED, 10.0, 1000.0), Spell(SpellKind.COOLING, 1000.0, 1e9))),
]

steps = st.lists(
    st.tuples(
        st.sampled_from([1.0, 5.0, GAP_S, GAP_S + 1, 900.0, 5000.0]),
        st.one_of(st.none(), st.sampled_from([3.0, 15.0, 40.0, 56.9, 57.0, 59.0, 60.0, 63.0, 66.0, 75.0])),
        st.sampled_from([0.0, 2.0]),
    ),
    min_size=2,
    max_size=25,
)


def record(drawn: list[tuple[float, float | None, float]], colder_k: float = 0.0) -> Curve:
    t = np.cumsum([0.0, *(dt for dt, _, _ in drawn[1:])])  # a hold's record begins at its start
    low = np.array([np.nan if c is None else c - colder_k for _, c, _ in drawn])
    return curve(t, low, low + np.array([spread for _, _, spread in drawn]))


@given(steps, st.data(), st.sampled_from([57.0, 60.0]))
@settings(max_examples=150)
def test_a_record_split_anywhere_adds_up_to_the_whole(drawn, data, limit) -> None:
    whole = record(drawn)
    cut = data.draw(st.floats(whole.start_s, whole.end_s))
    parts = whole.cut(whole.start_s, cut), whole.cut(cut, whole.end_s)
    for ask in (
        lambda c: c.below(limit),
        lambda c: c.above(limit),
        lambda c: c.between(5.0, limit),
        Curve.unrecorded,
    ):
        for figure in ("length_s", "unrecorded_s"):
            total = sum(getattr(s, figure) for s in ask(whole))
            assert sum(getattr(s, figure) for part in parts for s in ask(part)) == pytest.approx(total)


@given(steps, st.data(), st.sampled_from(sorted(BY_ID)), st.sampled_from(TOLD))
@settings(max_examples=200)
def test_a_longer_gap_never_yields_a_better_verdict(drawn, data, by, told) -> None:
    by = BY_ID[by]
    whole = record(drawn)
    n = len(whole.t_s)
    a = data.draw(st.integers(0, n - 1))
    b = data.draw(st.integers(a, n - 1))
    low, high = whole.low_c.copy(), whole.high_c.copy()
    low[a : b + 1] = high[a : b + 1] = np.nan
    gone = curve(whole.t_s, low, high)
    before, after = judge(whole, told, by), judge(gone, told, by)
    known = np.flatnonzero(np.isfinite(whole.low_c))
    began = known[0] if len(known) else -1
    assert RANK[worst(after)] >= RANK[worst(before)]
    if not a <= began <= b:  # a gap there hides how it began, and other rules are asked
        for was, is_now in zip(before, after, strict=True):
            assert RANK[is_now.verdict] >= RANK[was.verdict], was.rule


@given(steps, st.floats(0.1, 20.0), st.sampled_from(sorted(BY_ID)))
@settings(max_examples=200)
def test_a_colder_record_is_never_less_below_the_limit_and_loses_no_hot_holding_window(
    drawn, colder, by
) -> None:
    by = BY_ID[by]
    whole, cold = record(drawn), record(drawn, colder)
    limit = by.hot_holding_c
    below = sum(s.length_s for s in whole.below(limit))
    assert sum(s.length_s for s in cold.below(limit)) >= below
    # every instant below stays below
    for span in whole.below(limit):
        assert any(c.start_s <= span.start_s and span.end_s <= c.end_s for c in cold.below(limit))
    chilled = Declared(begins="chilled")
    if not by.of(_reheating()):
        windows = [sum(b.length_s for b in judge(c, chilled, by)[0].breaches) for c in (whole, cold)]
        assert windows[1] >= windows[0]


def _reheating() -> type:
    from holdctl.food.rules import Reheating

    return Reheating


@given(
    steps,
    st.sampled_from(sorted(BY_ID)),
    st.sampled_from(["fresh", "chilled"]),
    st.sampled_from([False, True, "from cold", "6 h from cold"]),
)
@settings(max_examples=250)
def test_the_live_tracker_finds_the_same_windows_as_the_whole_record(drawn, by, begins, timed) -> None:
    by = BY_ID[by]
    whole = record(drawn)
    tracker = WindowTracker(by, begins, timed)
    for t, low, high in zip(whole.t_s.tolist(), whole.low_c.tolist(), whole.high_c.tolist(), strict=True):
        tracker.add(t, None if np.isnan(low) else low, None if np.isnan(high) else high)
    told = Declared(begins=begins, time_control=timed, ended=False)
    windows = _windows(whole, told, by)
    _same_time_control(tracker, whole, told, by)
    assert tracker.below_s == pytest.approx(sum(w.length_s for w in windows))
    assert tracker.unrecorded_s == pytest.approx(sum(w.unrecorded_s for w in windows))
    assert tracker.begins == _begins(whole, told, by)
    advice = {f.rule: f for f in judge(whole, told, by)}["come-up-advice"]
    if tracker.begins == "fresh" and np.isfinite(whole.low_c).any():
        # a zero-length last window aside, what the screen counts is what the review counts
        from holdctl.food.say import lasting

        assert advice.observed.startswith(lasting(tracker.zone_s + tracker.zone_unrecorded_s))


def _same_time_control(tracker, whole, told, by):
    """What the screen says of a time from cold holding on is what the review says."""
    line = timeline(whole, told, by)
    out = line.left_cold()
    assert (out is None) == (not tracker.under_time)
    if out is None:
        return
    # what only the last sample shows has lasted for no time yet
    left, warm = tracker.time.left_s, tracker.time.too_warm_s
    assert (whole.end_s if left is None else left) == out[0]
    top = line.time_rule.never_above_c
    if top is not None and left is not None:
        above = whole.cut(*out).above(top)
        assert (whole.end_s if warm is None else warm) == (above[0].start_s if above else whole.end_s)


def _windows(whole, told, by):
    return timeline(whole, told, by).hot_windows()


def _begins(whole, told, by):
    return timeline(whole, told, by).begins


def test_an_inspected_night_takes_less_than_a_second() -> None:
    from time import perf_counter

    t = np.arange(0.0, 12 * 3600.0)
    low = np.interp(t, [0, 3600, 12 * 3600], [20, 64, 64])
    whole = curve(t, low, low + 2)
    begun = perf_counter()
    judge(whole, Declared(), FDA)
    assert perf_counter() - begun < 1.0  # 2.3 to 3.7 ms by code, measured on the shared two-core machine
