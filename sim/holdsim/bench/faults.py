"""Faults in a hold, and nights without one: how soon each is seen, beside the least time that any detector needs.

The least time is computed on the plant itself: a twin of it gets the same orders and has no fault. What both differ
by, behind the probes' lag, is set against the noise of the probes alone. Whoever knew the plant and its past exactly,
the orders, and that nothing else happened, would see the fault at six standard deviations then. (A dead heater shows
nothing before the relay is told to close.) Frozen and displaced probes have no such bound: they are told by the probe's
own behaviour.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from holdctl.events import NoticeKind
from holdctl.settings import Lid, Place
from holdsim.bench.ours import Ours
from holdsim.bench.suites import CEILING_C, PLACES, ROOM_C, SETPOINT_C, SUITES, Bench, Case, draw
from holdsim.bench.two_node import TwoNode
from holdsim.truth import Truth

SETS: dict[str, tuple[Place, ...]] = {
    "two": (Place.MID, Place.WALL),
    "edge": (Place.EDGE,),
    "mid": (Place.MID,),
    "core": (Place.CORE,),
}
"""Sets of probes, the setpoint's first."""
AFTER_S = 5400
SIGMAS = 6.0
NOISE_K, STEP_K, LAG_S = 0.03, 0.0625, 10.0
IN_AIR_S = 60.0
"""A probe with paste on it, in air, takes so long to fall by 63 % (from memory: half a minute to two)."""
CALLED = {
    "dead heater": {"no-heat", "heat-missing"},
    "half-dead heater": {"no-heat", "heat-missing"},
    "welded relay": {"relay-welded", "heat-unordered"},
    "frozen probe": {"probe-frozen"},
    "probe out": {"probe-out"},
    "wall probe off": {"probe-out"},
}
"""What each fault must be called."""
HEAT_DUTY: dict[str, Callable[[float], float]] = {
    "dead heater": lambda _duty: 0.0,
    "half-dead heater": lambda duty: duty / 2.0,
    "welded relay": lambda _duty: 1.0,
}


@dataclass(frozen=True)
class Begin:
    """How a night begins, and when its fault comes."""

    start_c: float | None
    """Of paste and vessel; None: the steady hold at the setpoint, in which nothing can be learnt."""
    fault_s: int


BEGINS = {"scald": Begin(74.0, 8 * 3600), "hold": Begin(None, 2 * 3600)}
"""A scald that falls into its hold, and a fault in the eighth hour; or a hold from the first second."""


@dataclass(frozen=True)
class Detected:
    """One fault on one plant: when it was called by its name, and what the paste had by then."""

    suite: str
    number: int
    probes: str
    fault: str
    begin: str
    hold_duty: float
    seconds: float | None
    place_k: float | None
    """Of the setpoint's place against the setpoint when it was called, K."""
    hottest_k: float | None
    """By how much the fault had changed the hottest paste, K."""
    bound_s: float | None
    """The least time; None where there is none, or it lies beyond the end."""
    bound_k: float | None
    """By how much the hottest paste has changed by then, whoever watches, K."""
    before: tuple[str, ...]
    """What was called in the hold before the fault."""
    wrong: tuple[str, ...]
    """What else was called until then."""

    def plain(self) -> dict[str, Any]:
        """Return it for JSON."""
        return asdict(self)


class Fault:
    """A fault that begins at once and stays."""

    def __init__(self, kind: str, places: tuple[Place, ...]) -> None:
        self.kind = kind
        self._index = PLACES.index(places[-1] if kind == "wall probe off" else places[0])
        self._value: float | None = None

    def readings(self, seen: tuple[float, ...]) -> tuple[float, ...]:
        """Return what the node says of these readings."""
        if self.kind not in ("frozen probe", "probe out", "wall probe off"):
            return seen
        if self._value is None:
            self._value = seen[self._index]
        if self.kind != "frozen probe":
            self._value += (ROOM_C - self._value) / IN_AIR_S
        spoilt = list(seen)
        spoilt[self._index] = round(self._value / STEP_K) * STEP_K
        return tuple(spoilt)

    def duty(self, ordered: float) -> float:
        """Return what the heater makes of what was ordered."""
        return HEAT_DUTY.get(self.kind, lambda duty: duty)(ordered)


def settled(case: Case, place: Place) -> Bench:
    """Return the plant in its steady hold at 65 °C."""
    plant = case.build(SETPOINT_C)
    truth = plant.steady(SETPOINT_C, place)
    if isinstance(plant, TwoNode):
        plant.set_temps(np.array([truth.wall_c, SETPOINT_C]))
    else:
        plant.settle(SETPOINT_C, place)
    return plant


def detect(case: Case, probes: str, kind: str, begin: str = "hold", after_s: int = AFTER_S) -> Detected:
    """Let one fault befall the hold of an unknown warmer, and stay until it is told and its bound has passed."""
    places, when = SETS[probes], BEGINS[begin]
    plant, twin = (_begun(case, when, places[0]) for _ in range(2))
    ours, fault, least = Ours(case.settings(places)), Fault(kind, places), Least(places)
    place, before, wrong = PLACES.index(places[0]), [], []
    seconds: float | None = None
    place_k: float | None = None
    hottest_k: float | None = None
    for second in range(when.fault_s + after_s):
        at_s = second - when.fault_s
        seen = plant.readings()
        ordered = ours.step(fault.readings(seen) if at_s >= 0 else seen)
        for name in _called(ours):
            if at_s < 0:
                before.append(name)
            elif name not in CALLED[kind]:
                wrong.append(name)
            elif seconds is None:
                truth = plant.truth()
                seconds, place_k = float(at_s), truth.probes[place] - SETPOINT_C
                hottest_k = truth.hottest_c - twin.truth().hottest_c
        if seconds is not None and (kind not in HEAT_DUTY or least.seconds is not None):
            break
        plant.step(fault.duty(ordered) if at_s >= 0 else ordered)
        twin.step(ordered)
        if at_s >= 0 and kind in HEAT_DUTY:
            least.take(plant.truth(), twin.truth())
    return Detected(
        suite=case.suite,
        number=case.number,
        probes=probes,
        fault=kind,
        begin=begin,
        hold_duty=plant.steady(SETPOINT_C, places[0]).power_w / plant.power_w,
        seconds=seconds,
        place_k=place_k,
        hottest_k=hottest_k,
        bound_s=least.seconds,
        bound_k=least.hottest_k,
        before=tuple(before),
        wrong=tuple(wrong),
    )


def _begun(case: Case, begin: Begin, place: Place) -> Bench:
    return settled(case, place) if begin.start_c is None else case.build(begin.start_c)


def _called(ours: Ours) -> Iterator[str]:
    if ours.last is not None:
        yield from (n.name for n in ours.last.notices if n.kind in (NoticeKind.TRIP, NoticeKind.ALARM))


class Least:
    """The least time in which the probes' noise lets anybody see what a plant and its twin differ by."""

    def __init__(self, places: tuple[Place, ...]) -> None:
        self._places = [PLACES.index(place) for place in places]
        self._seen = np.zeros(len(places))
        self._passed, self._energy = 0, 0.0
        self.seconds: float | None = None
        """None as long as nobody can see it."""
        self.hottest_k: float | None = None
        """By how much the hottest paste had changed then, K."""

    def take(self, faulty: Truth, whole: Truth) -> None:
        """Take the next second of both."""
        self._passed += 1
        apart = np.array([faulty.probes[at] - whole.probes[at] for at in self._places])
        keep = math.exp(-1.0 / LAG_S)
        self._seen = keep * self._seen + (1.0 - keep) * apart
        self._energy += float((self._seen**2).sum()) / (NOISE_K**2 + STEP_K**2 / 12.0)
        if self.seconds is None and self._energy >= SIGMAS**2:
            self.seconds, self.hottest_k = float(self._passed), faulty.hottest_c - whole.hottest_c


@dataclass(frozen=True)
class Quiet:
    """One night without a fault: what was called, and when (s)."""

    suite: str
    number: int
    probes: str
    start_c: float
    happened: tuple[tuple[int, str], ...]
    trips: tuple[tuple[int, str], ...]
    alarms: tuple[tuple[int, str], ...]
    over_k: float
    """By how much any paste was over its ceiling at worst, or over what it began at, K."""


def quiet_night(number: int, seed: int, seconds: int, every_s: float = 1800.0) -> Quiet:
    """Run night `number`: suite, plant, probes, start and happenings are drawn from number and seed alone.

    Something happens every so many seconds on average; never where that is infinite.
    """
    rng = np.random.default_rng([seed, number])
    suite, probes = str(rng.choice(SUITES)), str(rng.choice(list(SETS)))
    if suite == "two-node" and probes in ("edge", "core"):
        probes = "mid"
    case = draw(suite, number, seed)
    start_c = float(rng.choice([20.0, 45.0, 60.0, 65.0, 74.0]))
    plant, ours = case.build(start_c), Ours(case.settings(SETS[probes]))
    coming = _happenings(rng, seconds, every_s)
    trips: list[tuple[int, str]] = []
    alarms: list[tuple[int, str]] = []
    hottest_c = plant.truth().hottest_c
    ceiling_c = max(CEILING_C, hottest_c)
    for second in range(seconds):
        for name in coming.get(second, ()):
            _HAPPENINGS[name](plant)
        plant.step(ours.step(plant.readings()))
        hottest_c = max(hottest_c, plant.truth().hottest_c)
        if ours.last is not None:
            for notice in ours.last.notices:
                if notice.kind is NoticeKind.TRIP:
                    trips.append((second, notice.name))
                elif notice.kind is NoticeKind.ALARM:
                    alarms.append((second, notice.name))
    happened = tuple((second, name) for second, names in sorted(coming.items()) for name in names)
    return Quiet(suite, number, probes, start_c, happened, tuple(trips), tuple(alarms), hottest_c - ceiling_c)


def _happenings(rng: np.random.Generator, seconds: int, every_s: float) -> dict[int, list[str]]:
    """Draw what happens, the first after ten minutes."""
    coming: dict[int, list[str]] = {}
    second = 600
    while math.isfinite(every_s) and (
        (second := second + round(float(rng.exponential(every_s)))) < seconds - 300
    ):
        name = str(rng.choice(["open", "stir", "cold mass", "mains down", "mains up"]))
        coming.setdefault(second, []).append(name)
        if name == "open":
            coming.setdefault(second + 300, []).append("close")
    return coming


def _mains(by: float) -> Callable[[Bench], None]:
    def change(plant: Bench) -> None:
        plant.mains = float(np.clip(plant.mains * by, 0.9, 1.1))

    return change


def _cold(plant: Bench) -> None:
    plant.add(100.0 * plant.paste_kg, ROOM_C)


_HAPPENINGS: dict[str, Callable[[Bench], None]] = {
    "open": lambda plant: plant.set_lid(Lid.OFF),
    "close": lambda plant: plant.set_lid(plant.usual_lid),
    "stir": lambda plant: plant.stir(),
    "cold mass": _cold,
    "mains down": _mains(0.9),
    "mains up": _mains(1.1),
}


def upper_bound(events: int, nights: int) -> float:
    """Return the 95 % upper bound of the rate per night (Clopper & Pearson, Biometrika 26 (1934) 404)."""
    from scipy.stats import beta

    return float(beta.ppf(0.95, events + 1, nights - events)) if nights > events else 1.0
