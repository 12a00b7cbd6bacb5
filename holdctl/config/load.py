"""Read `holdctl.toml` into `Settings`, with the origin of every value."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from holdctl.config import unheated as unheated_
from holdctl.config.places import config_folder
from holdctl.config.problems import problems
from holdctl.errors import ConfigError
from holdctl.food.codes import code_of
from holdctl.food.rules import FROM_COLD, FoodCode, declared_time
from holdctl.hold.programme import duration_ms, hot_holding_c
from holdctl.hold.resume import NEVER
from holdctl.safety.contradictions import contradictions
from holdctl.settings import Kind, Settings

FILE_NAME = "holdctl.toml"


@dataclass(frozen=True, slots=True)
class Loaded:
    """Settings, where they came from, and the origin of each value by dotted key."""

    settings: Settings
    path: Path
    origin: dict[str, str]
    unknown: bool = False
    """The file does not tell what cools: only where a cooling may do without."""


def find(given: Path | None) -> Path:
    """Return the file to read: the one given, else here, else the user's. Raises ConfigError where there is none."""
    if given is not None:
        if not given.is_file():
            raise ConfigError(
                f"There is no file {given}; `holdctl config --example > {given}` writes one to start from."
            )
        return given
    for folder in (Path.cwd(), config_folder()):
        if (folder / FILE_NAME).is_file():
            return folder / FILE_NAME
    raise ConfigError(
        f"No {FILE_NAME} here nor in {config_folder()}; `holdctl config --example > {FILE_NAME}` writes one to start "
        "from, `holdctl demo` needs none."
    )


def load(given: Path | None = None, *, port: str | None = None, unheated: bool = False) -> Loaded:
    """Read, check and return the settings; `port` overrides `port.url`. Raises ConfigError with every problem.

    `unheated`: for a cooling, which needs no warmer and no programme.
    """
    path = find(given)
    data = _parse(path)
    unknown = unheated and unheated_.unknown(data)
    origin = dict.fromkeys(_keys(data), str(path))
    if port is not None:
        table = data.setdefault("port", {})
        if isinstance(table, dict):  # else it is said below what is wrong with it
            table["url"] = port
            origin["port.url"] = "command line"
    written = unheated_.UNTOLD in data
    data = unheated_.filled(data) if unheated else data
    found = problems(data, Settings)
    if written:
        found.insert(0, f"{unheated_.UNTOLD}: unknown key; holdctl alone writes it. Take the line out.")
    settings = None
    if not found:
        settings = msgspec.convert(data, Settings)
        found = [*_durations(settings), *_warmer(settings), *_food_code(settings), *contradictions(settings)]
        found += _writable(path, settings)
    if settings is None or found:
        head = f"{path} can't be used" + (f" ({len(found)} problems)" if len(found) > 1 else "") + ":"
        raise ConfigError("\n  ".join([head, *found]) if len(found) > 1 else f"{head} {found[0]}")
    return Loaded(settings, path, {key: origin.get(key, "default") for key in flat(settings)}, unknown)


def _parse(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{path} is not valid TOML: {error}. Mend that line and try again.") from None
    except UnicodeDecodeError:
        raise ConfigError(f"{path} can't be read: save it as UTF-8 and try again.") from None
    except OSError as error:
        raise ConfigError(f"{path} can't be read ({error.strerror}): look at its permissions.") from None


def _keys(value: Any, prefix: str = "") -> dict[str, Any]:
    """Return every leaf by its dotted key; list entries count from 1."""
    if isinstance(value, dict):
        items = [(str(key), item) for key, item in value.items()]
    elif isinstance(value, list | tuple) and any(isinstance(item, dict) for item in value):
        items = [(str(number), item) for number, item in enumerate(value, start=1)]
    else:
        return {prefix: value}
    return {k: v for key, item in items for k, v in _keys(item, f"{prefix}.{key}" if prefix else key).items()}


def flat(settings: Settings) -> dict[str, Any]:
    """Return every effective value by its dotted key, as a file may have it."""
    values = _keys(msgspec.to_builtins(settings))
    values.pop(unheated_.UNTOLD)
    return values


def _durations(settings: Settings) -> list[str]:
    programme = settings.programme
    within = settings.restart.goes_on_within
    texts = {
        "programme.after.longest": programme.after.longest,
        "restart.goes_on_within": "" if within == NEVER else within,
        "restart.forgotten_after": settings.restart.forgotten_after,
    }
    for number, step in enumerate(programme.step, start=1):
        texts[f"programme.step {number}.for"] = step.hold_for or ""
        texts[f"programme.step {number}.wait"] = step.wait or ""
    for name in ("repeat_high", "repeat_medium", "repeat_low"):
        texts[f"notify.{name}"] = getattr(settings.notify, name)
    found = []
    for key, text in texts.items():
        try:
            if text:
                duration_ms(text)
        except ConfigError as error:
            found.append(f"{key}: {error}")
    return found


def _warmer(settings: Settings) -> list[str]:
    if settings.warmer.kind is not None or settings.warmer.heat_capacity_j_k is not None:
        return []
    known = ", ".join(f"“{kind.value}”" for kind in Kind)
    return [f"warmer.kind: missing. Write one of {known}, or give heat_capacity_j_k instead."]


def _writable(path: Path, settings: Settings) -> list[str]:
    """Commands are run from this file: only its owner may write them into it."""
    if settings.notify.command and path.stat().st_mode & 0o022:
        return [f"notify.command: others may write this file; `chmod go-w {path}` first."]
    return []


def _food_code(settings: Settings) -> list[str]:
    try:
        named = code_of(settings)
    except ConfigError as error:
        return [f"food_code: {error}"]
    return list(_time_control(settings, named)) if settings.time_control else []


def _time_control(settings: Settings, named: FoodCode) -> Iterator[str]:
    rule = declared_time(named, settings.time_control)
    if rule is None:
        yield f"time_control: {named.name} has no such rule that is known here; take the line out."
        return
    if settings.time_control not in FROM_COLD:
        return
    if settings.scald.begins != "chilled":
        yield f'time_control: “{settings.time_control}” wants `begins = "chilled"` in [scald].'
    programme, top = settings.programme, rule.never_above_c
    asked = [step.to for step in programme.step if step.to is not None]
    after = hot_holding_c(programme) if programme.after.then == "hot-holding" else None
    hottest = max([*asked, *([] if after is None else [after])], default=None)
    if top is not None and hottest is not None and hottest > top:
        yield (
            f"time_control: this programme heats to {hottest:g} °C, and {rule.source} ends above {top:g} °C: a prompt "
            'without `to`, and then = "relay-off" in [programme.after].'
        )
