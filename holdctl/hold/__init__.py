"""One hold: `Hold.step(event, now) → Decision`, pure, deterministic and replayable."""

from holdctl.hold.hold import Hold
from holdctl.hold.outlook import outlook
from holdctl.hold.replay import replay

__all__ = ["Hold", "outlook", "replay"]
