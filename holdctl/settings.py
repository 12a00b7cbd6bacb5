"""The settings of one warmer and one programme, typed; units in the names or beside them, °C inside."""

from datetime import date
from enum import StrEnum
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Celsius = Annotated[float, Meta(ge=-20.0, le=150.0)]
Positive = Annotated[float, Meta(gt=0.0, le=1e6)]
Seconds = Annotated[float, Meta(ge=0.0, le=3600.0)]
Name = Annotated[str, Meta(min_length=1, max_length=60)]
Text = Annotated[str, Meta(min_length=1, max_length=400)]


class Struct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
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


OWN_CODE = "own"  # what `food_code` says where the code is the user's own

PASTE_PLACES = (Place.CORE, Place.MID, Place.EDGE)


class Lid(StrEnum):
    """How the paste is covered."""

    BOXED = "boxed"
    """The whole vessel, lid on, stands in a closed heated box."""
    INSULATED = "insulated"
    """Under about 4 cm of foam or a folded towel."""
    ON = "on"
    """A plain lid."""
    OFF = "off"
    """Open: it loses heat and water fast."""


class Kind(StrEnum):
    """How a warmer brings its heat to the vessel."""

    PLATE = "plate"
    """The vessel stands on a heated plate."""
    JACKET = "jacket"
    """The vessel stands in heated water, or has it in a double wall."""
    BOX = "box"
    """The vessel stands in a closed box of heated air, whether a mat, a lamp or an element warms it."""
    MAT = "mat"
    """A flexible heater lies round or under the vessel, touching it."""


class Material(StrEnum):
    """What a vessel is made of; the thickness that is usual for it is assumed."""

    STEEL = "steel"
    """Sheet, about 1 mm."""
    ALUMINIUM = "aluminium"
    """About 3 mm."""
    GLASS = "glass"
    """About 4 mm."""
    STONEWARE = "stoneware"
    """Stoneware or other earthenware, about 6 mm."""
    PLASTIC = "plastic"
    """About 2 mm."""


class Flour(StrEnum):
    """Flours whose composition is known to `holdctl.paste`."""

    WHITE_WHEAT = "white-wheat"
    """Usual water 1.4 times the flour (common practice)."""
    WHOLE_WHEAT = "whole-wheat"
    """Usual water 2 times the flour (common practice)."""
    WHOLE_RYE = "whole-rye"
    """Usual water 3 times the flour (common practice)."""


class Probe(Struct, frozen=True):
    """One `[[probe]]`: the node's channel, its place and how far it can be trusted."""

    channel: Annotated[int, Meta(ge=1, le=4)]
    """The node's channel: 1 is its t1."""
    place: Place
    """Where it sits; the first one in the paste carries the setpoint."""
    error_k: Annotated[float, Meta(ge=0.0, le=5.0)]
    """Largest error after the offset, K: from the data sheet or from a check in melting ice."""
    offset_k: Annotated[float, Meta(ge=-10.0, le=10.0)] = 0.0
    """Added to what the probe says, K."""
    checked_on: date | None = None
    """When it was last checked, for the record."""
    name: str = ""
    """Your name for it, where two sit at one place."""


class Warmer(Struct, frozen=True):
    """`[warmer]`: the heater and what it warms before the paste."""

    name: Name
    """It names the record, too."""
    power_w: Positive
    """Heater power, W, as on its plate."""
    kind: Kind | None = None
    """How the heat reaches the vessel; may be left out only where `heat_capacity_j_k` is given."""
    stirred: bool = False
    """Whether a paddle keeps the paste moving."""
    cycle_s: Annotated[float, Meta(ge=2.0, le=3600.0)] = 60.0
    """Shortest time between two switch-ons, s: 80 s makes at most 45 an hour."""
    min_on_s: Seconds = 2.0
    """Shortest on-time, s."""
    min_off_s: Seconds = 2.0
    """Shortest off-time, s."""
    heat_capacity_j_k: Positive | None = None
    """Element, jacket water or box lining, and vessel together, J/K: where you know better than the kind."""
    delay_s: Seconds | None = None
    """From the relay to the wall, s: where you know better than the kind; 30 s without a kind."""
    loss_w_k: Annotated[float, Meta(ge=0.0, le=1e4)] | None = None
    """From the wall to the room, W/K: where you know better than the kind; 0.5 W/K without a kind."""


class Vessel(Struct, frozen=True):
    """`[vessel]`: what the paste is in."""

    inner_diameter_cm: Annotated[float, Meta(ge=1.0, le=200.0)]
    """Across the paste, cm."""
    material: Material | None = None
    """What it is made of; left out, it may be any of them."""
    lid: Lid = Lid.ON
    """How the paste is covered."""


class Scald(Struct, frozen=True):
    """`[scald]`: what is in the vessel."""

    flour: Flour
    """Its flour."""
    mass_g: Annotated[float, Meta(ge=10.0, le=1e6)]
    """Flour and water together, g."""
    ratio: Annotated[float, Meta(ge=0.5, le=10.0)] | None = None
    """Water : flour by mass; the flour's usual ratio when left out."""
    begins: Literal["fresh", "chilled"] = "fresh"
    """How it comes into the warmer: just mixed, or cooled earlier and heated again (food codes tell the two apart)."""


class OwnCooling(Struct, frozen=True):
    """One `[[own_code.cooling]]`: a stage of cooling."""

    to_c: Celsius
    """Temperature to be reached, °C."""
    within_min: Positive
    """Within so many minutes."""
    clock_from_c: Celsius
    """The clock starts when the food passes this, °C: give the first stage's again where a total is meant."""


class OwnReheating(Struct, frozen=True):
    """`[own_code.reheating]`: a cooled scald heated again for hot holding."""

    to_c: Celsius
    """What every part must reach, °C."""
    dwell_s: Seconds = 0.0
    """For how long, s."""
    from_c: Celsius | None = None
    """The time starts when the food passes this, °C."""
    within_min: Positive | None = None
    """Time allowed, min; none when left out."""


class OwnHeating(Struct, frozen=True):
    """`[own_code.heating]`: a fresh mix heated for hot holding."""

    to_c: Celsius
    """What every part must reach, °C."""
    within_min: Positive | None = None
    """Time allowed, min; none when left out."""


class OwnTimeControl(Struct, frozen=True):
    """`[own_code.time_control]`: time instead of temperature."""

    longest_min: Positive
    """Then it is discarded."""
    cold_c: Celsius
    """It starts at or below this, °C,"""
    hot_c: Celsius
    """or at or above this, °C."""
    cumulative: bool = False
    """Whether all times between the two are added up, declared or not."""


class OwnCode(Struct, frozen=True):
    """`[own_code]`: the rules that your authority has agreed with you; used where `food_code = "own"`."""

    name: Name
    """What it is called in screens and reports."""
    source: Text
    """Where the text stands: it is printed beside each finding."""
    force: Literal["law", "recommendation"]
    """Whether it binds."""
    hot_holding_c: Annotated[float, Meta(ge=40.0, le=100.0)]
    """Food kept hot is held at or above this, °C."""
    once_below_min: Positive | None = None
    """One single period below it, shorter than this, is allowed; none when left out."""
    cold_holding_c: Annotated[float, Meta(ge=-5.0, le=20.0)] | None = None
    """Food kept cold is held at or below this, °C."""
    cooling: Annotated[tuple[OwnCooling, ...], Meta(max_length=5)] = ()
    """Stages of cooling."""
    reheating: OwnReheating | None = None
    heating: OwnHeating | None = None
    time_control: OwnTimeControl | None = None


class Room(Struct, frozen=True):
    """`[room]`: where it stands."""

    ambient_c: Annotated[float, Meta(ge=-20.0, le=50.0)] = 20.0
    """Usual temperature of the room, °C."""


class Command(Struct, frozen=True):
    """One `[[notify.command]]`: a program of yours that is run with each message as JSON on its standard input."""

    argv: Annotated[tuple[Text, ...], Meta(min_length=1, max_length=20)]
    """Program (its full path) and arguments; no shell reads them."""
    timeout_s: Annotated[float, Meta(ge=1.0, le=120.0)] = 10.0
    """It and what it started are killed after this, s."""
    least: Literal["low", "medium", "high"] = "low"
    """Lowest priority that it is run for."""
    when: Literal["at-once", "unanswered"] = "at-once"
    """With the first message, or only once `escalate_after` repeats went unanswered."""


class Mail(Struct, frozen=True):
    """`[notify.mail]`: messages are put into a folder beside the record; `holdctl mail` sends them from there."""

    server: Text
    """Name of the SMTP server, as its certificate has it."""
    sender: Text
    """Address that the mail is from."""
    to: Annotated[tuple[Text, ...], Meta(min_length=1, max_length=10)]
    """Addresses that get every message."""
    then_to: Annotated[tuple[Text, ...], Meta(max_length=10)] = ()
    """Addresses that get it too once `escalate_after` repeats went unanswered."""
    encryption: Literal["tls", "starttls"] = "tls"
    """Encrypted from the first byte, or by STARTTLS; the certificate is always verified."""
    port: Annotated[int, Meta(ge=1, le=65535)] | None = None
    """Of the server; 465 for tls and 587 for starttls when left out."""
    user: str = ""
    """To log in with; empty: no login."""
    password_file: str = ""
    """File (full path) with the password in its first line, readable by you alone (mode 0600)."""
    ca_file: str = ""
    """File with the certificate to trust, for a server of your own; else those that the system trusts."""
    least: Literal["low", "medium", "high"] = "low"
    """Lowest priority that is mailed."""


class Notify(Struct, frozen=True):
    """`[notify]`: how alarms leave the house, and how often they come again until somebody acknowledges them."""

    repeat_high: str = "5 min"
    """An unacknowledged alarm of high priority is told again after this."""
    repeat_medium: str = "15 min"
    """One of medium priority."""
    repeat_low: str = "1 h"
    """One of low priority."""
    escalate_after: Annotated[int, Meta(ge=1, le=100)] = 2
    """So many repeats without an answer, and the second recipients are told too."""
    command: Annotated[tuple[Command, ...], Meta(max_length=5)] = ()
    """Programs to run."""
    mail: Mail | None = None
    """Where mail goes."""


class Limits(Struct, frozen=True):
    """`[limits]`: high limits at which the daemon trips, °C."""

    paste_high_c: Celsius = 78.0
    """For each probe in the paste."""
    wall_high_c: Celsius = 90.0
    """For a probe at the wall."""


class Control(Struct, frozen=True):
    """`[control]`: how far control may go."""

    wall_floor_c: Celsius | None = None
    """Lowest wall temperature asked for; 1 K above the programme's lower `every_part` when left out."""
    wall_ceiling_c: Celsius | None = None
    """Highest; when left out 0.5 K under `every_part`, on the way what `ceiling` allows; 5 K under `wall_high_c`."""


class Step(Struct, frozen=True):
    """One `[[programme.step]]`: exactly one of a hold (`to` + `for`), a prompt, or a fall (`fall_to`)."""

    to: Celsius | None = None
    """Set temperature at the probe's place, °C; of a prompt: what the relay keeps meanwhile (absent: relay off)."""
    hold_for: str | None = msgspec.field(default=None, name="for")
    """How long every part is held, as `4 h`, `90 min`."""
    prompt: str | None = None
    """What the baker is asked to do; the programme waits."""
    due: str | None = None
    """So long after the step began the prompt is asked, as `80 min`; at once when left out. Until then the paste comes
    up as ever, and once every part is in range the prompt is left out: a stir on the way."""
    wait: str | None = None
    """How long the prompt waits for `holdctl next`, from when it is asked."""
    unanswered: Literal["go-on", "keep-waiting", "stop"] | None = None
    """What happens after `wait`: the next step, on waiting with an alarm, or relay off with an alarm."""
    fall_to: Celsius | None = None
    """Relay off until every part is at or below this, °C."""


class After(Struct, frozen=True):
    """`[programme.after]`: what follows the last step."""

    then: Literal["hot-holding", "relay-off"] = "hot-holding"
    """Keep the paste hot until the baker ends it, or let it cool."""
    to: Celsius | None = None
    """Set temperature of the hot holding, °C; the last hold step's when left out."""
    longest: str = "8 h"
    """After this an alarm, never a silent end."""


class Programme(Struct, frozen=True):
    """`[programme]`: what is done with the paste."""

    step: Annotated[tuple[Step, ...], Meta(min_length=1)]
    """The steps, in order."""
    name: str = "hold"
    """Of the programme."""
    every_part: tuple[Celsius, Celsius] = (62.0, 67.0)
    """Range in which all paste must be for the clock to run, °C."""
    ceiling: Celsius = 70.0
    """Hottest that any paste may get on the way, °C: above 70 °C amylases end (paste that starts hotter may be so)."""
    after: After = After()
    """What follows the last step."""


class Port(Struct, frozen=True):
    """`[port]`: where the node is."""

    url: str
    """Device path (best one of /dev/serial/by-id/), or socket://host:port."""
    baud: Annotated[int, Meta(ge=300, le=4_000_000)] = 115200
    """Of a real serial line."""


class RestartRule(Struct, frozen=True):
    """`[restart]`: what happens to a hold that a crash, a blackout or a suspended computer has interrupted."""

    goes_on_within: str = "15 min"
    """It goes on by itself after a gap up to this long, as `15 min`; `never`: it always waits for you."""
    coldest_c: Celsius | None = None
    """Only where no paste probe reads less, error taken off; the food code's hot-holding limit when left out."""
    forgotten_after: str = "12 h"
    """After a longer gap the old hold is closed as broken off and a new one begins."""


class Settings(Struct, frozen=True):
    """A whole `holdctl.toml`."""

    food_code: str
    """Which code counts: see food-codes.md; “own” is `[own_code]`. Your local authority decides."""
    warmer: Warmer
    vessel: Vessel
    scald: Scald
    probe: Annotated[tuple[Probe, ...], Meta(min_length=1, max_length=4)]
    programme: Programme
    own_code: OwnCode | None = None
    time_control: bool | Literal["from cold", "6 h from cold"] = False
    """True: by a written procedure, time alone controls what leaves hot holding; it is used or discarded at its end.
    “from cold”: what leaves cold holding; “6 h from cold”: never above 21 °C then. Both: `begins = "chilled"`."""
    port: Port | None = None
    independent_cutoff: str | None = None
    """What independent thermal limiter is in series with the heater."""
    test_rig: bool = False
    """True: no heater hangs on this node; allows an accelerated clock and no independent cut-off."""
    notify: Notify = Notify()
    room: Room = Room()
    limits: Limits = Limits()
    control: Control = Control()
    restart: RestartRule = RestartRule()
    units: Literal["C", "F"] = "C"
    """Of temperatures on screens and on the command line; this file is always in °C."""
    untold: tuple[Literal["warmer", "programme", "vessel", "scald"], ...] = ()
    """Tables that stand for nothing, of a cooling that needs none: written into records, never into a file."""
