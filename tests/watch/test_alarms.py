"""Alarms on the screen: what nobody has seen, what is put aside, what came first, and the plug."""

import re
from collections.abc import Callable
from dataclasses import replace

import msgspec
import pytest

from holdctl.events import Condition, ForeignAck, NoticeKind, ProbeFault, RequestKind, Silence
from holdctl.watch import frame_json
from holdctl.watch.view import frame
from holdctl.watch.words import Look
from tests.watch.conftest import drawn, screen
from tests.watch.nights import HOLD, Night

Begin = Callable[..., Night]


def _alarms(night: Night, height: int = 24) -> list[str]:
    text = screen(night).frame(80, height).plain
    return [line for line in text.split("\n") if re.match(r"[! ]{2}!|and \d+ more|\d+ shelved", line)]


def test_a_trip_that_is_over_and_was_not_seen_stays_on_the_screen_under_what_goes_on(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(60)
    night.wait(3)
    night.event(Silence())
    night.steady(120)
    text = screen(night).frame(80, 24).plain
    assert text.startswith("Holding: paste 65.0 °C")
    assert "!!! HIGH TRIP no-reading 22:01–22:01, over, FIRST: `holdctl acknowledge`" in text
    night.ask(RequestKind.ACKNOWLEDGE)
    assert _alarms(night) == []


def test_urgency_is_said_by_marks_and_a_word_and_most_urgent_comes_first(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    for name in ("clock-jumped", "spool", "disk-full"):
        night.event(Condition(name, True))
    assert _alarms(night) == [
        "!!! HIGH ALARM disk-full since 22:00: `holdctl acknowledge`",
        " !! MEDIUM ALARM spool since 22:00: `holdctl acknowledge`",
        "  ! LOW ALARM clock-jumped since 22:00, FIRST: `holdctl acknowledge`",
    ]


def test_the_sentence_is_that_of_the_most_urgent_alarm(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(Condition("disk-full", True))
    night.event(Condition("spool", True))
    text = screen(night).frame(80, 24).plain.replace("\n", " ")
    assert text.startswith("The disk is full: samples wait in memory;")
    assert "Next: make room on the disk; keep this program running. Paste 65.0 °C" in text


def test_what_was_seen_stands_below_what_was_not(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(Condition("disk-full", True))
    night.ask(RequestKind.ACKNOWLEDGE)
    night.event(Condition("clock-jumped", True))
    first, second = _alarms(night)
    assert first.startswith("  ! LOW ALARM clock-jumped")
    assert second == "!!! HIGH ALARM disk-full since 22:00, acknowledged"


def test_only_what_nobody_has_seen_blinks(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(Condition("disk-full", True))
    assert "\x1b[1;5;7;31m!!! HIGH ALARM disk-full" in drawn(screen(night), color="standard")
    night.ask(RequestKind.ACKNOWLEDGE)
    seen = drawn(screen(night), color="standard")
    assert "\x1b[7;31m!!! HIGH ALARM disk-full" in seen
    assert "5;" not in seen


def test_what_is_put_aside_is_counted_and_named_but_its_trip_is_still_said(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.ask(RequestKind.SHELVE, "spool 1 h")
    night.ask(RequestKind.SHELVE, "probe-fault 10 min")
    night.event(Condition("spool", True))
    night.steady(70)
    assert _alarms(night) == ["2 shelved: probe-fault, spool"]
    assert screen(night).snapshot.lines[-1].text.startswith("probe-fault put aside for 10 min by the baker")
    night.read((ProbeFault.OPEN, 66.2))
    night.read((ProbeFault.OPEN, 66.2))
    text = screen(night).frame(80, 24).plain.replace("\n", " ")
    assert text.startswith("Relay off: probe 1 (mid) is open, put aside. Next:")
    assert "HIGH TRIP probe-fault" not in text
    night.ask(RequestKind.UNSHELVE, "spool")
    assert " !! MEDIUM ALARM spool" in screen(night).frame(80, 24).plain


def test_more_alarms_than_fit_are_counted_and_a_tall_screen_shows_more(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    for name in ("clock-jumped", "spool", "disk-full", "record-failing", "node-clock"):
        night.event(Condition(name, True))
    assert _alarms(night)[-1] == "and 2 more"
    assert len(_alarms(night, 50)) == 5


def test_a_latched_trip_whose_cause_is_gone_asks_for_its_reset(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(ForeignAck(9))
    night.ask(RequestKind.ACKNOWLEDGE)
    assert _alarms(night) == ["!!! HIGH TRIP other-host 22:00–22:00, over: `holdctl reset other-host`"]


def test_a_flood_has_a_line_of_its_own_above_and_its_messages_are_not_among_the_events(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    for _ in range(12):
        night.event(Condition("spool", True))
        night.event(Condition("spool", False))
        night.steady(31)
    shot = screen(night).snapshot
    assert _alarms(night)[0].startswith("!!! HIGH FLOOD of alarms since 22:05")
    assert [line.text for line in shot.lines if line.kind == NoticeKind.ALARM].count(
        "requests can't be read"
    ) == 10


def test_one_that_chatters_is_marked_and_listed_no_more(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    for _ in range(4):
        night.event(Condition("spool", True))
        night.steady(5)
        night.event(Condition("spool", False))
    assert _alarms(night) == [
        " !! MEDIUM ALARM spool 22:00–22:00, over, FIRST, chatters: `holdctl acknowledge`"
    ]
    assert [line.kind for line in screen(night).snapshot.lines].count(NoticeKind.ALARM) == 2
    assert "it chatters" in screen(night).snapshot.lines[-1].text


WELDED = "PULL THE PLUG NOW"


def test_a_welded_relay_is_the_first_thing_on_the_screen_whatever_else_goes_on(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(Condition("relay-welded", True))
    night.event(Condition("disk-full", True))
    shown = screen(night)
    assert shown.frame(80, 24).plain.startswith(WELDED)
    assert shown.frame(20, 6).plain.startswith(WELDED)
    assert "\x1b[1;5;7;31mPULL THE PLUG NOW" in drawn(shown, color="standard")
    night.ask(RequestKind.ACKNOWLEDGE)
    assert screen(night).frame(80, 24).plain.startswith(WELDED)
    night.break_off("the machine was switched off")
    assert screen(night).frame(80, 24).plain.startswith(WELDED)


def test_of_a_welded_relay_nobody_says_that_it_is_off_nor_that_a_program_can_open_it(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(Condition("relay-welded", True))
    night.relay = False
    night.steady(3)
    for width, height in ((80, 24), (160, 50)):
        text = " ".join(screen(night).frame(width, height).plain.split())
        assert "relay off" not in text.lower()
        assert "No program can switch this heater off; only the independent thermal cut-off limits" in text
    data = frame_json(screen(night).snapshot)
    assert data["level"] == "danger"
    assert data["sentence"].startswith(WELDED)


def test_a_silent_node_is_never_said_to_have_its_relay_off(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(ForeignAck(9))
    night.wait(4)
    night.event(Silence())
    night.wait(20)
    assert "relay off" not in screen(night).frame(100, 40).plain.lower()


@pytest.mark.parametrize(
    ("feedback", "says"),
    [(True, "relay off but LIVE behind it"), (None, "relay off, duty"), (False, "relay off, duty")],
)
def test_a_contact_that_is_live_without_its_drive_is_said(
    begin: Begin, feedback: bool | None, says: str
) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.relay = False
    night.steady(1)
    shot = screen(night).snapshot
    assert shot.sample is not None
    reading = msgspec.structs.replace(shot.sample.reading, feedback=feedback, relay=False)
    seen = replace(shot, sample=replace(shot.sample, reading=reading))
    assert says in frame(seen, 80, 24, Look()).plain


def test_the_data_of_a_frame_has_all_that_is_known_of_an_alarm(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.ask(RequestKind.SHELVE, "node-clock 1 h")
    night.event(Condition("spool", True))
    night.event(Condition("spool", False))
    data = frame_json(screen(night).snapshot)
    (alarm,) = data["alarms"]
    assert (alarm["name"], alarm["priority"], alarm["acknowledged"], alarm["first_out"]) == (
        "spool", "medium", False, True,
    )  # fmt: skip
    assert alarm["over_utc"] is not None
    assert data["shelved"] == ["node-clock"]
