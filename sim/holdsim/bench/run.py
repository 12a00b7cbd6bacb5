"""Run cases: the limits of each plant, then every controller on the same seed."""

import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from holdctl.settings import Place
from holdsim.bench.disturb import disturbed, limit_from
from holdsim.bench.field import FIELD, Bag, Entry
from holdsim.bench.limit import Limit, goal_for
from holdsim.bench.ours import Foretold
from holdsim.bench.score import BAND_K, Score, Yardstick, first_for_good, score
from holdsim.bench.suites import CEILING_C, SETPOINT_C, START_C, Case, draw
from holdsim.bench.trace import Trace, night

EVERY_S = {"two-node": 1, "unstirred": 5, "nonlinear": 5}
UNLIMITED_S = 12 * 3600
"""How long a night lasts where the limit exceeds eight hours."""
TIMES = 3.0
HOLD_BAND_K = 0.1
SHORTEST_S = 3600


@dataclass(frozen=True)
class Task:
    """One plant from one start with these controllers."""

    suite: str
    number: int
    seed: int
    start: str
    names: tuple[str, ...]
    disturb: bool = True
    curves: bool = False


@dataclass(frozen=True)
class Row:
    """One controller on one plant from one start."""

    suite: str
    number: int
    start: str
    controller: str
    place: str
    limit_s: float | None
    score: Score
    trips: tuple[str, ...] = ()
    seconds: float = 0.0
    """What the night took of the processor, s."""
    step_ms: float = 0.0
    recoveries: tuple[dict[str, Any], ...] = ()
    foretold: tuple[dict[str, Any], ...] = ()
    """Forecasts made before every part was in the programme's range: when, error, length left (s), and if it held."""

    def plain(self) -> dict[str, Any]:
        """Return it for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class Outcome:
    """All rows of one task, what its limits took (s), and curves when asked for."""

    rows: list[Row]
    limits_s: float
    curves: dict[str, Trace]
    limit: Limit | None = None
    untuned: tuple[str, ...] = ()
    """Controllers whose tuning test found nothing."""


def limit_of(case: Case, start: str, place: Place, band_k: float = 0.5) -> Limit:
    """Return the least time of a case from a start, for a probe at `place`."""
    start_c = START_C[start]
    plant = case.build(start_c)
    coldest = plant.steady(SETPOINT_C, place).coldest_c
    return limit_from(plant, goal_for(coldest, place, start, start_c, band_k))


def run(task: Task) -> Outcome:
    """Run one task."""
    case = draw(task.suite, task.number, task.seed)
    entries = [e for e in FIELD if e.name in task.names and task.suite in e.suites]
    began = _processor_s()
    places = _places(task.suite, entries)
    limits = {place: limit_of(case, task.start, place) for place in places}
    holds = {
        place: limit_of(case, task.start, place, HOLD_BAND_K).seconds if limits[place].seconds else None
        for place in places
    }
    limits_s = _processor_s() - began
    bag = Bag(case)
    rows: list[Row] = []
    untuned: list[str] = []
    curves: dict[str, Trace] = {}
    for entry in entries:
        place = _seen(task.suite, entry)
        done = _one(task, case, entry, bag, yardstick(case, task.start, entry, limits[place], holds[place]))
        if done is None:
            untuned.append(entry.name)
            continue
        rows.append(done[0])
        if task.curves:
            curves[entry.name] = done[1]
    return Outcome(rows, limits_s, curves, limits.get(Place.MID), tuple(untuned))


def _seen(suite: str, entry: Entry) -> Place:
    """In mixed paste all places are one."""
    return Place.MID if suite == "two-node" else entry.place


def _places(suite: str, entries: list[Entry]) -> set[Place]:
    return {_seen(suite, entry) for entry in entries}


def yardstick(case: Case, start: str, entry: Entry, limit: Limit, hold_s: float | None) -> Yardstick:
    """Return what a controller of this entry is measured against."""
    steady = case.build(START_C[start]).steady(SETPOINT_C, entry.place)
    return Yardstick(
        place=entry.place,
        start=start,
        ceiling_c=max(CEILING_C, START_C[start]),
        slack_k=entry.slack_k,
        coldest_c=steady.coldest_c,
        spread_k=steady.hottest_c - steady.coldest_c,
        limit_s=limit.seconds,
        hold_s=hold_s,
    )


def _one(task: Task, case: Case, entry: Entry, bag: Bag, yard: Yardstick) -> tuple[Row, Trace] | None:
    controller = entry.make(case, bag)
    if controller is None:
        return None
    limit_s = yard.limit_s
    seconds = UNLIMITED_S if limit_s is None else max(SHORTEST_S, round(TIMES * limit_s))
    plant = case.build(START_C[task.start])
    began = _processor_s()
    trace = night(plant, controller, seconds, EVERY_S[task.suite])
    spent = _processor_s() - began
    result = score(trace, yard)
    after: tuple[dict[str, Any], ...] = ()
    if task.disturb and task.start == "cold" and limit_s is not None:
        after = tuple(disturbed(case, plant, controller, yard, EVERY_S[task.suite]))
    row = Row(
        task.suite,
        task.number,
        task.start,
        entry.name,
        entry.place.value,
        limit_s,
        result,
        tuple(getattr(controller, "trips", ())),
        spent,
        1000.0 * spent / seconds,
        after,
        tuple(_foretold(case, entry, trace, getattr(controller, "foretold", []))),
    )
    return row, trace


def _foretold(case: Case, entry: Entry, trace: Trace, said: list[Foretold]) -> Iterator[dict[str, Any]]:
    """Yield forecasts beside what came: the time from which every part was in the programme's range for good."""
    low, high = case.settings((entry.place,)).programme.every_part
    came = first_for_good(trace.time_s, (trace.coldest_c >= low) & (trace.hottest_c <= high + BAND_K))
    for one in said:
        left = None if came is None else came - one.at_s
        if left is None or left < 300.0:
            continue
        band = one.band_s
        yield {
            "at_s": one.at_s,
            "left_s": left,
            "error_s": None if band is None else band[1] - left,
            "held": band is not None and band[0] - 60.0 <= left <= band[2] + 60.0,
        }


def tasks(
    suites: list[str], plants: int, seed: int, starts: list[str], names: tuple[str, ...], *, disturb: bool
) -> Iterator[Task]:
    """Yield the tasks of a run; the first plant from cold keeps its curves for the picture."""
    for suite in suites:
        for number in range(plants):
            for start in starts:
                yield Task(suite, number, seed, start, names, disturb, number == 0 and start == "cold")


def _processor_s() -> float:
    """What this process has had of the processor, s: other work on the machine does not count."""
    used = os.times()
    return used.user + used.system
