"""The programme's steps by themselves, and what a reading is taken for: borders, and what is kept from before."""

import pytest

from holdctl.errors import ConfigError
from holdctl.events import Estimate, NoticeKind, Phase, ProbeFault
from holdctl.hold.probes import HIGHEST_C, JUMP_K, LOWEST_C, OLDEST_MS, ProbeSet
from holdctl.hold.programme import LABEL_DELAY_MS, Progress, Want, describe, duration_ms, hot_holding_c
from holdctl.settings import After, Place, Probe, Programme, Step
from tests.closed_loop import reading

PROMPT, FALL = Step(prompt="stir", wait="10 s", to=64.0), Step(fall_to=60.0)
HOLD = Step(to=65.0, hold_for="1 min")
DAYS_MS = 30 * 24 * 3_600_000


def at(coldest_c: float, hottest_c: float | None = None) -> Estimate:
    hottest = coldest_c if hottest_c is None else hottest_c
    return Estimate(coldest_c, coldest_c, coldest_c, hottest, coldest_c)


def begun(*steps: Step, now_ms: int = 1000, after: After | None = None) -> Progress:
    progress = Progress(Programme(step=steps, after=after or After(), every_part=(62.0, 67.0)))
    progress.start(now_ms)
    return progress


# Durations and words -----------------------------------------------------------------------------------------------


def test_thirty_days_are_the_longest_duration_and_nothing_is_none():
    assert duration_ms("720 h") == DAYS_MS
    for text in ("720 h 1 s", "0 s", "", "4", "h", "4 h later", "4 days"):
        with pytest.raises(ConfigError) as refused:
            duration_ms(text)
        words = f"“{text}” is not a duration: write it as “4 h”, “90 min” or “1 h 30 min”."
        assert str(refused.value) == words


def test_a_step_is_described_by_what_is_done():
    assert [describe(step) for step in (PROMPT, FALL, HOLD)] == [
        "stir", "relay off until every part is at 60 °C", "hold 65 °C for 1 min",
    ]  # fmt: skip


def test_hot_holding_is_at_its_own_temperature_else_at_that_of_the_last_hold():
    steps = (Step(to=66.0, hold_for="1 h"), HOLD, PROMPT)
    assert hot_holding_c(Programme(step=steps, after=After(to=63.0))) == 63.0
    assert hot_holding_c(Programme(step=steps)) == 65.0
    assert hot_holding_c(Programme(step=(PROMPT,))) is None


# Steps -------------------------------------------------------------------------------------------------------------


def test_only_a_hold_has_time_left_and_never_less_than_none():
    progress = begun(PROMPT, HOLD)
    assert progress.left_ms is None
    progress.next(2000)
    assert progress.left_ms == 60_000
    progress.credit_ms = 61_000
    assert progress.left_ms == 0
    progress.next(3000)
    assert (progress.step, progress.left_ms, progress.finished) == (None, None, False)


def test_a_programme_is_finished_only_where_nothing_follows_its_last_step():
    for then, finished in (("relay-off", True), ("hot-holding", False)):
        progress = begun(HOLD, after=After(then=then))
        assert not progress.finished
        progress.next(2000)
        assert progress.finished is finished


def test_each_step_begins_with_nothing_earned_and_its_own_time():
    progress = begun(HOLD, PROMPT)
    for now in (2000, 12_000):
        progress.advance(now, 10_000, at(65.0))
    assert progress.credit_ms == 10_000, "only time between two readings in range"
    said = progress.next(20_000)
    assert (progress.index, progress.credit_ms, progress.entered_ms) == (1, 0, 20_000)
    step, prompt = said
    assert (step.kind, step.name, step.detail) == (NoticeKind.STEP, "step-2", {"step": 1})
    assert (prompt.kind, prompt.name) == (NoticeKind.PROMPT, "step-2")
    assert prompt.detail == {"step": 1, "to": 64.0, "wait_ms": 10_000}


@pytest.mark.parametrize(
    ("coldest_c", "hottest_c", "phase"),
    [
        (62.0, 67.0, Phase.HOLD),
        (61.9, 67.0, Phase.COME_UP),
        (62.0, 67.1, Phase.SETTLING),
        (61.0, 67.5, Phase.COME_UP),
        (61.5, 68.0, Phase.SETTLING),
        (61.0, 68.0, Phase.COME_UP),
    ],
)
def test_the_phase_is_named_by_what_is_further_out_of_range(coldest_c, hottest_c, phase):
    want, _ = begun(HOLD).advance(2000, 1000, at(coldest_c, hottest_c))
    assert want == Want(65.0, phase)


def test_a_hold_ends_with_the_reading_that_completes_its_time():
    progress = begun(HOLD, PROMPT)
    progress.advance(1000, 0, at(65.0))
    progress.advance(60_999, 59_999, at(65.0))
    assert progress.index == 0
    progress.advance(61_000, 1, at(65.0))
    assert (progress.index, progress.entered_ms) == (1, 61_000)


def test_a_fall_has_no_heat_and_ends_when_the_hottest_part_is_down_wherever_it_stands():
    progress = begun(HOLD, HOLD, FALL, PROMPT)
    progress.next(2000)
    progress.next(3000)
    for hottest_c, index in ((60.1, 2), (60.0, 3)):
        want, said = progress.advance(5000, 1000, at(50.0, hottest_c))
        assert want == Want(None, Phase.FALLING)
        assert progress.index == index
    assert progress.entered_ms == 5000
    assert [n.name for n in said if n.kind is NoticeKind.STEP] == ["step-4"]


@pytest.mark.parametrize("does", ["keep-waiting", "go-on", "stop"])
def test_a_prompt_is_unanswered_once_its_wait_is_over_and_that_is_said_once(does):
    silent = None if does == "keep-waiting" else does  # which is what counts where nothing is said
    progress = begun(Step(prompt="stir", wait="10 s", to=64.0, unanswered=silent), HOLD)
    heard = []
    for now in (10_999, 11_000, 11_001, 30_000):
        want, said = progress.advance(now, 0, at(50.0))
        heard += [(now, n.detail) for n in said if n.kind is NoticeKind.ALARM]
        if now == 10_999:
            assert want == Want(64.0, Phase.PROMPT)
            assert not progress.unanswered
    assert heard == ([] if does == "stop" else [(11_000, {"step": 0, "does": does})])
    assert progress.unanswered is (does == "stop")
    assert progress.index == (1 if does == "go-on" else 0)
    if does == "stop":
        assert want == Want(None, Phase.PROMPT)


def test_a_prompt_without_a_wait_waits_for_ever():
    progress = begun(Step(prompt="stir", to=64.0))
    _, said = progress.advance(10**9, 0, at(50.0))
    assert not [n for n in said if n.kind is NoticeKind.ALARM]


def test_hot_holding_that_lasts_too_long_is_said_once_and_its_time_counts_from_its_begin():
    progress = begun(HOLD, after=After(longest="1 min", to=63.0))
    progress.next(100_000)
    heard = []
    for now in (159_999, 160_000, 160_001, 300_000):
        want, said = progress.advance(now, 1000, at(63.0))
        heard += [(now, n.name) for n in said if n.kind is NoticeKind.ALARM]
        assert want == Want(63.0, Phase.HOT_HOLDING)
    assert heard == [(160_000, "hot-holding-long")]


def test_after_a_programme_that_ends_with_the_relay_off_nothing_is_wanted():
    progress = begun(HOLD, after=After(then="relay-off"))
    progress.next(2000)
    assert progress.advance(10**9, 1000, at(65.0))[0] == Want(None, Phase.NONE)


def test_a_phase_on_the_edge_is_named_only_after_a_minute_without_another():
    progress = begun(HOLD)
    progress.advance(2000, 0, at(65.0))
    assert progress.phase is Phase.HOLD, "the first is named at once"
    begun_ms = 3000
    progress.advance(begun_ms, 0, at(61.0))
    progress.advance(begun_ms + LABEL_DELAY_MS - 1, 0, at(61.0))
    assert progress.phase is Phase.HOLD
    _, said = progress.advance(begun_ms + LABEL_DELAY_MS, 0, at(61.0))
    assert progress.phase is Phase.COME_UP
    (named,) = said
    assert (named.kind, named.name, named.text) == (NoticeKind.PHASE, "come-up", "hold → come-up")
    assert named.detail == {"was": "hold"}


# Probes ------------------------------------------------------------------------------------------------------------

WALL = Probe(channel=2, place=Place.WALL, error_k=0.5)
OFFSET = Probe(channel=1, place=Place.MID, error_k=0.5, offset_k=-0.25)


def taken(probes: ProbeSet, *temps, dt_s: float = 1.0, age_ms: int = 250):
    import msgspec

    return probes.take(msgspec.structs.replace(reading(1, *temps), age_ms=age_ms), dt_s)


def test_an_offset_is_added_once_and_the_rest_stays_as_read():
    probes = ProbeSet((OFFSET, WALL))
    assert (probes.paste, probes.wall) == (OFFSET, WALL)
    assert taken(probes, 65.0, 66.0).seen_c == {1: 64.75, 2: 66.0}
    assert ProbeSet((OFFSET,)).wall is None


@pytest.mark.parametrize("dt_s", [1.0, 2.0])
def test_a_change_by_3_k_and_1_k_a_second_is_believed_and_a_larger_one_only_the_second_time(dt_s):
    most = JUMP_K + dt_s
    probes = ProbeSet((OFFSET, WALL))
    taken(probes, 65.0, 66.0)
    values = taken(probes, 65.0 + most, 66.0, dt_s=dt_s)
    assert (values.doubtful, values.used_c[1]) == (frozenset(), 64.75 + most)
    values = taken(probes, 65.0 - 0.01, 66.0, dt_s=dt_s)
    assert (values.doubtful, values.used_c[1], values.seen_c[1]) == ({1}, 64.75 + most, 64.74)
    values = taken(probes, 65.0 - 0.01 + most, 66.0, dt_s=dt_s)
    assert not values.doubtful, "as near to the doubtful value as a change may be"
    values = taken(probes, 20.0, 66.0, dt_s=dt_s)
    again = taken(probes, 20.0 + most + 0.01, 66.0, dt_s=dt_s)
    assert values.doubtful == again.doubtful == {1}, (
        "two wild values confirm each other only where they agree"
    )
    assert not taken(probes, 20.0 + most + 0.01, 66.0, dt_s=dt_s).doubtful


def test_a_wild_value_that_was_followed_by_a_good_one_confirms_nothing_later():
    probes = ProbeSet((OFFSET, WALL))
    for temp, doubtful in ((65.0, False), (20.0, True), (65.0, False), (20.0, True)):
        assert bool(taken(probes, temp, 66.0).doubtful) is doubtful


def test_after_a_gap_values_are_taken_as_they_come():
    probes = ProbeSet((OFFSET, WALL))
    taken(probes, 65.0, 66.0)
    assert taken(probes, 20.0, 66.0).doubtful
    probes.forget()
    values = taken(probes, 90.0, 20.0)
    assert (values.doubtful, values.used_c) == (frozenset(), {1: 89.75, 2: 20.0})


def test_a_conversion_of_three_seconds_ago_is_a_reading_an_older_one_is_none():
    probes = ProbeSet((OFFSET, WALL))
    assert taken(probes, 65.0, 66.0, age_ms=OLDEST_MS).fault == ""
    assert taken(probes, 65.0, 66.0, age_ms=OLDEST_MS + 1).fault == "the node's conversion is 3 s old"
    values = taken(probes, 65.0, ProbeFault.OPEN)
    assert (values.seen_c, values.used_c, values.doubtful) == ({}, {}, frozenset())


@pytest.mark.parametrize(
    ("temp", "fault"),
    [(LOWEST_C, False), (LOWEST_C - 0.01, True), (HIGHEST_C, False), (HIGHEST_C + 0.01, True)],
)
def test_values_at_the_bounds_can_be_and_values_beyond_are_faults(temp, fault):
    assert bool(taken(ProbeSet((OFFSET, WALL)), 65.0, temp).fault) is fault


@pytest.mark.parametrize(("temp", "fault"), [(66, False), (round(HIGHEST_C) + 1, True)])
def test_a_whole_number_is_a_temperature_too(temp, fault):
    assert bool(taken(ProbeSet((OFFSET, WALL)), 65, temp).fault) is fault
