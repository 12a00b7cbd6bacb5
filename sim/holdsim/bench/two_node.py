"""A stirred warmer as two nodes: heater with wall, and mixed paste, behind a dead time.

Linear, stepped exactly: over one second the heat is constant, so the matrix exponential is the truth. The same
calls as `holdsim.Plant`, so that one runner drives both.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import expm

from holdctl.settings import Lid, Place
from holdsim.bench.linear import Array, LinearModel
from holdsim.probes import Probe, ProbeSpec
from holdsim.truth import Truth

OPEN_W_M2K = 60.0
"""Loss of open paste at 65 °C by convection, radiation and vapour, W/m²K (order of magnitude, common practice)."""


@dataclass(frozen=True)
class TwoNodeSpec:
    """Capacities in J/K, conductances in W/K, power in W, dead time in whole seconds."""

    wall_j_k: float
    paste_j_k: float
    wall_paste_w_k: float
    wall_loss_w_k: float
    paste_loss_w_k: float
    power_w: float
    delay_s: int
    top_m2: float = 0.03
    cp_j_kgk: float = 3500.0

    @property
    def conductance(self) -> Array:
        """Conductances with the losses on the diagonal, W/K: wall, paste."""
        between = self.wall_paste_w_k
        return np.array(
            [[between + self.wall_loss_w_k, -between], [-between, between + self.paste_loss_w_k]],
        )

    @property
    def capacities(self) -> Array:
        """J/K: wall, paste."""
        return np.array([self.wall_j_k, self.paste_j_k])

    @property
    def times_s(self) -> tuple[float, float]:
        """The slow and the fast time constant, s."""
        rates = np.linalg.eigvals(self.conductance / self.capacities[:, None]).real
        return float(1.0 / min(rates)), float(1.0 / max(rates))

    @property
    def gain_k(self) -> float:
        """Steady rise of the paste for full duty, K."""
        return float(np.linalg.solve(self.conductance, [self.power_w, 0.0])[1])


class TwoNode:
    """A `TwoNodeSpec` that runs."""

    def __init__(
        self, spec: TwoNodeSpec, probes: Sequence[ProbeSpec], *, seed: int, ambient_c: float, start_c: float
    ) -> None:
        self.time_s = 0.0
        self.spec, self.lid, self.mains = spec, Lid.ON, 1.0
        self.usual_lid = Lid.ON
        self.ambient_c = ambient_c
        self._places = [0 if probe.place is Place.WALL else 1 for probe in probes]
        self._temps = [start_c, start_c]
        self._line = deque([0.0] * spec.delay_s, maxlen=spec.delay_s + 1)
        self._power_w = 0.0
        streams = np.random.SeedSequence(seed).spawn(len(probes))
        self._probes = [
            Probe(probe, start_c, np.random.default_rng(stream))
            for probe, stream in zip(probes, streams, strict=True)
        ]
        self._discretise()

    @property
    def power_w(self) -> float:
        """Rated power, W."""
        return self.spec.power_w

    @property
    def paste_kg(self) -> float:
        """Mass of the paste now."""
        return self.spec.paste_j_k / self.spec.cp_j_kgk

    @property
    def delay_s(self) -> float:
        """Dead time from relay to wall, s."""
        return float(self.spec.delay_s)

    def step(self, on_s: float, dt_s: float = 1.0) -> None:
        """Let one second pass with the heater on for `on_s` of it. Raises ValueError for another step."""
        if dt_s != 1.0 or not 0.0 <= on_s <= 1.0:
            raise ValueError("this plant goes by whole seconds")
        self._line.append(on_s * self.spec.power_w * self.mains)
        self._power_w = self._line.popleft()
        wall, paste = self._temps[0] - self.ambient_c, self._temps[1] - self.ambient_c
        (a, b), (c, d) = self._keep
        heat = self._power_w
        self._temps = [
            self.ambient_c + a * wall + b * paste + self._gain[0] * heat,
            self.ambient_c + c * wall + d * paste + self._gain[1] * heat,
        ]
        self.time_s += 1.0
        for probe, node in zip(self._probes, self._places, strict=True):
            probe.advance(self._temps[node], 1.0)

    def readings(self) -> tuple[float, ...]:
        """Return what each probe says, °C; ask once a second."""
        return tuple([probe.read() for probe in self._probes])

    def truth(self) -> Truth:
        """Return the true temperatures now."""
        return self._describe(self._temps[0], self._temps[1], self._power_w)

    def steady(self, setpoint_c: float, place: Place) -> Truth:
        """Return the profile with `setpoint_c` for ever; the place makes no difference, the paste is mixed."""
        del place
        spec = replace(self.spec, paste_loss_w_k=self._paste_loss())
        wall, paste = np.linalg.solve(spec.conductance, [1.0, 0.0])
        power = (setpoint_c - self.ambient_c) / paste
        return self._describe(self.ambient_c + power * wall, setpoint_c, power)

    def stir(self) -> None:
        """Stir: the paste is mixed already."""

    def set_lid(self, lid: Lid) -> None:
        """Cover or open the vessel."""
        self.lid = lid
        self._discretise()

    def add(self, mass_g: float, temp_c: float) -> None:
        """Stir in `mass_g` at `temp_c`, of the paste's own heat capacity ."""
        more = mass_g / 1000.0 * self.spec.cp_j_kgk
        old = self.spec.paste_j_k
        self._temps[1] = (old * self._temps[1] + more * temp_c) / (old + more)
        self.spec = replace(self.spec, paste_j_k=old + more)
        self._discretise()

    def temps(self) -> Array:
        """Return all node temperatures, °C."""
        return np.array(self._temps)

    def set_temps(self, temps_c: Array) -> None:
        """Put the nodes at these temperatures, °C."""
        self._temps = [float(temps_c[0]), float(temps_c[1])]

    def linear(self) -> LinearModel:
        """Return the model with the lid as it is now."""
        spec = replace(self.spec, paste_loss_w_k=self._paste_loss())
        paste = np.array([0.0, 1.0])
        rows = dict.fromkeys((Place.CORE, Place.MID, Place.EDGE), paste)
        return LinearModel(
            spec.capacities,
            spec.conductance,
            heater=0,
            power_w=spec.power_w,
            ambient_c=self.ambient_c,
            paste=slice(1, 2),
            places=rows,
            delay_s=self.delay_s,
        )

    def power_factors(self, start_s: float, times_s: Array) -> Array:
        """Return the mains' factor at these times after `start_s`: constant here."""
        del start_s
        return np.full(len(times_s), self.mains)

    def extra_heat(self, start_s: float, times_s: Array, temps_c: Array) -> Array | None:
        """Return what the linear model misses, W at each node: nothing, this plant is linear."""
        del start_s, times_s, temps_c
        return None

    def _paste_loss(self) -> float:
        opened = OPEN_W_M2K * self.spec.top_m2 if self.lid is Lid.OFF else 0.0
        return self.spec.paste_loss_w_k + opened

    def _discretise(self) -> None:
        spec = replace(self.spec, paste_loss_w_k=self._paste_loss())
        block = np.zeros((3, 3))
        block[:2, :2] = -spec.conductance / spec.capacities[:, None]
        block[0, 2] = 1.0 / spec.wall_j_k
        whole = expm(block)
        self._keep = whole[:2, :2].tolist()
        self._gain = whole[:2, 2].tolist()

    def _describe(self, wall_c: float, paste_c: float, power_w: float) -> Truth:
        probes = tuple(wall_c if node == 0 else paste_c for node in self._places)
        return Truth(paste_c, paste_c, paste_c, wall_c, wall_c, self.ambient_c, probes, power_w)
