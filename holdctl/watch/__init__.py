"""The live screen of a hold: reads the record, draws text, changes nothing."""

from holdctl.watch.app import Screen, watch
from holdctl.watch.data import frame_json

__all__ = ["Screen", "frame_json", "watch"]
