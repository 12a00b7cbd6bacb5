"""What may be said of the relay: off only where the node has just reported it so and nothing speaks against it."""

from holdctl.events import ProbeFault, State
from holdctl.hold.states import WORDS
from holdctl.watch.alarm_lines import WELDED
from holdctl.watch.snapshot import STALE_S, Snapshot


def relay_words(shot: Snapshot) -> str:
    """Return `relay off` where that is known, else what it was told."""
    sample = shot.sample
    if sample is None or not _heard(shot) or sample.reading.relay or sample.reading.feedback is True:
        return "relay told to be off"
    return "relay told to be off" if welded(shot) else "relay off"


def welded(shot: Snapshot) -> bool:
    """Return whether the contact is known not to follow the relay's drive."""
    return any(alarm.name == WELDED for alarm in shot.alarms)


def state_words(shot: Snapshot) -> str:
    """Return how a screen says the procedural state, with what is known of the relay."""
    waiting = f"waiting for you, {relay_words(shot)}"
    return waiting if shot.state is State.HELD else WORDS[shot.state]


def _heard(shot: Snapshot) -> bool:
    """Return whether the node has just spoken; with a faulty probe too, it says how its relay is."""
    if shot.sample is None or shot.gone or shot.silent_s > STALE_S:
        return False
    faulty = any(isinstance(temp, ProbeFault) for temp in shot.sample.reading.temps)
    down = any(alarm.name == "link-down" and alarm.stands for alarm in shot.alarms)
    return not down and (faulty or not shot.lapsed)
