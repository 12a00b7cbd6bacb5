"""Simulated warmers: heater, vessel, paste, lid and room, with their own physics and their own
discretisation.

Nothing here knows how holdctl controls; only the paste's material properties are shared. All warmers are
invented.
"""

from holdsim.plant import Energy, Plant, Truth
from holdsim.presets import PRESETS, Preset

__all__ = ["PRESETS", "Energy", "Plant", "Preset", "Truth"]
