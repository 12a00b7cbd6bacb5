"""Run cases: the limits of each plant, then every controller on the same seed."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from holdctl.clock import SystemClock
from holdctl.settings import Place
from holdsim.bench.disturb import disturbed
from holdsim.bench.field import FIELD, Bag, Entry
from holdsim.bench.limit import Limit, goal_for, least_time
from holdsim.bench.score import Score, Yardstick, score
from holdsim.bench.suites import SETPOINT_C, START_C, Case, draw
from holdsim.bench.trace import Trace, night

EVERY_S = {"two-node": 1, "unstirred": 5, "nonlinear": 5}
UNLIMITED_S = 12 * 3600
"""How long a night lasts where the limit exceeds eight hours."""
TIMES = 3.0
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
    """What the run took of this machine, s."""
    step_ms: float = 0.0
    recoveries: tuple[dict[str, Any], ...] = ()

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


def limit_of(case: Case, start: str, place: Place, band_k: float = 0.5) -> Limit:
    """Return the least time of a case from a start, for a probe at `place`."""
    start_c = START_C[start]
    plant = case.build(start_c)
    coldest = plant.steady(SETPOINT_C, place).coldest_c
    goal = goal_for(coldest, place, start, start_c, band_k)
    steady_world = case.suite != "nonlinear"
    return least_time(
        plant.linear(),
        plant.temps(),
        goal,
        factors=lambda times: plant.power_factors(0.0, times),
        extra=None if steady_world else lambda times, temps: plant.extra_heat(0.0, times, temps),
    )


def run(task: Task) -> Outcome:
    """Run one task."""
    clock = SystemClock()
    case = draw(task.suite, task.number, task.seed)
    entries = [e for e in FIELD if e.name in task.names and task.suite in e.suites]
    began = clock.monotonic_ms()
    limits = {place: limit_of(case, task.start, place) for place in _places(task.suite, entries)}
    limits_s = (clock.monotonic_ms() - began) / 1000.0
    bag, rows, curves = Bag(case), [], {}
    for entry in entries:
        done = _one(task, case, entry, bag, limits[_seen(task.suite, entry)], clock)
        if done is None:
            continue
        rows.append(done[0])
        if task.curves:
            curves[entry.name] = done[1]
    return Outcome(rows, limits_s, curves, limits.get(Place.MID))


def _seen(suite: str, entry: Entry) -> Place:
    """In mixed paste all places are one."""
    return Place.MID if suite == "two-node" else entry.place


def _places(suite: str, entries: list[Entry]) -> set[Place]:
    return {_seen(suite, entry) for entry in entries}


def yardstick(case: Case, start: str, entry: Entry, limit: Limit) -> Yardstick:
    """Return what a controller of this entry is measured against."""
    steady = case.build(START_C[start]).steady(SETPOINT_C, entry.place)
    return Yardstick(
        place=entry.place,
        start=start,
        ceiling_c=max(70.0, START_C[start]),
        slack_k=entry.slack_k,
        coldest_c=steady.coldest_c,
        spread_k=steady.hottest_c - steady.coldest_c,
        limit_s=limit.seconds,
    )


def _one(
    task: Task, case: Case, entry: Entry, bag: Bag, limit: Limit, clock: SystemClock
) -> tuple[Row, Trace] | None:
    controller = entry.make(case, bag)
    if controller is None:
        return None
    seconds = UNLIMITED_S if limit.seconds is None else max(SHORTEST_S, round(TIMES * limit.seconds))
    plant = case.build(START_C[task.start])
    began = clock.monotonic_ms()
    trace = night(plant, controller, seconds, EVERY_S[task.suite])
    spent = (clock.monotonic_ms() - began) / 1000.0
    yard = yardstick(case, task.start, entry, limit)
    result = score(trace, yard)
    after: tuple[dict[str, Any], ...] = ()
    if task.disturb and task.start == "cold" and limit.seconds is not None:
        after = tuple(disturbed(plant, controller, yard, EVERY_S[task.suite]))
    row = Row(
        task.suite,
        task.number,
        task.start,
        entry.name,
        entry.place.value,
        limit.seconds,
        result,
        tuple(getattr(controller, "trips", ())),
        spent,
        1000.0 * spent / seconds,
        after,
    )
    return row, trace


def tasks(
    suites: list[str], plants: int, seed: int, starts: list[str], names: tuple[str, ...], *, disturb: bool
) -> Iterator[Task]:
    """Yield the tasks of a run; the first plant from cold keeps its curves for the picture."""
    for suite in suites:
        for number in range(plants):
            for start in starts:
                yield Task(suite, number, seed, start, names, disturb, number == 0 and start == "cold")


def median(values: list[float]) -> float:
    """Return the median, nan of nothing."""
    return float(np.median(values)) if values else float("nan")
