"""Growth rate against temperature: the published equations, zero outside their range, always in ln/h.

    modified Ratkowsky   mu = a (T - Tmin)² (1 - exp(c (T - Tmax)))       (the bracket is not squared; USDA papers)
    Ratkowsky 1983       mu = a (T - Tmin)² (1 - exp(c (T - Tmax)))²      (1983, J. Bacteriol. 154:1222)
    cardinal             mu = m (T - Tmax)(T - Tmin)² / ((Topt - Tmin)((Topt - Tmin)(T - Topt)
                              - (Topt - Tmax)(Topt + Tmin - 2T)))         (Rosso et al. 1993, J. Theor. Biol. 162:447)

Outside Tmin to Tmax the rate is 0: the first form would be negative above Tmax and positive again below Tmin.

`area` is the integral of mu over temperature from Tmin to T, in closed form for each equation. While the temperature
goes straight from A to B in a time dt, the integral of mu over time is dt (area(B) - area(A)) / (B - A): exact,
across the limits too, however long the segment.
"""

import functools
import math
from typing import TYPE_CHECKING

from holdctl.food.organisms import Form, ParameterSet

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from holdctl.food.curves import Floats

_FLAT_K = 0.02
"""Up to this change a segment's mean rate is that in its middle: the curvature of the steepest set, 0.8 ln/h and K² at
C. perfringens' upper limit, makes that wrong by 1.4e-5 ln/h at most. It spares nearly all of the work at 1 Hz."""
_LEVEL_K = 1e-3
"""Below this the quotient of two small differences would lose more than it brings."""
_LEVEL = 0.02
"""A denominator flatter than this share of its slope from minimum to optimum is summed, not integrated."""


def rate_ln_h(one: ParameterSet, temp_c: "ArrayLike") -> "Floats":
    """Return the growth rate of ln(count) per h at each temperature, °C; 0 outside the set's range."""
    import numpy as np

    # At its limits every form is 0 by itself.
    temp = np.minimum(np.maximum(np.asarray(temp_c, dtype=float), one.min_c), one.max_c)
    rate: Floats = _inside(one, temp) * _per_ln(one)
    return rate


def optimum(one: ParameterSet) -> tuple[float, float]:
    """Return the temperature of fastest growth, °C, and the rate there, ln/h."""
    best = _optimum_c(one)
    return best, float(rate_ln_h(one, best))


def generation_min(one: ParameterSet, temp_c: float) -> float:
    """Return the time in which the count doubles at a temperature, min; infinite where nothing grows."""
    rate = float(rate_ln_h(one, temp_c))
    return math.log(2) / rate * 60 if rate > 0 else math.inf


def mean_rates_ln_h(one: ParameterSet, start_c: "Floats", end_c: "Floats") -> "Floats":
    """Return the mean rate while the temperature goes straight from each start to its end, ln/h."""
    import numpy as np

    d = end_c - start_c
    steep = np.abs(d) > _FLAT_K
    if 2 * np.count_nonzero(steep) > len(d) and np.array_equal(start_c[1:], end_c[:-1]):
        return _restless(one, np.concatenate((start_c, end_c[-1:])), d)
    mean = rate_ln_h(one, start_c + d / 2)
    if steep.any():
        risen = _area(one, end_c[steep]) - _area(one, start_c[steep])
        mean[steep] = risen * _per_ln(one) / d[steep]
    return mean


def _restless(one: ParameterSet, temp_c: "Floats", d: "Floats") -> "Floats":
    """Return the same for segments that hang together and are mostly steep: each sample's area is reckoned once."""
    import numpy as np

    level = np.abs(d) < _LEVEL_K
    mean: Floats = np.diff(_area(one, temp_c)) * _per_ln(one) / np.where(level, 1.0, d)
    mean[level] = rate_ln_h(one, temp_c[:-1][level] + d[level] / 2)
    return mean


def _per_ln(one: ParameterSet) -> float:
    return math.log(10) if one.unit == "log10/h" else 1.0


def _inside(one: ParameterSet, temp: "Floats") -> "Floats":
    """Return the rate in the set's own unit within its range."""
    import numpy as np

    above = temp - one.min_c
    if one.form is Form.CARDINAL:
        cardinal: Floats = one.rate * (temp - one.max_c) * above * above / _denominator(one, temp)
        return cardinal
    bracket = 1.0 - np.exp(_steepness(one) * (temp - one.max_c))
    rate: Floats = one.rate * above * above * (bracket if one.form is Form.MODIFIED else bracket**2)
    return rate


def _steepness(one: ParameterSet) -> float:
    return one.steepness or 0.0  # never 0: a set of these forms without it can't be made


def _denominator(one: ParameterSet, temp: "Floats | float") -> "Floats | float":
    """Return what stands under the cardinal form: a straight line in temperature."""
    low, high, best = one.min_c, one.max_c, one.optimum_c or 0.0
    return (best - low) * ((best - low) * (temp - best) - (best - high) * (best + low - 2 * temp))


def _area(one: ParameterSet, temp_c: "Floats") -> "Floats":
    """Return the integral of the rate over temperature up to each, K times the set's unit, from any fixed point."""
    import numpy as np

    temp = np.minimum(np.maximum(temp_c, one.min_c), one.max_c)
    if one.form is Form.CARDINAL:
        return _cardinal_area(one, temp)
    c, above = _steepness(one), temp - one.min_c
    decay = np.exp(c * (temp - one.max_c))
    area: Floats
    if one.form is Form.MODIFIED:
        area = one.rate * (above * above * above / 3 - decay * _moment(above, c))
    else:
        area = one.rate * (
            above * above * above / 3 - 2 * decay * _moment(above, c) + decay * decay * _moment(above, 2 * c)
        )
    return area


def _moment(above: "Floats", c: float) -> "Floats":
    """Return p(x) of ∫ x² exp(c x) dx = p(x) exp(c x)."""
    return ((above * c - 2) * above * c + 2) / c**3


def _cardinal_area(one: ParameterSet, temp: "Floats") -> "Floats":
    """Return the integral of (T - Tmax)(T - Tmin)² over a straight line: powers and a logarithm about its root."""
    import numpy as np

    best, low, high = one.optimum_c or 0.0, one.min_c, one.max_c
    slope = (best - low) * (3 * best - low - 2 * high)
    if abs(slope) < _LEVEL * (best - low) ** 2:
        return _summed_area(one, temp)
    root = -_denominator(one, 0.0) / slope
    x, a, b = temp - root, root - high, root - low
    powers = ((x / 3 + (a + 2 * b) / 2) * x + b * (2 * a + b)) * x
    area: Floats = one.rate / slope * (powers + a * b**2 * np.log(np.abs(x)))
    return area


def _summed_area(one: ParameterSet, temp: "Floats") -> "Floats":
    """Return the same by Gauss's sum: the root of a level line is so far off that the logarithm says nothing."""
    import numpy as np

    nodes, weights = np.polynomial.legendre.leggauss(16)
    width = (temp - one.min_c) / 2
    area: Floats = width * (_inside(one, one.min_c + width * (1 + nodes[:, None])) * weights[:, None]).sum(
        axis=0
    )
    return area


@functools.cache
def _optimum_c(one: ParameterSet) -> float:
    """Find where the rate is highest: given, or by halving the interval in which its slope changes sign."""
    if one.optimum_c is not None:
        return one.optimum_c
    c = _steepness(one)
    share = 1.0 if one.form is Form.MODIFIED else 2.0

    def rising(temp_c: float) -> bool:
        decay = math.exp(c * (temp_c - one.max_c))
        return 2 * (1 - decay) > share * c * decay * (temp_c - one.min_c)

    low, high = one.min_c, one.max_c
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) else (low, middle)
    return low
