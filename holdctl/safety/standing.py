"""Which trips stand. A latched one stays through restarts until a person resets it by name."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from holdctl.safety.interlocks import of


@dataclass(slots=True)
class Standing:
    """Which trips stand, in the order in which they came."""

    _since_ms: dict[str, int] = field(default_factory=dict)

    @classmethod
    def restored(cls, latched: Iterable[str]) -> "Standing":
        """Return the trips that an earlier hold left latched; unknown names are kept: off is the right side."""
        return cls(dict.fromkeys(latched, 0))

    def __contains__(self, name: str) -> bool:
        return name in self._since_ms

    def __bool__(self) -> bool:
        return bool(self._since_ms)

    def __iter__(self) -> Iterator[str]:
        return iter(self._since_ms)

    def trip(self, name: str, now_ms: int) -> bool:
        """Let `name` stand; True where it is new."""
        new = name not in self._since_ms
        self._since_ms.setdefault(name, now_ms)
        return new

    def clear(self, name: str) -> bool:
        """Let `name` fall; True where it stood. Latched trips are cleared by a reset only: see the hold."""
        return self._since_ms.pop(name, None) is not None

    @property
    def waiting(self) -> bool:
        """Whether a trip stands after which only a person lets the hold go on."""
        return any(of(name).latched or of(name).waits for name in self._since_ms)

    @property
    def latched(self) -> bool:
        """Whether a trip stands that needs a deliberate reset."""
        return any(of(name).latched for name in self._since_ms)
