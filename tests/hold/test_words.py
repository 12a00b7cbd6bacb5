"""What a hold says, word for word: each trip tells what was seen, each refusal why, each answer who asked."""

import pytest

from holdctl.errors import ConfigError
from holdctl.events import (
    ForeignAck,
    LinkChange,
    NodeBoot,
    NoticeKind,
    ProbeFault,
    RequestKind,
    Silence,
)
from holdctl.food.measured import Measurement
from holdctl.hold.disposition import WINDOW, Disposal, Disposition, read_subject
from holdctl.safety import INTERLOCKS
from holdctl.settings import After, Place, Probe, Step
from tests.closed_loop import instant
from tests.hold.bench import HOLD, Bench, stirred


def warm(**changes) -> Bench:
    bench = Bench(stirred(**changes))
    bench.reads(3)
    return bench


def said(bench: Bench) -> list[tuple[str, str, str]]:
    """What the last decision said: kind, name and what was seen, without what follows from it."""
    return [(n.kind.value, n.name, n.text.split(": lease 0")[0]) for n in bench.seen[-1].notices]


# Trips -------------------------------------------------------------------------------------------------------------


def test_silence_says_for_how_long_there_was_no_reading():
    bench = warm()
    bench.event(Silence(), 3000)
    assert said(bench) == [("trip", "no-reading", "no valid reading for 3 s")]


@pytest.mark.parametrize(
    ("temps", "words"),
    [
        ((ProbeFault.OPEN, 65.0), "probe 1 (mid) is open"),
        ((65.0, ProbeFault.SHORT), "probe 2 (wall) is shorted"),
        ((ProbeFault.RANGE, 65.0), "probe 1 (mid) is out of range or too old"),
        ((65.0, 65.0, ProbeFault.OPEN), "probe 3 (not in the settings) is open"),
        ((65.0, 160.0), "probe 2 (wall) reads 160.00 °C, which nothing here can have"),
        ((65.0,), "probe 2 (wall) is not fitted to the node"),
    ],
)
def test_a_faulty_probe_is_named_by_number_and_place_with_what_it_has(temps, words):
    bench = warm()
    bench.read(*temps)
    assert said(bench) == [("trip", "probe-fault", words)]


def test_a_probe_with_a_name_is_called_by_it():
    probes = (Probe(channel=1, place=Place.MID, name="long needle", error_k=0.5),)
    bench = warm(probe=probes)
    bench.read(ProbeFault.OPEN)
    assert said(bench)[0][2] == "probe 1 (long needle) is open"
    bench = warm(probe=probes)
    bench.reads(2, 90.0)
    assert bench.notices(NoticeKind.TRIP)[0].text.startswith(
        "probe 1 (long needle) at 90.0 °C, limit 78 °C: "
    )


def test_faults_for_three_seconds_say_that_nothing_valid_came_and_not_a_moment_sooner():
    bench = warm()
    for _ in range(2):
        bench.read(ProbeFault.OPEN, 65.0)
    assert bench.names(NoticeKind.TRIP) == ["probe-fault"]
    bench.read(ProbeFault.OPEN, 65.0)
    assert said(bench) == [("trip", "no-reading", "no valid reading for 3 s")]


@pytest.mark.parametrize(("temps", "words"), [
    ((80.0, 65.2), "probe 1 (mid) at 80.0 °C, limit 78 °C"),
    ((65.0, 91.0), "probe 2 (wall) at 91.0 °C, limit 90 °C"),
])  # fmt: skip
def test_a_high_limit_says_which_probe_reads_what_and_its_limit(temps, words):
    bench = warm()
    bench.reads(2, *temps)
    assert bench.notices(NoticeKind.TRIP)[0].text.startswith(f"{words}: the relay is told to be off until")


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        ("the adapter was unplugged: put it back", "the adapter was unplugged"),
        ("gone.", "gone"),
        ("no answer: look at the cable: then at the plug.", "no answer"),
    ],
)
def test_a_line_that_goes_down_says_why_and_leaves_the_advice_to_the_row(reason, words):
    bench = warm()
    bench.event(LinkChange(False, reason))
    (trip,) = bench.seen[-1].notices
    assert trip.text.startswith(f"{words}: the relay falls with its lease; ")


@pytest.mark.parametrize(("reason", "words"), [("", "the line is up"), ("back on port 2", "back on port 2")])
def test_a_line_that_comes_back_says_so_and_clears_its_trip(reason, words):
    bench = warm()
    bench.event(LinkChange(False, "gone"))
    bench.event(LinkChange(True, reason))
    assert said(bench) == [("info", "link-up", words), ("trip-cleared", "link-down", "the line is back")]


def test_a_foreign_command_is_named_once_and_can_be_reset_at_once():
    bench = warm()
    bench.event(ForeignAck(9))
    assert said(bench)[0] == ("trip", "other-host", "command 9 was obeyed, but never sent from here")
    bench.event(ForeignAck(10))
    assert said(bench) == []
    bench.read()
    bench.ask(RequestKind.RESET, "other-host")
    assert said(bench)[0] == ("reset", "other-host", "other-host reset by a baker")
    assert bench.seen[-1].notices[0].detail["by"] == "a baker"


def test_a_node_says_who_it_is_why_it_booted_and_how_short_its_leases_are():
    bench = warm()
    bench.event(NodeBoot("x-1", 2, 1000, (None, None), "power"))
    hello, short = bench.seen[-1].notices
    assert (hello.name, hello.text) == ("node-hello", "node x-1, 2 probes, last boot by power")
    assert short.text.startswith("the node grants leases of 1000 ms at most: ")
    bench.event(NodeBoot("x-1", 2, 5000, (None, None), "watchdog", asked=False))
    assert said(bench)[0] == ("info", "node-boot", "node x-1, 2 probes, last boot by watchdog")


def test_a_stop_that_nobody_confirms_says_that_the_lease_has_run_out():
    bench = warm()
    bench.ask(RequestKind.STOP)
    assert said(bench) == [("state", "stopping", "stopping: asked by a baker")]
    bench.event(Silence(), 3000)
    words = "stopped: the node did not confirm that the relay is off; its lease has run out"
    assert said(bench) == [("state", "stopped", words)]


# Requests ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "subject"),
    [
        (RequestKind.NOTE, 'measured {"ph": 15}'),
        (RequestKind.SHELVE, "probe-fault soon"),
        (RequestKind.DISPOSITION, "no-reading used"),
        (RequestKind.DISPOSITION, "no-reading eaten hold 7"),
        (RequestKind.COOL, "on the moon"),
        (RequestKind.SOUR, "end"),
        (RequestKind.SOUR, "perhaps"),
    ],
)
def test_a_refusal_is_one_sentence_that_names_the_request_and_who_asked(kind, subject):
    bench = warm()
    bench.ask(kind, subject)
    (notice,) = bench.seen[-1].notices
    assert (notice.kind, notice.name, notice.detail) == (NoticeKind.REFUSED, kind.value, {"by": "a baker"})
    assert notice.text.startswith(f"{kind.value} refused: ")
    assert len(notice.text) > len(f"{kind.value} refused: .")
    assert notice.text.endswith(".")
    assert not notice.text.endswith("..")


@pytest.mark.parametrize("what", [Silence(), LinkChange(False, "gone")])
def test_without_a_valid_reading_no_latched_trip_is_reset(what):
    bench = warm()
    bench.event(ForeignAck(9))
    bench.event(what, 3000)
    bench.ask(RequestKind.RESET, "other-host")
    (notice,) = bench.seen[-1].notices
    assert notice.text == "reset refused: there is no valid reading to show that the cause is gone."


def test_a_reset_of_the_high_limit_says_of_each_probe_how_far_it_must_fall():
    bench = warm()
    bench.reads(3, 80.0, 91.0)
    bench.ask(RequestKind.RESET, "high-limit")
    assert said(bench)[0][2] == (
        "reset refused: probe 1 reads 80.0 °C and must fall to 76 °C, probe 2 reads 91.0 °C and must fall to 88 °C."
    )


def test_another_trip_is_reset_however_warm_the_paste_is():
    bench = warm()
    bench.reads(5, 77.0, 77.0)
    bench.event(ForeignAck(9))
    bench.read(77.0, 77.0)
    bench.ask(RequestKind.RESET, "other-host")
    assert bench.names(NoticeKind.RESET) == ["other-host"]


@pytest.mark.parametrize(("name", "trusted"), [("probe-out", True), ("relay-welded", False)])
def test_whoever_resets_a_probe_that_was_out_says_that_its_reading_is_the_paste(name, trusted, monkeypatch):
    bench = warm()
    bench.read(64.0, 64.2)
    bench.hold.interlocked.trip(bench.hold, name, instant(bench.ms), "seen", over=name != "probe-out")
    taken = []
    monkeypatch.setattr(
        type(bench.hold.drive.controller.estimator), "trust", lambda _self, used: taken.append(used)
    )
    bench.ask(RequestKind.RESET, name)
    assert bench.names(NoticeKind.RESET) == [name]
    assert taken == ([{1: 64.0, 2: 64.2}] if trusted else [])


def test_the_nodes_cut_out_is_asked_for_by_whoever_resets_it():
    bench = warm()
    bench.read(65.0, 65.2, cut=True)
    bench.ask(RequestKind.RESET, "node-cutout")
    assert said(bench) == [("info", "cutout-reset", "asked the node to clear its cut-out, for a baker")]


def test_an_acknowledgement_says_who():
    bench = warm()
    bench.read(ProbeFault.OPEN, 65.0)
    bench.ask(RequestKind.ACKNOWLEDGE, "probe-fault")
    assert said(bench) == [("acknowledged", "probe-fault", "probe-fault acknowledged by a baker")]
    assert bench.seen[-1].notices[0].detail["by"] == "a baker"


@pytest.mark.parametrize(
    ("subject", "text"),
    [
        ("smells of honey", "smells of honey"),
        (Measurement(brix=22.5).subject(), "22.5 °Brix"),
        (Measurement(brix=22.5, text="thick").subject(), "thick (22.5 °Brix)"),
    ],
)
def test_a_note_is_called_a_note_and_says_who_wrote_it(subject, text):
    bench = warm()
    bench.ask(RequestKind.NOTE, subject)
    (notice,) = bench.seen[-1].notices
    assert (notice.kind, notice.name, notice.text) == (NoticeKind.NOTE, "note", text)
    assert notice.detail["by"] == "a baker"


# What became of the paste ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("note", "end"), [("", ""), ("mixed anew", ": mixed anew")])
def test_an_entry_says_which_paste_what_and_who_and_its_note_only_where_there_is_one(note, end):
    one = Disposition("no-reading", Disposal.REWORKED, 7, note)
    assert one.subject() == f"no-reading reworked hold 7{end}"
    assert read_subject(one.subject()) == one
    entry = one.entry("Anna")
    assert (entry.kind, entry.name) == (NoticeKind.DISPOSITION, "no-reading")
    assert entry.text == f"paste of hold 7 reworked after no-reading, entered by Anna{end}"
    assert entry.detail == {"hold": 7, "what": "reworked", "by": "Anna", "note": note}


@pytest.mark.parametrize(
    ("alarm", "why"), [("ghost", "is no alarm"), ("spool", "does not concern the paste")]
)
def test_an_entry_that_can_not_be_made_names_the_alarms_that_concern_the_paste(alarm, why):
    concerned = ", ".join([WINDOW, *(name for name, row in INTERLOCKS.items() if row.paste)])
    with pytest.raises(ConfigError) as refused:
        read_subject(f"{alarm} used hold 7")
    assert str(refused.value) == f"“{alarm}” {why}: name one of {concerned}."


# The programme -----------------------------------------------------------------------------------------------------


def steps_of(*steps: Step, seconds: int, after: After | None = None) -> list[tuple[str, str, str]]:
    bench = Bench(stirred(*steps, after=after))
    bench.reads(seconds)
    kinds = (NoticeKind.STEP, NoticeKind.PROMPT, NoticeKind.ALARM, NoticeKind.PHASE)
    return [(n.kind.value, n.name, n.text) for n in bench.notices() if n.kind in kinds]


def test_each_step_is_told_when_it_begins_and_what_follows_the_last():
    prompt = Step(prompt="add malt", wait="5 s", unanswered="go-on", to=65.0)
    heard = steps_of(prompt, HOLD, seconds=75)
    assert heard == [
        ("step", "step-1", "add malt"),
        ("prompt", "step-1", "add malt"),
        ("phase", "prompt", "none → prompt"),
        ("alarm", "prompt-unanswered", "Nobody answered “add malt” within 5 s: the programme goes on without it."),
        ("step", "step-2", "hold 65 °C for 1 min"),
        ("step", "after", "The programme is done: hot holding until you end it."),
        ("phase", "hold", "prompt → hold"),
        ("phase", "hot holding", "hold → hot holding"),
    ]  # fmt: skip


def test_a_prompt_that_keeps_waiting_says_so_and_a_fall_says_to_where():
    heard = steps_of(Step(prompt="stir", wait="5 s", to=65.0), HOLD, seconds=10)
    assert heard[-1] == ("alarm", "prompt-unanswered", "Nobody answered “stir” within 5 s: still waiting.")
    heard = steps_of(Step(fall_to=60.0), HOLD, seconds=3)
    assert heard[0] == ("step", "step-1", "relay off until every part is at 60 °C")


def test_the_end_of_a_programme_without_hot_holding_and_a_hot_holding_that_lasts_too_long():
    heard = steps_of(HOLD, seconds=65, after=After(then="relay-off"))
    assert ("step", "after", "The programme is done: relay off.") in heard
    heard = steps_of(HOLD, seconds=140, after=After(longest="1 min"))
    words = "Hot holding has lasted 1 min: use the paste or end it with `holdctl stop`."
    assert [text for kind, name, text in heard if name == "hot-holding-long"] == [words]


# What a request to go on is answered ---------------------------------------------------------------------------------


def test_nobody_goes_on_with_a_programme_whose_paste_is_put_to_cool():
    bench = warm()
    bench.ask(RequestKind.COOL)
    bench.ask(RequestKind.NEXT)
    words = "next refused: the paste is not heated any more; `holdctl stop` ends this hold."
    assert said(bench) == [("refused", "next", words)]


@pytest.mark.parametrize(
    ("left", "words"),
    [("4 h", "4 h 00 min"), ("59 min", "0 h 59 min"), ("61 min", "1 h 01 min"), ("24 h", "24 h 00 min")],
)
def test_a_step_with_time_left_says_how_much_would_be_given_up(left, words):
    bench = Bench(stirred(Step(to=65.0, hold_for=left)))
    bench.read()
    bench.ask(RequestKind.NEXT)
    assert said(bench)[0][2] == (
        f"next refused: {words} of this step are left; `holdctl next --skip` gives them up."
    )


def test_whoever_ends_hot_holding_or_answers_a_prompt_is_named():
    bench = Bench(stirred(HOLD))
    bench.reads(65)
    bench.ask(RequestKind.NEXT)
    assert said(bench) == [("state", "complete", "complete: hot holding ended by a baker")]
    bench = Bench(
        stirred(Step(prompt="stir", wait="5 s", unanswered="stop", to=65.0), PROMPT_OF_ITS_OWN_TIME)
    )
    bench.reads(10)
    asked_ms = bench.ms
    bench.ask(RequestKind.NEXT)
    heard = {(n.kind.value, n.name): n for n in bench.seen[-1].notices}
    assert heard["acknowledged", "unanswered"].text == "unanswered acknowledged by a baker"
    assert heard["trip-cleared", "unanswered"].text == "answered by a baker"
    assert bench.hold.progress.entered_ms == asked_ms


PROMPT_OF_ITS_OWN_TIME = Step(prompt="add malt", wait="1 h", to=65.0)


def test_a_refused_cooling_or_souring_says_what_was_wrong_with_it():
    bench = warm()
    for kind, subject, why in (
        (RequestKind.SOUR, "end", "no souring is declared"),
        (RequestKind.SOUR, "perhaps", "“perhaps” is neither a begin nor the end of a souring"),
    ):
        bench.ask(kind, subject)
        assert said(bench) == [("refused", "sour", f"sour refused: {why}.")]
