"""Growth over a night of 12 h at one sample a second, against work that scales with the machine.

5 ms for each parameter set and curve is the aim; `python -m holdsim.bench.growth_speed` measures it in ms.
"""

from statistics import median

import numpy as np
import pytest

from holdctl.food.organisms import SETS
from holdctl.food.tally import Tally
from holdctl.settings import Flour
from holdsim.bench.growth_speed import night, one_curve, spent_s

T, SMOOTH = night()
RESTLESS = SMOOTH + np.random.default_rng(1).normal(0.0, 0.05, len(T))


def _unit_s() -> float:
    """Processor time of one exponential for each sample: 0.35 ms on the machine that took 2.3 to 4.0 ms for a set."""
    return spent_s(lambda: np.exp(SMOOTH * 0.01))


@pytest.mark.parametrize("temp", [SMOOTH, RESTLESS], ids=["smooth", "restless"])
def test_a_set_costs_no_more_than_14_exponentials_a_sample(temp):
    """14 are 5 ms there. Measured: 7.4 at most smooth, 11.6 restless."""
    ratios = []
    for one in SETS:
        units = _unit_s()
        ratios.append(spent_s(lambda one=one: one_curve(one, T, temp)) / units)
    print(f"median {median(ratios):.1f}, most {max(ratios):.1f} units")
    assert max(ratios) <= 14


def test_ten_seconds_of_the_live_account_cost_no_more_than_a_few_passes_over_a_night():
    """Measured: 10 units (3.2 ms) while the paste is hot, 38 (13.5 ms) at 40 °C, outside the hold's process."""
    for level, most in ((65.0, 16), (40.0, 60)):
        tally, k = Tally(Flour.WHOLE_RYE), 0

        def ten_seconds(tally=tally, level=level):
            nonlocal k
            t = np.arange(k, k + 10.0)
            k += 10
            temp = np.full(10, level)
            tally.add(t, (temp - 1, temp + 1), (temp - 2, temp + 2))
            tally.growth()
            tally.bread()

        ratio = spent_s(ten_seconds) / _unit_s()
        print(f"{level:g} °C: {ratio:.1f} units")
        assert ratio <= most
