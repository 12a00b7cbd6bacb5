"""What was done with the paste: open until somebody says it, at the head of the review, kept with who and when."""

import msgspec
import pytest

from holdctl.errors import StoreError
from holdctl.events import Instant, Notice, NoticeKind, State
from holdctl.hold.disposition import Disposal, Disposition
from holdctl.record.afterwards import enter
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review.dispositions import deviations
from holdctl.review.figures import figures
from holdctl.review.food import food_account
from holdctl.review.night import read_night
from holdctl.review.report import render_report, render_summary
from holdctl.safety import INTERLOCKS
from tests.review.conftest import START_UTC_MS, write_night
from tests.review.test_report import shown

LATER_MS = START_UTC_MS + 12 * 3_600_000


@pytest.fixture
def night(tmp_path):
    """A broken night: a probe fault and a silence concern the paste, a trip of an earlier hold does not."""
    with Store.open(tmp_path / "night.db", batch_ms=10**9) as store:
        write_night(store, broken=True)
    return Record(tmp_path / "night.db")


def test_every_alarm_that_concerns_the_paste_is_open_at_first(night):
    found = deviations(night, 1)
    assert [(one.alarm, one.open, one.times) for one in found] == [
        ("no-reading", True, 1), ("probe-fault", True, 1),
    ]  # fmt: skip
    assert [one.corrective_action for one in found] == [INTERLOCKS[one.alarm].paste for one in found]


def test_open_ones_head_the_review_with_their_corrective_action(night):
    for render in (render_report, render_summary):
        lines = shown(render(figures(night, 1))).splitlines()
        assert lines[1].startswith("OPEN: what was done with the paste?")
        text = " ".join(" ".join(lines).split())
        assert "holdctl disposition all used|reworked|discarded --hold 1" in text
        assert f"probe-fault at 5:59: {INTERLOCKS['probe-fault'].paste}" in text


def test_an_entry_after_the_end_is_listed_with_who_and_when_and_kept_as_request_and_event(night):
    said = enter(night, Disposition("probe-fault", Disposal.DISCARDED, 1, "cold"), "Anna", LATER_MS)
    assert said == "paste of hold 1 discarded after probe-fault, entered by Anna: cold"
    by_name = {one.alarm: one for one in deviations(night, 1)}
    assert (by_name["no-reading"].open, by_name["probe-fault"].open) == (True, False)
    (entry,) = by_name["probe-fault"].entries
    assert (entry.what, entry.by, entry.note) == ("discarded", "Anna", "cold")
    assert entry.entered_utc == "2025-10-10T08:00:00Z"
    text = " ".join(shown(render_report(figures(night, 1))).split())
    assert "Paste after probe-fault: discarded, entered by Anna, 2025-10-10" in text
    (request,) = night.requests(1)
    assert (request.kind, request.by, request.outcome) == ("disposition", "Anna", "accepted")
    assert request.subject == "probe-fault discarded hold 1: cold"
    event = night.events(1)[-1]
    assert (event.kind, event.name, event.source) == ("disposition", "probe-fault", "out")


def test_an_entry_after_the_end_leaves_the_hold_as_it_ended_and_its_replay_as_it_was(night):
    before, inputs = night.hold(1), list(night.replay(1))
    enter(night, Disposition("no-reading", Disposal.USED, 1), "Anna", LATER_MS)
    assert night.hold(1) == before
    assert list(night.replay(1)) == inputs
    assert before.state is State.ABORTED


def test_a_correction_counts_and_leaves_the_earlier_entry_in_the_record(night):
    enter(night, Disposition("no-reading", Disposal.USED, 1), "Anna", LATER_MS)
    enter(night, Disposition("no-reading", Disposal.DISCARDED, 1), "Bert", LATER_MS + 60_000)
    one = deviations(night, 1)[0]
    assert [(entry.what, entry.by) for entry in one.entries] == [("used", "Anna"), ("discarded", "Bert")]
    text = shown(render_report(figures(night, 1)))
    assert "used, entered by Anna" in text
    assert "discarded, entered by Bert" in text


def test_an_alarm_that_comes_again_after_its_entry_is_open_again(tmp_path):
    with Store.open(tmp_path / "night.db") as store:
        hold = write_night(store, hours=0.5)
        trip = Notice(NoticeKind.TRIP, "probe-fault", "open", {"latched": False})
        store.belongs_to(hold)
        at = Instant(100, 100, START_UTC_MS)
        store.notice(at, trip)
        store.notice(at, Disposition("probe-fault", Disposal.USED, hold).entry("Anna"))
        record = Record(tmp_path / "night.db")
        assert [one.open for one in deviations(record, hold)] == [False]
        store.notice(at, trip)
        (again,) = deviations(record, hold)
        assert (again.open, again.times, len(again.entries)) == (True, 2, 1)


def test_an_entry_made_while_a_later_hold_runs_belongs_to_the_hold_it_names(tmp_path):
    with Store.open(tmp_path / "night.db", batch_ms=10**9) as store:
        write_night(store, hours=0.5, broken=True)
        second = write_night(store, hours=0.5, broken=True)
        store.belongs_to(second)
        entry = Disposition("no-reading", Disposal.USED, 1).entry("Anna")
        store.notice(Instant(1, 1, LATER_MS), entry)
    record = Record(tmp_path / "night.db")
    assert [one.open for one in deviations(record, 1)] == [False, True]
    assert [one.open for one in deviations(record, second)] == [True, True]


def test_nothing_is_written_beside_a_daemon(night):
    with Store.open(night.path), pytest.raises(StoreError, match="Another holdctl already writes"):
        enter(night, Disposition("no-reading", Disposal.USED, 1), "Anna", LATER_MS)
    assert night.requests(1) == []


def test_a_calm_night_has_nothing_to_enter(calm):
    assert deviations(calm, 1) == ()
    assert "OPEN" not in shown(render_report(figures(calm, 1)))


def test_the_figures_as_data_have_them_too(night):
    data = msgspec.to_builtins(figures(night, 1))
    assert [(one["alarm"], one["open"], one["entries"]) for one in data["deviations"]] == [
        ("no-reading", True, ()), ("probe-fault", True, ()), ("unsafe-window", True, ()),
    ]  # fmt: skip


def test_unsafe_windows_are_open_until_somebody_says_what_was_done(night):
    (one,) = [d for d in figures(night, 1).deviations if d.alarm == "unsafe-window"]
    assert one.open
    assert one.times == 3
    assert "74 °C" in one.corrective_action
    said = enter(night, Disposition("unsafe-window", Disposal.DISCARDED, 1, "stood cold"), "Anna", LATER_MS)
    assert said == "paste of hold 1 discarded after unsafe-window, entered by Anna: stood cold"
    (one,) = [d for d in figures(night, 1).deviations if d.alarm == "unsafe-window"]
    assert not one.open
    assert one.entries[0].what == "discarded"
    text = " ".join(shown(render_report(figures(night, 1))).split())
    assert "Paste after unsafe-window: discarded, entered by Anna" in text


@pytest.mark.parametrize(("what", "still_open"), [(Disposal.USED, True), (Disposal.DISCARDED, False)])
def test_a_window_that_lasts_on_after_an_entry_opens_it_again_but_for_discarded_paste(
    night, what, still_open
):
    last = max(food_account(read_night(night, 1)).breaches, key=lambda one: one.start_s)
    assert last.length_s > 120
    middle = round(500 * (last.start_s + last.end_s))
    with Store.open(night.path) as store:
        store.belongs_to(1)
        entry = Disposition("unsafe-window", what, 1, "").entry("Anna")
        store.notice(Instant(middle, middle, START_UTC_MS + middle), entry)
    (one,) = [d for d in figures(night, 1).deviations if d.alarm == "unsafe-window"]
    assert one.open is still_open
    assert one.entries[0].what == what
