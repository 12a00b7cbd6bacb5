"""One night of one controller on one plant, as the true paste went through it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from holdctl.settings import Place
from holdsim.bench.linear import Array
from holdsim.bench.peers import Controller
from holdsim.bench.suites import PLACES, Bench

Happening = Callable[[Bench], None]


@dataclass(frozen=True)
class Trace:
    """Samples of the truth, °C, and the moments of each off-to-on, s."""

    time_s: Array
    coldest_c: Array
    hottest_c: Array
    wall_c: Array
    places_c: Array
    """A column for each of core, mid, edge."""
    ons_s: Array

    def at(self, place: Place) -> Array:
        """Return the true temperature at a place."""
        return self.places_c[:, PLACES.index(place)]

    def after(self, start_s: float, end_s: float = np.inf) -> "Trace":
        """Return the part from `start_s` on, up to `end_s`, on a clock that starts there."""
        cut = (self.time_s >= start_s) & (self.time_s < end_s)
        ons = self.ons_s[(self.ons_s >= start_s) & (self.ons_s < end_s)] - start_s
        return Trace(
            self.time_s[cut] - start_s,
            self.coldest_c[cut],
            self.hottest_c[cut],
            self.wall_c[cut],
            self.places_c[cut],
            ons,
        )


def night(
    plant: Bench,
    controller: Controller,
    seconds: int,
    every_s: int,
    happenings: Mapping[int, Happening] | None = None,
) -> Trace:
    """Run a night; `happenings` are done to the plant at the start of their second."""
    rows: list[tuple[float, ...]] = []
    ons: list[int] = []
    was_on = False
    happenings = happenings or {}
    for second in range(seconds):
        if second in happenings:
            happenings[second](plant)
        if second % every_s == 0:
            rows.append(_look(plant))
        on_s = controller.step(plant.readings())
        if on_s > 0.0 and not was_on:
            ons.append(second)
        was_on = on_s >= 1.0
        plant.step(on_s)
    rows.append(_look(plant))
    table = np.array(rows)
    times = np.append(np.arange(0, seconds, every_s), seconds).astype(float)
    return Trace(times, table[:, 0], table[:, 1], table[:, 2], table[:, 3:], np.array(ons, dtype=float))


def _look(plant: Bench) -> tuple[float, ...]:
    truth = plant.truth()
    return (truth.coldest_c, truth.hottest_c, truth.wall_c, *truth.probes[:3])
