"""Where files live: settings in the user's configuration folder, records in the user's state folder."""

import re
from pathlib import Path


def config_folder() -> Path:
    """Return the user's configuration folder for this program."""
    from platformdirs import user_config_path

    return user_config_path("holdctl")


def state_folder() -> Path:
    """Return the user's state folder for this program; it is made by who writes into it."""
    from platformdirs import user_state_path

    return user_state_path("holdctl")


def record_path(warmer: str) -> Path:
    """Return the record file of a warmer, named after it."""
    stem = re.sub(r"[^a-z0-9]+", "-", warmer.lower()).strip("-") or "warmer"
    return state_folder() / f"{stem}.db"
