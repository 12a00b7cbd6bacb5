"""What the drive passes on: heat that was delivered, duty that is asked, and the lease that the node grants."""

from types import SimpleNamespace

import pytest

from holdctl.control.controller import Asked
from holdctl.control.relay import BRIDGE_MS
from holdctl.events import Estimate, Phase
from holdctl.hold.drive import RIDE_CYCLE_S, Drive
from holdctl.hold.probes import Values
from holdctl.hold.programme import Want
from tests.hold.bench import stirred

VALUES = Values({1: 65.0, 2: 65.0}, {1: 65.0, 2: 65.0})
DOUBTFUL = Values({1: 65.0, 2: 65.0}, {1: 65.0, 2: 65.0}, frozenset({1}))
ESTIMATE = Estimate(65.0, 65.0, 65.0, 65.0, 65.0)


@pytest.mark.parametrize(
    ("lease_ms", "passed_ms", "share"),
    [
        (0, 1_000, 0.0),
        (500, 1_000, 0.5),
        (1_000, 1_000, 1.0),
        (2_500, 1_000, 1.0),
        (2_500, 10_000, 0.25),
        (900, 0, 0.0),
    ],
)
def test_the_heat_that_was_delivered_is_the_lease_or_the_time_that_passed(
    lease_ms, passed_ms, share, monkeypatch
):
    drive, asked = Drive(stirred()), []
    drive.lease_ms = lease_ms
    monkeypatch.setattr(drive.controller, "estimate", lambda *what: asked.append(what) or ESTIMATE)
    assert drive.follow({1: 65.0}, passed_ms) is ESTIMATE
    assert drive.estimate is ESTIMATE
    assert asked == [({1: 65.0}, share, passed_ms / 1000)]


def asking(duty: float, wall_c: float | None = 66.0, *, riding: bool = False, needed: float = 0.2) -> Drive:
    drive = Drive(stirred())
    drive.estimate = ESTIMATE
    kind = type("Asks", (type(drive.controller),), {"riding": riding, "needed_duty": needed})
    drive.controller.__class__ = kind
    drive.controller.update = lambda *what: Asked(duty, wall_c)
    drive.counsel = SimpleNamespace(look=lambda *what: [what])
    return drive


def want(setpoint_c: float | None = 65.0) -> Want:
    return Want(setpoint_c, Phase.HOLD)


@pytest.mark.parametrize(
    ("duty", "limited", "given"),
    [(0.5, False, 0.5), (0.5, True, 0.2), (0.1, True, 0.1), (1.5, False, 1.0), (0.123456, False, 0.1235)],
)
def test_the_duty_is_what_is_asked_and_limited_no_more_than_the_hold_needs(duty, limited, given):
    drive = asking(duty)
    said = drive.lease(want(), VALUES, 1.0, 7_000, limited=limited)
    assert drive.duty == given
    assert (drive.setpoint_c, drive.asked_wall_c) == (65.0, 66.0)
    assert said == [(7_000, given, 1.0)]


@pytest.mark.parametrize("riding", [True, False])
def test_on_the_way_up_the_relay_may_switch_more_often(riding):
    drive = asking(0.5, riding=riding)
    drive._cycle_s = 80.0
    drive.lease(want(), VALUES, 1.0, 0, limited=False)
    assert drive.relay.cycle_s == (RIDE_CYCLE_S if riding else 80.0)
    drive._cycle_s = 10.0
    drive.lease(want(), VALUES, 1.0, 0, limited=False)
    assert drive.relay.cycle_s == 10.0


@pytest.mark.parametrize("nothing", ["setpoint", "estimate"])
def test_without_a_setpoint_or_an_estimate_the_relay_rests(nothing):
    drive = asking(1.0)
    drive.lease(want(), VALUES, 1.0, 0, limited=False)
    assert drive.lease_ms > 0
    drive.estimate = None if nothing == "estimate" else ESTIMATE
    assert drive.lease(want(None if nothing == "setpoint" else 65.0), VALUES, 1.0, 0, limited=False) == []
    assert (drive.lease_ms, drive.duty, drive.setpoint_c, drive.asked_wall_c) == (0, 0.0, None, None)
    assert drive.relay._on_s == 0.0


def test_while_a_jump_awaits_its_second_reading_the_duty_may_fall_and_not_rise():
    drive = Drive(stirred())
    drive.give(65.0, 0.3, VALUES, 1.0)
    drive.give(65.0, 0.8, DOUBTFUL, 1.0)
    assert drive.duty == 0.3
    drive.give(65.0, 0.1, DOUBTFUL, 1.0)
    assert drive.duty == 0.1
    drive.give(65.0, 0.8, VALUES, 1.0)
    assert drive.duty == 0.8


def test_no_lease_is_longer_than_the_node_grants():
    drive = Drive(stirred())
    drive.give(65.0, 1.0, VALUES, 1.0)
    assert drive.lease_ms == BRIDGE_MS
    drive.grant(1_200)
    assert drive.relay.bridge_ms == 1_200
    drive.give(65.0, 1.0, VALUES, 1.0)
    assert drive.lease_ms == 1_200
    drive.grant(9_000)
    assert drive.relay.bridge_ms == BRIDGE_MS
    drive.give(65.0, 1.0, VALUES, 1.0)
    assert drive.lease_ms == BRIDGE_MS
    drive._max_lease_ms = 700
    drive.give(65.0, 1.0, VALUES, 1.0)
    assert drive.lease_ms == 700


def test_a_drive_that_has_not_heard_its_node_grants_five_seconds_at_most():
    drive = Drive(stirred())
    assert (drive.lease_ms, drive.duty, drive.estimate) == (0, 0.0, None)
    drive.relay.bridge_ms = 60_000
    drive.give(65.0, 1.0, VALUES, 1.0)
    assert drive.lease_ms == 5_000


def test_resting_rests_the_controller(monkeypatch):
    drive, rested = Drive(stirred()), []
    monkeypatch.setattr(drive.controller, "rest", lambda: rested.append(1))
    drive.rest()
    assert rested == [1]


def test_the_relays_times_are_the_warmers():
    settings = stirred()
    drive = Drive(settings)
    warmer = settings.warmer
    assert (drive.relay.cycle_s, drive.relay.min_on_s, drive.relay.min_off_s) == (
        warmer.cycle_s,
        warmer.min_on_s,
        warmer.min_off_s,
    )
