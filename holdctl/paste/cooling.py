"""How paste that nobody stirs or heats cools down: heat conducted to its faces, and taken from them by what is around.

The paste is a cylinder in its vessel, or a wide layer. Along radius and depth it is cut into cells; because the two
directions do not disturb each other (∂T/∂t = α ∇²T, with a film at each face), the modes of the whole are those of the
one times those of the other, and the course over time is exact in them: no time step. What the cells get wrong is
below 0.1 % of the fall (tests compare with the series solution of Çengel, Heat Transfer, table 4-2, and its like).

Left out, each of them for the slow side or small: the vessel's own heat, the fall of the films with temperature, and
freezing (no curve here is for a freezer). Where a figure is an assumption it says so.
"""

from bisect import bisect_left
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from holdctl.paste.thermal import Properties
from holdctl.settings import Lid, Material, Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

CELLS = 48
"""Along the radius, and along the depth."""
LONGEST_S = 24 * 3600.0
_POINTS = 289
_STIRRED = 1e3
"""Paste that is kept moving is taken as one that conducts so many times better: one temperature."""
EDGE_M = 0.01
"""A probe at the edge sits this far from the wall."""


@dataclass(frozen=True, slots=True)
class Form:
    """A body of paste: its depth, m, and its diameter, m; None: a layer so wide that its rim does not count."""

    depth_m: float
    diameter_m: float | None = None

    def __post_init__(self) -> None:
        """Raise ValueError where it has no body."""
        if not self.depth_m > 0 or not (self.diameter_m is None or self.diameter_m > 0):
            raise ValueError("depth and diameter must be above 0")

    @staticmethod
    def in_vessel(mass_kg: float, diameter_m: float, paste: Properties) -> "Form":
        """Return the form of so much paste in a round vessel."""
        return Form(mass_kg / paste.rho_kg_m3 / (0.25 * 3.141592653589793 * diameter_m**2), diameter_m)


@dataclass(frozen=True, slots=True)
class Around:
    """What is around the paste: temperatures, °C, and films, W/(m² K), the vessel's wall not counted in them."""

    name: str
    beside_c: float
    above_c: float
    side_w_m2k: float
    bottom_w_m2k: float
    top_w_m2k: float
    wall_m2k_w: float = 0.0
    """Resistance of the vessel's wall, (m² K)/W; it counts at side and bottom."""

    @property
    def films(self) -> tuple[float, float, float]:
        """Side, bottom and top, wall included, W/(m² K)."""
        side, bottom = self.side_w_m2k, self.bottom_w_m2k
        return _through(side, self.wall_m2k_w), _through(bottom, self.wall_m2k_w), self.top_w_m2k


def _through(film_w_m2k: float, wall_m2k_w: float) -> float:
    return film_w_m2k / (1.0 + film_w_m2k * wall_m2k_w)


class Stand(StrEnum):
    """Where the paste stands to cool."""

    ROOM = "room"
    FRIDGE = "fridge"
    ICE_BATH = "ice-bath"
    """The vessel stands to the height of the paste in water with ice in it."""


FRIDGE_C, ICE_BATH_C = 4.0, 0.5

# Still air: 8 to 12 W/(m² K) at a surface of 30 to 55 °C (free convection after Churchill and Chu plus radiation at an
# emissivity of 0.9, computed); a board under the vessel halves it, and so does the air under a lid (this project's
# assumption). Open paste loses water too: 1.6 to 3.9 kW/m² at 65 °C over a room of 20 °C by the usual formulas for
# pools, 35 to 85 W/(m² K); the figure here is below all of them, because a skin dries on. A fridge without a fan is
# still air. Water round a vessel: free convection of liquids, 10 to 1000 W/(m² K) (textbook range), taken as moved now
# and then.
_AIR, _BOARD, _LIDDED, _OPEN, _WATER = 9.0, 4.5, 4.5, 25.0, 200.0

WALLS = {
    Material.STEEL: 0.001 / 15.0,
    Material.ALUMINIUM: 0.003 / 200.0,
    Material.GLASS: 0.004 / 1.0,
    Material.STONEWARE: 0.006 / 1.5,
    Material.PLASTIC: 0.002 / 0.2,
}
"""Thickness over conductivity of a wall of each material, (m² K)/W; conductivities from memory."""


def around(stand: Stand, room_c: float, lid: Lid = Lid.ON, material: Material | None = None) -> Around:
    """Return what is around the paste in a usual place; an insulating or heated lid counts as a plain one, taken off
    the heat. Without a material the wall is the thickest of them, plastic.
    """
    top = _OPEN if lid is Lid.OFF else _LIDDED
    wall = WALLS[Material.PLASTIC if material is None else material]
    if stand is Stand.ICE_BATH:
        return Around(stand.value, ICE_BATH_C, room_c, _WATER, _WATER, top, wall)
    air_c = FRIDGE_C if stand is Stand.FRIDGE else room_c
    return Around(stand.value, air_c, air_c, _AIR, _AIR if stand is Stand.FRIDGE else _BOARD, top, wall)


@dataclass(frozen=True, slots=True)
class CoolingCurve:
    """Temperatures of a cooling paste, °C, over the time since its begin, s."""

    t_s: tuple[float, ...]
    hottest_c: tuple[float, ...]
    mean_c: tuple[float, ...]
    coldest_c: tuple[float, ...]
    core_c: tuple[float, ...]
    mid_c: tuple[float, ...]
    """Halfway between axis and wall, half the depth."""
    edge_c: tuple[float, ...]

    def at(self, place: Place) -> tuple[float, ...]:
        """Return the course at a probe's place."""
        return self.mid_c if place is Place.MID else self.edge_c if place is Place.EDGE else self.core_c

    def when(self, level_c: float, course_c: tuple[float, ...] | None = None) -> float | None:
        """Return when a course (the hottest paste's when none is given) has fallen to `level_c`, s; None: not here."""
        course = self.hottest_c if course_c is None else course_c
        for k, value in enumerate(course):
            if value <= level_c:
                return 0.0 if k == 0 else _between(course[k - 1 : k + 1], self.t_s[k - 1 : k + 1], level_c)
        return None

    def hottest_where(self, place: Place, reads_c: float) -> float:
        """Return the hottest paste when the probe's place is at `reads_c`, °C."""
        return self._where(place, reads_c, self.hottest_c)

    def coldest_where(self, place: Place, reads_c: float) -> float:
        """Return the coldest paste then, °C."""
        return self._where(place, reads_c, self.coldest_c)

    def mean_where(self, place: Place, reads_c: float) -> float:
        """Return the mean of all paste then, °C."""
        return self._where(place, reads_c, self.mean_c)

    def _where(self, place: Place, reads_c: float, course: tuple[float, ...]) -> float:
        """Follow both courses along the curve; outside it the difference at its end is kept."""
        there = self.at(place)
        k = bisect_left(there, -reads_c, key=lambda value: -value)
        if k == 0 or k == len(there):
            end = min(k, len(there) - 1)
            return course[end] + reads_c - there[end]
        return _between(there[k - 1 : k + 1], course[k - 1 : k + 1], reads_c)


def _between(xs: tuple[float, ...], ys: tuple[float, ...], x: float) -> float:
    share = 1.0 if xs[0] == xs[1] else (xs[0] - x) / (xs[0] - xs[1])
    return ys[0] + share * (ys[1] - ys[0])


def cool_down(
    paste: Properties,
    form: Form,
    start_c: float,
    where: Around,
    *,
    stirred: bool = False,
    longest_s: float = LONGEST_S,
) -> CoolingCurve:
    """Return how paste of one temperature cools over `longest_s`; time points lie closer at the begin.

    `paste`: its properties at a temperature in the middle of the fall. Raises ValueError where a figure is not above 0.
    """
    import numpy as np

    if not longest_s > 0:
        raise ValueError("a cooling must last longer than 0 s")
    k = paste.k_w_mk * (_STIRRED if stirred else 1.0)
    side, bottom, top = where.films
    depth = _Line.slab(form.depth_m, k, bottom, top)
    radius = _Line.disc(form.diameter_m, k, side)
    heat = paste.rho_kg_m3 * paste.cp_j_kgk
    rates = (radius.rates[:, None] + depth.rates[None, :]) / heat
    gain = np.outer(radius.source * where.beside_c, depth.ones) + np.outer(
        radius.ones, depth.low * where.beside_c + depth.high * where.above_c
    )
    steady = gain / (heat * rates)
    begin = start_c * np.outer(radius.ones, depth.ones) - steady
    times = longest_s * np.linspace(0.0, 1.0, _POINTS) ** 2
    views = _views(radius, depth, form, start_c)
    decay = np.exp(-times[:, None, None] * rates)
    return CoolingCurve(tuple(times.tolist()), *views.courses(steady + decay * begin))


@dataclass(frozen=True, slots=True)
class _Line:
    """One direction: modes of cells between two films; `shape` has them in its columns, weights are the cells' own."""

    rates: "Floats"
    """W/(m³ K), all above 0 or, without films, from 0."""
    shape: "Floats"
    ones: "Floats"
    """A uniform field in modes."""
    low: "Floats"
    high: "Floats"
    """What 1 K at the film of the first, and of the last face, gives, in modes."""
    weights: "Floats"
    """Share of each cell in the whole."""

    @property
    def source(self) -> "Floats":
        """Of both faces together."""
        both: Floats = self.low + self.high
        return both

    @staticmethod
    def slab(depth_m: float, k_w_mk: float, low_w_m2k: float, high_w_m2k: float) -> "_Line":
        """Return the cells of a depth, from the bottom up."""
        import numpy as np

        width = depth_m / CELLS
        faces = np.full(CELLS + 1, k_w_mk / width)
        half = 2.0 * k_w_mk / width
        faces[0], faces[-1] = _series(half, low_w_m2k), _series(half, high_w_m2k)
        return _Line._of(faces, np.full(CELLS, width))

    @staticmethod
    def disc(diameter_m: float | None, k_w_mk: float, film_w_m2k: float) -> "_Line":
        """Return rings from the axis to the wall; one cell without faces for a wide layer."""
        import numpy as np

        if diameter_m is None:
            return _Line._of(np.zeros(2), np.ones(1))
        radius = diameter_m / 2
        width = radius / CELLS
        edges = np.linspace(0.0, radius, CELLS + 1)
        faces = k_w_mk / width * edges
        half = 2.0 * k_w_mk / width
        faces[-1] = _series(half, film_w_m2k) * radius
        return _Line._of(faces, (edges[1:] ** 2 - edges[:-1] ** 2) / 2)

    @staticmethod
    def _of(faces: "Floats", volumes: "Floats") -> "_Line":
        """Build from conductances at the faces (per area of the whole) and the cells' volumes, both per unit."""
        import numpy as np

        root = np.sqrt(volumes)
        matrix = np.diag(faces[:-1] + faces[1:]) - np.diag(faces[1:-1], 1) - np.diag(faces[1:-1], -1)
        rates, vectors = np.linalg.eigh(matrix / np.outer(root, root))
        shape = vectors / root[:, None]
        back = vectors.T * root
        low, high = back[:, 0] * faces[0] / volumes[0], back[:, -1] * faces[-1] / volumes[-1]
        ones = back @ np.ones(len(volumes))
        return _Line(np.maximum(rates, 0.0), shape, ones, low, high, volumes / volumes.sum())


def _series(half: float, film: float) -> float:
    return half * film / (half + film) if film > 0 else 0.0


@dataclass(frozen=True, slots=True)
class _Views:
    """How the courses are read off a field in modes."""

    radius: _Line
    depth: _Line
    core: "Floats"
    mid: "Floats"
    edge: "Floats"
    half: "Floats"
    start_c: float

    def courses(self, modes: "Floats") -> list[tuple[float, ...]]:
        """Return hottest, mean, coldest, core, mid and edge for each moment."""
        import numpy as np

        field = self.radius.shape @ modes @ self.depth.shape.T
        mean = np.einsum("tij,i,j->t", field, self.radius.weights, self.depth.weights)
        at_half = field @ self.half
        places = [at_half @ row for row in (self.core, self.mid, self.edge)]
        flat = field.reshape(len(field), -1)
        hottest, coldest = np.maximum(flat.max(1), places[0]), flat.min(1)
        courses = [hottest, mean, coldest, *places]
        for course in courses:
            course[0] = self.start_c
        return [tuple(np.minimum.accumulate(course).tolist()) for course in courses]


def _views(radius: _Line, depth: _Line, form: Form, start_c: float) -> _Views:
    import numpy as np

    half = _interpolated(np.full(CELLS, form.depth_m / CELLS), form.depth_m / 2)
    if form.diameter_m is None:
        one = np.ones(1)
        return _Views(radius, depth, one, one, one, half, start_c)
    wall = form.diameter_m / 2
    widths = np.full(CELLS, wall / CELLS)
    edge = max(wall - EDGE_M, 0.0)
    core, mid, rim = (_interpolated(widths, r) for r in (0.0, wall / 2, edge))
    return _Views(radius, depth, core, mid, rim, half, start_c)


def _interpolated(widths: "Floats", at_m: float) -> "Floats":
    """Return the weights that read a value at `at_m` off the cells' centres."""
    import numpy as np

    centres = np.cumsum(widths) - widths / 2
    return np.array([np.interp(at_m, centres, row) for row in np.eye(len(widths))])
