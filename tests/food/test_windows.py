"""Unsafe windows: worst case over gaps, the same whole however the record is cut."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from holdctl.events import ProbeFault
from holdctl.food.codes import code
from holdctl.food.spells import SpellKind
from holdctl.food.windows import GAP_S, WindowTracker, coldest_known_c
from holdctl.settings import Place, Probe

UK, FDA = code("uk"), code("fda-2022")
Samples = list[tuple[float, float | None]]


def track(samples: Samples, food_code: object = UK, begins: str = "chilled") -> WindowTracker:
    """Under the UK code nothing but hot holding is asked of a chilled scald: all time below it is a window."""
    tracker = WindowTracker(food_code, begins)  # type: ignore[arg-type]
    for t_s, coldest_c in samples:
        tracker.add(t_s, coldest_c)
    return tracker


def intervals(tracker: WindowTracker) -> list[tuple[float, float, float | None, float]]:
    return [(w.start_s, w.end_s, w.lowest_c, w.unrecorded_s) for w in tracker.windows]


def test_paste_below_the_limit_is_a_window_with_rule_limit_and_source() -> None:
    tracker = track([(0, 64.0), (1, 62.0), (2, 61.5), (3, 62.5), (4, 63.0), (5, 64.0)])
    [window] = tracker.windows
    assert (window.start_s, window.end_s, window.lowest_c, window.duration_s) == (1, 4, 61.5, 3)
    assert (window.limit_c, window.rule, window.source) == (63.0, UK.rule, UK.source)
    assert tracker.open is None


def test_the_limit_itself_is_not_below_the_limit() -> None:
    assert track([(t, 63.0) for t in range(10)]).windows == ()


def test_a_window_still_open_ends_at_the_last_sample() -> None:
    tracker = track([(0, 64.0), (1, 62.0), (2, 62.0)])
    assert tracker.open is not None
    assert tracker.open == tracker.windows[-1]
    assert tracker.open.end_s == 2


def test_a_gap_counts_in_full_as_below_the_limit_and_is_marked() -> None:
    assert intervals(track([(0, 65.0), (1, 65.0), (3601, 65.0), (3602, 65.0)])) == [(1, 3601, None, 3600)]


def test_ten_seconds_between_samples_are_no_gap() -> None:
    assert intervals(track([(0, 65.0), (GAP_S, 65.0)])) == []
    assert intervals(track([(0, 65.0), (GAP_S + 0.001, 65.0)])) == [(0, GAP_S + 0.001, None, GAP_S + 0.001)]


def test_samples_without_a_valid_reading_are_a_gap_from_the_first_of_them() -> None:
    assert intervals(track([(0, 65.0), (1, None), (2, float("nan")), (3, 65.0), (4, 65.0)])) == [
        (1, 3, None, 2)
    ]


def test_a_gap_inside_a_window_keeps_one_window() -> None:
    got = intervals(track([(0, 60.0), (1, 59.0), (101, 58.0), (102, 64.0)]))
    assert got == [(0, 102, 58.0, 100)]


def test_the_come_up_of_a_fresh_mix_is_a_duration_and_no_window() -> None:
    # a cold start: 20 °C to 70 °C at 1 K a minute; below 57 °C for 37 min
    tracker = track([(t, 20 + t / 60) for t in range(3001)], FDA, "fresh")
    assert tracker.zone_s == tracker.come_up_s == 37 * 60
    assert tracker.reached
    assert intervals(tracker) == []


def test_a_gap_in_a_come_up_is_a_window_of_its_own() -> None:
    tracker = track([(0, 40.0), (1, 41.0), (101, 45.0), (102, 58.0)], FDA, "fresh")
    assert intervals(tracker) == [(1, 101, None, 100)]
    assert tracker.come_up_s == 2


def test_declared_time_below_the_limit_is_no_window_and_a_gap_in_it_neither() -> None:
    tracker = WindowTracker(FDA)
    tracker.add(0, 60.0)
    tracker.spell = SpellKind.COOLING
    for t, c in ((1, 56.0), (5, 50.0), (100, 30.0)):
        tracker.add(t, c)
    tracker.spell = None
    tracker.add(101, 29.0)
    tracker.add(102, 29.0)
    assert intervals(tracker) == [(101, 102, 29.0, 0)]


def test_the_zone_is_not_counted_again_after_the_limit_was_reached() -> None:
    assert track([(0, 56.0), (1, 63.0), (2, 40.0), (3, 40.0)], UK, "fresh").zone_s == 1


def test_a_gap_before_the_limit_is_not_claimed_for_the_zone() -> None:
    tracker = track([(0, 20.0), (100, 20.0), (101, 64.0)], UK, "fresh")
    assert (tracker.zone_s, tracker.zone_unrecorded_s) == (1, 100)


samples = st.lists(
    st.tuples(
        st.sampled_from([0.5, 1.0, 1.25, GAP_S, GAP_S + 0.25, 3600.0]),
        st.one_of(st.none(), st.sampled_from([20.0, 56.0, 57.0, 62.75, 63.0, 65.5, 88.0])),
    ),
    max_size=40,
)


@given(samples, st.data())
def test_asking_anywhere_does_not_change_the_whole_and_the_prefix_is_the_same(
    steps: list[tuple[float, float | None]], data: st.DataObject
) -> None:
    t, whole = 0.0, []
    for dt, c in steps:
        t += dt
        whole.append((t, c))
    cut = data.draw(st.integers(0, len(whole)))
    tracker = track(whole[:cut])
    assert intervals(tracker) == intervals(track(whole[:cut]))
    tracker.open, tracker.below_s, tracker.unrecorded_s  # noqa: B018 - asking must not change anything
    for sample in whole[cut:]:
        tracker.add(*sample)
    assert intervals(tracker) == intervals(track(whole))
    # the parts, each with the sample at the cut, cover the whole and nothing else
    first, second = track(whole[: cut + 1]), track(whole[cut:])
    assert first.below_s + second.below_s == track(whole).below_s
    assert first.unrecorded_s + second.unrecorded_s == track(whole).unrecorded_s


@given(samples)
def test_windows_agree_with_counting_second_by_second(steps: list[tuple[float, float | None]]) -> None:
    t, whole = 0.0, []
    for dt, c in steps:
        t += dt
        whole.append((t, c))
    below = sum(
        b[0] - a[0]
        for a, b in pairwise(whole)
        if a[1] is None or a[1] < UK.hot_holding_c or b[0] - a[0] > GAP_S
    )
    tracker = track(whole)
    assert tracker.below_s == below
    for before, after in pairwise(tracker.windows):
        assert before.end_s <= after.start_s


def probe(channel: int, place: Place, error_k: float, offset_k: float = 0.0) -> Probe:
    return Probe(channel=channel, place=place, error_k=error_k, offset_k=offset_k)


def test_coldest_known_is_the_lowest_paste_reading_less_its_own_error() -> None:
    probes = (probe(1, Place.CORE, 0.5), probe(2, Place.WALL, 0.1), probe(3, Place.EDGE, 2.0, offset_k=0.25))
    assert coldest_known_c((65.0, 20.0, 66.0), probes) == 64.25
    assert coldest_known_c((64.0, 20.0, 66.0), probes) == 63.5
    assert coldest_known_c((ProbeFault.OPEN, 20.0, 66.0), probes) == 64.25
    assert coldest_known_c((ProbeFault.OPEN, 66.0, ProbeFault.RANGE), probes) is None
    assert coldest_known_c((), probes) is None
