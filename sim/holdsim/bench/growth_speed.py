"""`python -m holdsim.bench.growth_speed`: how long growth over one night takes, and how far it is from a solver's.

A night is 12 h at one sample a second that falls from 65 °C to the room and is within the range of growth for most of
it: the dearest case. The restless one carries 0.05 K of noise from sample to sample. Times are the processor's own for
one thread, so that other work on the machine counts little.
"""

import math
import sys
import time  # noqa: TID251 - measures work, tells no time
from collections.abc import Callable

import numpy as np
from numpy import float64
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from holdctl.food.curves import Segments, segments
from holdctl.food.growth import exposure, log_count, log_counts
from holdctl.food.organisms import HIGHEST_LOG, SETS, SPORES_LOG, ParameterSet
from holdctl.food.rates import rate_ln_h
from holdctl.food.tally import Tally
from holdctl.settings import Flour

Floats = NDArray[float64]
HOURS = 12
ROUNDS = 40
H0 = 4.1


def night(room_c: float = 20.0, half_time_h: float = 1.5) -> tuple[Floats, Floats]:
    """Return the seconds of a night and its temperatures, °C."""
    t = np.arange(HOURS * 3600 + 1.0)
    return t, room_c + (65.0 - room_c) * np.exp2(-t / 3600 / half_time_h)


def spent_s(work: Callable[[], object], rounds: int = 9) -> float:
    """Return the median processor time of one run, s."""
    spent = []
    for _ in range(rounds):
        begin = time.thread_time()
        work()
        spent.append(time.thread_time() - begin)
    return float(np.median(spent))


def milliseconds(work: Callable[[], object]) -> float:
    """Return the same, ms."""
    return 1000 * spent_s(work, ROUNDS)


def account(level_c: float) -> float:
    """Return what ten seconds of the live account cost at a temperature: five layers, all sets, heat, bread; ms."""
    tally = Tally(Flour.WHOLE_RYE)
    stretches = iter(range(0, 10 * (ROUNDS + 1), 10))
    temp = np.full(10, level_c)

    def ten_seconds() -> None:
        t = next(stretches) + np.arange(10.0)
        tally.add(t, (temp - 1, temp + 1), (temp - 2, temp + 2))
        tally.growth()
        tally.bread()

    return milliseconds(ten_seconds)


def one_curve(one: ParameterSet, t: Floats, temp: Floats) -> float:
    """Return the count at the end of a curve, from its samples on, log10 per g."""
    return log_count(exposure(one, segments(t, temp)).recorded, H0)


def off_the_solver(one: ParameterSet, t: Floats, temp: Floats) -> float:
    """Return the largest difference of the count, at any quarter hour, from scipy's solution, log10."""
    ln10, ln_most = math.log(10), HIGHEST_LOG * math.log(10)

    def slopes(hour: float, state: Floats) -> list[float]:
        rate = float(rate_ln_h(one, np.interp(hour * 3600, t, temp)))
        return [rate, rate / (1 + math.exp(-state[0])) * (1 - math.exp(state[1] - ln_most))]

    at = np.arange(0.25, HOURS + 0.01, 0.25)
    begin = [-math.log(math.expm1(H0)), SPORES_LOG * ln10]
    solved = solve_ivp(slopes, (0, HOURS), begin, "DOP853", t_eval=at, rtol=1e-9, atol=1e-10, max_step=0.05)
    ours = np.interp(at * 3600, t, log_counts(one, segments(t, temp), H0))
    return float(np.abs(ours - solved.y[1] / ln10).max())


def main() -> int:
    """Print the table."""
    t, temp = night()
    restless = temp + np.random.default_rng(1).normal(0.0, 0.05, len(t))
    hot: Segments = segments(t, np.full(len(t), 65.0))
    out = sys.stdout.write
    out(f"{HOURS} h at 1 Hz, one parameter set and curve: processor time, and how far from a solver\n\n")
    out(
        "| set | smooth, ms | restless, ms | kept hot, ms | off the solver, log10 |\n| --- | --- | --- | --- | --- |\n"
    )
    for one in SETS:
        spent = [
            milliseconds(lambda one=one: one_curve(one, t, temp)),
            milliseconds(lambda one=one: one_curve(one, t, restless)),
            milliseconds(lambda one=one: exposure(one, hot)),
        ]
        out(
            f"| {one.id} | {' | '.join(f'{ms:.1f}' for ms in spent)} | {off_the_solver(one, t, temp):.1e} |\n"
        )
    hot, warm = account(65.0), account(40.0)
    out(
        f"\nTen seconds of the live account (outside the hold's process): {hot:.1f} ms hot, {warm:.1f} ms at 40 °C\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
