"""The figures of one hold, computed from its record.

Durations and energies are sums over the steps between samples; across a gap (more than GAP_S between two
samples) energy is not counted, since the relay's lease lapsed, and the gap itself is. A root mean square
deviation is that of the paste probe's reading from the setpoint, over the samples of the phase that have
both, with equal weight.
"""

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.config.unheated import heated
from holdctl.events import NoticeKind, Phase
from holdctl.food.accounts import BreadAccount, GrowthAccount
from holdctl.food.codes import FoodCode
from holdctl.food.judge_heat import come_up_spans
from holdctl.food.worst_case import GAP_S, Span
from holdctl.hold.programme import duration_ms
from holdctl.record.query import Record
from holdctl.review.cooled import CoolingAccount, cooling_accounts
from holdctl.review.dispositions import Deviation
from holdctl.review.food import FoodAccount, food_account
from holdctl.review.foretold import Foretold, Stir, foretold, stirs
from holdctl.review.interruptions import Interrupted, interruptions
from holdctl.review.night import Night, read_night
from holdctl.review.planned import PlannedNight, planned_night
from holdctl.review.storage import StorageAccount, storage_account
from holdctl.review.truth import Checked, checked
from holdctl.settings import Programme

if TYPE_CHECKING:
    from numpy import bool_
    from numpy.typing import NDArray

    Mask = NDArray[bool_]

J_PER_KWH = 3.6e6
_HELD = (Phase.HOLD, Phase.HOT_HOLDING)


class PhaseFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What one phase looked like; None where nothing was recorded. Temperatures °C, deviations K."""

    phase: str
    duration_s: float
    unrecorded_s: float
    """Part of `duration_s` that lies in gaps."""
    paste_min_c: float | None
    paste_max_c: float | None
    deviation_rms_k: float | None
    """Root mean square of paste probe less setpoint; only where the paste is held, else None."""
    coldest_c: float | None
    """Lowest estimate of the coldest paste."""
    hottest_c: float | None
    """Highest estimate of the hottest paste."""
    coldest_sd_k: float | None
    """Standard deviation of `coldest_c`, K; None where none was given."""
    hottest_sd_k: float | None
    switch_ons: int
    switch_ons_per_h: float | None


class Window(msgspec.Struct, frozen=True, kw_only=True):
    """An unsafe window: the rule it breaks stands beside it."""

    start_s: float
    end_s: float
    lowest_c: float | None
    unrecorded_s: float
    limit_c: float
    rule: str
    source: str


class Figures(msgspec.Struct, frozen=True, kw_only=True):
    """One hold in numbers."""

    hold: int
    heated: bool
    """False: a cooling with no hold before it; what a warmer or a programme would have given is None or 0."""
    warmer: str | None
    programme: str
    pace: str
    simulated: bool
    version: str
    started_utc: str
    ended_utc: str | None
    state: str
    """How it ended; `open` while it goes on."""
    units: str
    food_code: str
    limit_c: float
    """The code's hot-holding limit."""
    limit_f: float | None
    """As the code itself writes it in °F; None where it does not."""
    rule: str
    rule_source: str
    length_s: float
    samples: int
    setpoint_c: float | None
    """Of the hold phase, the last one; of the whole record when there was no hold phase."""
    every_part_c: tuple[float, float] | None
    until_hold_s: float | None
    """From the start to the first sample of the hold phase."""
    settling_s: float
    come_up_s: float
    credit_s: float
    """Hold time earned in all steps."""
    asked_s: float
    """Hold time that the programme asks for in all steps."""
    phases: tuple[PhaseFigures, ...]
    paste_probe: str
    paste_error_k: float
    paste_probe_checked_on: str | None
    coldest_c: float | None
    """Lowest estimate of the coldest paste in the hold phase."""
    hottest_c: float | None
    """Highest estimate of the hottest paste in the whole record."""
    coldest_sd_k: float | None
    """Standard deviation of `coldest_c`, K; None where none was given."""
    hottest_sd_k: float | None
    wall_max_c: float | None
    wall_measured: bool
    """Whether `wall_max_c` was read by a probe; estimated otherwise."""
    switch_ons: int
    energy_duty_kwh: float
    """Sum of duty times heater power."""
    energy_relay_kwh: float
    """Sum of relay-on time times heater power."""
    windows: tuple[Window, ...]
    below_limit_s: float
    unrecorded_s: float
    """Part of `below_limit_s` without a valid reading, counted as below the limit."""
    estimate_below_limit_s: float
    """Recorded time in which the estimate of the coldest paste (no probe there) was below the limit."""
    limit_reached: bool
    zone_s: float
    """Time between 5 and 57 °C before the hot-holding limit was first reached."""
    gaps: int
    longest_gap_s: float
    interruptions: tuple[Interrupted, ...]
    """Restarts and long sleeps of the computer within this hold."""
    alarms: int
    trips: int
    deviations: tuple[Deviation, ...]
    """Alarms that concern the paste: what to do with it, and what was entered as done."""
    forecasts: tuple[Foretold, ...]
    """The first of each hold step, and what came."""
    stirs: tuple[Stir, ...]
    planned: PlannedNight | None
    """What was planned beside what came; None for a hold without a plan."""
    truth: tuple[Checked, ...]
    """Estimates against the simulator's truth; empty for a real hold."""
    food: FoodAccount
    """What the rules of the food code found."""
    cooling: tuple[CoolingAccount, ...]
    """Each declared cooling: stages, verdicts, what was foretold."""
    storage: StorageAccount
    """What was read in the fridge afterwards."""
    growth: GrowthAccount
    """What may have grown, and what the heat did to it."""
    bread: BreadAccount | None
    """What the night did for the bread; None where the settings do not tell what flour it was."""

    def phase(self, name: str) -> PhaseFigures | None:
        """Return the figures of one phase, None when the hold never was in it."""
        return next((p for p in self.phases if p.phase == name), None)


def figures(record: Record, hold_id: int | None = None) -> Figures:
    """Return the figures of a hold (the latest without a number); raises StoreError."""
    return figures_of(read_night(record, hold_id))


def figures_of(night: Night) -> Figures:
    """Return the figures of a hold that was read already."""
    hold, settings, columns = night.hold, night.settings, night.columns
    line, steps = night.timeline(), night.steps_s()
    windows, food, tally = line.hot_windows(), food_account(night), night.tally()
    way_up, hot = come_up_spans(line), heated(settings)
    rises = _rises(columns.relay)
    phases = tuple(_phase(night, phase, rises) for phase in _phases_in_order(columns.phase))
    lengths = {p.phase: p.duration_s for p in phases}
    holding = columns.phase == Phase.HOLD
    wall = night.wall_probe
    gaps = steps[steps > GAP_S]
    recorded = steps * (steps <= GAP_S)
    energy = settings.warmer.power_w / J_PER_KWH
    relay_kwh = float((columns.relay * recorded).sum()) * energy
    return Figures(
        hold=hold.id, heated=hot, warmer=hold.warmer if hot else None,
        programme=hold.programme, pace=hold.pace, simulated=hold.simulated,
        version=hold.version, started_utc=_iso(hold.started_utc_ms),
        ended_utc=None if hold.ended_utc_ms is None else _iso(hold.ended_utc_ms),
        state="open" if hold.state is None else hold.state.value,
        units=settings.units, food_code=night.code.id, limit_c=night.code.hot_holding_c,
        limit_f=night.code.hot_holding_f, rule=night.code.rule, rule_source=night.code.source,
        length_s=_length_s(night), samples=len(columns.t_s),
        setpoint_c=_last(columns.setpoint_c[holding] if holding.any() else columns.setpoint_c),
        every_part_c=settings.programme.every_part if hot else None,
        until_hold_s=float(columns.t_s[holding][0]) if holding.any() else None,
        settling_s=lengths.get(Phase.SETTLING, 0.0), come_up_s=lengths.get(Phase.COME_UP, 0.0),
        credit_s=_credit_s(columns.step, columns.credit_s), phases=phases,
        asked_s=asked_s(settings.programme) if hot else 0.0,
        paste_probe=night.paste_probe.name or night.paste_probe.place.value,
        paste_error_k=night.paste_probe.error_k,
        paste_probe_checked_on=_date(night.paste_probe.checked_on),
        coldest_c=_low(columns.coldest_c[holding]), hottest_c=_high(columns.hottest_c),
        coldest_sd_k=_beside(columns.coldest_sd_k[holding], -columns.coldest_c[holding]),
        hottest_sd_k=_beside(columns.hottest_sd_k, columns.hottest_c),
        wall_max_c=_wall_c(night),
        wall_measured=wall is not None,
        switch_ons=int(rises.sum()),
        energy_duty_kwh=float((columns.duty * recorded).sum()) * energy,
        energy_relay_kwh=relay_kwh,
        windows=tuple(_window(w, night.code) for w in windows), below_limit_s=sum(w.length_s for w in windows),
        unrecorded_s=sum(w.unrecorded_s for w in windows),
        estimate_below_limit_s=float(recorded[columns.coldest_c < night.code.hot_holding_c].sum()),
        limit_reached=line.reached_s is not None,
        zone_s=sum(s.length_s - s.unrecorded_s for s in way_up),
        gaps=len(gaps), longest_gap_s=float(gaps.max()) if len(gaps) else 0.0,
        interruptions=interruptions(night.events),
        alarms=_count(night, NoticeKind.ALARM), trips=_count(night, NoticeKind.TRIP),
        deviations=night.deviations, forecasts=foretold(night), stirs=stirs(night), truth=checked(columns, night.truth),
        food=food, cooling=cooling_accounts(night), storage=storage_account(night.code, night.stored),
        growth=tally.growth(), planned=planned_night(night, relay_kwh),
        bread=None if "scald" in settings.untold else tally.bread(night.declared.measured),
    )  # fmt: skip


def _wall_c(night: Night) -> float | None:
    """Return the hottest wall: as read, else as estimated; None where there is no heated wall."""
    wall = night.wall_probe
    if wall is not None:
        return _high(night.probe_c(wall))
    return _high(night.columns.wall_c) if heated(night.settings) else None


def _phase(night: Night, phase: str, rises: "Mask") -> PhaseFigures:
    import numpy as np

    columns = night.columns
    here = columns.phase == phase
    paste = night.probe_c(night.paste_probe)[here]
    deviation = paste - columns.setpoint_c[here]
    deviation = deviation[np.isfinite(deviation) & (phase in _HELD)]
    steps = night.steps_s()[here]
    duration, ons = float(steps.sum()), int(rises[here].sum())
    return PhaseFigures(
        phase=phase,
        duration_s=duration,
        unrecorded_s=float(steps[steps > GAP_S].sum()),
        paste_min_c=_low(paste),
        paste_max_c=_high(paste),
        deviation_rms_k=float(np.sqrt((deviation**2).mean())) if len(deviation) else None,
        coldest_c=_low(columns.coldest_c[here]),
        hottest_c=_high(columns.hottest_c[here]),
        coldest_sd_k=_beside(columns.coldest_sd_k[here], -columns.coldest_c[here]),
        hottest_sd_k=_beside(columns.hottest_sd_k[here], columns.hottest_c[here]),
        switch_ons=ons,
        switch_ons_per_h=ons / duration * 3600 if duration else None,
    )


def _phases_in_order(phase: Any) -> list[str]:
    """Return the phases that occur, by first occurrence."""
    import numpy as np

    names, first = np.unique(phase, return_index=True)
    return [str(name) for _, name in sorted(zip(first, names, strict=True))]


def _rises(relay: "Mask") -> "Mask":
    """Return where the relay was seen on after being seen off."""
    import numpy as np

    rises: Mask = relay & ~np.concatenate(([False], relay[:-1]))
    return rises


def _credit_s(step: Any, credit_s: Any) -> float:
    """Return the hold time of all steps: each step counts from zero, so its own highest figure counts."""
    import numpy as np

    return float(sum(credit_s[step == k].max() for k in np.unique(step)))


def asked_s(programme: Programme) -> float:
    """Return the hold time that a programme asks for in all its steps, s."""
    return sum(duration_ms(step.hold_for) for step in programme.step if step.hold_for) / 1000


def _length_s(night: Night) -> float:
    ended = night.hold.ended_hold_ms
    if ended is not None:
        return ended / 1000
    return _last(night.columns.t_s) or 0.0


def _count(night: Night, kind: NoticeKind) -> int:
    """Count notices of a kind, those carried over from an earlier hold apart."""
    return sum(e.source == "out" and e.kind == kind and not e.detail.get("restored") for e in night.events)


def _window(span: Span, code: FoodCode) -> Window:
    return Window(
        start_s=span.start_s, end_s=span.end_s, lowest_c=span.worst_c, unrecorded_s=span.unrecorded_s,
        limit_c=code.hot_holding_c, rule=code.rule, source=code.source,
    )  # fmt: skip


def _finite(values: Any) -> Any:
    import numpy as np

    return values[np.isfinite(values)]


def _low(values: Any) -> float | None:
    finite = _finite(values)
    return round(float(finite.min()), 2) if len(finite) else None


def _high(values: Any) -> float | None:
    finite = _finite(values)
    return round(float(finite.max()), 2) if len(finite) else None


def _beside(sd_k: Any, values: Any) -> float | None:
    """Return the deviation that goes with the highest value; None where there is none."""
    import numpy as np

    if not np.isfinite(values).any():
        return None
    at = sd_k[np.nanargmax(values)]
    return float(at) if np.isfinite(at) else None


def _last(values: Any) -> float | None:
    finite = _finite(values)
    return float(finite[-1]) if len(finite) else None


def _iso(utc_ms: int) -> str:
    return datetime.fromtimestamp(utc_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _date(day: Any) -> str | None:
    return None if day is None else str(day)
