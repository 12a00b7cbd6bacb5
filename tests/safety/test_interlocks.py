"""The table of interlocks, and the trips that stand."""

import pytest

from holdctl.safety import INTERLOCKS, Standing


@pytest.mark.parametrize("name", sorted(INTERLOCKS))
def test_every_interlock_says_what_is_watched_what_follows_and_what_to_do(name):
    row = INTERLOCKS[name]
    assert row.name == name
    assert row.cause
    assert row.what_to_do
    assert any(word in row.consequence for word in ("relay is off", "relay off", "relay falls"))


@pytest.mark.parametrize("name", sorted(INTERLOCKS))
def test_a_latched_interlock_names_the_reset_that_clears_it(name):
    row = INTERLOCKS[name]
    if row.latched:
        assert f"holdctl reset {name}" in row.what_to_do


def test_high_limit_and_another_host_are_latched():
    assert {name for name, row in INTERLOCKS.items() if row.latched} == {"high-limit", "other-host"}


def test_no_interlock_claims_to_be_safe():
    assert not [
        row for row in INTERLOCKS.values() if "safe" in f"{row.cause}{row.consequence}{row.what_to_do}"
    ]


def test_trips_stand_in_the_order_in_which_they_came_and_each_once():
    standing = Standing()
    assert standing.trip("probe-fault", 10)
    assert standing.trip("no-reading", 20)
    assert not standing.trip("probe-fault", 30)
    assert list(standing) == ["probe-fault", "no-reading"]
    assert standing


def test_a_trip_falls_once():
    standing = Standing()
    standing.trip("no-reading", 0)
    assert standing.clear("no-reading")
    assert not standing.clear("no-reading")
    assert not standing


def test_trips_of_an_earlier_hold_stand_again_and_a_name_nobody_knows_counts_as_latched():
    standing = Standing.restored(("high-limit", "from-a-newer-version"))
    assert list(standing) == ["high-limit", "from-a-newer-version"]
    standing.clear("high-limit")
    assert standing.latched


def test_only_latched_trips_need_a_reset():
    standing = Standing()
    standing.trip("no-reading", 0)
    assert not standing.latched
    standing.trip("high-limit", 0)
    assert standing.latched
