"""What a plant truly is at a moment, and its account of heat."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Truth:
    """True temperatures, °C, whatever the probes say; `power_w` is the heat that the heater gives."""

    coldest_c: float
    hottest_c: float
    mean_c: float
    wall_c: float
    heater_c: float
    ambient_c: float
    probes: tuple[float, ...]
    power_w: float


@dataclass(frozen=True)
class Energy:
    """The account since the start: stored (against 0 °C) = stored at the start + in - out."""

    heat_in_j: float
    heat_out_j: float
    stored_j: float
    start_j: float
    evaporated_g: float

    @property
    def residual_j(self) -> float:
        """What the account misses by, J."""
        return self.stored_j - self.start_j - self.heat_in_j + self.heat_out_j
