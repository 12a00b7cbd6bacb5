"""What the baker's own mixes and doughs have taught: how much heat vessel and stirring take, how much mixing warms.

Every measurement is kept, and what follows from them is reckoned anew each time: what was believed before (handbook
figures with their spread) and each measurement count by their precision, 1/sd². What is then used for the next plan
has, beside what the mean leaves open, the scatter from one time to the next.
"""

import contextlib
import math
import os
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from holdctl.errors import StoreError
from holdctl.paste.dough import Rise
from holdctl.paste.mixing import Loss, Scalding, believed_loss, mix_c
from holdctl.plan.bread import Bread
from holdctl.settings import Settings

VERSION = 1
FILE_NAME = "learned.json"
TOLD, BY_PROBE = "told", "read by the probe"
KEPT = 20
"""So many measurements of one kind and vessel are kept, the newest."""
_LOSS_SCATTER, _RISE_SCATTER_K = 0.15, 0.5
"""From one time to the next: of the loss, as a part of it, and of the rise (common sense, no source)."""
_NIGHT_MS = 12 * 3_600_000
_ENOUGH = 4
"""From so many measurements on their own scatter counts instead."""


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """One mix or dough that was measured."""

    kind: Literal["mix", "dough"]
    vessel: str
    """Of a mix: which vessel; of a dough: empty."""
    value: float
    """Of a mix: what vessel and stirring took, J/K; of a dough: what mixing added, K."""
    sd: float
    """One standard deviation of the value."""
    measured_c: float
    planned_c: float
    at_utc_ms: int
    origin: str
    """What it comes from, as `plan 3`: what was told of it and read in the same night counts once."""
    how: str = TOLD
    """Told by the baker, or read by the probe."""
    minutes: float | None = None
    """Of a dough: how long it was mixed, where that was told."""

    def same_night(self, origin: str, at_utc_ms: int) -> bool:
        """Return whether it is of the same origin, less than half a day away."""
        return self.origin == origin and abs(self.at_utc_ms - at_utc_ms) < _NIGHT_MS


class Memory(msgspec.Struct, frozen=True, kw_only=True):
    """All that was measured."""

    version: Annotated[int, Meta(ge=VERSION, le=VERSION)] = VERSION
    seen: tuple[Seen, ...] = ()

    def of(self, kind: str, vessel: str = "") -> tuple[Seen, ...]:
        """Return the measurements of a kind, oldest first."""
        return tuple(s for s in self.seen if s.kind == kind and s.vessel == vessel)

    def vessels(self) -> tuple[str, ...]:
        """Return the vessels that were measured, by name."""
        return tuple(sorted({s.vessel for s in self.seen if s.kind == "mix"}))

    def with_one(self, one: Seen) -> "Memory":
        """Return the memory with one measurement more; that of the same night is replaced, the oldest is dropped."""
        others = [
            s for s in self.seen if not (s.kind == one.kind and s.same_night(one.origin, one.at_utc_ms))
        ]
        same = [s for s in others if s.kind == one.kind and s.vessel == one.vessel]
        dropped = sorted(same, key=lambda s: s.at_utc_ms)[: max(0, len(same) + 1 - KEPT)]
        kept = [s for s in others if s not in dropped]
        return Memory(seen=tuple(sorted([*kept, one], key=lambda s: (s.at_utc_ms, s.origin))))


def vessel_name(bread: Bread, settings: Settings | None) -> str:
    """Return how a vessel is called in what was learnt: by its mass and material, else as the warmer's."""
    about = bread.mixing
    if about.vessel_g is not None:
        return f"vessel of {about.vessel_g:g} g, {about.vessel_material.value}"
    return f"vessel of {settings.warmer.name}" if settings else "your vessel"


NOTHING = Memory()


def learnt(bowl: Scalding, memory: Memory, vessel: str) -> Scalding:
    """Return the bowl with its waters, and with what earlier mixes in this vessel have taught where there are any."""
    loss = vessel_loss(memory, vessel, believed_loss(bowl, mix_c(bowl)))
    return bowl if loss is None else replace(bowl, loss=loss)


def vessel_loss(memory: Memory, vessel: str, believed: Loss) -> Loss | None:
    """Return what a vessel and its stirring take, with what was believed of them; None where nothing was measured."""
    seen = memory.of("mix", vessel)
    if not seen:
        return None
    mean, sd = pooled((believed.j_k, believed.sd_j_k), [(s.value, s.sd) for s in seen])
    mean = max(0.0, mean)
    return Loss(mean, math.hypot(sd, _scatter([s.value for s in seen], _LOSS_SCATTER * mean)))


def mixing_rise(memory: Memory, believed: Rise, minutes: float | None = None) -> Rise | None:
    """Return what mixing adds, with what was believed; None where no dough was measured.

    Where it was told how long a dough was mixed, its rise is taken in proportion to `minutes`.
    """
    seen = memory.of("dough")
    if not seen:
        return None
    values = [(s.value * f, s.sd * f) for s, f in ((s, _longer(s, minutes)) for s in seen)]
    mean, sd = pooled((believed.k, believed.sd_k), values)
    spread = math.hypot(sd, _scatter([v for v, _ in values], _RISE_SCATTER_K))
    return Rise(mean, spread, f"learnt from {_times(len(seen), 'dough')} of yours")


def pooled(believed: tuple[float, float], values: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return mean and standard deviation of a belief and independent measurements, each weighed by 1/sd²."""
    weights = [(value, 1.0 / sd**2) for value, sd in (believed, *values)]
    whole = sum(weight for _, weight in weights)
    return sum(value * weight for value, weight in weights) / whole, math.sqrt(1.0 / whole)


def _scatter(values: Sequence[float], usual: float) -> float:
    if len(values) < _ENOUGH:
        return usual
    mean = sum(values) / len(values)
    return math.sqrt(sum((v - mean) ** 2 for v in values) / (len(values) - 1))


def _longer(seen: Seen, minutes: float | None) -> float:
    return minutes / seen.minutes if seen.minutes and minutes else 1.0


def words(memory: Memory, only: str | None = None) -> list[str]:
    """Say what was learnt, a sentence each, of one vessel `only` where that is named; nothing where nothing was."""
    found = []
    for vessel in [v for v in memory.vessels() if only in (None, v)]:
        seen = memory.of("mix", vessel)
        mean = sum(s.value for s in seen) / len(seen)
        off = sum(s.measured_c - s.planned_c for s in seen) / len(seen)
        side = "hotter" if off > 0 else "colder"
        found.append(
            f"{vessel}: {_times(len(seen), 'mix')} measured, on average {abs(off):.1f} K {side} than planned then; "
            f"vessel and stirring took {mean:.0f} J for each kelvin over the room."
        )
    return found if only is not None else [*found, *of_doughs(memory)]


def of_doughs(memory: Memory) -> list[str]:
    """Say what was learnt of mixing, in one sentence; nothing where no dough was measured."""
    doughs = memory.of("dough")
    if not doughs:
        return []
    mean = sum(s.value for s in doughs) / len(doughs)
    times = _times(len(doughs), "dough")
    factor = f"a friction factor of {4 * mean:.0f} K with four temperatures"
    return [f"Mixing: {times} measured, it warms by {mean:.1f} K on average ({factor})."]


def _times(count: int, one: str) -> str:
    many = {"mix": "mixes"}.get(one, f"{one}s")
    return f"1 {one}" if count == 1 else f"{count} {many}"


def place() -> Path:
    """Return the file that keeps it, in the user's state folder."""
    from holdctl.config import state_folder

    return state_folder() / FILE_NAME


def load(path: Path | None = None) -> Memory:
    """Return what was measured so far; nothing where there is no file. Raises StoreError for one that can't be used."""
    path = path or place()
    try:
        return msgspec.json.decode(path.read_bytes(), type=Memory)
    except FileNotFoundError:
        return Memory()
    except (OSError, msgspec.DecodeError) as error:
        raise StoreError(
            f"What was learnt can't be read ({path}: {error}); move that file away to begin anew."
        ) from error


def save(memory: Memory, path: Path | None = None) -> None:
    """Write it, whole or not at all. Raises StoreError where it can't be written."""
    from holdctl.record.files import make_folder

    path = path or place()
    try:
        make_folder(path.parent)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".learned-")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(msgspec.json.format(msgspec.json.encode(memory), indent=2) + b"\n")
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(path)
        finally:
            with contextlib.suppress(FileNotFoundError):
                Path(name).unlink()
    except OSError as error:
        raise StoreError(f"What was learnt can't be kept in {path} ({error.strerror}).") from error
