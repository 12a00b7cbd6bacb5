"""What is said of an interruption, word by word, and each border of the rule that lets a hold go on."""

import msgspec
import pytest

from holdctl.control.cooling import unattended
from holdctl.events import (
    ClockJump,
    Instant,
    Late,
    Notice,
    NoticeKind,
    Reading,
    RequestKind,
    Restart,
    State,
)
from holdctl.hold.resume import Interruptions, Verdict, changes, spoken
from holdctl.settings import Limits, Place, Probe, RestartRule, Step
from tests.closed_loop import instant
from tests.hold import bench as plain
from tests.hold.bench import LONG, stirred

MINUTE = 60_000
WAITS, GOES_ON = "It waits for you.", "It goes on."


class Bench(plain.Bench):
    """A node that acknowledges every command, as one does that is there."""

    def _step(self, event):
        if isinstance(event, Reading):
            event = msgspec.structs.replace(event, ack=self.n)
        return super()._step(event)


def running(*temps, probe=None, **rule) -> Bench:
    changes = {} if probe is None else {"probe": probe}
    bench = Bench(stirred(LONG, restart=RestartRule(**rule), **changes))
    bench.reads(60, *(temps or (65.0, 65.0)))
    return bench


def told(bench: Bench) -> Notice:
    return [n for n in bench.notices(NoticeKind.INFO) if n.name == "interruption"][-1]


def interrupt(bench: Bench, gap_ms: int | None, *temps, clock="boot", **what) -> Notice:
    bench.event(Restart(gap_ms, clock, **what), after_ms=gap_ms or 0)
    bench.read(*(temps or (65.0, 65.0)), after_ms=0)
    return told(bench)


def why(bench: Bench) -> str:
    told_why, next_step = bench.notices(NoticeKind.TRIP)[-1].text.split(": lease 0 until you decide. ")
    assert next_step == (
        "Next: look at the paste, then `holdctl reset restart-wait` to go on or `holdctl stop`."
    )
    return told_why


@pytest.mark.parametrize(
    ("clock", "by"),
    [
        ("boot", "by the boot-time clock"),
        ("wall", "by the wall clock, which nobody vouches for"),
        ("node", "node"),
    ],
)
def test_a_gap_is_told_with_its_length_its_clock_and_what_the_paste_may_have_been_by_the_model(clock, by):
    bench = running()
    bounds = unattended(bench.hold.drive.controller.estimator, 120.0)
    notice = interrupt(bench, 2 * MINUTE, clock=clock)
    assert notice.text == (
        f"Started again after 2 min {by} without a look at the paste; it may meanwhile have been at "
        f"{bounds.coldest_c:.1f} to {bounds.hottest_c:.1f} °C by the model. {GOES_ON}"
    )
    assert notice.detail == {
        "gap_ms": 2 * MINUTE,
        "clock": clock,
        "restarted": True,
        "goes_on": True,
        "coldest_c": round(bounds.coldest_c, 2),
        "hottest_c": round(bounds.hottest_c, 2),
    }


def test_of_a_gap_of_unknown_length_nothing_is_said_of_the_paste_and_the_estimate_begins_anew():
    bench = running()
    notice = interrupt(bench, None, clock="wall")
    assert notice.text == f"Started again after an unknown time without a look at the paste. {WAITS}"
    assert notice.detail == {"gap_ms": None, "clock": "wall", "restarted": True, "goes_on": False}
    assert why(bench) == ("nobody knows how long this program was away")
    other = running(65.0, 65.0)
    other.event(Restart(None, "wall"))
    assert not other.hold.drive.controller.estimator.filter.started


def test_a_sleep_is_told_as_an_awakening_by_the_boot_time_clock():
    bench = running()
    bench.event(Late(20 * MINUTE), after_ms=20 * MINUTE)
    bench.reads(3, 64.0, 64.0)
    assert told(bench).text.startswith(
        "Awake again after 20 min by the boot-time clock without a look at the paste; it may meanwhile have been at "
    )
    assert told(bench).detail["restarted"] is False
    assert told(bench).detail["clock"] == "boot"
    assert why(bench) == ("this program was away for 20 min, and goes on by itself within 15 min only")


@pytest.mark.parametrize(
    ("rule", "gap_ms", "what", "reason"),
    [
        ({"goes_on_within": "never"}, 1, {}, "the settings say to wait after every interruption"),
        (
            {"goes_on_within": "2 min"},
            2 * MINUTE + 1,
            {},
            "this program was away for 2 min, and goes on by itself within 2 min only",
        ),
        (
            {},
            MINUTE,
            {"changed": ("limits", "warmer")},
            "not as it was when the hold began: limits, warmer",
        ),
    ],
)
def test_why_it_waits_is_told_in_one_sentence(rule, gap_ms, what, reason):
    bench = running(**rule)
    assert interrupt(bench, gap_ms, **what).text.endswith(f". {WAITS}")
    assert why(bench) == (reason)


def test_a_gap_exactly_as_long_as_the_rule_allows_goes_on():
    assert interrupt(running(goes_on_within="2 min"), 2 * MINUTE).detail["goes_on"] is True


def only(error_k: float = 0.0):
    """A stirred kettle whose probes are off by so much at most."""
    return (
        Probe(channel=1, place=Place.MID, error_k=error_k),
        Probe(channel=2, place=Place.WALL, error_k=5.0),
    )


@pytest.mark.parametrize(("now_c", "waits"), [(63.0, False), (62.99, True)])
def test_exactly_the_temperature_that_is_asked_for_is_warm_enough(now_c, waits):
    bench = running(64.0, 64.0, probe=only(), coldest_c=63.0)
    interrupt(bench, MINUTE, now_c, now_c)
    assert (bench.hold.state is State.HELD) is waits
    if waits:
        assert why(bench) == ("the paste is known to be at 63.0 °C only, and 63 °C is asked for")


def test_the_error_of_the_pastes_probe_counts_against_it_and_the_walls_does_not():
    bench = running(64.0, 64.0, probe=only(0.7), coldest_c=63.0)
    interrupt(bench, MINUTE, 63.6, 63.6)
    assert why(bench) == ("the paste is known to be at 62.9 °C only, and 63 °C is asked for")


@pytest.mark.parametrize(("now_c", "waits"), [(47.0, False), (46.9, True)])
def test_paste_on_its_way_up_may_have_fallen_by_three_kelvin_and_not_by_more(now_c, waits):
    bench = running(50.0, 50.0, probe=only())
    interrupt(bench, 14 * MINUTE, now_c, now_c)
    assert (bench.hold.state is State.HELD) is waits
    if waits:
        assert why(bench) == ("the paste has fallen from 50.0 to 46.9 °C")


def test_paste_that_was_just_warm_enough_is_not_taken_for_paste_on_its_way_up():
    bench = running(63.0, 63.0, probe=only(), coldest_c=63.0)
    interrupt(bench, 14 * MINUTE, 61.0, 61.0)
    assert why(bench) == ("the paste is known to be at 61.0 °C only, and 63 °C is asked for")


def test_paste_on_its_way_up_that_has_meanwhile_arrived_is_not_asked_where_it_was():
    bench = running(50.0, 50.0, probe=only(), coldest_c=51.0)
    interrupt(bench, MINUTE, 51.5, 51.5)
    assert bench.hold.state is State.RUNNING


@pytest.mark.parametrize(
    ("error_k", "below_k", "waits"), [(0.0, 1.9, False), (0.0, 2.1, True), (1.0, 2.1, False)]
)
def test_paste_colder_than_the_models_bound_by_two_kelvin_and_the_probes_error_waits(error_k, below_k, waits):
    bench = running(probe=only(error_k))
    bounds = unattended(bench.hold.drive.controller.estimator, 10.0)
    now_c = round(bounds.place_low_c - below_k, 2)
    bench.event(Restart(10_000, "boot"), after_ms=10_000)
    bench.read(now_c + error_k, now_c, after_ms=0)
    assert (bench.hold.state is State.HELD) is waits
    if waits:
        assert why(bench) == (f"the paste, at {now_c:.1f} °C, is colder than so short a gap explains")


def test_a_hold_that_was_interrupted_before_its_first_reading_asks_for_the_limit_only():
    cold = Bench(stirred(LONG))
    interrupt(cold, MINUTE, 40.0, 40.0)
    assert cold.hold.state is State.HELD
    assert why(cold) == ("the paste is known to be at 39.5 °C only, and 57 °C is asked for")
    warm = Bench(stirred(LONG))
    interrupt(warm, MINUTE, 65.0, 65.0)
    assert warm.hold.state is State.RUNNING


def test_a_node_that_turns_the_holds_clock_may_know_the_gap_better():
    bench = running()
    bench.event(Restart(MINUTE, "boot"), after_ms=MINUTE)
    bench.read(64.0, 64.0, after_ms=9 * MINUTE)
    assert told(bench).detail["gap_ms"] == 10 * MINUTE
    first = Bench(stirred(LONG))
    assert interrupt(first, 0).detail["gap_ms"] == 0


def test_paste_that_is_meant_to_fall_waits_for_a_long_gap_all_the_same():
    bench = Bench(stirred(Step(fall_to=30.0), LONG))
    bench.reads(20, 60.0, 60.0)
    assert interrupt(bench, 16 * MINUTE, 50.0, 50.0).detail["goes_on"] is False


def test_a_latched_trip_that_comes_back_says_where_from_and_how_to_reset_it_and_is_said_once():
    bench = running()
    bench.event(Restart(1000, "boot", latched=("relay-welded", "other-host")))
    (one, other) = [n for n in bench.notices(NoticeKind.TRIP) if n.detail.get("restored")]
    assert one.text == "relay-welded is still latched from before: `holdctl reset relay-welded`"
    assert (one.name, other.name) == ("relay-welded", "other-host")
    assert one.detail["latched"] is True
    bench.event(Restart(1000, "boot", latched=("relay-welded",)))
    assert len([n for n in bench.notices(NoticeKind.TRIP) if n.detail.get("restored")]) == 2


@pytest.mark.parametrize(("late_ms", "judged"), [(2_999, False), (3_000, True)])
def test_standing_still_for_three_seconds_is_an_interruption_and_for_less_is_none(late_ms, judged):
    bench = running()
    bench.event(Late(late_ms), after_ms=late_ms)
    assert bench.hold.interruptions.pending is judged


def test_standing_still_while_a_restart_waits_for_its_verdict_does_not_hide_the_restart():
    bench = running()
    bench.event(Restart(20 * MINUTE, "boot"), after_ms=20 * MINUTE)
    bench.event(Late(4_000), after_ms=4_000)
    bench.read(65.0, 65.0)
    assert told(bench).detail["restarted"] is True
    assert bench.hold.state is State.HELD


@pytest.mark.parametrize(("after_ms", "judged"), [(999, False), (1_000, True)])
def test_a_reading_a_second_after_standing_still_is_fresh_and_an_earlier_one_had_waited(after_ms, judged):
    bench = running()
    bench.event(Late(10_000), after_ms=10_000)
    bench.read(65.0, 65.0, after_ms=after_ms)
    assert bench.hold.interruptions.pending is not judged
    again = running()
    again.event(Restart(10_000, "boot"), after_ms=10_000)
    again.read(65.0, 65.0, after_ms=0)
    assert not again.hold.interruptions.pending, "after a restart nothing has waited"


def test_it_is_judged_once():
    bench = running()
    interrupt(bench, MINUTE)
    bench.reads(5, 65.0, 65.0)
    assert bench.names(NoticeKind.INFO).count("interruption") == 1


@pytest.mark.parametrize(
    ("jump_ms", "text"),
    [
        (3_600_000, "the computer's wall clock was set forward by 60 min"),
        (-90_000, "the computer's wall clock was set back by 90 s"),
        (1, "the computer's wall clock was set forward by 0.0 s"),
    ],
)
def test_a_jump_of_the_wall_clock_is_told_with_its_way_and_length(jump_ms, text):
    assert Interruptions(stirred()).jumped(ClockJump(jump_ms), instant(0)) == text


def test_the_alarm_of_a_wall_clock_falls_after_ten_minutes_of_keeping_still_and_once():
    past = Interruptions(stirred())
    assert not past.settled(instant(10_000_000))
    past.jumped(ClockJump(5000), instant(1_000))
    assert not past.settled(instant(600_999))
    assert past.settled(instant(601_000))
    assert not past.settled(instant(601_001))


def test_the_alarm_of_late_answers_falls_after_ten_seconds_in_time_by_the_hosts_clock():
    bench = running()
    past = bench.hold.interruptions
    assert not past.in_time(instant(10**9))
    bench.event(Late(1_000))
    at = bench.ms
    assert not past.in_time(Instant(at + 99_999, at + 9_999, 0))
    assert past.in_time(Instant(0, at + 10_000, 0))


def test_an_alarm_that_falls_says_why():
    bench = running()
    bench.event(Late(1_000))
    bench.event(ClockJump(5_000))
    bench.reads(601, 65.0, 65.0)
    said = {
        n.name: n.text
        for n in bench.notices()
        if n.kind in (NoticeKind.TRIP_CLEARED, NoticeKind.ALARM_CLEARED)
    }
    assert said["daemon-late"] == "answers are in time again"
    assert said["clock-jumped"] == "the wall clock keeps still"


def test_a_hold_that_heats_no_more_goes_on_after_any_gap_and_says_that_it_is_without_heat():
    bench = running()
    bench.ask(RequestKind.COOL)
    notice = interrupt(bench, 40 * MINUTE, 50.0, 50.0)
    assert notice.text.endswith(" by the model. It goes on, without heat.")
    assert notice.detail["goes_on"] is True
    assert notice.detail["gap_ms"] == 40 * MINUTE
    assert bench.hold.state is State.RUNNING
    kept = Verdict(Notice(NoticeKind.INFO, "x", f"A. {GOES_ON}", {"a": 1}), "").without_heat()
    assert (kept.notice.kind, kept.notice.name, kept.notice.text, kept.wait) == (
        NoticeKind.INFO,
        "x",
        f"A. {GOES_ON}",
        "",
    )
    assert kept.notice.detail == {"a": 1, "goes_on": True}


@pytest.mark.parametrize(
    ("ms", "text"),
    [
        (8_051, "8.1 s"),
        (9_949, "9.9 s"),
        (9_999, "10.0 s"),
        (10_000, "10 s"),
        (119_499, "119 s"),
        (119_501, "2 min"),
        (120_000, "2 min"),
        (7_199_000, "119 min"),
        (7_200_000, "2 h 00 min"),
        (100 * 3_600_000 - 1000, "99 h 59 min"),
        (100 * 3_600_000, "4 days"),
        (240 * 3_600_000, "10 days"),
    ],
)
def test_lengths_change_their_unit_where_the_smaller_one_says_nothing_more(ms, text):
    assert spoken(ms) == text


def test_every_table_of_the_settings_that_says_what_is_heated_counts_as_changed():
    old = stirred(LONG)
    other = msgspec.structs.replace(
        old,
        limits=Limits(paste_high_c=77.0),
        warmer=msgspec.structs.replace(old.warmer, power_w=1.0),
        restart=RestartRule(goes_on_within="never"),
        food_code="uk",
    )
    assert set(changes(old, other)) == {"limits", "warmer"}
    assert changes(old, old) == ()
