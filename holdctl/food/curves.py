"""A temperature over time as the food arithmetic takes it: straight between samples, unknown across gaps.

Every sum here is taken segment by segment, so that two parts of a record add up to the whole. Where the rate is an
exponential of temperature its mean over a straight segment has a closed form; nothing depends on how densely a
smooth curve was sampled.
"""

import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[float64]
    Mask = NDArray[bool_]


class Segments(NamedTuple):
    """What lies between each two samples."""

    length_s: "Floats"
    start_c: "Floats"
    end_c: "Floats"
    known: "Mask"
    """False where an end has no value or the samples are further apart than the longest step that counts."""

    @property
    def unknown_s(self) -> float:
        """Time that nothing is known about, s."""
        return float(self.length_s[~self.known].sum())


def segments(t_s: "ArrayLike", temp_c: "ArrayLike", gap_s: float = math.inf) -> Segments:
    """Cut a curve into its segments; `t_s` in s, ascending, `temp_c` in °C, NaN where it is not known.

    Samples further apart than `gap_s` have a gap between them. Raises ValueError if the lengths differ or the times
    do not ascend.
    """
    import numpy as np

    t, temp = np.asarray(t_s, dtype=float), np.asarray(temp_c, dtype=float)
    if t.ndim != 1 or t.shape != temp.shape:
        raise ValueError(f"{t.shape} times do not belong to {temp.shape} temperatures")
    length = np.diff(t)
    if not (length >= 0).all():
        raise ValueError("the times of a curve do not ascend")
    known = np.isfinite(temp[:-1]) & np.isfinite(temp[1:]) & (length <= gap_s)
    return Segments(length, temp[:-1], temp[1:], known)


def exponential_mean(start: "Floats", end: "Floats") -> "Floats":
    """Return the mean of exp(x) while x goes straight from `start` to `end`: exp(start) (exp(d) - 1) / d."""
    import numpy as np

    d = end - start
    small = np.abs(d) < 1e-8
    factor = np.where(small, 1.0 + d / 2, np.expm1(d) / np.where(small, 1.0, d))
    mean: Floats = np.exp(start) * factor
    return mean


def tenfold_minutes(found: Segments, reference_c: float, z_k: float) -> "Floats":
    """Return each segment's minutes at `reference_c` of a rate that grows tenfold every `z_k`; 0 where unknown.

    The closed form of ∫ 10^((T - reference) / z) dt over a straight segment (Bigelow 1921, from memory).
    """
    import numpy as np

    scale = math.log(10) / z_k
    start = np.where(found.known, (found.start_c - reference_c) * scale, 0.0)
    end = np.where(found.known, (found.end_c - reference_c) * scale, 0.0)
    minutes: Floats = np.where(found.known, found.length_s / 60 * exponential_mean(start, end), 0.0)
    return minutes


def time_above_s(found: Segments, limit_c: float) -> float:
    """Return the known time above `limit_c`, s; between samples the straight line says where it crosses."""
    import numpy as np

    over = np.stack((found.start_c, found.end_c)) - limit_c
    low, high = over.min(axis=0), over.max(axis=0)
    span = np.where(high > low, high - low, 1.0)
    share = np.where(low >= 0, np.where(high > 0, 1.0, 0.0), np.where(high > 0, high / span, 0.0))
    return float((share * found.length_s)[found.known].sum())


def time_within_s(found: Segments, low_c: float, high_c: float) -> float:
    """Return the known time from `low_c` up to `high_c`, s."""
    return time_above_s(found, low_c) - time_above_s(found, high_c)


def since(t_s: "ArrayLike", temp_c: "ArrayLike", from_s: float) -> "tuple[Floats, Floats]":
    """Return what of a curve comes after `from_s`, beginning there with the value of the straight line."""
    import numpy as np

    t, temp = np.asarray(t_s, dtype=float), np.asarray(temp_c, dtype=float)
    after = t > from_s
    if after.all() or not after.any():
        return t[after], temp[after]
    begin = float(np.interp(from_s, t, temp))
    return np.concatenate(([from_s], t[after])), np.concatenate(([begin], temp[after]))
