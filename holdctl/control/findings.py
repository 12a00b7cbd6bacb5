"""What a test has found, put together for a person: the process, and settings by several rules with the Ms of each."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from holdctl.control import rules
from holdctl.control.evaluation import (
    Fit,
    Swing,
    Trace,
    fit_two_lags,
    from_cycle,
    from_unequal_halves,
    static_gain,
    swing,
    ultimate_gain,
)
from holdctl.control.margins import Margins, closed
from holdctl.control.rules import Pid, Process, half_rule

EVENT = "experiment"
"""Name of the notice that says in a record how a test was made; its detail is a `Setup`."""


@dataclass(frozen=True, slots=True)
class Setup:
    """How the test was made: what its evaluation must know beside the trace. Temperatures °C, times s."""

    method: str
    """`relay` or `step`."""
    channel: int
    setpoint_c: float
    ambient_c: float
    hysteresis_k: float
    cycles: int
    cycle_s: float
    """Shortest time between two switch-ons: a controller has half of it as dead time, the relay test has not."""
    stepped_s: float | None = None
    """When the step was made; None in a relay test, or where it never was."""
    tick_s: float = 1.0


@dataclass(frozen=True, slots=True)
class Rated:
    """Settings by one rule, and how robust they are on what was found."""

    rule: str
    pid: Pid
    margins: Margins


@dataclass(frozen=True, slots=True)
class Findings:
    """The result of one test; None where the test does not say."""

    setup: Setup
    swing: Swing | None
    static_gain_k: float | None
    """K at full power from mean reading, mean duty and the room."""
    ku: float | None
    """Ultimate gain by the describing function, 1/K."""
    fit: Fit | None
    """Two lags and a delay; local about the setpoint where `local`."""
    local: bool
    """The fit's gain was taken from the swings alone, not from the static gain: it holds near their frequency."""
    one_lag: Process | None
    """One lag with a delay from the exact cycle: the lag is known to come out too large."""
    ratio: Process | None
    """The same from the ratio of the halves."""
    rated: tuple[Rated, ...]
    notes: tuple[str, ...]

    @property
    def process(self) -> Process | None:
        """What the settings are made for, without the controller's own delay."""
        return self.fit.process if self.fit is not None and self.fit.good else None


def evaluate(trace: Trace, setup: Setup, own: Pid | None = None) -> Findings:
    """Return what the trace shows; `own` are the settings in force for this loop, rated beside those by rule."""
    notes: list[str] = []
    if setup.method == "relay":
        found = swing(trace, setup.cycles)
        if found is None:
            notes.append(
                f"There were fewer than {setup.cycles} whole cycles, so there is nothing to evaluate."
            )
            return Findings(setup, None, None, None, None, False, None, None, (), tuple(notes))
        return _relay(trace, setup, found, own, notes)
    if setup.stepped_s is None:
        notes.append("The step was never made, so there is nothing to evaluate.")
        return Findings(setup, None, None, None, None, False, None, None, (), tuple(notes))
    fit = fit_two_lags(trace, setup.ambient_c, None, (setup.stepped_s - _BEFORE_S, float(trace.t_s[-1])))
    gain = _settled_gain(trace, setup, setup.stepped_s)
    rated = _rate(fit, setup, None, own, notes)
    return Findings(setup, None, gain, None, fit, True, None, None, rated, tuple(notes))


def _relay(trace: Trace, setup: Setup, found: Swing, own: Pid | None, notes: list[str]) -> Findings:
    gain = static_gain(found, setup.ambient_c)
    ku = one = ratio = None
    try:
        ku = ultimate_gain(found.amplitude_k, setup.hysteresis_k)
        one = from_cycle(found, gain, setup.ambient_c, setup.setpoint_c, setup.hysteresis_k)
        ratio = from_unequal_halves(
            found, gain, (setup.setpoint_c - setup.ambient_c) / gain, setup.hysteresis_k
        )
    except ValueError as error:
        notes.append(f"Not every model could be made: {error}.")
    if found.period_s <= setup.cycle_s + 3 * setup.tick_s:
        notes.append(
            f"The period is the relay's own shortest cycle ({setup.cycle_s:g} s), not the warmer's: repeat the test "
            "with a larger hysteresis."
        )
    fit, local = _best(trace, setup, gain, (found.start_s, found.end_s))
    rated = _rate(fit, setup, (ku, found.period_s) if ku is not None else None, own, notes)
    return Findings(setup, found, gain, ku, fit, local, one, ratio, rated, tuple(notes))


_BEFORE_S = 300.0
"""So much of what came before a step is fitted with it."""


def _settled_gain(trace: Trace, setup: Setup, stepped_s: float) -> float | None:
    """Return K at full power from the ten minutes before the step, the room being the second point."""
    import numpy as np

    keep = (trace.t_s >= stepped_s - 600.0) & (trace.t_s < stepped_s)
    if not keep.any():
        return None
    duty = float(np.mean(trace.given[keep]))
    return (float(np.mean(trace.value_c[keep])) - setup.ambient_c) / duty if duty > 0 else None


def _best(trace: Trace, setup: Setup, gain: float, span_s: tuple[float, float]) -> tuple[Fit, bool]:
    """Return the fit that keeps the static gain, or the one about the setpoint where that explains clearly more.

    A wall before a slow paste has no single lag: at the swing's frequency it answers with less than its static gain.
    """
    known = fit_two_lags(trace, setup.ambient_c, gain, span_s)
    local = fit_two_lags(trace, setup.ambient_c, None, span_s)
    better = local.rms_k < 0.9 * known.rms_k
    return (local, True) if local.good and (better or not known.good) else (known, False)


def _rate(
    fit: Fit, setup: Setup, ultimate: tuple[float, float] | None, own: Pid | None, notes: list[str]
) -> tuple[Rated, ...]:
    if not fit.good or fit.process.gain <= 0:
        notes.append(
            f"Two lags and a delay do not explain the readings (they leave {fit.rms_k:.2f} K of "
            f"{fit.swing_k:.2f} K), so no settings are given."
        )
        return ()
    # A controller's relay gives its duty over a cycle: half of that and half a tick are dead time the test had not.
    before = replace(fit.process, delay_s=fit.process.delay_s + setup.cycle_s / 2 + setup.tick_s / 2)
    return tuple(
        Rated(rule, pid, closed(before, pid)) for rule, pid in _settings(half_rule(before), ultimate, own)
    )


def _settings(
    model: Process, ultimate: tuple[float, float] | None, own: Pid | None
) -> Iterator[tuple[str, Pid]]:
    if own is not None:
        yield "holdctl's own, as told", own
    yield "SIMC", rules.simc_pi(model)
    yield "improved SIMC", rules.improved_simc_pi(model)
    yield "AMIGO", rules.amigo_pi(model)
    yield "lambda, 3 × dead time", rules.lambda_pi(model, 3 * model.delay_s)
    yield "ITAE, load", rules.itae_load_pi(model)
    yield "Ziegler–Nichols, step", rules.zn_step_pi(model)
    if ultimate is not None:
        yield "Ziegler–Nichols, relay", rules.zn_pi(*ultimate)
        yield "Tyreus–Luyben, relay", rules.tyreus_luyben_pi(*ultimate)
