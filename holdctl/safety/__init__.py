"""Interlocks: what takes the relay off, whatever control would like. This package never decides duty."""

from holdctl.safety.interlocks import INTERLOCKS, Interlock, Standing
from holdctl.safety.limits import HighLimit

__all__ = ["INTERLOCKS", "HighLimit", "Interlock", "Standing"]
