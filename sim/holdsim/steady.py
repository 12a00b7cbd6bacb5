"""The steady profile of a warmer, solved rather than waited for.

With each loss written as g · (T - ambient), the excess over the room is proportional to the heater's power,
so one linear solution gives the power that puts a place at its setpoint. The g depend on the temperatures;
a few rounds settle them.
"""

import numpy as np

from holdctl.settings import Lid, Place
from holdsim.losses import open_paste_loss
from holdsim.network import Array
from holdsim.warmer import Assembly

_ROUNDS = 200
_SETTLED_K = 1e-10


def steady_state(
    assembly: Assembly, setpoint_c: float, place: Place, ambient_c: float
) -> tuple[Array, float]:
    """Return all node temperatures, °C, and the heater power, W, that keep `place` at `setpoint_c` for ever.

    Raises ValueError when the setpoint is not above the room, the place not in the vessel, or nothing
    settles.
    """
    if not setpoint_c > ambient_c:
        raise ValueError(f"a warmer can't hold {setpoint_c} °C in a room at {ambient_c} °C")
    if place is Place.AIR:
        raise ValueError("a warmer can't hold the air of the room")
    row = assembly.place_row(place)
    temps = np.full(len(row), setpoint_c)
    for _ in range(_ROUNDS):
        response = _response(assembly, temps, ambient_c)
        power = (setpoint_c - ambient_c) / float(row @ response)
        new = ambient_c + power * response
        moved = float(np.max(np.abs(new - temps)))
        temps = new
        if moved < _SETTLED_K:
            return temps, power
    raise ValueError(f"the profile with {setpoint_c} °C at {place} does not settle")


def _response(assembly: Assembly, temps: Array, ambient_c: float) -> Array:
    """Return the excess over the room, K, for each watt of the heater, with the losses linear around
    `temps`.
    """
    matrix = assembly.network.conductance.copy()
    for node, surface in zip(assembly.surface_nodes, assembly.warmer.surfaces, strict=True):
        matrix[node, node] += _slope(surface.loss_w(temps[node], ambient_c), temps[node] - ambient_c)
    if assembly.lid is Lid.OFF:
        for node, area in zip(assembly.top_nodes, assembly.grid.ring_areas, strict=True):
            loss, _ = open_paste_loss(temps[node], ambient_c, area, assembly.warmer.radius_m)
            matrix[node, node] += _slope(loss, temps[node] - ambient_c)
    watt = np.zeros(len(temps))
    watt[assembly.warmer.index("heater")] = 1.0
    response: Array = np.asarray(np.linalg.solve(matrix, watt), dtype=np.float64)
    return response


def _slope(loss_w: float, excess_k: float) -> float:
    """W/K; a surface at the room's own temperature still needs one to keep the matrix solvable."""
    return loss_w / excess_k if abs(excess_k) > 1e-9 else 1e-3
