"""A flood and a chatter at their borders: more than 10 in 10 min, fewer than 5; three in a minute (ISA-18.2)."""

from holdctl.safety.alarm_states import CHATTER_MS, FLOOD_BEGINS, FLOOD_MS
from holdctl.safety.counting import Chatter, Flood

BEGUN = 5_000_000


def test_a_flood_begins_with_the_eleventh_alarm_within_ten_minutes():
    flood = Flood()
    assert flood.on is False
    assert flood.held_back == 0
    assert [flood.count(BEGUN + k) for k in range(FLOOD_BEGINS + 2)] == [False] * FLOOD_BEGINS + [True, False]
    assert flood.on is True
    assert flood.held_back == 0


def test_an_alarm_of_ten_minutes_ago_counts_no_more():
    flood = Flood()
    flood.count(BEGUN)
    assert not any(flood.count(BEGUN + FLOOD_MS) for _ in range(FLOOD_BEGINS))
    flood = Flood()
    flood.count(BEGUN)
    assert [flood.count(BEGUN + FLOOD_MS - 1) for _ in range(FLOOD_BEGINS)][-1]


def test_a_flood_ends_with_fewer_than_five_and_the_next_one_counts_anew():
    flood = Flood()
    for k in range(FLOOD_BEGINS + 1):
        flood.count(BEGUN + 1000 * k)
    flood.held_back = 7
    sixth = BEGUN + 6000 + FLOOD_MS
    assert not flood.ebbs(sixth - 1), "five are left"
    assert flood.ebbs(sixth)
    assert flood.on is False
    assert not flood.ebbs(sixth)
    for k in range(FLOOD_BEGINS + 1):
        flood.count(sixth + FLOOD_MS + k)
    assert (flood.on, flood.held_back, flood.told) == (True, 0, set())


def test_the_third_within_a_minute_is_a_chatter_whenever_it_begins():
    for begun in (0, BEGUN):
        chatter = Chatter()
        assert chatter.on is False
        assert [chatter.count(begun + ms) for ms in (0, 1000, 2000, 3000)] == [False, False, True, False]
        assert chatter.on is True
    chatter = Chatter()
    assert [chatter.count(BEGUN + ms) for ms in (0, 30_000, CHATTER_MS)] == [False, False, False]
    assert chatter.count(BEGUN + CHATTER_MS + 1), "the last three lie within a minute"


def test_a_chatter_is_over_after_a_minute_without_it():
    chatter = Chatter()
    for ms in (0, 1000, 2000):
        chatter.count(BEGUN + ms)
    assert not chatter.quiet(BEGUN + 2000 + CHATTER_MS - 1)
    assert chatter.on
    assert chatter.quiet(BEGUN + 2000 + CHATTER_MS)
    assert not chatter.on
    assert Chatter().quiet(0)
