"""`python -m holdsim.bench.cost`: what a step and a night of twelve hours cost, beside small products in the same run.

A control step is what follows from a reading inside the controller: estimate and duty. A whole step of the hold has
the interlocks, the watch for faults, the programme and the relay's timing besides. Fits run between the steps. All in
time of the processor; a shared machine still takes its share of the caches, so each figure stands beside the time of
a hundred products of a 24 × 24 matrix with a vector.
"""

import argparse
import importlib
import json
import sys
import time  # noqa: TID251 - measures work, tells no time
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np

from holdsim.bench.field import FIELD, Bag
from holdsim.bench.ours import Ours
from holdsim.bench.suites import ROOM_C, draw
from holdsim.bench.trace import night

HOURS = 12


class Timed:
    """A controller whose steps are timed, whole and the part inside `holdctl.control`, in s."""

    def __init__(self, ours: Ours) -> None:
        self._ours = ours
        self.whole: list[float] = []
        self.control: list[float] = []
        self.fits: list[float] = []
        self.units: list[float] = []
        self._part = 0.0
        controller: Any = ours.hold.drive.controller
        for name in ("estimate", "update"):
            setattr(controller, name, self._timed(getattr(controller, name)))
        self._matrix, self._vector = np.eye(24) * 0.99, np.ones(24)

    def step(self, readings: tuple[float, ...]) -> float:
        """Give the hold its reading; time it, and now and then the products."""
        self._part, known = 0.0, self._ours.identified
        began = time.perf_counter()
        on_s = self._ours.step(readings)
        spent = time.perf_counter() - began
        if self._ours.identified is known:
            self.whole.append(spent)
            self.control.append(self._part)
        else:
            self.fits.append(spent)
        if len(self.whole) % 60 == 0:
            self.units.append(self._unit())
        return on_s

    def _timed(self, work: Callable[..., object]) -> Callable[..., object]:
        def timed(*given: object) -> object:
            began = time.perf_counter()
            done = work(*given)
            self._part += time.perf_counter() - began
            return done

        return timed

    def _unit(self) -> float:
        began = time.perf_counter()
        vector = self._vector
        for _ in range(100):
            vector = self._matrix @ vector
        return time.perf_counter() - began


def measured(hours: float = HOURS) -> dict[str, float]:
    """Return the figures of one night with two probes on an unknown warmer: ms, s, and ratios to the products."""
    case = draw("unstirred", 1, 1)
    entry = next(e for e in FIELD if e.name == "ours-two")
    controller = entry.make(case, Bag(case))
    if not isinstance(controller, Ours):
        raise TypeError("the benchmark's own controller is another one")
    timed = Timed(controller)
    plant = case.build(ROOM_C)
    importlib.import_module("scipy.optimize")  # loading a library is no part of a night
    began = time.process_time()
    night(plant, timed, round(3600 * hours), 5)
    spent = time.process_time() - began
    unit = median(timed.units)
    return {
        "hours": hours,
        "control_step_ms": 1000 * median(timed.control),
        "whole_step_ms": 1000 * median(timed.whole),
        "product_ms": 1000 * unit,
        "control_step_in_products": median(timed.control) / unit,
        "whole_step_in_products": median(timed.whole) / unit,
        "fits": len(timed.fits),
        "longest_fit_s": max(timed.fits, default=0.0),
        "night_s": spent,
    }


def main(arguments: list[str] | None = None) -> int:
    """Print the figures; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m holdsim.bench.cost", description=__doc__)
    parser.add_argument("--hours", type=float, default=HOURS)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args(arguments)
    found = measured(given.hours)
    if given.json:
        sys.stdout.write(json.dumps(found) + "\n")
        return 0
    control, whole = found["control_step_ms"], found["whole_step_ms"]
    sys.stdout.write(
        f"control step, median  {control:.3f} ms  ({found['control_step_in_products']:.2f} × the products)\n"
        f"whole step, median    {whole:.3f} ms  ({found['whole_step_in_products']:.2f} × the products)\n"
        f"100 products          {found['product_ms']:.3f} ms\n"
        f"fits                  {found['fits']:.0f}, the longest {found['longest_fit_s']:.2f} s\n"
        f"night of {given.hours:g} h        {found['night_s']:.1f} s of the processor\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
