"""Reads the record bit by bit: after the first pass only what is newer than the last look."""

import math

import msgspec

from holdctl.clock import Clock
from holdctl.errors import ConfigError, StoreError
from holdctl.events import State
from holdctl.food.allowance import allowances
from holdctl.food.codes import code_of
from holdctl.food.spells import falling_steps
from holdctl.food.tally import Tally
from holdctl.food.windows import WindowTracker
from holdctl.food.worst_case import GAP_S, high_c, low_c
from holdctl.record.query import Record
from holdctl.record.rows import HoldRow, SampleRow
from holdctl.settings import PASTE_PLACES, Settings
from holdctl.watch.notices import Notices
from holdctl.watch.snapshot import Bin, FoodFigures, Snapshot

BIN_MS = 15_000
PAGE = 20_000
TELL_S = 10.0
"""How often what grew and what the heat did is reckoned, s of the hold: it changes slowly."""
TREND_MS = 600_000
WRITER_EVERY_MS = 2_000
"""How often to ask whether a daemon still writes: the answer takes a lock for an instant."""


class Feed:
    """One hold of one record, followed as it grows."""

    def __init__(self, record: Record, clock: Clock, hold_id: int | None = None) -> None:
        """Follow a hold, the latest without a number. Raises StoreError when it can't be read."""
        self._record, self._clock = record, clock
        hold = record.hold(hold_id)
        self._hold_id = hold.id
        self.settings = _settings(hold)
        self._tracker = WindowTracker(
            code_of(self.settings), self.settings.scald.begins, self.settings.time_control
        )
        self._tally = Tally(self.settings.scald.flour)
        self._fresh: list[tuple[float, ...]] = []
        """What the tally has not been told yet: time, coldest and hottest by estimate, and by the worst case."""
        self._told_s: float | None = None
        limit_c = code_of(self.settings).hot_holding_c
        self._notices = Notices(falling_steps(self.settings.programme, limit_c))
        self._bins: list[Bin] = []
        self._sample: SampleRow | None = None
        self._daemon = False
        self._asked_ms: int | None = None
        probe = next(p for p in self.settings.probe if p.place in PASTE_PLACES)
        self._channel, self._offset_k = probe.channel - 1, probe.offset_k

    def refresh(self) -> Snapshot:
        """Read what is new and return what stands now."""
        # The hold's row first: once it says ended, every sample is in the file.
        hold = self._record.hold(self._hold_id)
        self._read_samples()
        self._tell(hold.state is not None)
        self._ask_writer()
        return self._snapshot(hold)

    def _read_samples(self) -> None:
        while True:
            after = self._sample.seq if self._sample else 0
            rows = self._record.samples(self._hold_id, after, PAGE)
            # The events after the samples: a spell that was declared before one of them is known then.
            self._notices.add(self._record.events(self._hold_id, self._notices.seq))
            for row in rows:
                self._take(row)
            if len(rows) < PAGE:
                return

    def _take(self, row: SampleRow) -> None:
        t_s = row.at.hold_ms / 1000
        if self._sample is None and t_s > GAP_S:
            self._tracker.add(0.0, None)  # a late first reading: nobody knows what was before
        temps = row.reading.temps
        probes, estimate = self.settings.probe, row.decision.estimate
        self._tracker.spell = self._notices.spell_at(t_s)
        low, high = low_c(temps, probes, estimate), high_c(temps, probes, estimate)
        self._tracker.add(t_s, low, high)
        ends = (estimate.coldest_c, estimate.hottest_c) if estimate else (None, None)
        self._fresh.append((t_s, *(math.nan if c is None else c for c in (*ends, low, high))))
        value = temps[self._channel] if self._channel < len(temps) else None
        if isinstance(value, float):
            self._plot(row.at.hold_ms, value + self._offset_k)
        self._sample = row

    def _tell(self, ended: bool) -> None:
        """Let the tally know what is new: at first, every ten seconds, and all of it at the end."""
        import numpy as np

        due = self._told_s is None or ended or (self._fresh and self._fresh[-1][0] - self._told_s >= TELL_S)
        if self._fresh and due:
            t_s, coldest, hottest, low, high = np.array(self._fresh).T
            self._tally.add(t_s, (coldest, hottest), (low, high))
            self._told_s = float(t_s[-1])
            self._fresh.clear()

    def _plot(self, hold_ms: int, value_c: float) -> None:
        start = hold_ms - hold_ms % BIN_MS
        last = self._bins[-1] if self._bins else None
        if last is None or last.hold_ms != start:
            self._bins.append(Bin(start, value_c, value_c))
        elif not last.lowest_c <= value_c <= last.highest_c:
            self._bins[-1] = Bin(start, min(last.lowest_c, value_c), max(last.highest_c, value_c))

    def _ask_writer(self) -> None:
        now_ms = self._clock.monotonic_ms()
        if self._asked_ms is None or now_ms - self._asked_ms >= WRITER_EVERY_MS:
            self._daemon, self._asked_ms = self._record.writer_pid() is not None, now_ms

    def _snapshot(self, hold: HoldRow) -> Snapshot:
        said, sample = self._notices, self._sample
        now_ms = self._clock.utc_ms()
        paced = hold.pace == "device"
        silent_s = max(0, now_ms - _heard_utc_ms(hold, sample)) / 1000
        gap_s = silent_s if silent_s > GAP_S and not (hold.state or paced) else 0.0
        newest = sample is not None and sample.seq > said.step_seq
        return Snapshot(
            hold=hold,
            settings=self.settings,
            now_utc_ms=(sample.at.utc_ms if sample else hold.started_utc_ms) if paced else now_ms,
            silent_s=silent_s,
            daemon=self._daemon,
            state=hold.state or said.state or (sample.decision.state if sample else State.IDLE),
            state_text=said.state_text,
            step_index=said.step_index,
            entered_hold_ms=said.entered_hold_ms,
            credit_ms=sample.decision.credit_ms if sample and newest else 0,
            sample=sample,
            trend_k=self._trend(),
            alarms=tuple(said.standing.alarms.values()),
            shelved=tuple(said.standing.shelved),
            lines=tuple(said.lines),
            growth=self._tally.growth(gap_s),
            bread=self._tally.bread(said.measured) if "scald" not in self.settings.untold else None,
            cooling=said.cooling,
            cooled=tuple(said.stages.values()),
            foretold=said.foretold,
            stir_advice=said.stir_advice,
            food=self._food(gap_s),
            history=self._bins,
        )

    def _trend(self) -> float | None:
        """Return the change over the last ten minutes, K, scaled up from at least five."""
        if not self._bins:
            return None
        last = self._bins[-1]
        then = next((b for b in reversed(self._bins) if last.hold_ms - b.hold_ms >= TREND_MS), self._bins[0])
        length_ms = last.hold_ms - then.hold_ms
        if not TREND_MS / 2 <= length_ms <= 2 * TREND_MS:
            return None
        change = (last.lowest_c + last.highest_c - then.lowest_c - then.highest_c) / 2
        return change * TREND_MS / length_ms

    def _food(self, gap_s: float) -> FoodFigures:
        """Return the code's figures; time since the last reading counts as below once it is a gap."""
        tracker, opened = self._tracker, self._tracker.open
        now_s = (self._sample.at.hold_ms / 1000 if self._sample else 0.0) + gap_s
        below_now = gap_s + (opened.duration_s if opened else 0.0)
        temps = self._sample.reading.temps if self._sample else ()
        return FoodFigures(
            code=tracker.code,
            coldest_known_c=low_c(
                temps, self.settings.probe, self._sample.decision.estimate if self._sample else None
            ),
            coming_up=tracker.coming_up and tracker.first_s is not None,
            allowances=allowances(tracker, now_s, silent_s=gap_s),
            below_now_s=below_now if opened or gap_s else None,
            unrecorded_now_s=gap_s + (opened.unrecorded_s if opened else 0.0),
            below_s=tracker.below_s + gap_s,
            unrecorded_s=tracker.unrecorded_s + gap_s,
            zone_s=tracker.zone_s,
            zone_unrecorded_s=tracker.zone_unrecorded_s,
        )


def _heard_utc_ms(hold: HoldRow, sample: SampleRow | None) -> int:
    """Return when the last reading came by the host's clock, also where the node turns the hold's."""
    if sample is None:
        return hold.started_utc_ms
    return hold.started_utc_ms + sample.at.host_ms if hold.pace == "device" else sample.at.utc_ms


def _settings(hold: HoldRow) -> Settings:
    try:
        settings = msgspec.json.decode(hold.config_json, type=Settings)
        code_of(settings)
        if not any(probe.place in PASTE_PLACES for probe in settings.probe):
            raise ConfigError("no probe is in the paste")
    except (msgspec.DecodeError, ConfigError) as error:
        raise StoreError(
            f"The settings kept with hold {hold.id} can't be read ({error}): watch it with holdctl {hold.version}."
        ) from error
    return settings
