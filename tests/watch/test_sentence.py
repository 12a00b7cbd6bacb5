"""One sentence for every situation; what is worse is said first."""

from collections.abc import Callable

import pytest

from holdctl.events import ForeignAck, LinkChange, ProbeFault, RequestKind, Silence
from holdctl.watch.sentence import Sentence, sentence
from tests.watch.conftest import screen
from tests.watch.nights import HOLD, PROGRAMME, Night, flicker

Begin = Callable[..., Night]

FALL = HOLD + '[[programme.step]]\nfall_to = 32\n[[programme.step]]\nprompt = "add the culture"\n'


def said(night: Night, units: str | None = None) -> Sentence:
    shown = screen(night, units=units)
    return sentence(shown.snapshot, shown.look)


def test_holding_says_paste_time_left_and_when_ready(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(601)
    assert said(night) == Sentence("Holding: paste 65.0 °C, 3 h 50 min of 4 h left, ready about 02:00.")


def test_fahrenheit_is_said_where_it_is_wanted(begin: Begin) -> None:
    night = begin(HOLD, units="F")
    night.steady(601)
    assert said(night).text.startswith("Holding: paste 149.0 °F,")
    assert said(night, units="C").text.startswith("Holding: paste 65.0 °C,")


def test_the_clock_stands_while_a_part_is_too_cold(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(300)
    night.steady(400, 60.2, 64.0)
    text = said(night).text
    cold = screen(night).snapshot.estimate
    assert cold is not None and cold.coldest_c < 62
    assert f"the clock waits: coldest paste {cold.coldest_c:.1f} °C (estimated), below 62 °C; 3 h" in text
    assert text.endswith("to go, no forecast yet.")


def test_settling_names_the_hottest_paste(begin: Begin) -> None:
    night = begin(HOLD)
    for k in range(900):
        night.read((round(76.0 - k * 0.004, 2), 70.0))
    text = said(night).text
    assert text.startswith("Settling: paste 72.4 °C and falling; the clock waits: hottest paste ")
    assert "above 67 °C; 4 h of 4 h to go, no forecast yet." in text


def test_come_up_rises(begin: Begin) -> None:
    night = begin(HOLD)
    for k in range(900):
        night.read((round(20.0 + k * 0.01, 2), flicker(60.0, k)))
    text = said(night).text
    assert text.startswith("Come-up: paste 29.0 °C and rising; the clock waits: coldest paste ")


def test_a_prompt_says_what_to_do_and_what_happens_else(begin: Begin) -> None:
    night = begin()
    night.steady(60, 82.0, 78.0)
    assert said(night).text == (
        "Waiting for you: stir until the paste reads 66 °C, add malt, close the lid, then `holdctl next`. "
        "Paste 82.0 °C, relay off; in 44 min an alarm."
    )


def test_an_answered_prompt_is_gone_at_once(begin: Begin) -> None:
    night = begin()
    night.steady(60, 66.0, 66.5)
    night.ask(RequestKind.NEXT)
    assert said(night).text.startswith("Holding: paste 66.0 °C, 4 h of 4 h left")
    night.steady(5, 66.0, 66.5)
    assert said(night).text.startswith("Holding: ")


def test_before_a_prompt_is_asked_the_screen_says_when_the_baker_is_wanted(begin: Begin) -> None:
    night = begin(PROGRAMME.replace('wait = "45 min"', 'due = "20 min"\nwait = "45 min"'))
    night.steady(90, 50.0, 66.0)
    text = said(night).text
    assert text.startswith("Come-up: paste 50.0 °C")
    assert text.endswith(
        "; you are wanted at 22:20: stir until the paste reads 66 °C, add malt, close the lid."
    )
    night.steady(1200, 50.0, 66.0, every=2)
    assert said(night).text.startswith("Waiting for you: stir")


def test_an_unanswered_prompt_is_an_alarm(begin: Begin) -> None:
    night = begin()
    night.steady(2702, 70.0, 67.0, every=2)
    assert said(night) == Sentence(
        "Nobody answered “stir until the paste reads 66 °C, add malt, close the lid” within 45 min: still waiting. "
        "Paste 70.0 °C; `holdctl next` when done.",
        "alarm",
    )
    night.ask(RequestKind.ACKNOWLEDGE)
    assert said(night).text.startswith("Waiting for you: stir")


def test_a_prompt_that_stops_takes_the_relay_off(begin: Begin) -> None:
    night = begin(PROGRAMME.replace("keep-waiting", "stop").replace("45 min", "10 s"))
    night.steady(20, 70.0, 67.0)
    assert said(night) == Sentence(
        "Waiting for you, relay off: a prompt was not answered in time. Next: look at the paste, then `holdctl next`.",
        "trip",
    )


def test_what_comes_after_this_step_is_the_baker(begin: Begin) -> None:
    night = begin(HOLD + '[[programme.step]]\nprompt = "add malt"\n')
    night.steady(2)
    assert said(night).text.endswith("left, you are wanted about 02:00.")


def test_a_fall_says_where_to_and_what_follows(begin: Begin) -> None:
    night = begin(FALL)
    night.steady(2)
    assert said(night).text.endswith("left, relay off to fall about 02:00.")
    night.ask(RequestKind.NEXT, "skip")
    night.steady(2, 60.0, 58.0)
    assert said(night).text == (
        "Falling: paste 60.0 °C, relay off until every part is at 32 °C; then add the culture."
    )


def test_hot_holding_says_since_when_and_for_how_long(begin: Begin) -> None:
    night = begin(HOLD.replace('"4 h"', '"30 s"') + '[programme.after]\nlongest = "1 h"\n')
    night.steady(700, every=2)
    assert said(night).text == (
        "Ready since 22:00, hot holding: paste 65.0 °C, 48 min left of the longest 1 h; `holdctl stop` ends it."
    )
    night.steady(3000, every=2)
    assert said(night).level == "alarm"
    assert said(night).text.startswith(
        "Hot holding has lasted 1 h: use the paste or end it with `holdctl stop`."
    )


def test_silence_outranks_the_programme_and_counts_the_seconds(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.wait(3)
    night.event(Silence())
    night.wait(9)
    assert said(night) == Sentence(
        "No reading for 13 s: the relay's lease has run out. Next: check the cable and the node's power.",
        "trip",
    )


def test_a_lost_line_says_why(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(300, 30.0, 30.0)  # cold: leases are given
    night.event(LinkChange(False, "the port /dev/ttyACM0 is gone"))
    night.event(Silence())
    assert said(night).text == (
        "The port /dev/ttyACM0 is gone: the relay's lease is running out. "
        "Next: plug the node in again; it is picked up by itself."
    )
    night.wait(4)
    assert "the relay's lease has run out" in said(night).text


def test_a_bad_probe_is_named_before_the_silence_that_it_causes(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.relay = True
    night.steady(1, ProbeFault.OPEN, 66.0)
    assert said(night).text == (
        "Relay told to be off: probe 1 (mid) is open. Next: check that probe's plug and cable."
    ), "the node has not reported it off yet"
    night.steady(5, ProbeFault.OPEN, 66.0)
    assert said(night).text == "Relay off: probe 1 (mid) is open. Next: check that probe's plug and cable."
    night.steady(2)
    assert said(night).text.startswith("Holding")


@pytest.mark.parametrize("seen", [False, True])
def test_a_latched_trip_waits_for_its_reset_also_when_acknowledged(begin: Begin, seen: bool) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.steady(30, 65.0, 91.5)
    if seen:
        night.ask(RequestKind.ACKNOWLEDGE, "high-limit")
    assert said(night) == Sentence(
        "Waiting for you, relay off: probe 2 (wall) at 91.5 °C, limit 90 °C. Next: find out why it ran hot, "
        "let it fall 2 K below the limit, then `holdctl reset high-limit`.",
        "trip",
    )


def test_a_latched_trip_outranks_silence(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(ForeignAck(7))
    night.wait(5)
    night.event(Silence())
    assert "`holdctl reset other-host`" in said(night).text


def test_a_trip_of_an_earlier_hold_still_stands(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.steady(30, 65.0, 91.5)
    night.break_off("the machine was switched off")
    text = said(night).text
    assert text.startswith("This hold ended at 22:02: broken off: the machine was switched off.")
    assert "high-limit is still latched" in text
    again = begin(HOLD)
    again.steady(10)
    assert said(again) == Sentence(
        "Waiting for you, relay off: high-limit is still latched from an earlier hold: `holdctl reset high-limit`.",
        "trip",
    )


def test_a_dead_daemon_outranks_all_but_an_end(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.store.close()
    night.wait(5)
    assert said(night) == Sentence(
        "The daemon is gone: the relay's lease has run out, last paste 65.0 °C at 22:01. "
        "Next: look at the paste, then `holdctl start` again.",
        "trip",
    )


def test_a_daemon_that_records_nothing_is_abnormal(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.wait(9)
    assert said(night).level == "normal"
    night.wait(30)
    assert said(night).text.startswith("Nothing recorded for 40 s, though the daemon runs.")


def test_before_the_first_reading(begin: Begin) -> None:
    assert said(begin(HOLD)).text == "Started at 22:00: waiting for the first reading."


def test_an_end_says_how_and_where_to_look(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.ask(RequestKind.STOP)
    assert said(night).text == "Stopping: waiting for the node to confirm that the relay is off."
    night.relay = False
    night.steady(1)
    night.end()
    assert said(night) == Sentence(
        "This hold ended at 22:00: stopped: relay off, confirmed by the node. See it with `holdctl review`."
    )
