"""A relay or step test run as a hold: the same loop, interlocks, limits and record as any night.

The test stands where the hold's controller stands, under state, interlocks and programme. The programme is one
prompt that lasts as long as the test may and then takes the relay off, so the end does not hang on the test alone.
"""

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass

import msgspec

from holdctl.control import told
from holdctl.control.experiment import Guarded, RelayTest, StepTest
from holdctl.control.findings import EVENT, Setup
from holdctl.control.prior import model_of
from holdctl.errors import ConfigError
from holdctl.events import (
    Decision,
    Event,
    Instant,
    Notice,
    NoticeKind,
    Reading,
    Request,
    RequestKind,
    Silence,
    State,
)
from holdctl.hold import Hold
from holdctl.hold.probes import Values
from holdctl.hold.programme import Want, duration_ms, hot_holding_c
from holdctl.settings import PASTE_PLACES, After, Place, Probe, Programme, Settings, Step

BY = "the test"
"""Who asks for its end, in the record."""

_UNDER_LIMIT_K = 2.0
_PASTE_OVER_K, _WALL_OVER_K = 4.0, 12.0
"""Ceilings of the test over its setpoint, K; a paste by the wall stands well under the wall's peaks."""
_GRACE_S = 600.0
"""The programme takes the relay off so long after the test should have ended by itself."""
_TRIPPED_MS = 60_000
"""A trip that stands for longer ends the test: what it would show is spoilt."""
_STEP_K = 5.0
"""A step is sized for this change in the end, K, by what is told."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person asked for; None: as is usual for this warmer."""

    method: str = "relay"
    channel: int | None = None
    setpoint_c: float | None = None
    hysteresis_k: float = 0.25
    cycles: int = 4
    longest: str | None = None

    @property
    def lasts(self) -> str:
        """How long at most, in words: a step has to settle twice."""
        return self.longest or ("4 h" if self.method == "relay" else "12 h")


@dataclass(frozen=True, slots=True)
class Plan:
    """A test ready to run: settings for its hold, and the test as a controller."""

    settings: Settings
    guarded: Guarded
    setup: Setup
    text: str
    """What is going to happen, for the baker."""

    def hold(self, settings: Settings, latched: Iterable[str]) -> "ExperimentHold":
        """Make the hold; the signature is that of `Hold`."""
        return ExperimentHold(settings, latched, self)


def plan(settings: Settings, wanted: Wanted) -> Plan:
    """Lay out the test. Raises ConfigError where it can't be made on this warmer."""
    probe = _probe(settings, wanted.channel)
    setpoint = hot_holding_c(settings.programme) if wanted.setpoint_c is None else wanted.setpoint_c
    if setpoint is None:
        raise ConfigError("The programme holds no temperature to test at: give one with --setpoint.")
    ceilings = {
        p.channel: _ceiling(settings, p, setpoint) for p in settings.probe if p.place is not Place.AIR
    }
    low = min(ceilings.values())
    if not settings.room.ambient_c + 10 <= setpoint <= low - wanted.hysteresis_k - 1:
        raise ConfigError(
            f"A test about {setpoint:g} °C does not fit between the room and the test's ceiling of {low:g} °C: give "
            "another --setpoint."
        )
    longest_s = duration_ms(wanted.lasts) / 1000
    test: RelayTest | StepTest
    if wanted.method == "relay":
        test = RelayTest(setpoint, wanted.hysteresis_k, wanted.cycles, longest_s)
    else:
        test = _step(settings, probe.place, setpoint, longest_s)
    setup = Setup(
        method=wanted.method,
        channel=probe.channel,
        setpoint_c=setpoint,
        ambient_c=settings.room.ambient_c,
        hysteresis_k=wanted.hysteresis_k,
        cycles=wanted.cycles,
        cycle_s=settings.warmer.cycle_s,
    )
    text = _words(test, probe, setpoint, wanted.lasts)
    return Plan(
        _as_programme(settings, setpoint, wanted), Guarded(test, probe.channel, ceilings), setup, text
    )


def _probe(settings: Settings, channel: int | None) -> Probe:
    """Return the probe asked for, else the one at the wall, else the one that carries the setpoint."""
    usable = [p for p in settings.probe if p.place is not Place.AIR]
    if channel is not None:
        for probe in usable:
            if probe.channel == channel:
                return probe
        known = ", ".join(f"{p.channel} ({p.place.value})" for p in usable)
        raise ConfigError(f"There is no probe on channel {channel} that a test could use; there are {known}.")
    wall = next((p for p in usable if p.place is Place.WALL), None)
    return wall or next(p for p in usable if p.place in PASTE_PLACES)


def _ceiling(settings: Settings, probe: Probe, setpoint: float) -> float:
    wall = probe.place is Place.WALL
    limit = settings.limits.wall_high_c if wall else settings.limits.paste_high_c
    return min(limit - _UNDER_LIMIT_K, setpoint + (_WALL_OVER_K if wall else _PASTE_OVER_K))


def _step(settings: Settings, place: Place, setpoint: float, longest_s: float) -> StepTest:
    model = told(settings)
    network = model_of(model)
    gain = float(network.row(place) @ network.steady_rise)
    base = (setpoint - settings.room.ambient_c) / gain
    raised = base + max(0.02, _STEP_K / gain)
    if not 0 < base < raised <= 1:
        raise ConfigError(
            f"By what is told, {setpoint:g} °C needs {base:.0%} of the power: no room for a step."
        )
    cycle_s = settings.warmer.cycle_s
    return StepTest(base, raised, block_s=cycle_s * math.ceil(60.0 / cycle_s), longest_s=longest_s)


def _as_programme(settings: Settings, setpoint: float, wanted: Wanted) -> Settings:
    step = Step(
        to=setpoint,
        prompt=f"A {wanted.method} test runs: leave the lid closed, do not stir. It ends by itself",
        wait=f"{duration_ms(wanted.lasts) / 1000 + _GRACE_S:.0f} s",
        unanswered="stop",
    )
    programme = Programme(
        step=(step,),
        name=f"{wanted.method} test",
        every_part=settings.programme.every_part,
        after=After(then="relay-off"),
    )
    return msgspec.structs.replace(settings, programme=programme)


def _words(test: RelayTest | StepTest, probe: Probe, setpoint: float, longest: str) -> str:
    where = f"probe {probe.channel} ({probe.name or probe.place.value})"
    if isinstance(test, RelayTest):
        does = (
            f"Relay test: {where} is made to swing about {setpoint:g} °C, full power below and none above, with "
            f"{test.hysteresis_k:g} K of hysteresis, until {test.cycles} cycles are equal"
        )
    else:
        does = (
            f"Step test: {test.base:.1%} of the power until {where} has settled, then {test.raised:.1%} until it has "
            f"settled again or changed by {test.most_k:g} K"
        )
    return f"{does}, {longest} at most. Then the relay is off."


class ExperimentHold(Hold):
    """A hold that ends when its test does, or when a trip latches or stays: a test is not worth waiting for."""

    outlives_terminal = False

    def __init__(self, settings: Settings, latched: Iterable[str], plan: Plan) -> None:
        super().__init__(settings, latched)
        self._plan = plan
        self._said = self._over = False
        self._tripped_ms: int | None = None

    def step(self, event: Event, now: Instant) -> Decision:
        """Take one event and decide; the test's end is asked for like a person's."""
        decision = super().step(event, now)
        notices = list(decision.notices)
        if not self._said:
            self._said = True
            notices.append(Notice(NoticeKind.INFO, EVENT, self._plan.text, asdict(self._plan.setup)))
        if isinstance(event, Reading | Silence) and not self._over:
            ask = self._ends(now)
            if ask is not None:
                self._over = True
                decision = super().step(ask, now)
                notices += decision.notices
                decision = msgspec.structs.replace(decision, lease_ms=0)
        return msgspec.structs.replace(decision, notices=tuple(notices))

    def _control(self, want: Want, values: Values, dt_s: float) -> None:
        """Let the test stand where the hold's control stands: interlocks and programme have had their say."""
        if want.setpoint_c is None:
            self.drive.rest()
            return
        duty = self._plan.guarded.update(want.setpoint_c, values.used_c, dt_s)
        self.drive.give(want.setpoint_c, duty, values, dt_s)

    def _ends(self, now: Instant) -> Request | None:
        if not self.standing:
            self._tripped_ms = None
        elif self._tripped_ms is None:
            self._tripped_ms = now.host_ms
        lasting = self._tripped_ms is not None and now.host_ms - self._tripped_ms >= _TRIPPED_MS
        if self.state is State.HELD or (self.state is State.RUNNING and lasting):
            return Request(RequestKind.STOP, BY)
        if self.state is State.RUNNING and self._plan.guarded.words:
            return Request(RequestKind.NEXT, BY)
        return None
