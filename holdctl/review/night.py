"""One hold as read from the record, with what its figures and its picture both need."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import msgspec

from holdctl.errors import ConfigError, StoreError
from holdctl.food.codes import FoodCode, code_of
from holdctl.food.findings import Declared
from holdctl.food.storage import Stored
from holdctl.food.tally import Tally
from holdctl.food.timeline import Timeline, timeline
from holdctl.food.worst_case import Curve, error_k
from holdctl.record.query import Record
from holdctl.record.rows import EventRow, HoldRow
from holdctl.review.bread import measured_of
from holdctl.review.cool_doubts import doubts
from holdctl.review.dispositions import Deviation, deviations, window_deviations
from holdctl.review.food import declared_of, worst_curve
from holdctl.review.storage import stored
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
    declared: Declared
    """What was told besides the temperatures."""
    deviations: tuple[Deviation, ...] = ()
    """Alarms that concern the paste, and unsafe windows."""
    stored: tuple[Stored, ...] = ()
    """What was read in the fridge afterwards."""
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

    def trusted_c(self, probe: Probe) -> "Floats":
        """Return a probe's readings, °C; NaN also where a cooling found that they do not tell of the paste."""
        import numpy as np

        values = self.probe_c(probe)
        for channel, start_s, end_s in doubts(self.events):
            if channel == probe.channel:
                inside = (self.columns.t_s >= start_s) & (self.columns.t_s < end_s)
                values = np.where(inside, np.nan, values)
        return values

    def coldest_known_c(self) -> "Floats":
        """Return the lowest paste reading less that probe's error, °C; NaN where none was valid."""
        import numpy as np

        paste = [self.trusted_c(p) - error_k(p) for p in self.settings.probe if p.place in PASTE_PLACES]
        coldest: Floats = np.fmin.reduce(paste)
        return coldest

    def steps_s(self) -> "Floats":
        """Return the time from each sample to the next, s; 0 for the last one."""
        import numpy as np

        t = self.columns.t_s
        steps: Floats = np.diff(t, append=t[-1:])
        return steps

    @property
    def curve(self) -> Curve:
        """The worst case of the hold, as food rules see it; a late first reading is a gap from the start."""
        return worst_curve(self.columns.t_s, *self.ends_c())

    def ends_c(self) -> "tuple[Floats, Floats]":
        """Return the temperatures between which all paste surely was, °C; NaN where no paste probe was valid.

        As estimated, one deviation and the probes' error further out, and never within what a probe read.
        """
        import numpy as np

        probes = [probe for probe in self.settings.probe if probe.place in PASTE_PLACES]
        error, columns, coldest_read = max(map(error_k, probes)), self.columns, self.coldest_known_c()
        hottest_read = np.fmax.reduce([self.trusted_c(probe) + error_k(probe) for probe in probes])
        below = columns.coldest_c - np.nan_to_num(columns.coldest_sd_k) - error
        above = columns.hottest_c + np.nan_to_num(columns.hottest_sd_k) + error
        valid = np.isfinite(coldest_read)
        return (
            np.where(valid, np.fmin(coldest_read, below), np.nan),
            np.where(valid, np.fmax(hottest_read, above), np.nan),
        )

    def tally(self) -> Tally:
        """Return growth, heat, starch and amylases of the whole record."""
        found, columns = Tally(self.settings.scald.flour), self.columns
        found.add(columns.t_s, (columns.coldest_c, columns.hottest_c), self.ends_c())
        return found

    def timeline(self) -> Timeline:
        """Return which rule each time of the hold falls under."""
        return timeline(self.curve, self.declared, self.code)


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
    end_s = float(columns.t_s[-1]) if len(columns.t_s) else 0.0
    declared = declared_of(hold, settings, events, measured_of(events, hold), end_s)
    kept = stored(record, hold.id, food_code)
    night = Night(hold, settings, food_code, columns, events, declared, stored=kept, truth=truth)
    found = (*deviations(record, hold.id, events), *window_deviations(record, night))
    return replace(night, deviations=found)
