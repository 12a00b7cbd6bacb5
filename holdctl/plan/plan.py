"""A plan: everything that is known before the night, as plain numbers that can be kept, shown and compared.

One section for each part of the job. A section that nothing filled is None, and no screen shows it; nothing here
computes. Masses in g, temperatures in °C, times in s, percentages of all flour.
"""

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from holdctl.settings import Flour, Programme

VERSION = 1
"""Of this layout; a plan of another version is refused, not guessed at."""


class Part(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=False):
    """Base of all sections: immutable, keywords only. Unknown keys are let through: a later plan may say more."""


class Line(Part, frozen=True):
    """One ingredient as weighed."""

    name: str
    sort: Literal["flour", "water", "malt", "other"]
    scald_g: float
    dough_g: float
    total_g: float
    percent: float


class FormulaPart(Part, frozen=True):
    """`formula`: all ingredients, rounded as the scale reads; the columns add up exactly."""

    lines: tuple[Line, ...]
    flour_g: float
    water_g: float
    """Poured."""
    whole_g: float
    hydration_before: float
    """Of the bread without a scald, what ingredients bring counted, %."""
    hydration_after: float
    brought_g: float = 0.0
    """Water that other ingredients bring."""
    pieces: int | None = None
    piece_g: float | None = None
    """Dough of one piece, the whole divided."""
    step_g: float = 1.0
    fine_step_g: float = 0.1
    fine_below_g: float = 20.0


class ScaldPart(Part, frozen=True):
    """`scald`: what goes into the warmer."""

    flour_g: float
    water_g: float
    malt_g: float
    mass_g: float
    """Everything in it."""
    share: float
    """Flour in it, % of all flour."""
    ratio: float
    """Water : flour."""
    increase: float
    """Points of flour that the bread gets more water."""
    malt: float
    """% of its flour."""
    like: Flour
    """Known flour that it resembles most."""
    composition: tuple[float, float, float, float, float, float]
    """Of its flour, mass fractions: water, protein, fat, carbohydrate without fibre, fibre, ash."""


class MixPart(Part, frozen=True):
    """`mix`: flour and hot water."""

    water_c: float
    """The water, as it meets the flour."""
    mix_c: float
    """Expected right after stirring."""
    low_c: float
    high_c: float
    """Between these it will be with what is not known."""
    boiling_c: float
    """Of water in this kitchen."""
    why: str
    """Why so, in one sentence."""
    boil_first: bool = False
    """Amylases don't outlive it: malt is added later."""
    hot_water_g: float | None = None
    """Boiling."""
    cold_water_g: float | None = None
    """From the cold tap, mixed with it before it is poured; 0 where all is boiling."""
    notes: tuple[str, ...] = ()
    most_c: float | None = None
    """The hottest mix that can be had: all its water boiling."""


class NightPart(Part, frozen=True):
    """`night`: the hold on this warmer, foretold."""

    warmer: str
    known: str
    """What is known of the warmer, in words: identified in which hold, or assumed for its kind."""
    start_c: float
    band_s: tuple[float, float, float] | None
    """Until every part is in range: early, expected, late; None: never."""
    ready_s: tuple[float, float, float] | None
    """Until the programme is done: early, expected, late."""
    coldest_c: float
    hottest_c: float
    """Paste on the way."""
    food_code: str
    code_kept: bool
    """Whether the code's allowance holds on the way, as foretold."""
    verdict: str
    """The same in one sentence, with the rule."""
    energy_kwh: float | None = None
    cost: float | None = None
    evaporation_g: tuple[float, float] | None = None
    """Least and most."""
    nearest: str = ""
    """Where the code is not kept: the nearest plan that keeps it."""
    notes: tuple[str, ...] = ()
    vessel_c: float | None = None
    """Of vessel and warmer when the scald goes in, as told; None: the room's."""
    mind: tuple[str, ...] = ()
    """Notes that no screen is too small for: a heater that is too weak."""
    stir_advised: bool = False
    """The baker stirs when a stir is worth the way, as told."""
    stir_every_min: float | None = None
    """The baker stirs this often until every part is in range, as told."""


class PlanStep(Part, frozen=True):
    """One thing that the baker does."""

    at_s: float | None
    """Seconds after the scald is mixed, as expected; None: when the step before is done."""
    words: str
    alone: bool = False
    """Whether it goes by itself, with nobody there."""


class ProgrammePart(Part, frozen=True):
    """`programme`: the night with the baker in it."""

    steps: tuple[PlanStep, ...]
    settings: Programme | None = None
    """What `holdctl run` does of it."""
    start_utc_ms: int | None = None
    """Latest start for the time asked, UTC."""
    ready_utc_ms: int | None = None


class StagePart(Part, frozen=True):
    """One stage of the food code's cooling rule, as foretold."""

    from_c: float
    """Its clock starts when the coldest paste falls through this,"""
    to_c: float
    """and ends when the hottest is here, °C."""
    within_s: float
    """The code's time."""
    fast_s: float | None
    slow_s: float | None
    """Between these it will take; None: not within a day."""
    met: Literal["yes", "no", "open"]
    """`yes` only where the slow case keeps it."""
    from_f: float | None = None
    to_f: float | None = None
    """The code's own figures in °F, where it has them."""


class CoolingPart(Part, frozen=True):
    """`cooling`: from the hold to the dough or the fridge."""

    where: str
    """`room`, `fridge` or `ice-bath`."""
    way: str
    """The same in words, with the depth."""
    start_c: float
    """All the paste at the begin."""
    depth_cm: float
    """Of the paste."""
    dough_c: float
    """What the dough wants the scald to have,"""
    dough_s: tuple[float | None, float | None]
    """and when it has that once stirred: fast and slow; None: not within a day."""
    rule: str = ""
    """Source of the food code's rule; empty without one."""
    stages: tuple[StagePart, ...] = ()
    kept: Literal["", "yes", "open", "no"] = ""
    """Whether all stages hold; empty where there is none."""
    nearest: str = ""
    """Where they don't: a usual way that keeps them."""
    notes: tuple[str, ...] = ()


class DoughPart(Part, frozen=True):
    """`dough`: the final dough's water."""

    wanted_c: float
    """Desired dough temperature."""
    dough_c: float
    """Expected; the nearest where the desired one can't be had."""
    low_c: float
    high_c: float
    """Between these it will be with what is not known."""
    met: bool
    """Whether the desired one can be had."""
    water_c: float
    """Its water, as poured; the tap's where ice goes in beside it."""
    water_g: float
    """Ice counted."""
    scald_c: float
    """The scald when it goes in."""
    rise_k: float
    """What mixing adds, K."""
    rise_how: str
    """Where that figure is from."""
    ice_g: float = 0.0
    rule_c: float | None = None
    """Water by the bakers' sum of temperatures, °C."""
    rule_dough_c: float | None = None
    """Dough that this would make, °C."""
    why: str = ""
    """Why the rule differs."""
    notes: tuple[str, ...] = ()


class Plan(Part, frozen=True):
    """One plan."""

    name: str
    made_utc_ms: int
    formula: FormulaPart
    scald: ScaldPart
    id: int | None = None
    """Number of a kept plan."""
    version: Annotated[int, Meta(ge=VERSION, le=VERSION)] = VERSION
    bread_digest: str = ""
    settings_digest: str = ""
    """Of the `holdctl.toml` that it was made with; empty: without one."""
    assumed: tuple[str, ...] = ()
    """Fields that common practice filled, dotted."""
    warnings: tuple[str, ...] = ()
    mix: MixPart | None = None
    night: NightPart | None = None
    programme: ProgrammePart | None = None
    cooling: CoolingPart | None = None
    dough: DoughPart | None = None
    bread: dict[str, Any] = {}
    """The `bread.toml` that it was made from, as read."""
