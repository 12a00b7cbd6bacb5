"""Tuning rules: from a simple model of the process to the settings of a PI or PID controller.

A process is k ∏(b s + 1) e^(−θs) / (sⁿ ∏(τ s + 1)). Settings are in the ideal form, Kc (1 + 1/(Ti s) + Td s), unless
a function says "series", Kc (1 + 1/(Ti s)) (1 + Td s). Duty is 0 to 1, so k is in K at full power and Kc in 1/K.
"""

import math
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Process:
    """A linear process in the factored form above; times in seconds."""

    gain: float
    """Steady change of the output per unit input; of an integrating process its slope per second."""
    lags_s: tuple[float, ...] = ()
    delay_s: float = 0.0
    zeros_s: tuple[float, ...] = ()
    """Numerator time constants b; a negative one is an inverse response."""
    integrators: int = 0

    @property
    def lag_s(self) -> float:
        """Its longest lag."""
        return max(self.lags_s, default=0.0)


@dataclass(frozen=True, slots=True)
class Pid:
    """Settings of one controller: gain, integral time and derivative time, s (0: none)."""

    kc: float
    ti_s: float
    td_s: float = 0.0


def ideal(series: Pid) -> Pid:
    """Return the ideal settings that act as these series ones: f = 1 + Td/Ti (Skogestad 2003, from memory)."""
    f = 1.0 + series.td_s / series.ti_s
    return Pid(series.kc * f, series.ti_s * f, series.td_s / f)


# Fewer lags -----------------------------------------------------------------------------------------------------


def half_rule(process: Process, order: int = 1) -> Process:
    """Return a model with `order` lags and a delay (Skogestad, J. Process Control 13 (2003) 291–309, section 2).

    Half of the largest neglected lag goes to the last kept one and half to the delay; all smaller lags and inverse
    responses go to the delay whole. A lead is first set against a lag near it (rules T1 to T3 there, from memory).
    """
    delay = process.delay_s + sum(process.lags_s[order:])
    for _ in range(10):
        bare = _without_leads(process, delay)
        found = _halved(bare, order)
        if math.isclose(found.delay_s, delay, rel_tol=1e-9):
            break
        delay = found.delay_s
    return found


def _halved(process: Process, order: int) -> Process:
    lags = sorted(process.lags_s, reverse=True)
    kept, rest = lags[:order], lags[order:]
    delay = process.delay_s - sum(process.zeros_s)
    if rest and kept:
        kept[-1] += rest[0] / 2
        delay += rest[0] / 2 + sum(rest[1:])
    return Process(process.gain, tuple(kept), delay, integrators=process.integrators)


def _without_leads(process: Process, delay_s: float) -> Process:
    """Set each lead against a lag; what is left of the zeros are inverse responses. `delay_s`: of the final model."""
    gain, lags = process.gain, list(process.lags_s)
    for lead in sorted((b for b in process.zeros_s if b > 0), reverse=True):
        slower = [lag for lag in lags if lag >= lead]
        near = min(slower) if slower else max(lags)
        lags.remove(near)
        factor, left = _against(lead, near, delay_s)
        gain *= factor
        lags += [left] if left > 0 else []
    zeros = tuple(b for b in process.zeros_s if b < 0)
    return replace(process, gain=gain, lags_s=tuple(lags), zeros_s=zeros)


def _against(lead: float, lag: float, delay: float) -> tuple[float, float]:
    """Return the factor and the lag that stand for (lead s + 1)/(lag s + 1): T1, T1a, T1b, T2, T3."""
    if lead >= lag:
        return lead / max(lag, min(delay, lead)), 0.0
    if lead >= 5 * delay:
        return lead / lag, 0.0
    shorter = min(lag, 5 * delay)
    return shorter / lag, shorter - lead


# Rules that take a model ------------------------------------------------------------------------------------------


def simc_pi(process: Process, tau_c_s: float | None = None) -> Pid:
    """SIMC for one lag (or none and an integrator) and a delay; τc = θ unless given (Skogestad 2003)."""
    tau_c = process.delay_s if tau_c_s is None else tau_c_s
    reach = tau_c + process.delay_s
    if process.integrators:
        return Pid(1.0 / (process.gain * reach), 4.0 * reach)
    return Pid(process.lag_s / (process.gain * reach), min(process.lag_s, 4.0 * reach))


def simc_pid_series(process: Process, tau_c_s: float | None = None) -> Pid:
    """SIMC for two lags and a delay, **series** form: the second lag is the derivative time (Skogestad 2003)."""
    first, second = sorted(process.lags_s, reverse=True)
    return replace(simc_pi(replace(process, lags_s=(first,)), tau_c_s), td_s=second)


def improved_simc_pi(process: Process, tau_c_s: float | None = None) -> Pid:
    """SIMC with τ1 + θ/3 in the place of τ1 (Grimholt & Skogestad 2012)."""
    return simc_pi(replace(process, lags_s=(process.lag_s + process.delay_s / 3,)), tau_c_s)


def lambda_pi(process: Process, closed_s: float) -> Pid:
    """Lambda tuning: the integral cancels the lag, `closed_s` is the closed loop's time constant (from memory)."""
    return Pid(process.lag_s / (process.gain * (closed_s + process.delay_s)), process.lag_s)


def amigo_pi(process: Process) -> Pid:
    """AMIGO for one lag and a delay (Åström & Hägglund, J. Process Control 14 (2004) 635–650)."""
    k, t, d = process.gain, process.lag_s, process.delay_s
    kc = 0.15 / k + (0.35 - d * t / (d + t) ** 2) * t / (k * d)
    return Pid(kc, 0.35 * d + 13 * d * t**2 / (t**2 + 12 * d * t + 7 * d**2))


def amigo_pid(process: Process) -> Pid:
    """AMIGO with derivative; its authors advise it for L/(L + T) > 0.3 (Åström & Hägglund 2004)."""
    k, t, d = process.gain, process.lag_s, process.delay_s
    ti = d * (0.4 * d + 0.8 * t) / (d + 0.1 * t)
    return Pid((0.2 + 0.45 * t / d) / k, ti, 0.5 * d * t / (0.3 * d + t))


def itae_load_pi(process: Process) -> Pid:
    """Least ITAE after a load step (Seborg, Edgar & Mellichamp, Process Dynamics and Control, table 11.3)."""
    share = process.delay_s / process.lag_s
    return Pid(0.859 * share**-0.977 / process.gain, process.lag_s / (0.674 * share**-0.68))


def zn_step_pi(process: Process) -> Pid:
    """Ziegler–Nichols from the reaction curve (Trans. ASME 64 (1942) 759–768)."""
    return Pid(0.9 * process.lag_s / (process.gain * process.delay_s), process.delay_s / 0.3)


def zn_step_pid(process: Process) -> Pid:
    """Ziegler–Nichols from the reaction curve, with derivative (1942)."""
    kc = 1.2 * process.lag_s / (process.gain * process.delay_s)
    return Pid(kc, 2 * process.delay_s, 0.5 * process.delay_s)


# Rules that take the ultimate gain and period -----------------------------------------------------------------------


def zn_pi(ku: float, pu_s: float) -> Pid:
    """Ziegler–Nichols from the ultimate gain and period (1942; formulas from memory)."""
    return Pid(0.45 * ku, pu_s / 1.2)


def zn_pid(ku: float, pu_s: float) -> Pid:
    """Ziegler–Nichols from the ultimate gain and period, with derivative (1942; formulas from memory)."""
    return Pid(0.6 * ku, pu_s / 2, pu_s / 8)


def tyreus_luyben_pi(ku: float, pu_s: float) -> Pid:
    """Tyreus–Luyben (Ind. Eng. Chem. Res. 31 (1992) 2625–2628; formula from memory)."""
    return Pid(ku / 3.2, 2.2 * pu_s)


def tyreus_luyben_pid(ku: float, pu_s: float) -> Pid:
    """Tyreus–Luyben with derivative (1992)."""
    return Pid(ku / 2.2, 2.2 * pu_s, pu_s / 6.3)
