"""The true temperatures of a simulated hold in a file beside its record, for `holdctl review` to set beside."""

from pathlib import Path
from typing import IO, Any

from holdctl.errors import HoldctlError
from holdctl.record.files import TRUTH_COLUMNS, truth_file, truth_head
from holdctl.record.query import Record

EVERY_S = 5


class TruthLog:
    """Call it before each simulated second, and before anybody acts: it writes what is true at the last reading.

    The file begins with the first lease obeyed: the record has its hold by then. It covers that hold.
    """

    def __init__(self, node: Any, record: Path) -> None:
        self._node, self._record = node, record
        self._file: IO[str] | None = None

    def __call__(self, second: int) -> None:
        """Write a row every EVERY_S simulated seconds."""
        if self._file is None:
            if not self._node.obeyed:
                return
            try:
                self._file = self._begin()
            except HoldctlError:  # the record has no hold yet
                return
        if second % EVERY_S == 0:
            true = self._node.plant.truth()
            values = (true.coldest_c, true.hottest_c, true.mean_c, true.wall_c)
            self._file.write(",".join((str(self._node.up_ms), *(f"{c:.3f}" for c in values))) + "\n")

    def close(self) -> None:
        """Finish the file."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def _begin(self) -> IO[str]:
        hold = Record(self._record).hold()
        file = truth_file(self._record, hold.id).open("w", encoding="utf-8")
        file.write(truth_head(hold.id, hold.started_utc_ms) + "\n" + ",".join(TRUTH_COLUMNS) + "\n")
        return file
