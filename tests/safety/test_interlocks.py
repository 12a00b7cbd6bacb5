"""The table of interlocks, and the trips that stand."""

import pytest

from holdctl.control.jumps import BACK_K
from holdctl.hold.vigil import APART_BACK, OVER_BACK_K
from holdctl.safety import INTERLOCKS, Effect, Priority, Standing, of
from holdctl.safety.limits import ARM_BELOW_K


@pytest.mark.parametrize("name", sorted(INTERLOCKS))
def test_every_row_says_what_is_watched_what_follows_what_to_do_and_in_what_time(name):
    row = INTERLOCKS[name]
    assert row.name == name
    assert row.cause
    assert row.what_to_do
    assert row.respond
    off = ("lease 0", "told to be off", "relay falls", "relay open", "switch this heater off")
    assert (row.effect is Effect.TRIP) == any(word in row.consequence for word in off)


@pytest.mark.parametrize("name", sorted(INTERLOCKS))
def test_a_latched_interlock_names_the_reset_that_clears_it(name):
    row = INTERLOCKS[name]
    if row.latched:
        assert row.effect is Effect.TRIP
        assert f"holdctl reset {name}" in row.what_to_do


def test_the_deadbands_of_the_table_are_those_that_the_code_works_with():
    said = {name: INTERLOCKS[name].deadband for name in ("high-limit", "over-ceiling", "probe-out")}
    works = {"high-limit": ARM_BELOW_K, "over-ceiling": OVER_BACK_K, "probe-out": BACK_K}
    assert said == {name: f"{k:g} K" for name, k in works.items()}
    assert (INTERLOCKS["probes-disagree"].deadband, APART_BACK) == ("half", 0.5)


def test_a_welded_relay_a_high_limit_and_another_host_are_latched():
    latched = {name for name, row in INTERLOCKS.items() if row.latched}
    assert latched == {"relay-welded", "high-limit", "other-host"}


def test_no_row_promises_to_open_a_welded_relay():
    row = INTERLOCKS["relay-welded"]
    assert "no program can switch this heater off" in row.consequence
    assert "pull the plug" in row.what_to_do
    assert row.priority is Priority.HIGH


def test_a_name_that_nobody_knows_counts_as_a_latched_trip():
    assert of("from-a-newer-version").latched
    assert of("from-a-newer-version").effect is Effect.TRIP


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


def test_some_trips_wait_for_a_person_without_being_latched():
    standing = Standing()
    standing.trip("unanswered", 0)
    assert standing.waiting
    assert not standing.latched


def test_a_trip_that_this_version_does_not_know_is_off_latched_and_says_how_to_reset_it():
    row = of("from-a-newer-version")
    assert (row.name, row.cause, row.consequence) == ("from-a-newer-version", "unknown", "lease 0")
    assert (row.what_to_do, row.respond) == ("`holdctl reset from-a-newer-version`", "at once")
    assert (row.effect, row.priority, row.latched) == (Effect.TRIP, Priority.HIGH, True)
