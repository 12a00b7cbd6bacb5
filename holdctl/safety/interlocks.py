"""The table of interlocks and alarms: code, screens and docs use this one.

Each row says what is watched, what follows, what the baker does and in what time, and what it does to the heat: a
*trip* takes the relay off (lease 0), *limits power* keeps the heat down, *alarm only* leaves the heat alone, because
cutting it would spoil the food. Words and delays are those of alarm rationalisation after ISA-18.2 / IEC 62682
(secondary sources): an alarm without an action for the baker would be an event, and is none of these.
"""

from dataclasses import dataclass
from enum import StrEnum


class Effect(StrEnum):
    """What a row does to the heat."""

    TRIP = "trip"
    LIMITS_POWER = "limits power"
    ALARM_ONLY = "alarm only"


class Priority(StrEnum):
    """How soon somebody has to act."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row."""

    name: str
    cause: str
    consequence: str
    what_to_do: str
    respond: str
    """Time in which the baker has to act, in words."""
    effect: Effect
    priority: Priority
    latched: bool = False
    """A trip that stays, through restarts, until a person resets it by name; only once its cause is gone."""
    waits: bool = False
    """A trip after which the hold waits for a person, though it is not latched through restarts."""
    on_delay_s: float = 0.0
    """The condition must last so long before the alarm is raised."""
    off_delay_s: float = 0.0
    """It must be gone so long before the alarm clears."""
    deadband: str = ""
    """How far back a value must come, in words; empty where the condition is yes or no."""
    paste: str = ""
    """What to do with the paste; empty where the alarm does not concern it."""


_T, _P, _A = Effect.TRIP, Effect.LIMITS_POWER, Effect.ALARM_ONLY
_HIGH, _MEDIUM, _LOW = Priority.HIGH, Priority.MEDIUM, Priority.LOW
_COOLED = "see in the review how long and how far it cooled; reheat or discard as your food code says"
_HOT = (
    "see in the review how hot it got: above 70 °C amylases end; it is still food, but no longer this scald"
)
_UNSEEN = (
    "see in the review for how long nobody knew how warm it was: your food code counts that as the worst"
)

_ROWS = (
    # Trips ------------------------------------------------------------------------------------------------------
    Interlock(
        "relay-welded",
        "the relay is closed although it was told to be open",
        "no program can switch this heater off; only the independent thermal cut-off limits the heat",
        "pull the plug now; have relay and wiring checked before the next night, then `holdctl reset relay-welded`",
        "at once", _T, _HIGH, latched=True, paste=_HOT,
    ),
    Interlock(
        "high-limit",
        "paste or wall above its high limit",
        "the relay is told to be off until it is reset by name",
        "find out why it ran hot, let it fall 2 K below the limit, then `holdctl reset high-limit`",
        "10 min", _T, _HIGH, latched=True, deadband="2 K", paste=_HOT,
    ),
    Interlock(
        "node-cutout",
        "the node's own cut-out has opened the relay",
        "the node keeps its relay open, through reboots, until it is cleared",
        "find out why it ran hot, let it fall 5 K below the cut-out, then `holdctl reset node-cutout`",
        "10 min", _T, _HIGH, deadband="5 K", paste=_HOT,
    ),
    Interlock(
        "other-host",
        "the node obeyed a command that this program never sent",
        "lease 0: two hosts must not share one relay",
        "find and stop the other program, then `holdctl reset other-host`",
        "5 min", _T, _HIGH, latched=True, paste=_COOLED,
    ),
    Interlock(
        "no-reading",
        "no valid reading for 3 s",
        "lease 0; the paste cools until readings return",
        "check the cable and the node's power",
        "15 min", _T, _HIGH, paste=_COOLED,
    ),
    Interlock(
        "link-down",
        "the serial line is gone",
        "the relay falls with its lease; the paste cools",
        "plug the node in again; it is picked up by itself",
        "15 min", _T, _HIGH, paste=_COOLED,
    ),
    Interlock(
        "probe-fault",
        "a fitted probe is open, shorted or out of range",
        "lease 0 until every fitted probe reads again",
        "check that probe's plug and cable",
        "15 min", _T, _HIGH, paste=_COOLED,
    ),
    Interlock(
        "probe-out",
        "a probe jumps as only one outside the paste can",
        "lease 0 until it is back: heating by it would cook the paste",
        "put the probe back where it was; if it is there, `holdctl reset probe-out`",
        "15 min", _T, _HIGH, deadband="3 K", paste=_COOLED,
    ),
    Interlock(
        "probe-frozen",
        "a probe repeats one value where it should move",
        "lease 0 until it moves again",
        "check that probe and its node; restart the node",
        "15 min", _T, _HIGH, paste=_COOLED,
    ),
    Interlock(
        "no-acknowledgement",
        "the node has not acknowledged a lease for 5 readings",
        "lease 0 until it does; the relay falls with its last lease",
        "check the cable from computer to node, and that its longest lease fits",
        "15 min", _T, _HIGH, paste=_COOLED,
    ),
    Interlock(
        "daemon-late",
        "this program answered a reading too late, or was suspended",
        "lease 0 for that reading; goes on by itself once it is in time",
        "keep the computer awake and free of other work",
        "15 min", _T, _MEDIUM, off_delay_s=10.0, paste=_COOLED,
    ),
    Interlock(
        "restart-wait",
        "the hold was interrupted too long, or something has changed since",
        "lease 0 until you decide",
        "look at the paste, then `holdctl reset restart-wait` to go on or `holdctl stop`",
        "30 min", _T, _HIGH, waits=True, paste=_COOLED,
    ),
    Interlock(
        "unanswered",
        "a prompt was not answered in time",
        "lease 0, as the programme says",
        "look at the paste, then `holdctl next`",
        "30 min", _T, _HIGH, waits=True, paste=_COOLED,
    ),
    # Power kept down --------------------------------------------------------------------------------------------
    Interlock(
        "over-ceiling",
        "paste or wall is estimated above what the programme allows",
        "power is kept down until it has fallen",
        "stir, lift the lid for a moment, or wait",
        "15 min", _P, _MEDIUM, on_delay_s=60.0, off_delay_s=60.0, deadband="0.5 K", paste=_HOT,
    ),
    Interlock(
        "probe-jump",
        "a probe jumps again and again",
        "power may not rise on a reading that is in doubt",
        "check that probe's plug and cable",
        "30 min", _P, _MEDIUM, off_delay_s=300.0,
    ),
    Interlock(
        "short-lease",
        "the node grants leases too short to bridge two readings",
        "it heats little",
        "set the node's longest lease to 2.5 s or more",
        "30 min", _P, _MEDIUM, paste=_COOLED,
    ),
    # Alarm only: cutting the heat would spoil the food ---------------------------------------------------------
    Interlock(
        "no-heat",
        "power is asked for and no heat comes",
        "the paste cools; heat goes on being asked for, so it clears when the mains returns",
        "look at plug, fuse, heater and thermal link; keep hands off the wiring",
        "15 min", _A, _HIGH, off_delay_s=60.0, deadband="half", paste=_COOLED,
    ),
    Interlock(
        "heat-unordered",
        "more heat comes than was ordered: is the relay welded?",
        "power is kept down by control; if the relay is welded only the independent thermal cut-off limits the heat",
        "go and look: if it heats with the relay reported off, pull the plug",
        "at once", _A, _HIGH, off_delay_s=300.0, deadband="half", paste=_HOT,
    ),
    Interlock(
        "heat-missing",
        "the warmer loses more heat than it gets: lid? heater?",
        "power is raised as far as it goes; the paste may cool",
        "close the lid, stop the draught, look at the heater",
        "15 min", _A, _MEDIUM, off_delay_s=120.0, deadband="half", paste=_COOLED,
    ),
    Interlock(
        "slow-come-up",
        "the paste comes up much slower than foretold",
        "it stays longer in the range where germs grow",
        "look at lid, vessel and batch; stir; the review says what the food code makes of it",
        "30 min", _A, _MEDIUM, paste="see in the review which rule of your food code was met or not",
    ),
    Interlock(
        "probes-disagree",
        "two probes can't both be right",
        "the estimate is a compromise between them",
        "check where each sits; compare both in one cup of warm water",
        "next morning", _A, _MEDIUM, on_delay_s=60.0, off_delay_s=300.0, deadband="half",
    ),
    Interlock(
        "record-failing",
        "the record can't be written",
        "samples wait in memory; what does not fit there is a gap in the record",
        "look at the disk; keep this program running",
        "1 h", _A, _HIGH,
    ),
    Interlock(
        "disk-full",
        "the disk is full",
        "samples wait in memory; what does not fit there is a gap in the record",
        "make room on the disk; keep this program running",
        "1 h", _A, _HIGH,
    ),
    Interlock(
        "clock-jumped",
        "the computer's wall clock has jumped",
        "nothing is controlled by it; times of day before and after do not fit",
        "set the clock right; the order of the record is not touched",
        "next morning", _A, _LOW, off_delay_s=600.0,
    ),
    Interlock(
        "node-clock",
        "the node's clock and this computer's run apart",
        "leases may last longer or shorter than asked",
        "restart the node; if it comes again, replace it",
        "next morning", _A, _MEDIUM, off_delay_s=600.0,
    ),
    Interlock(
        "spool",
        "requests can't be read",
        "`holdctl stop` and the like do not reach this hold; Ctrl-C or SIGTERM does",
        "look at the folder's owner and permissions",
        "1 h", _A, _MEDIUM,
    ),
    Interlock(
        "prompt-unanswered",
        "a prompt was not answered in time",
        "the programme does what it says for that",
        "look at the paste, then `holdctl next`",
        "30 min", _A, _MEDIUM,
    ),
    Interlock(
        "hot-holding-long",
        "hot holding has lasted longer than the programme says",
        "the paste is kept hot until you end it",
        "use the paste, or `holdctl stop`",
        "1 h", _A, _LOW,
    ),
    Interlock(
        "cooling-slow",
        "a declared cooling will not keep the food code's time, as it goes now",
        "the cooling goes on and is followed",
        "spread it thinner, ice bath, stir; then tell it: `holdctl cool --in ice-bath`",
        "10 min", _A, _HIGH, deadband="as it is foretold",  # no deviation: nothing has been missed yet
    ),
    Interlock(
        "cooling-missed",
        "a time that the food code gives a cooling has passed",
        "the cooling goes on and is followed",
        "discard the paste, or ask your local authority; enter what you did with `holdctl disposition`",
        "1 h", _A, _HIGH,
        paste="discard it unless your authority says otherwise; baking does not undo a toxin that heat does not harm",
    ),
    Interlock(
        "cooling-never",
        "a declared cooling will not become cold, as it goes now",
        "the cooling goes on and is followed",
        "stir it, spread it thinner, or put it into the fridge; then tell it: `holdctl cool --in fridge`",
        "30 min", _A, _MEDIUM, deadband="as it is foretold",
    ),
    Interlock(
        "cooling-still",
        "a probe repeats one value in a declared cooling, while the paste must be moving",
        "its readings count as none; the time of the cooling runs on",
        "look at probe and cable; measure the paste with another thermometer",
        "10 min", _A, _HIGH, paste=_UNSEEN,
    ),
    Interlock(
        "cooling-out",
        "a probe went at once to where no paste is in a declared cooling: it may have slipped out",
        "its readings count as none until it agrees with the paste again; the time of the cooling runs on",
        "put the probe back into the middle of the paste, then say `holdctl cool` again as it stands",
        "10 min", _A, _HIGH, paste=_UNSEEN,
    ),
    Interlock(
        "alarm-flood",
        "more than ten alarms within ten minutes",
        "messages of single alarms go to the record only",
        "begin with the first: it is named on the screen",
        "15 min", _A, _HIGH,
    ),
)  # fmt: skip

INTERLOCKS = {row.name: row for row in _ROWS}
"""Every row by name."""


def of(name: str) -> Interlock:
    """Return the row of a name; a name that is not in the table counts as a latched trip: off is the right side."""
    row = INTERLOCKS.get(name)
    if row is not None:
        return row
    what = f"`holdctl reset {name}`"
    return Interlock(name, "unknown", "lease 0", what, "at once", Effect.TRIP, Priority.HIGH, latched=True)
