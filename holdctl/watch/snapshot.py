"""Everything that one frame of the live screen shows, as plain values: no file, no clock behind it."""

from collections.abc import Sequence
from dataclasses import dataclass

from holdctl.config.unheated import heated
from holdctl.events import Estimate, Forecast, Phase, ProbeFault, State
from holdctl.food.accounts import BreadAccount, GrowthAccount
from holdctl.food.allowance import Allowance
from holdctl.food.codes import FoodCode
from holdctl.food.cooling import Standing
from holdctl.hold.programme import duration_ms, hot_holding_c
from holdctl.hold.states import ENDED
from holdctl.record.rows import HoldRow, SampleRow
from holdctl.settings import PASTE_PLACES, Probe, Settings, Step

STALE_S = 10.0
"""A sample waits at most 5 s for its commit; one older than this means that something is wrong."""

FORECAST_MS = 900_000
"""Age beyond which a forecast is no longer shown: it is told at least every ten minutes while it means anything."""
ADVICE_MS = 900_000
"""Age beyond which advice to stir is no longer shown."""

_FAULT_WORDS = {
    ProbeFault.OPEN: "open",
    ProbeFault.SHORT: "shorted",
    ProbeFault.RANGE: "out of range or too old",
}


@dataclass(frozen=True, slots=True)
class Bin:
    """Lowest and highest paste reading, °C, of a short span of the hold that begins at `hold_ms`."""

    hold_ms: int
    lowest_c: float
    highest_c: float


@dataclass(frozen=True, slots=True)
class Alarm:
    """A trip or alarm that stands, or is over and was not seen yet."""

    name: str
    trip: bool
    text: str
    since_utc_ms: int
    acknowledged: bool = False
    latched: bool = False
    restored: bool = False
    """Left over from an earlier hold."""
    priority: str = ""
    """high, medium or low; empty where the record does not say."""
    over_utc_ms: int | None = None
    """When its cause went; None while it is there."""
    shelved: bool = False
    """Put aside: not listed, only counted."""
    first_out: bool = False
    """It came first since none waited to be seen."""
    chattering: bool = False

    @property
    def holds(self) -> bool:
        """Whether it takes the relay off now."""
        return self.trip and (self.over_utc_ms is None or self.latched)

    @property
    def stands(self) -> bool:
        """Whether its cause is there, or it waits for its reset."""
        return self.over_utc_ms is None or self.latched


@dataclass(frozen=True, slots=True)
class Line:
    """One event for the list."""

    utc_ms: int
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Foretold:
    """A forecast and when it was told."""

    utc_ms: int
    forecast: Forecast


@dataclass(frozen=True, slots=True)
class StirAdvice:
    """Advice to stir that nobody has followed yet, and what it is worth; 0 where that was not said."""

    utc_ms: int
    text: str
    sooner_ms: int = 0
    """How much sooner the range would be reached."""
    evener_k: float = 0.0
    """How much less the paste would differ from part to part, K."""


@dataclass(frozen=True, slots=True)
class CoolingStage:
    """One stage of the food code's cooling as it was last told; times in s since the start of the hold."""

    to_c: float
    standing: Standing
    due_s: float | None
    """When it must be reached; None while its clock can't be told."""
    early_s: float | None
    late_s: float | None
    """When it is foretold, from and to."""
    reached_s: float | None


@dataclass(frozen=True, slots=True)
class Cooled:
    """A declared cooling that goes on."""

    stages: tuple[CoolingStage, ...] = ()
    """Empty until it is first told, and where the code has no numbers."""
    stand: str = ""
    """Where the paste stands, in words."""
    help: str = ""
    """What would help, empty where nothing has to."""


@dataclass(frozen=True, slots=True)
class FoodFigures:
    """What the chosen code's rule looks like so far; durations in s."""

    code: FoodCode
    coldest_known_c: float | None
    """Coldest paste, read or estimated, errors and deviation taken off."""
    coming_up: bool
    """On the way up, where another rule than hot holding is asked."""
    allowances: tuple[Allowance, ...]
    """What is left of the times that rules allow."""
    below_now_s: float | None
    """Length of the window that is open now, None when there is none."""
    unrecorded_now_s: float
    """Part of `below_now_s` without a valid reading."""
    below_s: float
    unrecorded_s: float
    """Part of `below_s` without a valid reading: counted as below."""
    zone_s: float
    zone_unrecorded_s: float


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One hold at one moment."""

    hold: HoldRow
    settings: Settings
    now_utc_ms: int
    """Now; the last sample's time where the node turns the clock."""
    silent_s: float
    """Real time since the last reading, or since the start when there was none."""
    daemon: bool
    """Whether a daemon writes the record."""
    state: State
    state_text: str
    """What the record says about the last change of state."""
    step_index: int
    entered_hold_ms: int
    """When this step began, ms of the hold."""
    credit_ms: int
    sample: SampleRow | None
    trend_k: float | None
    """Change of the paste's reading over the last ten minutes, K; None while too little is known."""
    alarms: tuple[Alarm, ...]
    shelved: tuple[str, ...]
    """Alarms that are put aside, whether or not they have come."""
    lines: tuple[Line, ...]
    """Events, newest last."""
    food: FoodFigures
    growth: GrowthAccount
    """What may have grown so far, and what the heat did."""
    bread: BreadAccount | None
    """What the hold did for the bread so far; None where the settings do not tell the flour."""
    cooling: Cooled | None
    """The declared cooling that goes on; None without one."""
    cooled: tuple[str, ...]
    """What came of the cooling's stages, in words."""
    foretold: Foretold | None
    """The last forecast of this step."""
    stir_advice: StirAdvice | None
    history: Sequence[Bin]

    @property
    def heated(self) -> bool:
        """Whether there is a warmer; else it is a cooling alone."""
        return heated(self.settings)

    @property
    def ended(self) -> bool:
        """Whether the hold is over."""
        return self.hold.state is not None or self.state in ENDED

    @property
    def gone(self) -> bool:
        """Whether the daemon died in the middle of the hold."""
        return not self.ended and not self.daemon

    @property
    def phase(self) -> Phase:
        """What a running hold is doing: the record's word, or what the step says until the record follows.

        The record names settling, come-up and hold a minute late, so that a reading on the edge does not fill it.
        """
        if self.sample is None or self.state is not State.RUNNING:
            return Phase.NONE
        if self.cooling is not None:
            return Phase.COOLING
        step = self.step
        if step is None:
            return Phase.HOT_HOLDING if self.settings.programme.after.then == "hot-holding" else Phase.NONE
        named = self.sample.decision.phase
        if step.due is not None and self.sample.at.hold_ms < self.entered_hold_ms + duration_ms(step.due):
            return named if named is Phase.SETTLING else Phase.COME_UP  # the prompt is not asked yet
        if not step.hold_for:
            return Phase.PROMPT if step.prompt is not None else Phase.FALLING
        waits = self.out_of_range()
        if named in (Phase.HOLD, Phase.SETTLING, Phase.COME_UP):
            return named
        return Phase.HOLD if waits is None else Phase.COME_UP if waits[0] == "coldest" else Phase.SETTLING

    @property
    def lapsed(self) -> bool:
        """Whether nobody renews the relay's lease: the daemon or the line is gone, or the node is silent."""
        return self.gone or any(a.name in ("no-reading", "link-down") and a.stands for a in self.alarms)

    @property
    def stale(self) -> bool:
        """Whether the last reading is too old to be called now."""
        return not self.ended and (self.sample is None or self.lapsed or self.silent_s > STALE_S)

    @property
    def paste_probe(self) -> Probe:
        """The probe that the setpoint means: the first one in the paste."""
        return next(p for p in self.settings.probe if p.place in PASTE_PLACES)

    @property
    def paste_c(self) -> float | None:
        """The paste probe's last reading, offset added, °C; None without a valid one."""
        value = self.reading(self.paste_probe)
        return value if isinstance(value, float) else None

    @property
    def estimate(self) -> Estimate | None:
        """The last estimate."""
        return self.sample.decision.estimate if self.sample else None

    @property
    def known_estimate(self) -> Estimate | None:
        """The last estimate, None while it rests on nothing: paste probe faulty, or figures old."""
        return None if self.stale or self.paste_c is None else self.estimate

    @property
    def forecast(self) -> Foretold | None:
        """The last forecast, None where it is too old or its latest time is past."""
        told = self.foretold
        if told is None or self.state is not State.RUNNING or self.now_utc_ms - told.utc_ms > FORECAST_MS:
            return None
        end = told.forecast.end_ms
        return None if end is not None and told.utc_ms + end[2] < self.now_utc_ms else told

    @property
    def advice(self) -> StirAdvice | None:
        """What stirring now would be worth; None where nobody should stir for it now."""
        told = self.stir_advice
        if told is None or self.now_utc_ms - told.utc_ms > ADVICE_MS:
            return None
        idle = self.ended or self.gone or self.stale or self.state is not State.RUNNING
        return None if idle or any(alarm.holds for alarm in self.alarms) else told

    @property
    def step(self) -> Step | None:
        """The programme's current step, None once the last is done or a cooling is declared."""
        if self.cooling is not None or not self.heated:
            return None
        steps = self.settings.programme.step
        return steps[self.step_index] if self.step_index < len(steps) else None

    @property
    def setpoint_c(self) -> float | None:
        """What the programme wants here, °C, whether or not the relay may work for it; None: nothing."""
        if self.cooling is not None or not self.heated:
            return None
        if self.step is not None:
            return self.step.to
        programme = self.settings.programme
        return hot_holding_c(programme) if programme.after.then == "hot-holding" else None

    @property
    def left_ms(self) -> int | None:
        """What is left of a hold step, ms of time with every part in range; None in another step."""
        if self.step is None or not self.step.hold_for:
            return None
        return max(0, duration_ms(self.step.hold_for) - self.credit_ms)

    def reading(self, probe: Probe) -> float | str:
        """Return a probe's last reading with its offset, °C, or in words why there is none."""
        temps = self.sample.reading.temps if self.sample else ()
        if probe.channel > len(temps):
            return "no reading" if not temps else "not fitted"
        value = temps[probe.channel - 1]
        return _FAULT_WORDS[value] if isinstance(value, ProbeFault) else round(value + probe.offset_k, 2)

    def out_of_range(self) -> tuple[str, float, float] | None:
        """Return what stops the clock: (coldest or hottest, its °C, the limit it misses); None while it runs."""
        if self.estimate is None:
            return None
        low, high = self.settings.programme.every_part
        under, over = low - self.estimate.coldest_c, self.estimate.hottest_c - high
        if under <= 0 and over <= 0:
            return None
        return (
            ("hottest", self.estimate.hottest_c, high)
            if over > under
            else ("coldest", self.estimate.coldest_c, low)
        )
