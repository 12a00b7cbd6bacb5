"""`python -m holdsim.bench.informed_table`: what knowing no more than the readings costs, place by place."""

import argparse
import sys

import numpy as np

from holdctl.settings import Place
from holdsim.bench.informed import Informed, informed_limit
from holdsim.bench.suites import draw

PLACES = {
    "core": ((Place.CORE,), 1.5),
    "mid": ((Place.MID,), 1.5),
    "edge": ((Place.EDGE,), 1.5),
    "mid and wall": ((Place.MID, Place.WALL), 0.5),
}
"""Probes, and the slack over the ceiling that their goal allows, K."""
LOOKS_MIN = (10, 30, 60, 120)


def main(arguments: list[str] | None = None) -> int:
    """Print the table for drawn plants; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m holdsim.bench.informed_table", description=__doc__)
    parser.add_argument("--suite", choices=("unstirred", "nonlinear"), default="unstirred")
    parser.add_argument("--plants", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    looks = ", ".join(f"{m} min" for m in LOOKS_MIN)
    sys.stdout.write(f"| plant | probes | limit h | ÷ limit | room under the ceiling after {looks}, K |\n")
    sys.stdout.write("| --- | --- | --- | --- | --- |\n")
    for number in range(given.plants):
        case = draw(given.suite, number, given.seed)
        for name, (places, slack_k) in PLACES.items():
            sys.stdout.write(_row(f"{given.suite} {number}", name, informed_limit(case, places, slack_k)))
            sys.stdout.flush()
    return 0


def _row(plant: str, probes: str, found: Informed) -> str:
    limit, ours = found.perfect.seconds, found.limit.seconds
    if limit is None or ours is None:
        return f"| {plant} | {probes} | over 8 | – | – |\n"
    rooms = np.interp([60.0 * m for m in LOOKS_MIN], found.times_s, found.room_k)
    words = ", ".join(f"{room:.1f}" for room in rooms)
    return f"| {plant} | {probes} | {limit / 3600:.2f} | {ours / limit:.3f} | {words} |\n"


if __name__ == "__main__":
    sys.exit(main())
