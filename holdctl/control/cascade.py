"""Two simple-pid loops in cascade: paste → wall set temperature → duty.

simple-pid is used through its public interface only, and around its traps: one NaN would poison it for ever, so
inputs are checked; its own clock is not used (`dt` is passed and capped, `sample_time=None`); its integral is
clamped but not stopped while the output is saturated, so integration is switched off (Ki = 0) whenever the
output is at a limit or the deviation is large, and feed-forward carries the rest.
"""

import math

import msgspec
from simple_pid import PID

from holdctl.control.tuning import Gains

_MOST_DT_S = 5.0
"""A longer step is a gap: the loops are told no more than this, and `reset` is called by the hold."""


class Asked(msgspec.Struct, frozen=True):
    """What the cascade asks for: wall temperature, °C, and duty, 0 to 1."""

    wall_c: float
    duty: float


class _Loop:
    """One simple-pid with feed-forward, limits and conditional integration."""

    def __init__(self, gains: Gains, near: float) -> None:
        self._kp, self._ki = gains.kc, gains.kc / gains.ti_s
        self._near = near
        self._pid = PID(self._kp, self._ki, 0.0, setpoint=0.0, sample_time=None, output_limits=(0.0, 0.0))
        self._saturated = 0

    def reset(self) -> None:
        """Forget the integral, as after a gap."""
        self._pid.reset()
        self._saturated = 0

    def update(self, setpoint: float, value: float, feed: float, low: float, high: float, dt: float) -> float:
        """Return the output between `low` and `high`: feed-forward plus PI on the deviation."""
        deviation = setpoint - value
        winding = self._saturated * deviation > 0
        self._pid.Ki = 0.0 if winding or abs(deviation) > self._near else self._ki
        self._pid.setpoint = setpoint
        self._pid.output_limits = (low - feed, high - feed)
        output = feed + float(self._pid(value, dt=dt) or 0.0)
        self._saturated = (output >= high) - (output <= low)
        return min(high, max(low, output))


class Cascade:
    """Paste loop over wall loop."""

    def __init__(self, outer: Gains, inner: Gains, wall_floor_c: float, wall_ceiling_c: float) -> None:
        self._outer = _Loop(outer, near=0.5)
        self._inner = _Loop(inner, near=5.0)
        self._floor, self._ceiling = wall_floor_c, wall_ceiling_c

    def reset(self) -> None:
        """Forget both integrals, as after a gap in the readings."""
        self._outer.reset()
        self._inner.reset()

    def update(
        self,
        *,
        setpoint_c: float,
        paste_c: float,
        wall_c: float,
        wall_feed_c: float,
        flow: "Flow",
        dt_s: float,
        given_c: float | None = None,
        most: float = 1.0,
    ) -> Asked:
        """Return wall set temperature and duty for one step of `dt_s` seconds.

        `wall_feed_c` is the wall temperature that would keep the setpoint in steady state; `flow` turns a wall
        temperature into the duty that keeps it; `given_c` is asked of the wall instead of what the outer loop says; the
        duty stays at or under `most`. Raises ValueError where an input is not a finite number.
        """
        if not all(map(math.isfinite, (setpoint_c, paste_c, wall_c, wall_feed_c, dt_s))) or dt_s <= 0:
            raise ValueError("the cascade takes finite temperatures and a positive time step only")
        dt = min(dt_s, _MOST_DT_S)
        if given_c is None:
            wall = self._outer.update(setpoint_c, paste_c, wall_feed_c, self._floor, self._ceiling, dt)
        else:
            wall = min(self._ceiling, given_c)
        duty = self._inner.update(wall, wall_c, flow.duty(wall), 0.0, min(1.0, max(0.0, most)), dt)
        return Asked(wall_c=wall, duty=duty)


class Flow(msgspec.Struct, frozen=True):
    """The wall while the paste stands still: where it would be without heat, °C, and what full power adds, K."""

    free_c: float
    gain_k: float

    def duty(self, wall_c: float) -> float:
        """Return the duty that keeps the wall at `wall_c`, cut to 0…1."""
        return min(1.0, max(0.0, (wall_c - self.free_c) / self.gain_k))
