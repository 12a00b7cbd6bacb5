"""A simulated baker for unattended nights: reads the record, answers its prompts, at fixed simulated times.

Everything the baker does is decided between two simulated seconds from what the record says, never from the
time of day, so that a night with the same seed is the same night.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from holdctl.settings import Lid

REACTION_S = 120
"""From a prompt to the baker's hand on the lid, simulated seconds."""
LONGEST_STIR_S = 3600


@dataclass(frozen=True, slots=True)
class Prompt:
    """One prompt of the record: its number there, the hold, the hold's time in ms, and its particulars."""

    seq: int
    hold: int
    hold_ms: int
    detail: Mapping[str, Any]


class Vessel(Protocol):
    """What the baker does to a plant, and feels of it."""

    def stir(self) -> None:
        """Even out the paste."""

    def set_lid(self, lid: Lid) -> None:
        """Cover or uncover the paste."""

    def truth(self) -> Any:
        """Return the true temperatures, °C, with `mean_c` among them."""


class Baker:
    """`look` returns the prompts numbered above its argument; `answer` tells the hold to go on.

    `started` says whether the hold's clock runs: its first true marks the hold's time 0 in simulated seconds.
    """

    def __init__(
        self,
        vessel: Vessel,
        lid: Lid,
        look: Callable[[int], list[Prompt]],
        answer: Callable[[Prompt], None],
        started: Callable[[], bool],
        reaction_s: int = REACTION_S,
    ) -> None:
        self._vessel = vessel
        self._lid = lid
        self._look = look
        self._answer = answer
        self._started = started
        self._reaction_s = reaction_s
        # A look takes time, so as seldom as still finds each prompt before it is due.
        self._look_every_s = max(1, reaction_s // 2)
        self._zero_s: int | None = None
        self._seen = 0
        self._waiting: list[Prompt] = []
        self._stirring_since_s: int | None = None

    def act(self, second: int) -> None:
        """Do what the baker does before simulated second `second`."""
        if self._zero_s is None:
            if not self._started():
                return
            self._zero_s = second
        if second % self._look_every_s == 0:
            self._read_up()
        if self._waiting:
            self._attend(self._waiting[0], second)

    def _read_up(self) -> None:
        for prompt in self._look(self._seen):
            self._seen = max(self._seen, prompt.seq)
            self._waiting.append(prompt)

    def _attend(self, prompt: Prompt, second: int) -> None:
        zero_s = self._zero_s or 0
        if second < zero_s + prompt.hold_ms // 1000 + self._reaction_s:
            return
        if self._stirring_since_s is None:
            self._stirring_since_s = second
            self._vessel.set_lid(Lid.OFF)
        self._vessel.stir()
        if self._warm_still(prompt) and second - self._stirring_since_s < LONGEST_STIR_S:
            return
        self._vessel.set_lid(self._lid)
        self._stirring_since_s = None
        self._waiting.pop(0)
        self._answer(prompt)

    def _warm_still(self, prompt: Prompt) -> bool:
        goal = prompt.detail.get("to")
        return goal is not None and self._vessel.truth().mean_c > goal
