"""What several commands ask of a command line: the settings beside it, if any, and its temperatures in °C."""

from pathlib import Path
from typing import TYPE_CHECKING

from holdctl.errors import ConfigError

if TYPE_CHECKING:
    from holdctl.settings import Settings


def celsius(value: float | None, units: str) -> float | None:
    """Return a temperature of the command line in °C; `units` are the user's."""
    return value if value is None or units != "F" else (value - 32.0) / 1.8


def settings_of(config_file: Path | None) -> "Settings | None":
    """Return the warmer's settings; None where there are none and none were asked for.

    Raises ConfigError where a file was asked for and is not there, or says what can't be.
    """
    from holdctl.config import find, load

    try:
        path = find(config_file)
    except ConfigError:
        if config_file is not None:
            raise
        return None
    return load(path).settings
