"""Governor and approach: what they promise about the future, held against running the model there."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.control import told
from holdctl.control.approach import Approach, Leg
from holdctl.control.governor import PULSE_S, Governor
from holdctl.control.prior import model_of
from holdctl.settings import Place
from tests.closed_loop import told as settings_of

MODELS = {
    name: model_of(told(settings_of(name))) for name in ("jacket", "mat-box", "small-pot", "stirred-kettle")
}
NAMES = st.sampled_from(sorted(MODELS))


def _state(model, paste: float, walls: tuple[float, float, float, float]) -> np.ndarray:
    temps = np.full(model.nodes, paste)
    temps[:4] = walls
    return model.begin(temps)


@given(
    NAMES,
    st.floats(0.0, 48.0),
    st.lists(st.floats(0.0, 48.0), min_size=4, max_size=4),
    st.floats(0.0, 80.0),
)
@settings(max_examples=60, deadline=None)
def test_the_power_it_allows_never_breaks_a_ceiling_that_no_power_keeps(name, paste, walls, heater_over):
    """Twenty seconds at that duty, then nothing, in steps of two seconds: 0.05 K for what lies between its instants."""
    model = MODELS[name]
    rows = model.rim_rows()
    governor = Governor(model, rows)
    x = _state(model, paste, (walls[0] + heater_over, *walls[1:]))
    limits = np.full(len(rows), 50.0)
    duty = governor.most(x, limits)
    assert 0.0 <= duty <= 1.0

    def peak(first: float) -> float:
        y, path = x, []
        for step in range(1300):
            y = model.advance(y, first if step < PULSE_S / 2 else 0.0, 2.0)
            path.append(y)
        return float((rows @ model.shape @ np.array(path).T).max())

    assert peak(duty) <= max(50.0, peak(0.0)) + 0.05


@pytest.mark.parametrize("name", sorted(MODELS))
def test_far_below_the_ceiling_power_is_full_and_over_it_none(name):
    model = MODELS[name]
    rows = model.rim_rows()
    governor = Governor(model, rows)
    cold, hot = _state(model, 0.0, (0.0,) * 4), _state(model, 52.0, (52.0,) * 4)
    assert governor.most(cold, np.full(len(rows), 50.0)) == 1.0
    assert governor.most(hot, np.full(len(rows), 50.0)) == 0.0


@pytest.mark.parametrize("name", sorted(MODELS))
@pytest.mark.parametrize("place", [Place.CORE, Place.MID])
def test_the_predicted_peak_is_the_one_that_comes(name, place):
    """No heat until the wall is down to its holding temperature, then the wall held there, in steps of five seconds."""
    model = MODELS[name]
    approach = Approach(model, place)
    setpoint = 45.0
    x = _state(model, 38.0, (60.0, 55.0, 50.0, 50.0))
    told_peak = approach.peak(x, setpoint)
    hold = approach.hold_rise * setpoint
    wall, spot = model.shape[model.wall], model.row(place) @ model.shape
    y, highest = x, -np.inf
    for _ in range(20_000):
        if wall @ y <= hold:
            break
        y = model.advance(y, 0.0, 5.0)
        highest = max(highest, float(spot @ y))
    gain_k, free = model.wall_at_rest()
    for _ in range(6_000):
        y = model.advance(y, max(0.0, (hold - float(free @ y)) / gain_k), 5.0)
        highest = max(highest, float(spot @ y))
    assert told_peak == pytest.approx(highest, abs=0.5)


def test_the_way_starts_with_all_power_lets_go_once_and_ends_in_the_loops():
    model = MODELS["small-pot"]
    approach = Approach(model, Place.MID)
    rows = model.rim_rows()
    governor = Governor(model, rows)
    setpoint = 45.0
    x = model.begin(np.zeros(model.nodes))
    legs = []
    gain_k, free = model.wall_at_rest()
    for _ in range(3 * 3600 // 5):
        leg = approach.decide(x, setpoint)
        if not legs or legs[-1] is not leg:
            legs.append(leg)
        most = governor.most(x, np.full(len(rows), 50.0))
        hold = max(0.0, (approach.hold_rise * setpoint - float(free @ x)) / gain_k)
        x = model.advance(x, most if leg is Leg.RIDE else min(most, hold), 5.0)
    assert legs == [Leg.RIDE, Leg.COAST, Leg.LOOPS]


@pytest.mark.parametrize("name", sorted(MODELS))
def test_paste_that_only_creeps_up_behind_a_held_wall_gets_power_again(name):
    """Let go at what another model, or a load that is gone, made look enough: the wall is down, the paste not up."""
    model = MODELS[name]
    place = Place.MID
    approach = Approach(model, place, Leg.COAST)
    hold = model.holding(place) * 45.0
    creeping = hold.copy()
    creeping[5:] -= 3.0
    assert approach.decide(model.begin(creeping), 45.0) is Leg.RIDE
    carried = Approach(model, place, Leg.COAST)
    stored = creeping.copy()
    stored[:4] += 40.0  # what vessel and heater still hold brings it over
    assert carried.decide(model.begin(stored), 45.0) is Leg.COAST
