"""The high limit: trips above, arms only after every probe has been well below.

A mix with boiling water starts at 80–89 °C. Such a start is settling, not a fault: until every probe has once been
2 K below its limit, the relay stays off and nothing trips.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

ARM_BELOW_K = 2.0
"""How far below its limit a probe must have been."""


@dataclass(slots=True)
class HighLimit:
    """High limits of several probes, °C, by probe key."""

    limits_c: Mapping[int, float]
    _been_below: set[int] = field(default_factory=set)
    armed: bool = field(default=False, init=False)
    """Whether every probe has been 2 K below its limit."""

    def __post_init__(self) -> None:
        self.armed = not self.limits_c

    def over(self, temps_c: Mapping[int, float]) -> list[int]:
        """Note one set of temperatures; return the probes above their limit."""
        if not self.armed:
            self._been_below |= {
                key for key, top in self.limits_c.items() if temps_c[key] <= top - ARM_BELOW_K
            }
            self.armed = len(self._been_below) == len(self.limits_c)
        return [key for key, top in self.limits_c.items() if temps_c[key] > top]

    def warm(self, temps_c: Mapping[int, float]) -> dict[int, float]:
        """Return the probes that are not 2 K below their limit, with what each must fall to, °C; empty: cause gone."""
        return {
            key: top - ARM_BELOW_K for key, top in self.limits_c.items() if temps_c[key] > top - ARM_BELOW_K
        }
