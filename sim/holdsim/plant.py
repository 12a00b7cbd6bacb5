"""One warmer with its paste, stepped through time: heater power in, losses out, every joule counted.

Inside, heat moves exactly (`network`). Heater power and the losses to the room, which are not linear, are
taken at the start of each step and held over it; they are counted as they enter: stored = in - out to
rounding. Paste boils at 100 °C. Left out: its heat capacity stays as it dries, and there is no heat of
reaction.
"""

from collections.abc import Sequence

import numpy as np

from holdctl.paste import paste_properties
from holdctl.settings import Lid, Place
from holdsim.disturbance import World
from holdsim.losses import BOILING_C, BOILING_J_KG, ZERO_C, open_paste_loss
from holdsim.network import Array, Propagator
from holdsim.paste_grid import PasteGrid
from holdsim.probes import Probe, ProbeSpec
from holdsim.steady import steady_state
from holdsim.truth import Energy, Truth
from holdsim.warmer import Assembly, Fill, Warmer, assemble

_OFF = (
    Lid.OFF
)  # up to Python 3.11 a member named through its class is slow to find, and this is asked each second
STIRRED_LOSS_FACTOR = 1.5
"""Loss of the open, moving surface while a person stirs, against one at rest (common sense, no source)."""

__all__ = ["Energy", "Plant", "Truth"]


class Plant:
    """A simulated warmer. `step` it, `readings` tell what the thermometers say, `truth` what is."""

    def __init__(
        self,
        warmer: Warmer,
        fill: Fill,
        probes: Sequence[ProbeSpec],
        *,
        seed: int,
        ambient_c: float,
        start_c: float,
        vessel_c: float | None,
        lid: Lid,
        disturbances: bool,
    ) -> None:
        self.time_s = 0.0
        self.warmer, self.fill, self.lid = warmer, fill, lid
        world, *own = np.random.SeedSequence(seed).spawn(1 + len(probes))
        self._world = World(np.random.default_rng(world), ambient_c, disturbed=disturbances)
        self._heat_in_j = self._heat_out_j = self._evaporated_g = self._power_w = 0.0
        self._stirring = False
        self._dt_s = 0.0
        self._step: Propagator
        self._modes: Array
        self._readings: tuple[float, ...] | None = None
        self._specs = tuple(probes)
        self._in_air = [index for index, spec in enumerate(probes) if spec.place is Place.AIR]
        self._rig(assemble(warmer, fill, lid), self._start(ambient_c, start_c, vessel_c))
        self._start_j = self._net.energy_j(self._modes)
        truths = self._probe_truths()
        self._probes = [
            Probe(spec, true_c, np.random.default_rng(stream))
            for spec, true_c, stream in zip(probes, truths, own, strict=True)
        ]

    @property
    def energy(self) -> Energy:
        """The account of heat and water since the start."""
        stored = self._net.energy_j(self._modes)
        return Energy(self._heat_in_j, self._heat_out_j, stored, self._start_j, self._evaporated_g)

    def step(self, on_s: float, dt_s: float = 1.0) -> None:
        """Let `dt_s` pass with the heater on for `on_s` of it, its heat spread evenly over the step.

        Raises ValueError unless 0 <= on_s <= dt_s and 0 < dt_s <= 10: the losses are held over one step.
        """
        if not (0.0 <= on_s <= dt_s and 0.0 < dt_s <= 10.0):
            raise ValueError(f"can't be on for {on_s} s of {dt_s} s")
        world = self._world
        world.advance(dt_s)
        heat = self._heat
        heat[0] = self._power_w = self.warmer.power_w * world.power_factor * on_s / dt_s
        lost = self._lose(world.ambient_c, dt_s)
        if dt_s != self._dt_s:
            self._dt_s, self._step = dt_s, self._net.propagator(dt_s, self._ports)
        modes = self._modes
        modes *= self._step.decay
        modes += self._step.gain.dot(heat)
        self._heat_in_j += self._power_w * dt_s
        self._heat_out_j += lost * dt_s
        self._seen: list[float] = self._rows.dot(modes).tolist()
        if self._seen[-1] > BOILING_C:
            self._boil()
        self.time_s += dt_s
        self._readings = None
        for probe, true_c in zip(self._probes, self._probe_truths(), strict=True):
            probe.advance(true_c, dt_s)

    def readings(self) -> tuple[float, ...]:
        """Return what each probe says now, °C; the same until the next step."""
        if self._readings is None:
            self._readings = tuple([probe.read() for probe in self._probes])
        return self._readings

    def truth(self) -> Truth:
        """Return the true temperatures now."""
        truths = tuple(self._probe_truths())
        return self._describe(self._net.temps(self._modes), truths, self._world.ambient_c, self._power_w)

    def stir(self) -> None:
        """Mix the paste now; its moving surface loses heat over the next step. Call it each second."""
        temps = self._net.temps(self._modes)
        temps[self._assembly.paste] = self._mean(temps)
        self._modes = self._net.modes(temps)
        self._stirring = not self.warmer.stirred
        self._look()

    def set_lid(self, lid: Lid) -> None:
        """Cover or open the vessel."""
        if lid is self.lid:
            return
        self.lid = lid
        self._rig(assemble(self.warmer, self.fill, lid), self._net.temps(self._modes))

    def add(self, mass_g: float, temp_c: float) -> None:
        """Stir in `mass_g` at `temp_c`, of the paste's own heat capacity. Raises ValueError if negative."""
        if not mass_g >= 0.0:
            raise ValueError(f"can't add {mass_g} g")
        fill, temps = self.fill, self._net.temps(self._modes)
        cp = paste_properties(fill.flour, fill.ratio, 65.0).cp_j_kgk
        more = mass_g / 1000.0
        temps[self._assembly.paste] = (fill.mass_kg * self._mean(temps) + more * temp_c) / (
            fill.mass_kg + more
        )
        self.fill = Fill(fill.flour, fill.ratio, fill.mass_kg + more)
        self._heat_in_j += more * cp * temp_c
        self._rig(assemble(self.warmer, self.fill, self.lid), temps)

    def paste(self) -> tuple[PasteGrid, Array]:
        """Return the paste's cells and their temperatures, °C: for what becomes of it outside the warmer."""
        return self._assembly.grid, self._net.temps(self._modes)[self._assembly.paste]

    def steady(self, setpoint_c: float, place: Place) -> Truth:
        """Return the profile that constant heater power keeps with `setpoint_c` at `place`, room at rest.

        This is what the geometry allows; no control does better without stirring. Raises ValueError when no
        heater power gives it (a setpoint at or below the room's temperature).
        """
        ambient = self._world.base_c
        temps, power = steady_state(self._assembly, setpoint_c, place, ambient)
        truths = [
            ambient if spec.place is Place.AIR else float(self._assembly.place_row(spec.place) @ temps)
            for spec in self._specs
        ]
        return self._describe(temps, tuple(truths), ambient, power)

    def _start(self, ambient_c: float, start_c: float, vessel_c: float | None) -> Array:
        vessel = start_c if vessel_c is None else vessel_c
        bodies = [ambient_c if body.outer else vessel for body in self.warmer.bodies]
        cells = 1 if self.warmer.stirred else self.warmer.cells[0] * self.warmer.cells[1]
        return np.array(bodies + [start_c] * cells)

    def _rig(self, assembly: Assembly, temps: Array) -> None:
        """Take up a new network with these temperatures."""
        self._assembly, self._net = assembly, assembly.network
        surfaces = assembly.surface_nodes
        self._ports = [self.warmer.index("heater"), *surfaces, *assembly.top_nodes]
        self._wall = self.warmer.index(self.warmer.hot_wall)
        self._heat = np.zeros(len(self._ports))
        self._top_ports_used = False
        self._loss_laws = [surface.law for surface in self.warmer.surfaces]
        paste_places = [spec.place for spec in self._specs if spec.place is not Place.AIR]
        unit = np.eye(len(temps))
        places = [assembly.place_row(place) for place in (*paste_places, Place.WALL)]
        rows = np.vstack([unit[surfaces], *places])
        self._rows = rows @ self._net.to_nodes
        cells = self._net.capacities[assembly.paste]
        self._shares = cells / cells.sum()
        self._top_rows = self._net.to_nodes[assembly.top_nodes]
        self._dt_s = 0.0
        self._modes = self._net.modes(temps)
        self._look()

    def _look(self) -> None:
        self._seen = (self._rows @ self._modes).tolist()

    def _lose(self, ambient_c: float, dt_s: float) -> float:
        """Put all losses into the ports and return their sum, W."""
        heat, total = self._heat, 0.0
        for i, loss in enumerate(self._losses(ambient_c), start=1):
            heat[i] = -loss
            total += loss
        if self.lid is _OFF or self._stirring:
            total += self._lose_top(ambient_c, dt_s)
        elif self._top_ports_used:
            self._heat[len(self._loss_laws) + 1 :] = 0.0
            self._top_ports_used = False
        self._stirring = False
        return total

    def _losses(self, ambient_c: float) -> list[float]:
        """Return what each surface loses to the room, W."""
        room4 = (ambient_c + ZERO_C) ** 4
        losses = []
        for (convection, radiation), temp_c in zip(self._loss_laws, self._seen, strict=False):
            diff = temp_c - ambient_c
            losses.append(
                convection * diff * abs(diff) ** 0.25 + radiation * ((temp_c + ZERO_C) ** 4 - room4)
            )
        return losses

    def _boil(self) -> None:
        """Let paste above its boiling point give the excess off as steam; the walls may go on rising."""
        temps = self._net.temps(self._modes)
        paste = temps[self._assembly.paste]
        excess = np.maximum(paste - BOILING_C, 0.0)
        heat = float(excess @ self._net.capacities[self._assembly.paste])
        if heat > 0.0:
            temps[self._assembly.paste] = paste - excess
            self._heat_out_j += heat
            self._evaporated_g += 1000.0 * heat / BOILING_J_KG
            self._modes = self._net.modes(temps)
            self._look()

    def _lose_top(self, ambient_c: float, dt_s: float) -> float:
        """Put the loss of the open or stirred paste into its ports, ring by ring, and return the sum, W."""
        first = len(self._loss_laws) + 1
        factor = STIRRED_LOSS_FACTOR if self._stirring else 1.0
        self._top_ports_used = True
        total = 0.0
        temps = (self._top_rows @ self._modes).tolist()
        for i, (temp, area) in enumerate(zip(temps, self._assembly.grid.ring_areas.tolist(), strict=True)):
            loss, vapour = open_paste_loss(temp, ambient_c, area * factor, self.warmer.radius_m)
            self._heat[first + i] = -loss
            self._evaporated_g += 1000.0 * vapour * dt_s
            total += loss
        return total

    def _probe_truths(self) -> list[float]:
        truths: list[float] = self._seen[len(self._loss_laws) : -1]
        for index in self._in_air:
            truths.insert(index, self._world.ambient_c)
        return truths

    def _mean(self, temps: Array) -> float:
        return float(self._shares.dot(temps[self._assembly.paste]))

    def _describe(self, temps: Array, probes: tuple[float, ...], ambient_c: float, power_w: float) -> Truth:
        paste = temps[self._assembly.paste]
        return Truth(  # the place of an extreme is found several times faster than the extreme
            paste.item(paste.argmin()),
            paste.item(paste.argmax()),
            self._mean(temps),
            temps.item(self._wall),
            temps.item(self._ports[0]),
            ambient_c,
            probes,
            power_w,
        )
