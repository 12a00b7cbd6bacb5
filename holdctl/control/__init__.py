"""Control of the hold: what is told of the warmer, the estimate of the paste, two loops, and the relay's timing.

A paste is a gel: heat crosses it by conduction alone, so its core answers after an hour while the wall answers
in minutes. One loop on a paste probe therefore cannot hold the paste. Here the outer loop asks for a *wall*
temperature between a floor and a ceiling, the inner loop turns that into duty, and a small estimate carries the
parts of the paste where no probe sits. Everything is a pure function of what it was given: no clock, no I/O.
"""

from holdctl.control.cascade import Cascade
from holdctl.control.controller import Controller
from holdctl.control.estimator import Estimator
from holdctl.control.relay import RelayTiming
from holdctl.control.steady import Profile, steady_profile
from holdctl.control.told import Told, told

__all__ = [
    "Cascade",
    "Controller",
    "Estimator",
    "Profile",
    "RelayTiming",
    "Told",
    "steady_profile",
    "told",
]
