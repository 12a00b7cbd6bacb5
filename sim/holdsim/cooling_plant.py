"""Paste that was taken out of its warmer: no heater, films of air or water round it, its own conduction inside.

What is around has one temperature beside and below, and one above; neither moves. The vessel's own heat and drying are
left out. Films are given by whoever sets the paste down, as is the form: `spread` makes a layer of the same paste.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from holdctl.settings import Place
from holdsim.network import Array, Network
from holdsim.paste_grid import PasteGrid
from holdsim.probes import Probe, ProbeSpec
from holdsim.truth import Truth

_ENDLESS_J_K = 1e12
"""What is around takes all heat and stays as it is."""
_EDGE_M = 0.005


@dataclass(frozen=True)
class Surroundings:
    """Temperatures, °C, and films, W/(m² K)."""

    beside_c: float
    above_c: float
    side_w_m2k: float
    bottom_w_m2k: float
    top_w_m2k: float


def spread(grid: PasteGrid, temps_c: Array, depth_m: float) -> tuple[PasteGrid, Array]:
    """Return the same paste as a layer this deep, evened out by the spreading."""
    volume = math.pi * grid.radius_m**2 * grid.height_m
    layer = replace(grid, radius_m=math.sqrt(volume / (math.pi * depth_m)), height_m=depth_m)
    mean = float(np.average(temps_c, weights=grid.capacities))
    return layer, np.full(len(temps_c), mean)


class CoolingPlant:
    """A warmer's stand-in for the simulated node; a relay that is on does nothing."""

    def __init__(
        self,
        paste: tuple[PasteGrid, Array],
        where: Surroundings,
        probes: Sequence[ProbeSpec],
        *,
        seed: int,
    ) -> None:
        grid, temps = paste
        self.grid, self._where = grid, where
        cells = self._cells = len(temps)
        around = [
            (cell, cells, g) for cell, g in (*grid.side(where.side_w_m2k), *grid.bottom(where.bottom_w_m2k))
        ]
        around += [(cell, cells + 1, g) for cell, g in grid.top(where.top_w_m2k)]
        self._net = Network(np.concatenate([grid.capacities, [_ENDLESS_J_K] * 2]), grid.links() + around)
        self._modes = self._net.modes(np.concatenate([temps, [where.beside_c, where.above_c]]))
        self._rows = np.array([self._row(spec.place) for spec in probes]) @ self._net.to_nodes
        streams = np.random.SeedSequence(seed).spawn(len(probes))
        truths = self._truths()
        self._probes = [
            Probe(spec, true_c, np.random.default_rng(stream))
            for spec, true_c, stream in zip(probes, truths, streams, strict=True)
        ]
        self._readings: tuple[float, ...] | None = None
        self._dt_s, self._decay = 0.0, self._modes

    def step(self, on_s: float, dt_s: float = 1.0) -> None:  # noqa: ARG002
        """Let `dt_s` pass."""
        if dt_s != self._dt_s:
            self._dt_s, self._decay = dt_s, self._net.propagator(dt_s, [0]).decay
        self._modes = self._modes * self._decay
        self._readings = None
        for probe, true_c in zip(self._probes, self._truths(), strict=True):
            probe.advance(true_c, dt_s)

    def readings(self) -> tuple[float, ...]:
        """Return what each probe says now, °C; the same until the next step."""
        if self._readings is None:
            self._readings = tuple([probe.read() for probe in self._probes])
        return self._readings

    def paste(self) -> tuple[PasteGrid, Array]:
        """Return the paste's cells and their temperatures, °C."""
        return self.grid, self._net.temps(self._modes)[: self._cells]

    def truth(self) -> Truth:
        """Return the true temperatures now; the wall is the paste's edge, the heater is none."""
        grid, temps = self.paste()
        mean = float(np.average(temps, weights=grid.capacities))
        wall = float(temps[grid.cell(grid.n_r - 1, 0)])
        beside = self._where.beside_c
        return Truth(
            float(temps.min()),
            float(temps.max()),
            mean,
            wall,
            beside,
            self._where.above_c,
            tuple(self._truths()),
            0.0,
        )

    def _truths(self) -> list[float]:
        truths: list[float] = (self._rows @ self._modes).tolist()
        return truths

    def _row(self, place: Place) -> Array:
        row = np.zeros(self._cells + 2)
        if place in (Place.WALL, Place.AIR):
            row[self.grid.cell(self.grid.n_r - 1, 0) if place is Place.WALL else self._cells + 1] = 1.0
            return row
        radius = self.grid.radius_m
        r = {Place.CORE: 0.0, Place.MID: 0.5 * radius, Place.EDGE: radius - _EDGE_M}[place]
        row[: self._cells] = self.grid.weights(r, 0.5 * self.grid.height_m)
        return row
