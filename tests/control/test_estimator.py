"""The estimate of what no probe sees: against the simulator's truth, and its manners."""

import dataclasses

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.control import Estimator, told
from holdctl.hold import Hold
from holdctl.settings import Place, Probe
from holdsim import PRESETS
from tests.closed_loop import HOUR, Loop, loop
from tests.closed_loop import told as settings_of

TEMPS = st.floats(-20.0, 150.0)


def _estimator(name="jacket", place=Place.MID, **changes):
    model = dataclasses.replace(told(settings_of(name)), **changes)
    probes = (Probe(channel=1, place=place, error_k=0.5), Probe(channel=2, place=Place.WALL, error_k=0.5))
    return Estimator(model, probes)


def _errors(rows, name):
    return [getattr(row.decision.estimate, name) - getattr(row.truth, name) for row in rows]


@pytest.mark.parametrize("name", ["jacket", pytest.param("mat-box", marks=pytest.mark.soak), "small-pot"])
def test_without_a_wall_probe_the_wall_comes_from_the_model(name):
    """The second hour from 66 °C, identified on the way. Bounds a fifth over what was measured."""
    both = settings_of(name)
    alone = msgspec.structs.replace(both, probe=both.probe[:1])
    night = Loop(Hold(alone), PRESETS[name].build(seed=1, start_c=66.0))
    night.run(2 * HOUR)
    keys = ("wall", "coldest", "hottest", "mean")
    figures = {key: _errors(night.last(1), f"{key}_c") for key in keys}
    told = {key: [getattr(row.decision.estimate, f"{key}_sd_k") for row in night.last(1)] for key in keys}
    held = {k: np.mean(np.abs(figures[k]) <= 2 * np.array(told[k]) + 0.1) for k in keys}
    print(
        name,
        {k: (round(min(v), 2), round(max(v), 2), f"{100 * held[k]:.0f} %") for k, v in figures.items()},
    )
    worst = {"wall": 3.2, "coldest": 1.4, "hottest": 1.8, "mean": 1.0}
    # Nine tenths of the time: for minutes after a new model takes over the small pot's wall was up to 9.9 K off.
    assert all(np.quantile(np.abs(figures[key]), 0.9) <= worst[key] for key in keys)
    assert all(held[key] >= 0.8 for key in ("wall", "coldest", "hottest"))


@pytest.mark.parametrize(
    ("name", "minutes"),
    [
        pytest.param("jacket", 30, marks=pytest.mark.soak),
        ("small-pot", 30),
        pytest.param("mat-box", 30, marks=pytest.mark.soak),
        ("lamp-box", 60),
    ],
)
def test_the_estimate_crosses_a_silence_as_the_cooling_paste_does(name, minutes):
    """Relay off meanwhile; an estimate that stood still would be up to 13.9 K (mean) too warm here."""
    night = loop(name, start_c=66.0).run(HOUR)
    for _ in range(60 * minutes):
        night.plant.step(0.0)
    night.t_s, night.left_ms = night.t_s + 60 * minutes, 0
    before = len(night.rows)
    night.run(200)
    rows = night.rows[before:]
    worst = {key: max(_errors(rows, key)) for key in ("coldest_c", "mean_c")}
    print(f"{name}, {minutes} min: {worst}")
    assert worst["coldest_c"] <= 1.2  # measured: up to 1.13
    assert worst["mean_c"] <= 0.8  # measured: up to 0.71


def test_a_stir_is_seen_at_the_second_reading_and_not_at_the_first():
    estimator = _estimator(place=Place.CORE)
    for _ in range(600):
        estimator.update({1: 70.0, 2: 60.0}, 0.0, 1.0)
    first = estimator.update({1: 66.0, 2: 60.0}, 0.0, 1.0)
    second = estimator.update({1: 66.0, 2: 60.0}, 0.0, 1.0)
    assert first.coldest_c < 65.0
    assert (second.coldest_c, second.mean_c) == pytest.approx((66.0, 66.0), abs=0.05)


@settings(max_examples=50, deadline=None)
@given(
    steps=st.lists(
        st.tuples(TEMPS, TEMPS, st.floats(0.0, 1.0), st.integers(-5_000, 900_000)), min_size=1, max_size=15
    ),
    name=st.sampled_from(("jacket", "lamp-box", "stirred-kettle")),
    place=st.sampled_from((Place.CORE, Place.MID, Place.EDGE)),
)
def test_whatever_is_read_the_estimate_is_finite_and_in_order(steps, name, place):
    estimator = _estimator(name, place)
    for paste_c, wall_c, duty, dt_ms in steps:
        now = estimator.update({1: paste_c, 2: wall_c}, duty, dt_ms / 1000)
        assert np.isfinite([now.wall_c, now.paste_c, now.coldest_c, now.hottest_c, now.mean_c]).all()
        assert now.coldest_c <= now.paste_c <= now.hottest_c
        assert now.coldest_c - 1e-9 <= now.mean_c <= now.hottest_c + 1e-9
        assert 0.0 <= estimator.flow().duty(now.wall_c) <= 1.0


def test_a_paste_at_one_temperature_with_wall_and_room_stays_there():
    estimator = _estimator(ambient_c=30.0)
    for _ in range(100):
        now = estimator.update({1: 30.0, 2: 30.0}, 0.0, 60.0)
    assert (now.coldest_c, now.hottest_c, now.mean_c) == pytest.approx((30.0, 30.0, 30.0), abs=1e-6)
