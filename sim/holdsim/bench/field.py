"""Who takes part: every controller by name, with the place that it holds and the slack that its goal allows."""

from collections.abc import Callable
from dataclasses import dataclass

from holdctl.settings import Place
from holdsim.bench.identify import fit_sopdt, relay_test
from holdsim.bench.ours import Ours
from holdsim.bench.peers import Controller, OnOff, Simc, SimplePid, Ultimate
from holdsim.bench.suites import PLACES, ROOM_C, Case

PEER_PLACE = Place.MID
CHANNEL = PLACES.index(PEER_PLACE)


@dataclass(frozen=True)
class Entry:
    """One controller of the field; `make` may return None where a tuning finds nothing."""

    name: str
    place: Place
    slack_k: float
    make: Callable[[Case, "Bag"], Controller | None]
    suites: tuple[str, ...] = ("two-node", "unstirred", "nonlinear")


class Bag:
    """What several controllers of one case share: the relay test is made once."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._test: list[Ultimate | None] = []

    @property
    def ultimate(self) -> Ultimate | None:
        """The relay feedback test of this plant."""
        if not self._test:
            self._test.append(relay_test(self._case, PEER_PLACE))
        return self._test[0]


def _ziegler_nichols(case: Case, bag: Bag) -> Controller | None:
    del case
    return SimplePid(CHANNEL, bag.ultimate.ziegler_nichols()) if bag.ultimate else None


def _tyreus_luyben(case: Case, bag: Bag) -> Controller | None:
    del case
    return SimplePid(CHANNEL, bag.ultimate.tyreus_luyben()) if bag.ultimate else None


def _simc(case: Case, bag: Bag) -> Controller:
    del bag
    plant = case.build(20.0)
    return Simc(CHANNEL, fit_sopdt(plant.linear(), PEER_PLACE), lag_s=15.0)


def _ours(*places: Place) -> Callable[[Case, Bag], Controller]:
    def make(case: Case, bag: Bag) -> Controller:
        del bag
        return Ours(case.settings(places))

    return make


def _ours_again(*places: Place) -> Callable[[Case, Bag], Controller]:
    """The same warmer for the second time: what the first night, to its end, has taught."""

    def make(case: Case, bag: Bag) -> Controller:
        del bag
        first, plant = Ours(case.settings(places)), case.build(ROOM_C)
        for _ in range(FIRST_NIGHT_S):
            plant.step(first.step(plant.readings()))
        return Ours(case.settings(places), first.identified)

    return make


FIRST_NIGHT_S = 5 * 3600
_UNSTIRRED = ("unstirred", "nonlinear")

FIELD = (
    Entry("on-off", PEER_PLACE, 1.5, lambda *_: OnOff(CHANNEL)),
    Entry("pid-readme", PEER_PLACE, 1.5, lambda *_: SimplePid(CHANNEL, (1, 0.1, 0.05))),
    Entry("pid-readme-100", PEER_PLACE, 1.5, lambda *_: SimplePid(CHANNEL, (1, 0.1, 0.05), 100.0)),
    Entry("pid-zn", PEER_PLACE, 1.5, _ziegler_nichols),
    Entry("pid-tl", PEER_PLACE, 1.5, _tyreus_luyben),
    Entry("simc", PEER_PLACE, 1.5, _simc),
    Entry("ours-core", Place.CORE, 1.5, _ours(Place.CORE), _UNSTIRRED),
    Entry("ours-mid", Place.MID, 1.5, _ours(Place.MID)),
    Entry("ours-edge", Place.EDGE, 1.5, _ours(Place.EDGE), _UNSTIRRED),
    Entry("ours-two", Place.MID, 0.5, _ours(Place.MID, Place.WALL)),
    Entry("again-two", Place.MID, 0.5, _ours_again(Place.MID, Place.WALL), _UNSTIRRED),
)
"""Slack over the ceiling: 0.5 K with two probes, 1.5 K with one."""


def named(names: list[str]) -> tuple[Entry, ...]:
    """Return the entries of these names, or whose name starts with one. Raises ValueError for none."""
    found = tuple(e for e in FIELD if any(e.name == n or e.name.startswith(f"{n}-") for n in names))
    if not found:
        raise ValueError(
            f"no controller among {', '.join(names)}; there are {', '.join(e.name for e in FIELD)}"
        )
    return found
