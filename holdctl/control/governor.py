"""The most power that keeps the ceilings: full power until the predicted peak says stop, then just so much.

Heat spreads through a network of positive conductances, so with no power every predicted temperature is the lowest that
can still be had: power now is admissible exactly if, with none afterwards, no paste passes its ceiling. The governor
returns the largest duty for the next seconds for which that holds (a reference governor on the actuator: Gilbert,
Kolmanovsky & Tan, Int. J. Robust Nonlinear Control 5 (1995) 487–504, cited from memory). It rides a ceiling by itself.
"""

from typing import TYPE_CHECKING, Any

from holdctl.control.model import ThermalModel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

PULSE_S = 20.0
"""How long the duty lasts that is decided on."""
_FIRST_S, _LAST_S, _POINTS = 5.0, 2_400.0, 32
_LEAST = 1e-3
"""A temperature that a pulse moves by less than this share of the most it moves any does not count then."""


class Governor:
    """Ceilings over rows of one model; temperatures as excess over the room."""

    def __init__(self, model: ThermalModel, rows: "Floats", pulse_s: float = PULSE_S) -> None:
        """`rows` are weights of nodes: [row, node]; what is decided on lasts for `pulse_s`."""
        import numpy as np

        times = np.concatenate([[0.0], np.geomspace(_FIRST_S, _LAST_S, _POINTS)])
        self.rows = rows @ model.shape
        """[row, mode]."""
        decay = np.exp(-np.outer(times, model.rates))
        self._free = (self.rows[:, None, :] * decay[None, :, :]).reshape(-1, model.modes)
        grown = model.drive * (1.0 - np.exp(-model.rates * pulse_s)) / model.rates
        # During the pulse it has worked for no longer than it has lasted.
        held = np.exp(-np.outer(np.maximum(times - pulse_s, 0.0), model.rates)) * (times[:, None] >= pulse_s)
        pulse = (self.rows[:, None, :] * (held * grown)[None, :, :]).sum(axis=2).ravel()
        self._pulse = np.maximum(pulse, 0.0)
        self._counts = self._pulse > _LEAST * self._pulse.max()
        self._free, self._pulse = self._free[self._counts], self._pulse[self._counts]
        self._free /= self._pulse[:, None]
        self._row_of = np.repeat(np.arange(len(rows)), len(times))[self._counts]
        self._limits = self._most = np.zeros(0)

    def most(self, modes: "Floats", limits: "Floats", load: float = 0.0) -> float:
        """Return the largest duty, 0 to 1, that keeps every row under its limit, K; `load` comes anyway, in duty.

        Limits that change are another array: one that has been seen before is not looked into again.
        """
        if limits is not self._limits:  # a new array whenever they change, every few ticks
            self._limits, self._most = limits, limits[self._row_of] / self._pulse
        room: Floats = self._most - self._free.dot(modes)
        return min(1.0, max(0.0, float(room.item(room.argmin())) - load))
