"""One hold as read from the record, with what its figures and its picture both need."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from holdctl.errors import ConfigError, StoreError
from holdctl.food.codes import FoodCode, code_of
from holdctl.food.windows import GAP_S, WindowTracker
from holdctl.record.query import Record
from holdctl.record.rows import EventRow, HoldRow
from holdctl.review.dispositions import Deviation, deviations
from holdctl.review.truth import Truth, read_truth
from holdctl.settings import PASTE_PLACES, Place, Probe, Settings

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    from holdctl.record.columns import Columns

    Floats = NDArray[float64]


@dataclass(frozen=True, slots=True)
class Night:
    """A hold's row, settings, samples and events."""

    hold: HoldRow
    settings: Settings
    code: FoodCode
    columns: "Columns"
    events: list[EventRow]
    deviations: tuple[Deviation, ...] = ()
    """Alarms that concern the paste."""
    truth: Truth | None = None
    """What the simulator knew, where a simulated hold has left it."""

    @property
    def paste_probe(self) -> Probe:
        """The probe that the setpoint means: the first one in the paste."""
        return next(p for p in self.settings.probe if p.place in PASTE_PLACES)

    @property
    def wall_probe(self) -> Probe | None:
        """The probe at the heated wall, if there is one."""
        return next((p for p in self.settings.probe if p.place is Place.WALL), None)

    def probe_c(self, probe: Probe) -> "Floats":
        """Return a probe's readings with its offset, °C; NaN where it had none."""
        import numpy as np

        temps = self.columns.temps_c
        if probe.channel > temps.shape[1]:
            return np.full(len(temps), np.nan)
        values: Floats = temps[:, probe.channel - 1] + probe.offset_k
        return values

    def coldest_known_c(self) -> "Floats":
        """Return the lowest paste reading less that probe's error, °C; NaN where none was valid."""
        import numpy as np

        paste = [self.probe_c(p) - p.error_k for p in self.settings.probe if p.place in PASTE_PLACES]
        coldest: Floats = np.fmin.reduce(paste)
        return coldest

    def steps_s(self) -> "Floats":
        """Return the time from each sample to the next, s; 0 for the last one."""
        import numpy as np

        t = self.columns.t_s
        steps: Floats = np.diff(t, append=t[-1:])
        return steps

    def windows(self) -> WindowTracker:
        """Return the unsafe windows of the hold; a late first reading counts as a gap from the start."""
        tracker = WindowTracker(self.code)
        t, coldest = self.columns.t_s, self.coldest_known_c()
        if len(t) and t[0] > GAP_S:
            tracker.add(0.0, None)
        for t_s, coldest_c in zip(t.tolist(), coldest.tolist(), strict=True):
            tracker.add(t_s, None if math.isnan(coldest_c) else coldest_c)
        return tracker


def read_night(record: Record, hold_id: int | None = None) -> Night:
    """Read a hold (the latest without a number); StoreError when it or its settings can't be read."""
    hold = record.hold(hold_id)
    try:
        settings = msgspec.json.decode(hold.config_json, type=Settings)
        food_code = code_of(settings)
    except (msgspec.DecodeError, ConfigError) as error:
        raise StoreError(
            f"The settings kept with hold {hold.id} can't be read ({error}): review it with holdctl "
            f"{hold.version}, or take its samples with `holdctl export`."
        ) from error
    columns = record.columns(hold.id)
    truth = read_truth(record.path, hold, columns)
    events = record.events(hold.id)
    return Night(hold, settings, food_code, columns, events, deviations(record, hold.id, events), truth)
