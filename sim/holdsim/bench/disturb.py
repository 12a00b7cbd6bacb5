"""What happens to a hold, one thing after the other, and how long it takes to be back for good."""

from collections.abc import Iterator
from typing import Any

from holdsim.bench.peers import Controller
from holdsim.bench.score import Yardstick
from holdsim.bench.suites import Bench


def disturbed(
    plant: Bench, controller: Controller, yard: Yardstick, every_s: int
) -> Iterator[dict[str, Any]]:
    """Yield one recovery after another."""
    del plant, controller, yard, every_s
    yield from ()
