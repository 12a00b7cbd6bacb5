"""The settings of one warmer and one programme, as typed values: what `holdctl.toml` may say.

Pure data, no files: `holdctl.config` reads and checks them. Units stand in the names or beside them; °C inside.
"""

from datetime import date
from enum import StrEnum
from typing import Literal

import msgspec


class Struct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=None):
    """Base of all settings: immutable, keywords only, unknown keys refused."""


class Place(StrEnum):
    """Where a probe sits."""

    CORE = "core"
    """In the middle of the paste."""
    MID = "mid"
    """Halfway between axis and wall, half the height."""
    EDGE = "edge"
    """In the paste, within a centimetre of the wall."""
    WALL = "wall"
    """On the heated wall of the vessel."""
    AIR = "air"
    """In the room: informs, never controls."""


PASTE_PLACES = (Place.CORE, Place.MID, Place.EDGE)


class Lid(StrEnum):
    """How the paste is covered."""

    INSULATED = "insulated"
    ON = "on"
    OFF = "off"


class Flour(StrEnum):
    """Flours whose composition is known to `holdctl.paste`."""

    WHITE_WHEAT = "white-wheat"
    WHOLE_WHEAT = "whole-wheat"
    WHOLE_RYE = "whole-rye"


class Probe(Struct):
    """One `[[probe]]`: the node's channel, its place and how far it can be trusted."""

    channel: int
    place: Place
    error_k: float
    """Largest error after the offset, K: from the data sheet or from a check in melting ice."""
    offset_k: float = 0.0
    """Added to what the probe says, K."""
    checked_on: date | None = None
    name: str = ""


class Warmer(Struct):
    """`[warmer]`: the heater and what it warms before the paste."""

    name: str
    power_w: float
    heat_capacity_j_k: float
    """Element, jacket water or box air, and vessel wall together, J/K."""
    delay_s: float = 30.0
    """From the relay to the wall, s."""
    loss_w_k: float = 0.5
    """From the wall to the room, W/K."""
    stirred: bool = False
    cycle_s: float = 60.0
    min_on_s: float = 2.0
    min_off_s: float = 2.0


class Vessel(Struct):
    """`[vessel]`."""

    inner_diameter_cm: float
    lid: Lid = Lid.ON


class Scald(Struct):
    """`[scald]`: what is in the vessel."""

    flour: Flour
    mass_g: float
    ratio: float | None = None
    """Water : flour by mass; the flour's usual ratio when left out."""


class Room(Struct):
    """`[room]`."""

    ambient_c: float = 20.0


class Limits(Struct):
    """`[limits]`: high limits at which the daemon trips, °C."""

    paste_high_c: float = 78.0
    wall_high_c: float = 90.0


class Control(Struct):
    """`[control]`: how far control may go."""

    wall_floor_c: float | None = None
    """Lowest wall temperature asked for; the programme's lower `every_part` when left out."""
    wall_ceiling_c: float | None = None
    """Highest wall temperature asked for; the programme's upper `every_part` when left out."""


class Step(Struct):
    """One `[[programme.step]]`: exactly one of a hold (`to` + `for`), a prompt, or a fall (`fall_to`)."""

    to: float | None = None
    """Set temperature at the probe's place, °C; of a prompt: what the relay keeps meanwhile (absent: relay off)."""
    hold_for: str | None = msgspec.field(default=None, name="for")
    """How long every part is held, as `4 h`, `90 min`."""
    prompt: str | None = None
    wait: str | None = None
    """How long the prompt waits for `holdctl next`."""
    unanswered: Literal["go-on", "keep-waiting", "stop"] | None = None
    """What happens after `wait`: the next step, on waiting with an alarm, or relay off with an alarm."""
    fall_to: float | None = None
    """Relay off until every part is at or below this, °C."""


class After(Struct):
    """`[programme.after]`: what follows the last step."""

    then: Literal["hot-holding", "relay-off"] = "hot-holding"
    to: float | None = None
    """Set temperature of the hot holding, °C; the last hold step's when left out."""
    longest: str = "8 h"
    """After this an alarm, never a silent end."""


class Programme(Struct):
    """`[programme]`."""

    step: tuple[Step, ...]
    name: str = "hold"
    every_part: tuple[float, float] = (62.0, 67.0)
    """Range in which all paste must be for the clock to run, °C."""
    after: After = After()


class Port(Struct):
    """`[port]`: where the node is."""

    url: str
    baud: int = 115200


class Settings(Struct):
    """A whole `holdctl.toml`."""

    food_code: str
    warmer: Warmer
    vessel: Vessel
    scald: Scald
    probe: tuple[Probe, ...]
    programme: Programme
    port: Port | None = None
    independent_cutoff: str | None = None
    """What independent thermal limiter is in series with the heater."""
    test_rig: bool = False
    """True: no heater hangs on this node; allows an accelerated clock and no independent cut-off."""
    room: Room = Room()
    limits: Limits = Limits()
    control: Control = Control()
    units: Literal["C", "F"] = "C"
    """Of temperatures on screens and on the command line; this file is always in °C."""
