"""What is watched with every reading, where no single room shows it."""

import re

import pytest

from holdctl.control import Controller
from holdctl.control.residual import Heat
from holdctl.events import Estimate, ForeignAck, Identified, NodeBoot, NoticeKind, RequestKind, Restart, State
from holdctl.hold.probes import Values
from holdctl.hold.vigil import Vigil
from holdctl.safety.heat import SEEN, Finding, Look
from tests.closed_loop import instant
from tests.hold.bench import Bench, stirred


def test_a_probe_out_of_the_paste_is_no_frozen_one_and_a_person_may_say_that_it_is_in_its_place():
    bench = Bench()
    bench.reads(60)
    bench.reads(20, 25.0, 65.2)
    assert "probe-out" in bench.hold.standing
    frozen = bench.hold.vigil._frozen[1]
    assert frozen.still_ms(bench.hold.now_ms) == 0  # what it repeats out there is not counted
    bench.ask(RequestKind.RESET, "probe-out")
    assert bench.hold.drive.controller.estimator.jumps.out == ()
    bench.reads(2, 25.0, 65.2)
    assert "probe-out" not in bench.hold.standing
    assert bench.hold.drive.estimate.mean_c == pytest.approx(25.0, abs=1.0)
    assert "reset" in [notice.kind for notice in bench.notices(NoticeKind.RESET)]


def test_paste_that_somebody_has_touched_is_no_heat_and_the_filter_learns_by_how_much(monkeypatch):
    bench = Bench()
    bench.reads(65)
    hold = bench.hold
    estimator = hold.drive.controller.estimator
    touched = []
    monkeypatch.setattr(estimator, "touched", touched.append)
    monkeypatch.setattr(hold.vigil._heat, "look", lambda *_looks, **_how: Finding(touched=True))
    estimator.heats = [Heat(60, 4.0, 0.1, 0.2, None, 0.0, off_k, 0.0, 600) for off_k in (0.4, 0.7, 0.5)]
    bench.read()
    assert touched == [0.7]
    assert "no-heat" not in hold.alarms
    bench.read()
    assert touched == [0.7], "one look is judged once"


@pytest.mark.parametrize(
    ("finding", "quiet_s", "taken"),
    [
        (Finding(missing="heat is missing"), 60.0, False),
        (Finding(nothing="no heat"), 60.0, False),
        (Finding(unordered="too much"), 60.0, False),
        (Finding(), 60.0, True),
        (
            Finding(missing="heat is missing"),
            0.0,
            True,
        ),  # on the way up a better model may be all that is missing
    ],
)
def test_a_fit_is_not_taken_over_while_a_settled_hold_is_suspected_of_a_fault(
    finding, quiet_s, taken, monkeypatch
):
    bench = Bench()
    bench.reads(5)
    vigil, seen = bench.hold.vigil, []
    vigil._finding, vigil._quiet_s = finding, quiet_s
    monkeypatch.setattr(bench.hold.drive.controller, "identified", seen.append)
    bench.event(Identified(1000, {}, (), (), 0.01))
    assert len(seen) == taken
    monkeypatch.setattr(bench.hold.drive.controller, "due", lambda: "a fit")
    assert (bench.hold.due() == "a fit") is taken, "what is not begun is not what the next night begins with"


def test_before_the_first_reading_nothing_is_above_a_ceiling():
    settings = stirred()
    vigil = Vigil(settings, Controller(settings))
    hot = Values({1: 99.0, 2: 99.0}, {1: 99.0, 2: 99.0})
    assert vigil._above(Estimate(99.0, 99.0, 99.0, 99.0, 99.0, 0.1, 0.1, 0.1, 0.1), hot) == ""


def test_a_probe_that_has_flickered_and_then_stands_still_trips_and_says_for_how_long():
    bench = Bench()
    bench.reads(10)
    bench.hold.vigil._frozen[1]._learnt = True  # what half an hour of flicker leaves
    for second in range(245):  # 8 min
        bench.read(65.0, 65.0 + 0.1 * (second % 2), after_ms=2000)
    assert "probe-frozen" in bench.hold.standing
    said = [notice.text for notice in bench.notices(NoticeKind.TRIP)]
    assert any("has read 65.00 °C for 8 minutes" in text for text in said), said


def test_probes_that_differ_by_more_than_the_paste_can_are_told_in_a_quiet_hold_only():
    bench = Bench()
    bench.reads(10)
    vigil = bench.hold.vigil
    apart = Values({1: 65.0, 2: 75.0}, {1: 65.0, 2: 75.0})
    assert vigil._disagree(apart, 1e6) == ""
    vigil._quiet_s = 1e6
    by = re.search(r"differ by (\d+\.\d) K more than the paste can", vigil._disagree(apart, 1e6))
    assert float(by[1]) == pytest.approx(10.0, abs=0.5)  # what the model expects is no difference
    assert vigil._disagree(Values({1: 65.0, 2: 65.5}, {1: 65.0, 2: 65.5}), 1e6) == ""


def test_a_relay_that_is_shut_from_the_begin_of_a_hot_start_is_told_though_no_limit_has_been_armed_yet():
    bench = Bench()
    for second in range(190):  # a mix of 82 °C: no lease and no high limit before it has fallen
        bench.read(82.0 + second / 200, 82.0 + second / 15)
    assert not bench.hold.interlocked.high.armed
    assert bench.names(NoticeKind.TRIP) == []
    assert not any(decision.lease_ms for decision in bench.seen)
    said = {notice.name: notice.text for notice in bench.notices(NoticeKind.ALARM)}
    assert said["heat-unordered"].startswith(
        "probe 2 (wall) climbed from 82.0 to 94.0 °C in 3 min, with no heat ordered for 3 min: "
    )
    assert "pull the plug" in said["heat-unordered"]
    assert bench.hold.vigil.suspects_heat, "no fit may explain the fault by another warmer"


def test_a_wall_that_the_paste_warms_up_and_a_stir_are_no_heat_without_orders():
    bench = Bench()
    for second in range(400):
        stirred_k = 4.0 if second > 150 else 0.0
        bench.read(80.0 + stirred_k - second / 400, min(78.0, 20.0 + second / 3) + stirred_k)
    assert "heat-unordered" not in bench.names(NoticeKind.ALARM)


def test_a_node_that_boots_within_a_second_has_no_clock_that_runs_apart():
    bench = Bench()
    bench.reads(20)
    bench.event(NodeBoot("x-1", 2, 5000, (None, 105.0), "watchdog", asked=False), after_ms=1200)
    bench.n = 0  # its clock begins anew, and so does its count
    bench.read()
    for _ in range(310):  # ten minutes and a little: so long the clocks are compared
        bench.n += 1
        bench.read(after_ms=2000)
    assert bench.names(NoticeKind.ALARM) == []


def test_a_strange_command_that_is_obeyed_again_and_again_is_one_trip():
    bench = Bench()
    bench.reads(5)
    for ack in (40, 41, 42):
        bench.event(ForeignAck(ack))
    assert bench.names(NoticeKind.TRIP) == ["other-host"]


def test_a_hold_that_was_interrupted_before_its_first_reading_goes_on_with_warm_paste():
    bench = Bench()
    bench.event(Restart(60_000, "boot", ()), after_ms=60_000)
    bench.reads(5)
    assert "restart-wait" not in bench.hold.standing
    assert bench.hold.state is State.RUNNING


def test_each_look_at_the_paste_passes_on_its_own_words(monkeypatch):
    settings = stirred()
    vigil, asked = Vigil(settings, Controller(settings)), []
    both, estimate = Values({1: 65.0, 2: 66.0}, {1: 65.0, 2: 66.0}), Estimate(66.0, 65.0, 65.0, 65.0, 65.0)
    for name in ("_loose", "_above", "_disagree", "_still", "_out"):
        monkeypatch.setattr(vigil, name, lambda *what, name=name: asked.append((name, *what)) or f"{name}!")
    monkeypatch.setattr(vigil, "_balance", lambda: None)
    now = instant(9_000)
    told = {one.name: one.text for one in vigil.paste(both, estimate, now, 0.5) if one.active}
    assert told == {
        "probe-out": "_out!",
        "probe-frozen": "_still!",
        "probe-jump": "_loose!",
        "over-ceiling": "_above!",
        "probes-disagree": "_disagree!",
    }
    assert asked == [
        ("_out",),
        ("_still", both, now, 0.5),
        ("_loose", both, now),
        ("_above", estimate, both),
        ("_disagree", both, 0.5),
    ]


def test_watts_that_are_told_are_those_of_the_warmers_own_heater():
    settings = stirred()
    vigil = Vigil(settings, Controller(settings))
    hot = Look(120, 0.6, 12.0, 0.3, None, 0.0, change=0.6)
    for _ in range(SEEN):
        found = vigil._heat.look([hot], 0.3, learnt=True)
    assert found.unordered == f"about {0.6 * settings.warmer.power_w:.0f} W more than ordered heat the paste"
