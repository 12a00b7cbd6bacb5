"""Which trips stand."""

from holdctl.safety import INTERLOCKS, Standing


def test_what_an_earlier_hold_left_stands_until_it_is_cleared():
    standing = Standing.restored(("high-limit", "from-a-newer-version"))
    assert list(standing) == ["high-limit", "from-a-newer-version"]
    assert "high-limit" in standing
    assert standing.clear("high-limit")
    assert "high-limit" not in standing
    assert not standing.clear("high-limit")
    assert standing


def test_a_trip_is_new_once_and_they_stand_in_the_order_in_which_they_came():
    standing = Standing()
    assert not standing
    assert [standing.trip(name, 0) for name in ("no-reading", "high-limit", "no-reading")] == [
        True,
        True,
        False,
    ]
    assert list(standing) == ["no-reading", "high-limit"]
    assert standing.clear("no-reading")


def test_only_a_latched_trip_or_one_that_waits_waits_for_a_person():
    for name, row in INTERLOCKS.items():
        standing = Standing.restored((name,))
        assert standing.latched is row.latched
        assert standing.waiting is (row.latched or row.waits)
