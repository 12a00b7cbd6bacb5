"""The controllers that ours is measured against: on/off, simple-pid in three tunings, one SIMC loop.

Each sees one thermometer once a second and answers for how much of the next second the heater is on.
"""

import math
from dataclasses import dataclass
from typing import Protocol

from simple_pid import PID

from holdsim.bench.suites import SETPOINT_C

WINDOW_S = 20
"""Window of the time-proportioned relay, s (common practice: a contactor not more often than every 20 s)."""
MIN_ON_S = 2.0


class Controller(Protocol):
    """What is measured."""

    def step(self, readings: tuple[float, ...]) -> float:
        """Take one second's readings, °C; return the seconds to be on of the next one."""


class Window:
    """A relay that is on for the duty's share of each window; the duty is taken at the window's start."""

    def __init__(self, window_s: int = WINDOW_S) -> None:
        self.window_s = window_s
        self._second = 0
        self._on_s = 0.0

    def on(self, duty: float) -> float:
        """Return the seconds to be on of the next second."""
        if self._second == 0:
            on = duty * self.window_s
            short, long = on < MIN_ON_S, on > self.window_s - MIN_ON_S
            self._on_s = 0.0 if short and on < 0.5 * MIN_ON_S else MIN_ON_S if short else on
            if long:
                self._on_s = float(self.window_s)
        left = self._on_s - self._second
        self._second = (self._second + 1) % self.window_s
        return min(1.0, max(0.0, left))


class OnOff:
    """On below 64.75 °C, off above 65.25 °C."""

    def __init__(self, channel: int, half_k: float = 0.25) -> None:
        self._channel, self._half_k = channel, half_k
        self._on = False

    def step(self, readings: tuple[float, ...]) -> float:
        """Switch at the edges."""
        reading = readings[self._channel]
        if reading < SETPOINT_C - self._half_k:
            self._on = True
        elif reading > SETPOINT_C + self._half_k:
            self._on = False
        return 1.0 if self._on else 0.0


class SimplePid:
    """simple-pid with given gains behind a window; `full` is its upper output limit."""

    def __init__(self, channel: int, gains: tuple[float, float, float], full: float = 1.0) -> None:
        self._channel, self._full = channel, full
        self._pid = PID(*gains, setpoint=SETPOINT_C, output_limits=(0, full), sample_time=None)
        self._window = Window()

    def step(self, readings: tuple[float, ...]) -> float:
        """Run the loop once."""
        output = self._pid(readings[self._channel], dt=1.0)
        return self._window.on((output or 0.0) / self._full)


@dataclass(frozen=True)
class Ultimate:
    """What a relay feedback test finds: ultimate gain (duty per K) and period, s."""

    gain: float
    period_s: float

    def ziegler_nichols(self) -> tuple[float, float, float]:
        """Kp, Ki, Kd of the ultimate-gain rule 0.6 Ku, Pu/2, Pu/8 (Ziegler & Nichols 1942)."""
        return _parallel(0.6 * self.gain, 0.5 * self.period_s, self.period_s / 8.0)

    def tyreus_luyben(self) -> tuple[float, float, float]:
        """Kp, Ki, Kd of Ku/2.2, 2.2 Pu, Pu/6.3 (Tyreus & Luyben 1992)."""
        return _parallel(self.gain / 2.2, 2.2 * self.period_s, self.period_s / 6.3)


def _parallel(kc: float, ti_s: float, td_s: float) -> tuple[float, float, float]:
    return kc, kc / ti_s, kc * td_s


@dataclass(frozen=True)
class Sopdt:
    """Gain K per unit duty, two lags and a dead time, s."""

    gain_k: float
    tau1_s: float
    tau2_s: float
    theta_s: float


class Simc:
    """One PID by SIMC (Skogestad 2003) on the plant's own fitted model: series form, derivative filter 5.

    Closed-loop time constant = dead time; conditional integration: the integral rests while the duty is at a bound
    and the error pushes further.
    """

    def __init__(self, channel: int, model: Sopdt, lag_s: float) -> None:
        self._channel = channel
        theta = model.theta_s + 0.5 * lag_s + 0.5 * WINDOW_S
        kc = model.tau1_s / (model.gain_k * 2.0 * theta)
        ti, td = min(model.tau1_s, 8.0 * theta), model.tau2_s
        more = 1.0 + td / ti
        self._kc, self._ti, self._td = kc * more, ti * more, td / more
        self._keep = math.exp(-1.0 / max(1.0, self._td / 5.0))
        self._integral = 0.0
        self._smooth: float | None = None
        self._window = Window()

    def step(self, readings: tuple[float, ...]) -> float:
        """Run the loop once."""
        reading = readings[self._channel]
        before = reading if self._smooth is None else self._smooth
        self._smooth = before * self._keep + reading * (1.0 - self._keep)
        error = SETPOINT_C - reading
        wanted = self._kc * (error - self._td * (self._smooth - before)) + self._integral
        if 0.0 < wanted < 1.0 or (wanted >= 1.0) == (error < 0.0):
            self._integral += self._kc / self._ti * error
        return self._window.on(min(1.0, max(0.0, wanted)))
