"""A simulated hold's estimates beside what the simulator knows to be true. Real holds have no such file.

The file lies beside the record (`holdctl.record.files.truth_file`): a first line with the hold's number and its
start, so that the file of another record of the same name is not taken for it, then CSV with the node's `up_ms` and
the true temperatures in °C. Rows are set beside the samples of the same `up_ms`: the same moment, to the reading.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.errors import StoreError
from holdctl.record.files import TRUTH_COLUMNS, truth_file, truth_head

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    from holdctl.record.columns import Columns
    from holdctl.record.rows import HoldRow

    Floats = NDArray[float64]

PLACES = ("coldest", "hottest", "mean", "wall")


@dataclass(frozen=True, slots=True)
class Truth:
    """True temperatures, °C, one for each sample of the hold; NaN where none was written."""

    coldest_c: "Floats"
    hottest_c: "Floats"
    mean_c: "Floats"
    wall_c: "Floats"


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """How one estimate stood against the truth; errors are estimate less truth, K."""

    place: str
    moments: int
    rms_k: float
    worst_k: float
    worst_s: float
    """When the error was largest."""
    within_2sd: float | None
    """Share of the moments at which the truth lay within two standard deviations; None where none were given."""


def read_truth(record: Path, hold: "HoldRow", columns: "Columns") -> Truth | None:
    """Return the truth of a hold's samples, None where there is no file of this very hold.

    Raises StoreError where there is one that can't be read.
    """
    import numpy as np

    path = truth_file(record, hold.id)
    try:
        with path.open(encoding="utf-8") as file:
            if file.readline().strip() != truth_head(hold.id, hold.started_utc_ms):
                return None
            rows = file.readlines()[1:]
        table = np.loadtxt(rows, delimiter=",", ndmin=2) if rows else np.empty(0)
        table = table.reshape(-1, len(TRUTH_COLUMNS))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise StoreError(f"The simulator's truth {path} can't be read ({error}): move it away.") from error
    return Truth(*_aligned(table, columns.up_ms))


def _aligned(table: Any, up_ms: Any) -> "tuple[Floats, ...]":
    import numpy as np

    if not len(table):
        return tuple(np.full(len(up_ms), np.nan) for _ in PLACES)
    table = table[np.argsort(table[:, 0], kind="stable")]
    at = np.minimum(np.searchsorted(table[:, 0], up_ms), len(table) - 1)
    there = table[at, 0] == up_ms
    return tuple(np.where(there, table[at, k + 1], np.nan) for k in range(len(PLACES)))


def checked(columns: "Columns", truth: Truth | None) -> tuple[Checked, ...]:
    """Return each estimate's figures against the truth; nothing without a truth."""
    if truth is None:
        return ()
    found = (_checked(place, columns, getattr(truth, f"{place}_c")) for place in PLACES)
    return tuple(one for one in found if one is not None)


def _checked(place: str, columns: "Columns", true_c: "Floats") -> Checked | None:
    import numpy as np

    error = getattr(columns, f"{place}_c") - true_c
    known = np.isfinite(error)
    if not known.any():
        return None
    error, t_s, sd_k = error[known], columns.t_s[known], getattr(columns, f"{place}_sd_k")[known]
    worst = int(np.abs(error).argmax())
    given = np.isfinite(sd_k)
    within = np.abs(error[given]) <= 2 * sd_k[given]
    return Checked(
        place=place,
        moments=len(error),
        rms_k=float(np.sqrt((error**2).mean())),
        worst_k=float(error[worst]),
        worst_s=float(t_s[worst]),
        within_2sd=float(within.mean()) if given.any() else None,
    )
