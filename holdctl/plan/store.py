"""Kept plans: one JSON file each in the folder `plans` of the user's state folder, numbered from 1."""

import contextlib
import os
import tempfile
from pathlib import Path

import msgspec

from holdctl.errors import ConfigError, StoreError
from holdctl.plan.plan import VERSION, Plan
from holdctl.record.files import make_folder

_TRIES = 100


def folder() -> Path:
    """Return the folder of kept plans; `save` makes it."""
    from holdctl.config import state_folder

    return state_folder() / "plans"


def save(plan: Plan, where: Path | None = None) -> Plan:
    """Keep a plan under the next free number and return it with that. Raises StoreError where it can't be written.

    The file appears whole or not at all, and never over another: it is written beside and then linked to its name.
    """
    where = where or folder()
    try:
        make_folder(where)
        for _ in range(_TRIES):
            kept = msgspec.structs.replace(plan, id=max(numbers(where), default=0) + 1)
            if _put(where, kept):
                return kept
    except OSError as error:
        raise StoreError(
            f"Can't keep the plan in {where} ({error.strerror}): change its permissions or make room."
        ) from error
    raise StoreError(f"Can't keep the plan in {where}: others keep plans there all the time; try again.")


def load(number: int, where: Path | None = None) -> Plan:
    """Return a kept plan. Raises ConfigError for an unknown number, StoreError for a file that can't be used."""
    where = where or folder()
    path = where / f"{number}.json"
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise ConfigError(
            f"There is no plan {number}; `holdctl plan --list` shows those there are."
        ) from None
    except OSError as error:
        raise StoreError(f"Plan {number} can't be read ({path}: {error.strerror}).") from error
    try:
        return msgspec.json.decode(data, type=Plan)
    except msgspec.DecodeError as error:
        raise StoreError(
            f"Plan {number} is damaged or of another version than {VERSION} ({path}: {error}); make it again."
        ) from error


def numbers(where: Path | None = None) -> list[int]:
    """Return the numbers of the kept plans, in order."""
    where = where or folder()
    return sorted(int(path.stem) for path in where.glob("*.json") if path.stem.isdecimal())


def load_all(where: Path | None = None) -> tuple[list[Plan], list[str]]:
    """Return the kept plans in order, and a sentence for each file that can't be used."""
    plans, damaged = [], []
    for number in numbers(where):
        try:
            plans.append(load(number, where))
        except StoreError as error:
            damaged.append(str(error))
    return plans, damaged


def _put(where: Path, plan: Plan) -> bool:
    """Write the plan under its number; False if somebody was quicker."""
    handle, name = tempfile.mkstemp(dir=where, prefix=".plan-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(msgspec.json.format(msgspec.json.encode(plan), indent=2) + b"\n")
            file.flush()
            os.fsync(file.fileno())
        os.link(name, where / f"{plan.id}.json")
    except FileExistsError:
        return False
    finally:
        with contextlib.suppress(OSError):
            Path(name).unlink()
    return True
