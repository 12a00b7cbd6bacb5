"""Long records to short lines: a night has 43 200 samples, a picture some 2000 columns of dots."""

from typing import TYPE_CHECKING, NamedTuple

from holdctl.food.windows import GAP_S

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

COLUMNS = 1000


class Line(NamedTuple):
    """What to plot: hours since the start, values; NaN breaks the line at gaps."""

    hours: "Floats"
    values: "Floats"


def averaged(t_s: "Floats", values: "Floats", columns: int = COLUMNS) -> Line:
    """Return the mean of each of at most `columns` equal spans of time; NaN where a span has no value."""
    import numpy as np

    if len(t_s) == 0:
        return Line(t_s, values)
    which, count = _spans(t_s, columns)
    valid = np.isfinite(values)
    n = np.bincount(which[valid], minlength=count)
    total = np.bincount(which[valid], weights=values[valid], minlength=count)
    mean = np.divide(total, n, out=np.full(count, np.nan), where=n > 0)
    span = _length(t_s) / count
    return Line((t_s[0] + (np.arange(count) + 0.5) * span) / 3600, mean)


def shares(t_s: "Floats", on_s: "Floats", columns: int) -> Line:
    """Return the share of each span's time that is on; `on_s`: on-time from each sample to the next, s.

    What a gap has in it does not count: the relay's lease lapses there.
    """
    import numpy as np

    if len(t_s) == 0:
        return Line(t_s, on_s)
    which, count = _spans(t_s, columns)
    on_s = np.where(on_s > GAP_S, 0.0, on_s)
    span = _length(t_s) / count
    middles = (t_s[0] + (np.arange(count) + 0.5) * span) / 3600
    return Line(middles, np.bincount(which, weights=on_s, minlength=count) / span)


def extremes(t_s: "Floats", values: "Floats", columns: int = COLUMNS) -> Line:
    """Return each span's lowest and highest sample in order of time: no peak is lost, gaps break the line."""
    import numpy as np

    t_s, values = _broken(t_s, values)
    if len(t_s) <= 2 * columns:
        return Line(t_s / 3600, values)
    which, count = _spans(t_s, columns)
    order = np.lexsort((np.nan_to_num(values, nan=-np.inf), which))
    starts = np.searchsorted(which[order], np.arange(count))
    ends = np.append(starts[1:], len(order)) - 1
    filled = ends >= starts
    keep = np.unique(np.concatenate((order[starts[filled]], order[ends[filled]])))
    return Line(t_s[keep] / 3600, values[keep])


def _broken(t_s: "Floats", values: "Floats") -> tuple["Floats", "Floats"]:
    """Put a NaN into every gap."""
    import numpy as np

    at = np.flatnonzero(np.diff(t_s) > GAP_S)
    return np.insert(t_s, at + 1, t_s[at] + GAP_S / 2), np.insert(values, at + 1, np.nan)


def _length(t_s: "Floats") -> float:
    return max(float(t_s[-1] - t_s[0]), 1e-3)


def _spans(t_s: "Floats", columns: int) -> tuple["NDArray[float64]", int]:
    """Return for each sample its span's number, and how many spans there are (none shorter than 2 s)."""
    import numpy as np

    count = max(1, min(columns, int(_length(t_s) / 2)))
    which = np.minimum(((t_s - t_s[0]) / _length(t_s) * count).astype(np.int64), count - 1)
    return which, count
