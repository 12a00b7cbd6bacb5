"""Interlocks and alarms: what takes the relay off or calls the baker. This package never decides duty."""

from holdctl.safety.alarms import AlarmBook
from holdctl.safety.interlocks import INTERLOCKS, Effect, Interlock, Priority, of
from holdctl.safety.limits import HighLimit
from holdctl.safety.standing import Standing

__all__ = ["INTERLOCKS", "AlarmBook", "Effect", "HighLimit", "Interlock", "Priority", "Standing", "of"]
