"""What a vigil asks of a controller, set by hand, and what it is given to look at."""

from types import SimpleNamespace

from holdctl.control.approach import Leg
from holdctl.events import Estimate, Reading
from holdctl.hold.probes import Values
from holdctl.settings import Place, Probe

PROBES = (
    Probe(channel=1, place=Place.CORE, error_k=0.3, name="long probe"),
    Probe(channel=2, place=Place.WALL, error_k=0.5),
    Probe(channel=3, place=Place.AIR, error_k=1.0),
)
ESTIMATE = Estimate(65.0, 65.0, 65.0, 65.0, 65.0)


class Controller:
    """What a vigil asks of a controller."""

    def __init__(self) -> None:
        self.leg, self.ceiling_c, self.needed_duty = Leg.LOOPS, None, 0.25
        self.asked_c: float | None = 65.0
        self.main_probe = PROBES[0]
        self.touched: list[float] = []
        self.unsure: list[str] = []
        self.taken: list[bool] = []
        self.estimator = SimpleNamespace(
            jumps=SimpleNamespace(out=()),
            heats=[],
            learnt=True,
            seconds=1201.0,
            touched=self.touched.append,
            residual=SimpleNamespace(
                unsure=self.unsure.append, at_first=[], take=lambda: self.taken.append(True)
            ),
            learning=SimpleNamespace(belief="believed"),
        )
        self.apart_k: dict[tuple[Place, Place], float] = {}

    def expected_apart_k(self, one: Place, other: Place) -> float:
        return self.apart_k.get((one, other), 0.0)


def values(paste_c: float = 65.0, wall_c: float = 65.0, doubtful=frozenset()) -> Values:
    seen = {1: paste_c, 2: wall_c, 3: 20.0}
    return Values(seen, seen, frozenset(doubtful))


def texts(found) -> dict[str, str]:
    return {one.name: one.text for one in found}


def reading(n: int = 1, up_ms: int = 1000) -> Reading:
    return Reading(n, up_ms, (65.0, 65.0, 20.0), 250, False, 0, n, 0, False)
