"""Where files live: settings in the user's configuration folder, records in the user's state folder."""

import re
from collections.abc import Callable
from pathlib import Path

from holdctl.errors import ConfigError


def config_folder() -> Path:
    """Return the user's configuration folder for this program."""
    from platformdirs import user_config_path

    return _place(user_config_path)


def state_folder() -> Path:
    """Return the user's state folder for this program; it is made by who writes into it."""
    from platformdirs import user_state_path

    return _place(user_state_path)


def _place(find: Callable[[str], Path]) -> Path:
    try:
        return find("holdctl")
    except (RuntimeError, KeyError):
        raise ConfigError("This user has no home folder: set HOME, or give --config and --record.") from None


def record_path(warmer: str) -> Path:
    """Return the record file of a warmer, named after it."""
    stem = re.sub(r"[^a-z0-9]+", "-", warmer.lower()).strip("-") or "warmer"
    return state_folder() / f"{stem}.db"
