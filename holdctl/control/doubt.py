"""What a model's parameters leave open, as what each direction would add to the filter's own course.

A belief is a centre with a covariance. Along each of its directions stands another model, a step away; what that model
does otherwise in one step of a grid (with the state, with power, with another room) drives the difference that such an
error makes. So a detector can hold an error of the model apart from a fault, by what the model itself says of its
errors, whatever the parameters are.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.identify import Belief
from holdctl.control.kalman import KalmanFilter
from holdctl.control.model import ThermalModel
from holdctl.control.ticks import many_ticks, one_tick

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

_STEP = 0.5
"""How far along a direction the other model stands, in standard deviations; the difference is scaled to one."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """What each direction adds in one step of the grid, per standard deviation."""

    state: "Floats"
    """To the state, from the state: [direction, state, state]."""
    power: "Floats"
    """From full power: [state, direction]."""
    room: "Floats"
    """From a room that is warmer or colder: [state, direction]."""
    late: "Floats"
    """From heat that comes later, for a duty that falls by 1 from the step before: [state, direction]."""

    @property
    def directions(self) -> int:
        """How many there are."""
        return len(self.state)

    def driven(self, x: "Floats", duty: float, before: float) -> "Floats":
        """Return what is added in a step from the state `x` with `duty`, after `before`: [state, direction]."""
        moved = self.state.reshape(-1, len(x)).dot(x).reshape(len(self.state), -1)
        by: Floats = moved.T + self.room
        if duty:
            by += duty * self.power
        if before != duty:
            by += (before - duty) * self.late
        return by


def doubt_of(source: KalmanFilter, belief: Belief, ticks: int) -> Doubt:
    """Return what `belief` leaves open of the filter's model, for steps of so many ticks."""
    import numpy as np

    model = source.model
    f, g, _ = source.over(ticks)
    warm = np.zeros(len(f))
    warm[: model.modes] = model.begin(np.ones(model.nodes))
    warm[model.modes : -1] = 1.0
    state, power, room, late = [], [], [], []
    for way in np.linalg.cholesky(belief.covariance).T:
        parameters, _ = belief.moved(_STEP * way)
        there = ThermalModel(model.geometry, parameters, model.layout)
        other_f, other_g = many_ticks(*one_tick(there, source.sensors, source.tick_s), ticks)
        to, back = _between(model, there, len(f))
        moved = to @ other_f @ back
        state.append((moved - f) / _STEP)
        power.append((to @ other_g - g) / _STEP)
        warmer_k = parameters.ambient_c - model.parameters.ambient_c
        room.append((warm - moved @ warm) * warmer_k / _STEP)
        late_s = parameters.delay_s - model.parameters.delay_s
        late.append(g * late_s / (_STEP * ticks * source.tick_s))
    return Doubt(np.array(state), np.array(power).T, np.array(room).T, np.array(late).T)


def _between(model: ThermalModel, there: ThermalModel, size: int) -> "tuple[Floats, Floats]":
    """Return the matrices that turn a filter's state over `there` into one over `model`, and back."""
    import numpy as np

    to, back = np.eye(size), np.eye(size)
    n = model.modes
    to[:n, :n] = model.back @ there.states
    back[:n, :n] = there.back @ model.states
    return to, back
