"""Drivers: serial lines in, `holdctl.events` out. Nothing here decides about heat."""

from holdctl.device.base import Driver, Guarantees
from holdctl.device.node import NodeDriver

__all__ = ["Driver", "Guarantees", "NodeDriver"]
