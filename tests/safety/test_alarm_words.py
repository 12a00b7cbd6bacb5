"""What the book of alarms says: the words and details of each notice, and what is first."""

import pytest

from holdctl.events import Notice, NoticeKind
from holdctl.safety import INTERLOCKS, AlarmBook, Effect, Priority
from holdctl.safety.alarm_states import LONGEST_SHELVE_MS, AlarmState

MIN = 60_000
LATCHED = "high-limit"


def _one(notices):
    (notice,) = notices
    return notice


def _plain(notice):
    return notice.kind, notice.text, dict(notice.detail)


def test_an_acknowledgement_says_of_what_and_by_whom():
    book = AlarmBook()
    book.raise_now("no-heat", "", 0)
    assert _plain(_one(book.acknowledge("no-heat", "Ada"))) == (
        NoticeKind.ACKNOWLEDGED,
        "no-heat acknowledged by Ada",
        {"state": "acknowledged", "priority": INTERLOCKS["no-heat"].priority.value, "by": "Ada"},
    )


def test_a_reset_says_of_what_and_by_whom_or_what_is_given():
    for given, said in (
        ("", f"{LATCHED} reset by Ada"),
        ("the run before reset it", "the run before reset it"),
    ):
        book = AlarmBook()
        book.raise_now(LATCHED, "", 0, over=True)
        kind, text, detail = _plain(_one(book.reset(LATCHED, "Ada", given)))
        assert (kind, text, detail["by"], detail["state"]) == (NoticeKind.RESET, said, "Ada", "normal")
    book = AlarmBook()
    book.raise_now(LATCHED, "", 0, over=True)
    assert _one(book.reset(LATCHED)).text == f"{LATCHED} reset by "


def test_after_a_reset_nothing_of_it_stands_and_the_next_condition_counts_its_delay_anew():
    book = AlarmBook()
    for name in (LATCHED, "no-heat"):
        book.raise_now(name, "", 0, over=name == LATCHED)
        assert book.reset(name, "Ada")
        assert book.state(name) is AlarmState.NORMAL
        assert not book.active(name)
        assert name not in book
        entry = book._entries[name]
        assert (entry.latch, entry.active, entry.differs_since_ms) == (False, False, None)
        assert book.reset(name, "Ada") == ()


def test_a_latched_one_whose_cause_is_watched_and_there_says_why_it_can_not_be_reset():
    book = AlarmBook()
    book.condition("relay-welded", True, 0)
    book.condition("relay-welded", True, 60_000)
    book.tick(60_000)
    assert book.active("relay-welded")
    cause = INTERLOCKS["relay-welded"].cause
    assert book.why_not_reset("relay-welded") == f"its cause is still there: {cause}"
    assert book.why_not_reset("no-heat") == ""


@pytest.mark.parametrize("name", ["probe-fault", LATCHED])
def test_an_alarm_that_is_put_aside_may_be_reset_there(name):
    book = AlarmBook()
    book.raise_now(name, "", 0)
    book.shelve(name, "Ada", 5 * MIN, 1000)
    assert book.reset(name, "Ada")
    assert name not in book


def test_a_millisecond_is_a_time_to_put_aside_and_none_is_not():
    book = AlarmBook()
    assert book.why_not_shelved("no-heat", 1) == ""
    row = INTERLOCKS["no-heat"]
    longest = LONGEST_SHELVE_MS[row.priority]
    told = f"an alarm of {row.priority.value} priority is put aside for {longest // MIN} min at most"
    assert [book.why_not_shelved("no-heat", ms) for ms in (0, -1, longest, longest + 1)] == [
        told,
        told,
        "",
        told,
    ]


@pytest.mark.parametrize(
    ("name", "gone", "still", "after"),
    [
        ("no-heat", False, "its cause is still there", AlarmState.UNACKNOWLEDGED),
        ("no-heat", True, "it is over", AlarmState.NORMAL),
        (LATCHED, True, "it waits for its reset", AlarmState.LATCHED_UNACKNOWLEDGED),
        (LATCHED, False, "its cause is still there", AlarmState.UNACKNOWLEDGED),
    ],
)
def test_what_is_taken_back_says_why_and_how_it_stands(name, gone, still, after):
    book = AlarmBook()
    book.raise_now(name, "", 0)
    book.shelve(name, "Ada", 5 * MIN, 1000)
    if gone:
        book.clear_now(name, "gone", 2000)
    kind, text, detail = _plain(_one(book.unshelve(name, "Ben")))
    assert kind is NoticeKind.UNSHELVED
    assert text == f"{name} is no longer put aside (taken back by Ben): {still}"
    priority = INTERLOCKS[name].priority.value
    assert detail == {"state": after.value, "priority": priority, "by": "Ben"}
    assert book.state(name) is after
    assert book.first_out == (name if after is not AlarmState.NORMAL else "")


def test_a_shelf_whose_time_is_over_says_so():
    book = AlarmBook()
    book.raise_now("no-heat", "", 0)
    book.shelve("no-heat", "Ada", 5 * MIN, 0)
    assert book.tick(5 * MIN - 1) == ()
    notice = _one(book.tick(5 * MIN))
    assert notice.text == "no-heat is no longer put aside (its time is over): its cause is still there"
    assert "by" not in notice.detail
    assert "held_back" not in notice.detail


def test_what_was_raised_while_put_aside_is_no_longer_held_back_once_taken_back():
    book = AlarmBook()
    book.shelve("no-heat", "Ada", 5 * MIN, 0)
    assert _one(book.raise_now("no-heat", "", 1000)).detail["held_back"] == "shelved"
    assert "held_back" not in _one(book.unshelve("no-heat", "Ada")).detail


def test_the_first_out_stays_while_another_is_taken_back():
    book = AlarmBook()
    book.shelve("no-heat", "Ada", 5 * MIN, 0)
    book.raise_now("no-heat", "", 500)
    book.raise_now("probe-fault", "", 1000)
    assert book.first_out == "probe-fault"
    book.unshelve("no-heat", "Ada")
    assert book.first_out == "probe-fault"


def test_a_trip_of_an_earlier_hold_is_over_as_it_is_told_and_said_anew_it_has_come_anew():
    book = AlarmBook()
    restored = Notice(NoticeKind.TRIP, LATCHED, "still latched", {"restored": True})
    told = _one(book.take(restored, 1000))
    assert told.text == "still latched"
    assert not book.active(LATCHED)
    assert book.state(LATCHED) is AlarmState.LATCHED_UNACKNOWLEDGED
    entry = book.entries[LATCHED]
    assert (entry.text, entry.since_ms, entry.over_ms) == ("still latched", 1000, 1000)
    book.take(Notice(NoticeKind.TRIP, LATCHED, "hot", {}), 2000)
    assert book.active(LATCHED)
    assert (book.entries[LATCHED].text, book.entries[LATCHED].over_ms) == ("hot", None)
    gone = _one(book.take(Notice(NoticeKind.TRIP_CLEARED, LATCHED, "cooled", {}), 3000))
    assert gone.text == f"cooled; it stays until `holdctl reset {LATCHED}`"
    assert book.entries[LATCHED].over_ms == 3000
    assert not book.active(LATCHED)


def test_the_end_of_an_alarm_is_told_in_the_words_that_are_given_else_in_its_own():
    book = AlarmBook()
    for given, said in (("all is well", "all is well"), ("", "no-heat: gone")):
        book.raise_now("no-heat", "", 0)
        assert _one(book.take(Notice(NoticeKind.ALARM_CLEARED, "no-heat", given, {}), 1000)).text == said
    other = Notice(NoticeKind.INFO, "x", "y", {})
    assert book.take(other, 0) == (other,)


def test_priorities_are_said_as_words():
    assert {row.priority for row in INTERLOCKS.values()} == set(Priority)


def test_a_raise_says_what_was_seen_without_its_full_stop_then_what_follows_and_what_to_do():
    row = INTERLOCKS["no-heat"]
    tail = f": {row.consequence}. Next: {row.what_to_do}."
    for text, head in (("it is cold.", "it is cold"), ("", row.cause.rstrip(".")), ("...XX.", "...XX")):
        assert _one(AlarmBook().raise_now("no-heat", text, 0)).text == head + tail


def test_a_condition_that_goes_is_told_as_gone_in_its_own_words():
    book = AlarmBook()
    row = INTERLOCKS["over-ceiling"]
    book.condition("over-ceiling", True, 0, "66 °C")
    raised = _one(book.tick(round(1000 * row.on_delay_s)) or book.condition("over-ceiling", True, 10**6))
    assert raised.text.startswith("66 °C: ")
    book.condition("over-ceiling", False, 2 * 10**6)
    gone = _one(book.tick(3 * 10**6))
    assert gone.text == "over-ceiling: gone"
    assert book.entries["over-ceiling"].over_ms == 3 * 10**6


def test_putting_aside_says_for_how_long_by_whom_and_that_a_trip_works_all_the_same():
    kind, text, detail = _plain(_one(AlarmBook().shelve("over-ceiling", "Ada", 90_000, 0)))
    assert (kind, text) == (NoticeKind.SHELVED, "over-ceiling put aside for 1.5 min by Ada")
    assert (detail["by"], detail["for_ms"], detail["state"]) == ("Ada", 90_000, "shelved")
    assert INTERLOCKS["probe-fault"].effect is Effect.TRIP
    trip = _one(AlarmBook().shelve("probe-fault", "Ada", 5 * MIN, 0))
    assert trip.text == "probe-fault put aside for 5 min by Ada; it takes the heat away all the same"


def test_putting_the_first_out_aside_leaves_no_first_out():
    book = AlarmBook()
    book.raise_now("no-heat", "", 0)
    assert book.first_out == "no-heat"
    book.shelve("no-heat", "Ada", 5 * MIN, 0)
    assert book.first_out == ""


def test_the_third_within_a_minute_is_told_as_a_chatter_and_held_back():
    book, notices = AlarmBook(), []
    for k in range(3):
        notices += book.raise_now("no-heat", "", 1000 * k)
        book.clear_now("no-heat", "", 1000 * k + 500)
    said = [n for n in notices if n.kind is NoticeKind.CHATTERING]
    text = "no-heat has come 3 times within a minute: it chatters, each time is in the record"
    assert [n.text for n in said] == [text]
    raised = [n.detail.get("held_back", "") for n in notices if n.kind is not NoticeKind.CHATTERING]
    assert raised == ["", "", "chattering"]


def _flooded():
    """Eleven alarms within a second, each another one."""
    book, notices = AlarmBook(), []
    names = [
        name
        for name, row in INTERLOCKS.items()
        if row.priority is not Priority.HIGH and name != "alarm-flood"
    ]
    high = [
        name for name, row in INTERLOCKS.items() if row.priority is Priority.HIGH and name != "relay-welded"
    ]
    for k, name in enumerate((*high, *names)[:11]):
        notices += book.raise_now(name, "", 100 * k)
    return book, notices, high[0], names[-1]


def test_a_flood_is_told_with_its_first_and_what_follows_is_held_back_and_counted():
    book, notices, first, last = _flooded()
    flood = next(n for n in notices if n.name == "alarm-flood")
    assert flood.text.startswith(f"more than 10 alarms within ten minutes, first {first}: ")
    assert "held_back" not in flood.detail
    assert book.flood
    before = book._flood.held_back
    assert _one(book.raise_now(last, "", 2000)).detail["held_back"] == "flood"
    assert book._flood.held_back == before + 1
    assert "held_back" not in book.raise_now("relay-welded", "", 2100)[0].detail
    assert book._flood.held_back == before + 1
    assert book.tick(500_000) == ()
    ebbed = _one(book.tick(700_000))
    words = f"fewer than 5 alarms within ten minutes; {before + 1} were held back"
    assert (ebbed.name, ebbed.text) == ("alarm-flood", words)
    assert not book.flood


def test_a_flood_whose_alarms_have_all_been_seen_names_the_one_it_began_with():
    book, notices = AlarmBook(), []
    names = [name for name in INTERLOCKS if name not in ("alarm-flood", "relay-welded")][:11]
    for k, name in enumerate(names):
        notices += book.raise_now(name, "", 100 * k)
        book.acknowledge("", "Ada")
    flood = next(n for n in notices if n.name == "alarm-flood")
    assert f"first {names[-1]}" in flood.text


def test_what_is_put_aside_counts_for_no_flood():
    book, notices = AlarmBook(), []
    names = [name for name in INTERLOCKS if name not in ("alarm-flood", "relay-welded")][:12]
    for name in names:
        book.shelve(name, "Ada", 5 * MIN, 0)
        notices += book.raise_now(name, "", 0)
    assert not book.flood
    assert {n.detail["held_back"] for n in notices} == {"shelved"}


def test_an_alarm_that_has_gone_unseen_is_kept_and_one_that_was_seen_is_forgotten_after_its_chatter():
    book = AlarmBook()
    book.raise_now("no-heat", "", 0)
    book.clear_now("no-heat", "", 1000)
    book.tick(10**7)
    assert "no-heat" in book.known
    book.acknowledge("no-heat", "Ada")
    book.raise_now("probe-fault", "", 10**7)
    book.acknowledge("probe-fault", "Ada")
    book.clear_now("probe-fault", "", 10**7 + 1)
    book.tick(10**7 + 59_999)
    assert "no-heat" not in book.known
    assert "probe-fault" in book.known
    book.tick(10**7 + 60_000)
    assert "probe-fault" not in book.known


def test_a_condition_that_comes_back_within_its_delay_begins_it_anew():
    row = INTERLOCKS["over-ceiling"]
    delay = round(1000 * row.on_delay_s)
    assert delay > 2000
    book = AlarmBook()
    book.condition("over-ceiling", True, 0)
    book.condition("over-ceiling", False, delay - 1000)
    book.condition("over-ceiling", True, delay)
    assert book.tick(2 * delay - 1) == ()
    assert _one(book.tick(2 * delay)).name == "over-ceiling"
