"""The main job, in closed loop: five simulated warmers, two probes, whole nights. All figures are true ones."""

import math

import msgspec
import pytest

from holdctl.events import State
from holdctl.hold import Hold
from holdctl.settings import Place
from holdsim import PRESETS, Truth
from holdsim.settings_text import PROGRAMME
from tests.closed_loop import HOUR, Loop, loop

NAMES = sorted(PRESETS)
STARTS = [
    pytest.param(70.0, 24.0, 1, id="70-in-24"),
    pytest.param(74.0, 24.0, 4, id="74-in-24", marks=pytest.mark.soak),
    pytest.param(66.0, 18.0, 4, id="66-in-18", marks=pytest.mark.soak),
    pytest.param(66.0, 24.0, 4, id="66-in-24", marks=pytest.mark.soak),
    pytest.param(74.0, 18.0, 4, id="74-in-18", marks=pytest.mark.soak),
]
"""Paste and room, °C, and how long it is held, h. Nights with a hold of four are whole, 8 h, and their last three hours
count; the others end half an hour
after theirs, and the last hour counts: from 70 °C the jacket needs two hours to fall into the range."""


def _figures(night: Loop, hours: int) -> str:
    last = night.last(hours)
    goal = night.plant.steady(65.0, Place.MID)
    probe = [row.truth.probes[0] for row in last]
    return (
        f"last {hours} h: probe {min(probe):.2f}…{max(probe):.2f}, "
        f"coldest {min(row.truth.coldest_c for row in last):.2f} (steady {goal.coldest_c:.2f}), "
        f"hottest {max(row.truth.hottest_c for row in last):.2f} (steady {goal.hottest_c:.2f}), "
        f"{(night.switch_ons - last[0].switch_ons) / hours:.1f} switch-ons an hour; "
        f"the clock ran on {_range(night.credited)}; estimate less truth: "
        + ", ".join(f"{name} {min(e):+.2f}…{max(e):+.2f}" for name, e in _errors(night, hours).items())
    )


def _range(truths: list[Truth]) -> str:
    coldest = min((truth.coldest_c for truth in truths), default=math.nan)
    hottest = max((truth.hottest_c for truth in truths), default=math.nan)
    return f"{coldest:.2f}…{hottest:.2f}"


def _errors(night: Loop, hours: int) -> dict[str, list[float]]:
    """Estimate less truth in the last hours, K."""
    names = ("coldest_c", "hottest_c", "mean_c", "wall_c")
    pairs = [(row.decision.estimate, row.truth) for row in night.last(hours)]
    return {name: [getattr(said, name) - getattr(true, name) for said, true in pairs] for name in names}


@pytest.mark.parametrize(("start_c", "ambient_c", "hold_h"), STARTS)
@pytest.mark.parametrize("name", NAMES)
def test_a_night_ends_within_half_a_kelvin_and_no_paste_is_over_67(name, start_c, ambient_c, hold_h):
    programme = PROGRAMME.replace('"4 h"', f'"{hold_h} h"')
    night = loop(name, start_c=start_c, ambient_c=ambient_c, programme=programme)
    if hold_h == 4:
        night.run(8 * HOUR)
    else:
        while night.t_s < 4 * HOUR and night.hold.progress.index == 0:
            night.run(300)
        night.run(HOUR // 2)
    last_h = 3 if hold_h == 4 else 1
    print(f"\n{name}, {start_c:g} °C in {ambient_c:g} °C: {_figures(night, last_h)}")
    last, goal = night.last(last_h), night.plant.steady(65.0, Place.MID)
    assert all(abs(row.truth.probes[0] - 65.0) <= 0.5 for row in last)
    assert all(row.truth.hottest_c <= 67.0 for row in last)
    assert all(row.truth.coldest_c >= goal.coldest_c - 0.5 for row in last)
    assert max(row.truth.hottest_c for row in night.rows) <= max(70.0, start_c) + 0.5
    assert night.switch_ons - last[0].switch_ons <= last_h * 45
    assert night.trips() == []
    assert night.hold.progress.index == 1, "the hours at 65 °C never got done"
    # Every part was truly in range while the clock ran, but for the probes' noise and steps.
    assert min(truth.coldest_c for truth in night.credited) >= 62.0
    assert max(truth.hottest_c for truth in night.credited) <= 67.3
    # Measured: coldest −1.20…+0.41, hottest −0.04…+0.18, mean −0.45…+0.10, wall −0.36…+0.20 K.
    errors = _errors(night, last_h)
    assert all(-1.4 <= error <= 0.5 for error in errors["coldest_c"])
    assert all(abs(error) <= 0.45 for name in ("hottest_c", "mean_c", "wall_c") for error in errors[name])


@pytest.mark.parametrize("name", NAMES)
def test_a_mix_with_boiling_water_settles_without_heat_and_without_a_trip(name):
    """It stays above what the relay is leased for all the time: in 40 min the coolest came to 80 °C."""
    night = loop(name, start_c=88.0).run(HOUR // 6)
    assert night.trips() == []
    assert night.hold.state is State.RUNNING
    assert max(row.truth.hottest_c for row in night.rows) <= 88.5
    hot = [row for row in night.rows if row.truth.probes[0] > 78.0]
    assert hot[0].t_s == 0
    assert all(row.decision.lease_ms == 0 for row in hot)


@pytest.mark.parametrize("name", NAMES)
def test_a_cold_vessel_is_warmed_without_a_trip(name):
    """The paste is at its hottest after 23 to 39 min."""
    night = loop(name, start_c=66.0, vessel_c=20.0).run(3 * HOUR // 4)
    hottest = max(row.truth.hottest_c for row in night.rows)
    early = [truth for truth in night.credited if truth.coldest_c < 62.0]
    print(
        f"\n{name}, cold vessel: hottest {hottest:.2f}, probe {night.rows[-1].truth.probes[0]:.2f} at the end, the "
        f"clock ran on {_range(night.credited)}, {len(early) * night.every_s / 60:.1f} min of it under 62 °C"
    )
    assert night.trips() == []
    assert night.hold.state is State.RUNNING
    assert night.switch_ons > 0
    assert hottest <= 71.0


@pytest.mark.soak
@pytest.mark.parametrize("name", NAMES)
def test_with_one_probe_hot_paste_in_a_cold_vessel_keeps_near_its_ceiling(name):
    """Nothing tells a cold vessel from a warmer that loses all its heat, but what was believed of it before."""
    night = loop(name, start_c=66.0, vessel_c=20.0)
    night.hold = Hold(msgspec.structs.replace(night.hold.settings, probe=night.hold.settings.probe[:1]))
    both = night.plant.readings
    night.plant.readings = lambda: both()[:1]
    night.run(2 * HOUR)
    hottest = max(row.truth.hottest_c for row in night.rows)
    print(
        f"\n{name}, cold vessel, one probe: hottest {hottest:.2f}, coldest in the end "
        f"{night.rows[-1].truth.coldest_c:.2f}"
    )
    assert night.trips() == []
    assert hottest <= 74.0
