"""What a rule found in a record: met, broken, not applicable, or not to be told; with every interval that breaks it.

No finding says that food is fit to eat. It says which rule of which code was or was not met, by the worst that the
record leaves possible, and what the paste's corrective action is. The local authority decides.
"""

from enum import StrEnum
from typing import Literal

import msgspec

from holdctl.food.measured import Measured
from holdctl.food.rules import TimeControlled
from holdctl.food.spells import Spell


class Verdict(StrEnum):
    """Of one rule."""

    MET = "met"
    BROKEN = "broken"
    NOT_APPLICABLE = "not applicable"
    CANNOT_TELL = "cannot tell"


class Declared(msgspec.Struct, frozen=True, kw_only=True):
    """What was told about a hold besides its temperatures."""

    begins: Literal["fresh", "chilled"] = "fresh"
    heated: bool = True
    """False: a cooling with no hold before it; nothing is asked of a way up."""
    time_control: TimeControlled = False
    """Whether a written procedure lets time alone control the paste once it leaves hot, or cold, holding."""
    spells: tuple[Spell, ...] = ()
    """Declared times; undeclared time below the limit stays a window."""
    measured: tuple[Measured, ...] = ()
    probe_error_k: float | None = None
    """Largest error of the paste's probes, K."""
    ended: bool = True
    """False while the hold goes on: what is not met yet may still be."""


class Breach(msgspec.Struct, frozen=True, kw_only=True):
    """One interval that breaks a rule; times in s since the start of the hold."""

    start_s: float
    end_s: float
    limit_c: float | None = None
    """The temperature that was broken, °C; None where only a time was."""
    limit_s: float | None = None
    """The time that was broken, s; None where only a temperature was."""
    observed_c: float | None = None
    """Worst known temperature in it, the probe's error counted, °C; None where nothing of it was recorded."""
    margin_k: float | None = None
    """By how much the limit was missed, K."""
    unrecorded_s: float = 0.0
    """Part of it without a valid reading, counted as breaking the rule."""
    action: str = ""
    """What to do with the paste."""

    @property
    def length_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One rule held against one record."""

    rule: str
    """Its name within the code."""
    text: str
    limit: str
    """In words."""
    observed: str
    """In words."""
    verdict: Verdict
    why: str = ""
    """What has to be said of the verdict."""
    source: str
    force: str
    sureness: str
    remarks: str = ""
    breaches: tuple[Breach, ...] = ()
