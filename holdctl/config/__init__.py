"""`holdctl.toml`: finding it, reading it, saying everything that is wrong with it at once."""

from holdctl.config.load import Loaded, find, load
from holdctl.config.places import record_path, state_folder

__all__ = ["Loaded", "find", "load", "record_path", "state_folder"]
