"""An unstirred warmer of the benchmark: a `holdsim.Plant` with a world of its own, and linear losses on request."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holdctl.settings import Lid, Place
from holdsim.bench.linear import Array, LinearModel
from holdsim.bench.world import World
from holdsim.losses import Surface
from holdsim.plant import Plant
from holdsim.probes import ProbeSpec
from holdsim.steady import steady_state
from holdsim.warmer import Fill, Warmer

LINEAR_AT_K = 15.0
"""Excess over the room at which a linear surface loses what the laws say."""


@dataclass(frozen=True)
class LinearSurface(Surface):
    """An outer surface whose loss is proportional to its excess over the room."""

    @property
    def w_k(self) -> float:
        """Its conductance to the room: the laws' secant at 15 K over a room at 20 °C."""
        return super().loss_w(20.0 + LINEAR_AT_K, 20.0) / LINEAR_AT_K

    def loss_w(self, temp_c: float, ambient_c: float) -> float:
        """Return the heat that leaves, W."""
        return self.w_k * (temp_c - ambient_c)


class Conducting(Plant):
    """A plant that knows its linear model and the world that it will meet."""

    def __init__(
        self,
        warmer: Warmer,
        fill: Fill,
        probes: Sequence[ProbeSpec],
        *,
        seed: int,
        start_c: float,
        lid: Lid,
        world: World,
        linear: bool,
    ) -> None:
        self._linear_w_k = [s.w_k for s in warmer.surfaces if isinstance(s, LinearSurface)] if linear else []
        super().__init__(
            warmer,
            fill,
            probes,
            seed=seed,
            ambient_c=world.base_c,
            start_c=start_c,
            vessel_c=None,
            lid=lid,
            disturbances=False,
        )
        self._world = world  # type: ignore[assignment]  # same calls, other distributions
        self._slopes: list[float] | None = None
        self.usual_lid = lid

    def add(self, mass_g: float, temp_c: float) -> None:
        """Stir in `mass_g` at `temp_c`."""
        super().add(mass_g, temp_c)
        self._slopes = None

    @property
    def power_w(self) -> float:
        """Rated power, W."""
        return self.warmer.power_w

    @property
    def paste_kg(self) -> float:
        """Mass of the paste now."""
        return self.fill.mass_kg

    @property
    def delay_s(self) -> float:
        """Dead time, s: none, the heater's own capacity delays."""
        return 0.0

    @property
    def mains(self) -> float:
        """Factor on the heater's power beside the world's."""
        return self._world.mains  # type: ignore[attr-defined,no-any-return]

    @mains.setter
    def mains(self, factor: float) -> None:
        self._world.mains = factor  # type: ignore[attr-defined]

    def temps(self) -> Array:
        """Return all node temperatures, °C."""
        return np.asarray(self._net.temps(self._modes))

    def set_temps(self, temps_c: Array) -> None:
        """Put the nodes at these temperatures, °C."""
        self._modes = self._net.modes(temps_c)
        self._look()

    def settle(self, setpoint_c: float, place: Place) -> None:
        """Put plant and probes into the steady hold with `setpoint_c` at a place."""
        temps, _ = steady_state(self._assembly, setpoint_c, place, self._world.base_c)
        self.set_temps(temps)
        for probe, temp in zip(self._probes, self.truth().probes, strict=True):
            probe.advance(temp, 1e4)

    def linear(self) -> LinearModel:
        """Return the model with the losses linear about the hold at 65 °C, lid as now but never open."""
        assembly = self._assembly
        matrix = assembly.network.conductance.copy()
        for node, slope in zip(assembly.surface_nodes, self._loss_slopes(), strict=True):
            matrix[node, node] += slope
        rows = {place: assembly.place_row(place) for place in (Place.CORE, Place.MID, Place.EDGE)}
        return LinearModel(
            assembly.network.capacities,
            matrix,
            heater=self.warmer.index("heater"),
            power_w=self.warmer.power_w,
            ambient_c=self._world.base_c,
            paste=assembly.paste,
            places=rows,
        )

    def power_factors(self, start_s: float, times_s: Array) -> Array:
        """Return the mains' factor at these times after `start_s`."""
        return self._own_world.factors(start_s + times_s)

    def extra_heat(self, start_s: float, times_s: Array, temps_c: Array) -> Array | None:
        """Return what the linear model misses along a trajectory (steps, nodes), W at each node."""
        if self._linear_w_k:
            return None
        room = self._own_world.rooms(start_s + times_s)
        extra = np.zeros_like(temps_c)
        base = self._world.base_c
        surfaces = zip(self._assembly.surface_nodes, self.warmer.surfaces, self._loss_slopes(), strict=True)
        for node, surface, slope in surfaces:
            temps = temps_c[:, node]
            losses = np.array([surface.loss_w(t, r) for t, r in zip(temps, room, strict=True)])
            extra[:, node] += slope * (temps - base) - losses
        return extra

    @property
    def _own_world(self) -> World:
        world: object = self._world
        if not isinstance(world, World):
            raise TypeError("this plant has lost its world")
        return world

    def _loss_slopes(self) -> list[float]:
        """W/K of each surface, as a secant from the room to where it is in the hold."""
        if self._slopes is None:
            base = self._world.base_c
            temps, _ = self.steady_temps(65.0, Place.MID)
            nodes = self._assembly.surface_nodes
            self._slopes = [
                surface.loss_w(float(temps[node]), base) / (float(temps[node]) - base)
                for node, surface in zip(nodes, self.warmer.surfaces, strict=True)
            ]
        return self._slopes

    def steady_temps(self, setpoint_c: float, place: Place) -> tuple[Array, float]:
        """Return all node temperatures, °C, and the power, W, of the steady hold."""
        return steady_state(self._assembly, setpoint_c, place, self._world.base_c)

    def _losses(self, ambient_c: float) -> list[float]:
        if not self._linear_w_k:
            return super()._losses(ambient_c)
        return [w_k * (temp_c - ambient_c) for w_k, temp_c in zip(self._linear_w_k, self._seen, strict=False)]
