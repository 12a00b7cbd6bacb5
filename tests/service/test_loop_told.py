"""The loop's side: a silent line and an unplugged probe feed the watchdog, a hang or a slow turn does not."""

import signal

import pytest

from holdctl.daemon.outside import Outside
from holdctl.events import LinkChange, ProbeFault, State
from holdctl.hold import Hold
from holdctl.settings import Mail, Notify
from tests.closed_loop import reading, told
from tests.daemon.test_loop import BOOT, start

__all__ = ["start"]

MAIL = Mail(server="localhost", sender="w@example.org", to=("a@example.org",))


class Kept:
    """A manager that only keeps what it was told."""

    def __init__(self):
        self.turns, self.said = [], []

    def ready(self, status):
        self.said.append("ready")

    def turned(self, status, now_ms, took_ms, *, decided):
        self.turns.append((now_ms, took_ms, decided))

    def stopping(self, status):
        self.said.append("stopping")


@pytest.fixture
def outside(start, tmp_path):
    """Run a loop over what `play` gives, with a manager that keeps what it hears."""

    def run(play, slow=lambda second: 0, **how):
        daemon, driver, hold = start(play)
        settings = told("stirred-kettle", notify=Notify(mail=MAIL), **how)
        daemon._hold = Hold(settings)
        poll = driver.poll

        def late(timeout_s):
            driver.clock.ms += slow(driver.second)
            return poll(timeout_s)

        driver.poll = late
        kept = Kept()
        daemon._outside = Outside(settings, tmp_path / "loop.db", driver.clock, kept)
        state = daemon.run(hold)
        return kept, state

    return run


def until(last, events):
    def play(second):
        if second == last:
            signal.raise_signal(signal.SIGTERM)
        return events(second)

    return play


@pytest.mark.parametrize(
    "events",
    [
        lambda second: [reading(second, 65.0, 65.0)],
        lambda second: [reading(second, ProbeFault.OPEN, 65.0)],
        lambda second: [] if second > 5 else [reading(second, 65.0, 65.0)],
        lambda second: [LinkChange(False, "gone")] if second == 5 else [],
        lambda second: [BOOT],
    ],
    ids=["readings", "open probe", "silence", "line down", "hellos only"],
)
def test_every_turn_in_time_with_its_decision_feeds_the_watchdog(outside, events):
    kept, state = outside(until(60, events))
    assert state is State.STOPPED
    assert kept.said == ["ready", "stopping"]
    assert all(decided and took <= 1000 for _, took, decided in kept.turns)
    assert len(kept.turns) >= 60


def test_a_turn_in_which_the_line_hung_is_late(outside):
    kept, _ = outside(
        until(30, lambda second: [reading(second, 65.0, 65.0)]), lambda second: 4000 if second == 10 else 0
    )
    late = [now for now, took, _ in kept.turns if took > 1500]
    assert len(late) == 1


def test_a_loop_that_leaves_a_silence_unjudged_has_not_decided(outside, monkeypatch):
    from holdctl.daemon import Daemon

    monkeypatch.setattr(Daemon, "_silence", lambda self: None)

    def play(second):
        if second == 20:
            raise KeyboardInterrupt
        return []

    kept = []
    monkeypatch.setattr(Kept, "turned", lambda self, s, n, t, decided: kept.append((n, decided)))
    with pytest.raises(KeyboardInterrupt):
        outside(play)
    assert [decided for now, decided in kept if now < 3000] == [True, True]
    assert not any(decided for now, decided in kept if now >= 3000)


def test_a_fault_in_telling_is_said_once_and_the_hold_goes_on(outside, monkeypatch, tmp_path):
    from holdctl.daemon import outside as module
    from holdctl.record.query import Record

    def broken(*_args):
        raise ZeroDivisionError("of ours")

    monkeypatch.setattr(module, "standing", broken)
    _, state = outside(until(30, lambda second: [reading(second, 65.0, 65.0)]))
    assert state is State.STOPPED
    told_of = [e.text for e in Record(tmp_path / "loop.db").events(1) if e.name == "notification"]
    assert told_of == ["nobody is told any more: ZeroDivisionError: of ours"]


def test_how_a_hold_ended_is_in_the_record_before_the_last_words_are_waited_for(
    outside, monkeypatch, tmp_path
):
    from holdctl.record.query import Record

    found = []
    monkeypatch.setattr(
        Outside, "ended", lambda self, hold, now: found.append(Record(tmp_path / "loop.db").hold().state)
    )
    outside(until(10, lambda second: [reading(second, 65.0, 65.0)]))
    assert found == [State.STOPPED]


def test_a_hold_that_breaks_off_is_told_and_its_heartbeat_is_missed(outside, tmp_path):
    from holdctl.daemon.heartbeat import heartbeat_file, read
    from holdctl.daemon.letters import letter_folder, waiting

    def play(second):
        if second == 10:
            raise RuntimeError("a fault of ours")
        return [reading(second, 65.0, 65.0)]

    with pytest.raises(RuntimeError):
        outside(play)
    ((_, letter),) = list(waiting(letter_folder(tmp_path / "loop.db")))
    assert letter.subject.endswith("the hold has ended")
    assert "a fault of ours" in letter.text
    beat = read(heartbeat_file(tmp_path / "loop.db"))
    assert (beat.state, beat.ended) == ("aborted", False)


def test_too_much_to_tell_is_left_out_and_said(outside, monkeypatch, tmp_path):
    from holdctl.daemon.aside import Aside
    from holdctl.record.query import Record

    monkeypatch.setattr(Aside, "do", lambda self, work: False)
    _, state = outside(until(10, lambda second: [reading(second, 65.0, 65.0)]))
    assert state is State.STOPPED
    told_of = [e.text for e in Record(tmp_path / "loop.db").events(1) if e.name == "notification"]
    assert told_of == ["heartbeat: left out, too much waits before it"]


def test_a_prompt_is_told_once(outside, tmp_path):
    from holdctl.daemon.letters import letter_folder, waiting

    text = """
[programme]
every_part = [62, 67]
[[programme.step]]
prompt = "stir"
to = 66
[[programme.step]]
to = 65
for = "4 h"
"""
    outside(until(4, lambda second: [reading(second, 65.0, 65.0)]), programme=text)
    subjects = [letter.subject for _, letter in waiting(letter_folder(tmp_path / "loop.db"))]
    assert [subject.partition(": ")[2] for subject in subjects] == [
        "the programme waits for you",
        "the hold has ended",  # by SIGTERM, as a computer does that is shut down
    ]
