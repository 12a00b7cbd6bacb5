"""Many alarms at once: which came first, flood and chatter.

Flood: begins above 10 in 10 min, ends below 5 (ISA-18.2); chattering: three or more in a minute (ISA-18.2).
"""

from holdctl.events import NoticeKind
from holdctl.safety import INTERLOCKS, AlarmBook, Priority
from holdctl.safety.alarm_states import (
    NEVER_HELD_BACK,
)
from holdctl.safety.alarms import told

MINUTE = 60_000


def _kinds(notices):
    return [(n.kind.value, n.name) for n in notices]


def test_the_first_alarm_since_all_was_seen_is_marked_as_first_out():
    book = AlarmBook()
    (first,) = book.raise_now("link-down", "", 0)
    (second,) = book.raise_now("no-reading", "", 3000)
    assert first.detail["first_out"] is True
    assert "first_out" not in second.detail
    book.acknowledge("link-down", "A")
    assert book.first_out == "link-down", "one still waits to be seen"
    book.acknowledge("", "A")
    assert book.first_out == ""
    assert len(book) == 2
    (third,) = book.raise_now("spool", "", 9000)
    assert third.detail["first_out"] is True


NAMES = [n for n in INTERLOCKS if n not in NEVER_HELD_BACK]


def _storm(book, count, each_ms, start_ms=0):
    """Raise and clear `count` alarms, one each `each_ms`; return all notices."""
    notices = []
    for k in range(count):
        name, at = NAMES[k % len(NAMES)], start_ms + k * each_ms
        notices += book.tick(at)
        notices += book.raise_now(name, "", at)
        notices += book.clear_now(name, "", at + 1)
    return notices


def test_ten_alarms_in_ten_minutes_are_no_flood_the_eleventh_is():
    book = AlarmBook()
    ten = _storm(book, 10, 50_000)
    assert not book.flood
    assert told(ten) == ten
    (_, flood) = book.raise_now("hot-holding-long", "", 599_999)
    assert (flood.name, flood.kind) == ("alarm-flood", NoticeKind.ALARM)
    assert NAMES[0] in flood.text


def test_eleven_alarms_in_more_than_ten_minutes_are_no_flood():
    book = AlarmBook()
    _storm(book, 11, 60_000)
    assert not book.flood


def test_a_hundred_alarms_in_ten_minutes_are_one_flood_and_few_messages():
    """Each urgent alarm is told once in it, nothing else is, and every single one comes back as a notice."""
    book = AlarmBook()
    notices = _storm(book, 100, 5_990)
    raised = [n for n in notices if n.kind in (NoticeKind.ALARM, NoticeKind.TRIP)]
    assert len([n for n in raised if n.name != "alarm-flood"]) == 100
    assert [n.name for n in raised].count("alarm-flood") == 1
    urgent = sum(INTERLOCKS[name].priority is Priority.HIGH for name in NAMES)
    assert len(told(raised)) <= 11 + 1 + urgent
    once = len(NAMES) + 11  # those that made the flood come once more in it
    assert told(raised[once:]) == [], "once each urgent one was told there is silence"


def test_a_flood_is_over_once_fewer_than_five_came_in_ten_minutes():
    book = AlarmBook()
    _storm(book, 11, 1000)
    assert book.flood
    assert book.tick(605_999) == (), "five are still within ten minutes"
    assert _kinds(book.tick(606_000)) == [("alarm-cleared", "alarm-flood")]
    assert not book.flood


def test_an_urgent_alarm_is_told_once_in_a_flood_and_a_welded_relay_always():
    book = AlarmBook()
    _storm(book, 14, 40_000)
    assert book.flood
    at = 14 * 40_000
    rest = [n for n in NAMES[14:] if INTERLOCKS[n].priority is Priority.HIGH]
    assert rest
    assert told(book.raise_now(rest[0], "", at))
    book.clear_now(rest[0], "", at + 1)
    assert not told(book.raise_now(rest[0], "", at + 2))
    for k in range(5):
        assert told(book.raise_now("relay-welded", "", at + 10 + 2 * k))[0].name == "relay-welded"
        book.clear_now("relay-welded", "", at + 11 + 2 * k)


def test_three_times_within_a_minute_chatters_is_said_once_and_told_no_more():
    book = AlarmBook()
    kinds = []
    for k in range(6):
        kinds += _kinds(told(book.raise_now("probe-fault", "", 10_000 * k)))
        book.clear_now("probe-fault", "", 10_000 * k + 5000)
    assert kinds == [("trip", "probe-fault")] * 2 + [("chattering", "probe-fault")]


def test_a_minute_of_quiet_ends_the_chattering():
    book = AlarmBook()
    for k in range(3):
        book.raise_now("probe-fault", "", 10_000 * k)
        book.clear_now("probe-fault", "", 10_000 * k + 1)
    assert told(book.raise_now("probe-fault", "", 20_000 + MINUTE))


def test_twice_a_minute_is_no_chattering():
    book = AlarmBook()
    for k in range(8):
        assert told(book.raise_now("probe-fault", "", 31_000 * k))
        book.clear_now("probe-fault", "", 31_000 * k + 1)
