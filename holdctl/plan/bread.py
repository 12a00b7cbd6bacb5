"""What `bread.toml` may say, typed: a formula, the scald wished for, and the kitchen. Pure data.

Masses in g, percentages of all flour (baker's percentages), temperatures in °C. `reading` turns it into exact numbers.
"""

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from holdctl.settings import Celsius, Flour, Material, Name, Struct

Grams = Annotated[float, Meta(ge=0.0, le=1e6)]
Percent = Annotated[float, Meta(ge=0.0, le=1000.0)]
Label = Annotated[float, Meta(ge=0.0, le=100.0)]
Step = Annotated[float, Meta(ge=0.001, le=100.0)]


class Label100(Struct, frozen=True):
    """`composition` of a flour of your own: g in 100 g, from its label."""

    water: Label
    """Moisture; 12 to 14 is usual (common practice)."""
    protein: Label
    """As the label says."""
    fat: Label
    """As the label says."""
    carbohydrate: Label
    """With the fibre in it."""
    fibre: Label
    """As the label says."""
    ash: Label
    """Minerals; 0.5 white to 2 whole."""


class FlourEntry(Struct, frozen=True):
    """One `[[flour]]`."""

    name: Name
    """`white-wheat`, `whole-wheat`, `whole-rye`, or a name of your own."""
    grams: Grams | None = None
    """Of it in the bread."""
    percent: Percent | None = None
    """Of all flour; then every amount is in percent and `[batch]` says how much."""
    like: Flour | None = None
    """Of your own flour: the known one that it resembles; ratio, increase and composition are taken from it."""
    ratio: Annotated[float, Meta(gt=0.0, le=10.0)] | None = None
    """Water : flour of a scald of it; 1.4 white wheat, 2 whole wheat, 3 whole rye when left out (common practice)."""
    increase: Annotated[float, Meta(ge=-100.0, le=100.0)] | None = None
    """Points of water more for a dough with a scald of it; 10, 15, 20 when left out (common practice)."""
    composition: Label100 | None = None
    """From its label; that of the known one when left out."""
    in_scald: Annotated[float, Meta(ge=0.0, le=1e6)] | None = None
    """Its parts of the scald's flour. When no flour says so, all go in by their percentages."""


class Water(Struct, frozen=True):
    """`[water]`: exactly one of these, before the scald."""

    grams: Grams | None = None
    """Poured."""
    percent: Percent | None = None
    """Poured, of all flour."""
    hydration: Percent | None = None
    """All water of all flour, what ingredients bring counted; the rest is poured."""


class IngredientEntry(Struct, frozen=True):
    """One `[[ingredient]]`: salt, yeast, seeds, syrup, milk, anything that is neither flour nor water."""

    name: Name
    """Any."""
    grams: Grams | None = None
    """Of it in the bread."""
    percent: Percent | None = None
    """Of all flour."""
    moisture: Label = 0.0
    """Water in it, %: about 87 milk, 75 egg, 17 to 20 honey and syrup (from memory). 0: it doesn't count."""
    into: Literal["dough", "scald"] = "dough"
    """Where it goes."""


class Batch(Struct, frozen=True):
    """`[batch]`: how much; left out, what the grams say."""

    total_g: Annotated[float, Meta(gt=0.0, le=1e7)] | None = None
    """The whole dough with its scald."""
    flour_g: Annotated[float, Meta(gt=0.0, le=1e7)] | None = None
    """All flour."""
    pieces: Annotated[int, Meta(ge=1, le=100_000)] | None = None
    """How many loaves; alone it only tells what one weighs."""
    piece_g: Annotated[float, Meta(gt=0.0, le=1e5)] | None = None
    """Dough of each piece, g; with `pieces` it sets the whole."""


class ScaldEntry(Struct, frozen=True):
    """`[scald]`: what part of the flour is scalded, and how."""

    share: Annotated[float, Meta(ge=-1000.0, le=1000.0)] | None = None
    """Flour in the scald, % of all flour; 15 when left out (common practice 10 to 20)."""
    ratio: Annotated[float, Meta(gt=0.0, le=10.0)] | None = None
    """Water : flour; that of its flours when left out."""
    increase: Annotated[float, Meta(ge=-100.0, le=100.0)] | None = None
    """Points of flour by which the bread gets more water; that of its flours when left out."""
    malt: Annotated[float, Meta(ge=0.0, le=100.0)] = 0.0
    """Diastatic malt, % of the scald's flour (common practice 0 to 10), once the mix is below 70 °C."""


class ScaleEntry(Struct, frozen=True):
    """`[scale]`: what your scales read, g."""

    step_g: Step = 1.0
    """Of the big scale."""
    fine_step_g: Step = 0.1
    """Of the fine scale."""
    fine_below_g: Grams = 20.0
    """Lighter things are weighed on the fine scale."""


class Kitchen(Struct, frozen=True):
    """`[kitchen]`: temperatures and place."""

    room_c: Annotated[float, Meta(ge=0.0, le=50.0)] | None = None
    """That of `holdctl.toml` when left out, else 20."""
    flour_c: Annotated[float, Meta(ge=0.0, le=60.0)] | None = None
    """The room's when left out."""
    cold_water_c: Annotated[float, Meta(ge=0.0, le=60.0)] = 12.0
    """From the cold tap."""
    altitude_m: Annotated[float, Meta(ge=-450.0, le=5000.0)] | None = None
    """Of the kitchen, sea level when left out: water boils at 100 °C less about 1 K for each 300 m."""
    pressure_hpa: Annotated[float, Meta(ge=500.0, le=1100.0)] | None = None
    """Station pressure (not reduced to the sea), where it is known: it goes before the altitude."""


class Mixing(Struct, frozen=True):
    """`[mixing]`: how the scald is mixed."""

    mix_c: Celsius | None = None
    """Temperature wanted right after mixing; chosen by the plan when left out."""
    vessel_g: Grams | None = None
    """Mass of the empty bowl, which takes up heat; left out, it may be thin or heavy and the range is wider."""
    vessel_material: Material = Material.STEEL
    """What it is made of."""
    vessel_c: Celsius | None = None
    """Of the empty vessel; the room's when left out."""
    stir_min: Annotated[float, Meta(ge=0.0, le=60.0)] = 2.0
    """How long it is stirred, min (common practice)."""


class CoolingEntry(Struct, frozen=True):
    """`[cooling]`: how the scald cools after the hold."""

    where: Literal["room", "fridge", "ice-bath"] = "fridge"
    """`ice-bath`: the vessel stands to the height of the paste in water with ice in it."""
    layer_cm: Annotated[float, Meta(ge=0.5, le=30.0)] | None = None
    """Depth it is spread to; as it stands in the warmer's vessel when left out."""


class DoughEntry(Struct, frozen=True):
    """`[dough]`: the final dough."""

    dough_c: Annotated[float, Meta(ge=0.0, le=45.0)] = 26.0
    """Desired dough temperature."""
    scald_c: Annotated[float, Meta(ge=0.0, le=100.0)] = 32.0
    """The scald when it goes in: cooled to 30 to 35 °C before leaven or yeast meets it (common practice)."""
    mixing_min: Annotated[float, Meta(ge=0.0, le=60.0)] = 8.0
    """How long the dough is mixed by machine; 0 by hand (common practice)."""
    mixing_rise_k: Annotated[float, Meta(ge=0.0, le=30.0)] | None = None
    """What mixing adds, K, measured by you; 0.4 K for each minute when left out (common practice)."""
    friction_factor_k: Annotated[float, Meta(ge=0.0, le=60.0)] | None = None
    """The same in the words of the bakers' sum of temperatures, K: so many times an earlier dough's temperature, less
    flour, room and its water (and its preferment or scald). A factor in °F is divided by 1.8."""
    friction_temperatures: Annotated[int, Meta(ge=2, le=6)] = 3
    """With how many temperatures that factor was reckoned: 3 are flour, room and water, 4 one more."""


class Bread(Struct, frozen=True):
    """A whole `bread.toml`."""

    flour: Annotated[tuple[FlourEntry, ...], Meta(min_length=1, max_length=30)]
    """One or more."""
    water: Water
    """Poured."""
    name: Name = "bread"
    """Of the bread."""
    ingredient: Annotated[tuple[IngredientEntry, ...], Meta(max_length=60)] = ()
    batch: Batch = Batch()
    scald: ScaldEntry = ScaldEntry()
    scale: ScaleEntry = ScaleEntry()
    kitchen: Kitchen = Kitchen()
    mixing: Mixing = Mixing()
    cooling: CoolingEntry = CoolingEntry()
    dough: DoughEntry = DoughEntry()


def digest(value: msgspec.Struct) -> str:
    """Return what tells two settings or formulas apart: 16 hexadecimal letters of SHA-256 over their JSON."""
    import hashlib

    return hashlib.sha256(msgspec.json.encode(value, order="deterministic")).hexdigest()[:16]
