"""The steady profile of the paste: what geometry allows, whatever the controller does.

Side and bottom are held at one wall temperature, the top loses heat to the lid, whose
temperature lies between wall and room. The stationary heat equation
in the cylinder is linear, so one solution with wall 1 and room 0 scales to every setpoint.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.told import PLACE_RADIUS, Told
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

_N = 26
"""Cells along radius and height."""


@dataclass(frozen=True, slots=True)
class Profile:
    """Steady temperatures as fractions of the wall's excess over the room, dimensionless (1 = wall, 0 = room)."""

    core: float
    mid: float
    edge: float
    coldest: float
    hottest: float
    mean: float

    def share(self, place: Place) -> float:
        """Return the fraction at a place in the paste."""
        return float(getattr(self, place.value))

    def coldest_c(self, setpoint_c: float, place: Place, ambient_c: float) -> float:
        """Return the coldest paste, °C, once `place` stands at the setpoint."""
        return ambient_c + (setpoint_c - ambient_c) * self.coldest / self.share(place)

    def hottest_c(self, setpoint_c: float, place: Place, ambient_c: float) -> float:
        """Return the hottest paste, °C, once `place` stands at the setpoint."""
        return ambient_c + (setpoint_c - ambient_c) * self.hottest / self.share(place)

    def wall_c(self, setpoint_c: float, place: Place, ambient_c: float) -> float:
        """Return the wall temperature, °C, that keeps `place` at the setpoint."""
        return ambient_c + (setpoint_c - ambient_c) / self.share(place)

    def setpoint_for(self, coldest_c: float, place: Place, ambient_c: float) -> float:
        """Return the setpoint at `place`, °C, that keeps the coldest paste at `coldest_c`."""
        return ambient_c + (coldest_c - ambient_c) * self.share(place) / self.coldest


def steady_profile(model: Told) -> Profile:
    """Solve ∇²T = 0 in the cylinder by finite volumes (film at wall, film at top); lumped where it is stirred."""
    if model.stirred:
        top = model.top_w_m2k * math.pi * model.radius_m**2
        share = (model.wall_paste_w_k + top * model.lid_share) / (model.wall_paste_w_k + top)
        return Profile(core=share, mid=share, edge=share, coldest=share, hottest=share, mean=share)
    import numpy as np

    field, volume = _solve(model)
    half_height = (field[_N // 2 - 1] + field[_N // 2]) / 2

    def at(radius: float) -> float:
        return float(np.interp(radius * _N - 0.5, np.arange(_N), half_height))

    return Profile(
        core=at(PLACE_RADIUS[Place.CORE]),
        mid=at(PLACE_RADIUS[Place.MID]),
        edge=at(PLACE_RADIUS[Place.EDGE]),
        coldest=float(field.min()),
        hottest=float(field.max()),
        mean=float((field * volume).sum() / volume.sum()),
    )


def _solve(model: Told) -> "tuple[NDArray[Any], NDArray[Any]]":
    """Return temperature shares and cell volumes, rows from bottom to top, columns from axis to wall."""
    import numpy as np

    from holdctl.control.told import CONTACT_W_M2K

    dr, dz = model.radius_m / _N, model.height_m / _N
    k = model.k_w_mk
    ring = np.pi * dr**2 * (2 * np.arange(_N) + 1)
    faces = 2 * np.pi * dr * np.arange(1, _N) * dz
    side = 2 * np.pi * model.radius_m * dz / (1 / CONTACT_W_M2K + dr / 2 / k)
    matrix = np.zeros((_N * _N, _N * _N))
    source = np.zeros(_N * _N)

    def join(a: int, b: int, g: float) -> None:
        matrix[a, a] += g
        matrix[b, b] += g
        matrix[a, b] -= g
        matrix[b, a] -= g

    for row in range(_N):
        for col in range(_N):
            cell = row * _N + col
            if col + 1 < _N:
                join(cell, cell + 1, k * faces[col] / dr)
            else:
                matrix[cell, cell] += side
                source[cell] += side
            if row + 1 < _N:
                join(cell, cell + _N, k * ring[col] / dz)
            else:
                top = ring[col] / (1 / model.top_w_m2k + dz / 2 / k)
                matrix[cell, cell] += top
                source[cell] += top * model.lid_share
            if row == 0:
                bottom = ring[col] / (1 / CONTACT_W_M2K + dz / 2 / k)
                matrix[cell, cell] += bottom
                source[cell] += bottom
    field = np.linalg.solve(matrix, source).reshape(_N, _N)
    return field, np.broadcast_to(ring * dz, (_N, _N))
