"""Set what a warmer's kind says beside the drawn plants: `python -m holdsim.bench.priors --plants 40 --seed 1`.

The ranges of the plants and the priors of `holdctl.control.kinds` come from different reasoning; this shows how far
they differ, in standard deviations of the prior. A drawn warmer has more bodies than the prior's two: what lies on
the heater's side of the slowest link (jacket water, box lining) counts as heater.
"""

import argparse
import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from holdctl.control import Told, told
from holdctl.settings import Place
from holdsim.bench.conducting import Conducting
from holdsim.bench.suites import SUITES, Case, draw
from holdsim.bench.two_node import TwoNode

FIGURES = ("capacity", "heater share", "heater to wall", "loss", "delay")
_HOT_K = 45.0
_DELAY_SD = 0.7
"""The delay follows from the others; this is its yardstick here."""


@dataclass(frozen=True)
class Compared:
    """One figure of one plant: true and nominal value, and the standard deviation of the logarithm."""

    kind: str
    figure: str
    true: float
    nominal: float
    sd: float

    @property
    def off_sd(self) -> float:
        """By how many standard deviations the truth lies above the nominal value."""
        return math.log(self.true / self.nominal) / self.sd


def compare(case: Case) -> list[Compared]:
    """Return every figure of one plant that has a true counterpart (two-node plants have no heater of their own)."""
    plant, model = case.build(20.0), told(case.settings((Place.MID,)))
    if isinstance(plant, TwoNode):
        spec = plant.spec
        true = {"capacity": spec.wall_j_k, "loss": spec.wall_loss_w_k, "delay": float(spec.delay_s)}
    else:
        true = _true(plant)
    nominal = _nominal(model)
    return [Compared(case.known.kind, name, value, *nominal[name]) for name, value in true.items()]


def _nominal(model: Told) -> dict[str, tuple[float, float]]:
    return {
        "capacity": (model.wall_j_k, model.capacity_sd),
        "heater share": (model.heater_share, model.heater_share_sd),
        "heater to wall": (model.heater_wall_w_k, model.heater_wall_sd),
        "loss": (model.wall_loss_w_k, model.loss_sd),
        "delay": (model.delay_s, _DELAY_SD),
    }


def _true(plant: Conducting) -> dict[str, float]:
    bodies = {body.name: body.capacity_j_k for body in plant.warmer.bodies if not body.outer}
    links = {(link.one, link.other): link.w_k for link in plant.warmer.links}
    heater, whole, element_s = bodies["heater"], sum(bodies.values()), 0.0
    link = links.get(("heater", "base"), 0.0)
    for medium in {"jacket", "box"} & set(bodies):
        element_s = heater / links["heater", medium]
        heater += bodies[medium]
        link += links[medium, "base"] + links[medium, "side"]
    share = heater / whole
    return {
        "capacity": whole,
        "heater share": share,
        "heater to wall": link,
        "loss": plant.steady(65.0, Place.MID).power_w / _HOT_K,
        "delay": element_s + (1.0 - share) * heater / link,
    }


def rows(suite: str, plants: int, seed: int) -> Iterator[str]:
    """Yield the table of one suite, a line for each kind and figure."""
    found = [row for number in range(plants) for row in compare(draw(suite, number, seed))]
    for kind in sorted({row.kind for row in found}):
        for figure in FIGURES:
            some = [row for row in found if (row.kind, row.figure) == (kind, figure)]
            if some:
                yield f"{suite:10} {kind:7} {figure:15}{len(some):4}{_line(some)}"


def _line(some: list[Compared]) -> str:
    logs = np.log([row.true / row.nominal for row in some])
    off = np.abs([row.off_sd for row in some])
    return (
        f"{np.median([row.true for row in some]):10.3g}{np.median([row.nominal for row in some]):10.3g}"
        f"{logs.mean():+8.2f}{logs.std():7.2f}{np.mean([row.sd for row in some]):7.2f}"
        f"{np.mean(off <= 1):8.0%}{np.mean(off <= 2):6.0%}{off.max():6.1f}"
    )


def main(argv: list[str] | None = None) -> None:
    """Print the tables of all suites."""
    parser = argparse.ArgumentParser(
        prog="python -m holdsim.bench.priors", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--plants", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(argv)
    names = f"{'n':>4}{'true':>10}{'nominal':>10}{'ln t/n':>8}{'sd':>7}{'prior':>7}{'≤1 sd':>8}{'≤2':>6}{'worst':>6}"
    head = f"{'':34}{names}"
    for suite in SUITES:
        sys.stdout.write("\n".join([head, *rows(suite, args.plants, args.seed)]) + "\n")


if __name__ == "__main__":
    main()
