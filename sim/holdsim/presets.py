"""Invented warmers, from a lamp in a box to a stirred kettle: forty watts to two kilowatts, half a kilo to
twelve.
"""

from dataclasses import dataclass

from holdctl.settings import Flour, Kind, Lid, Material, Place
from holdsim.losses import Facing, Surface
from holdsim.plant import Plant
from holdsim.probes import ProbeSpec
from holdsim.settings_text import Figures, Nominal, settings_text
from holdsim.warmer import Body, Cover, Fill, Link, Warmer


@dataclass(frozen=True)
class Preset:
    """A warmer with its usual fill, lid and probes, and what a baker is told about it."""

    name: str
    title: str
    description: str
    warmer: Warmer
    fill: Fill
    lid: Lid
    probes: tuple[ProbeSpec, ...]
    nominal: Nominal

    def build(
        self,
        *,
        seed: int = 0,
        ambient_c: float = 20.0,
        start_c: float = 66.0,
        vessel_c: float | None = None,
        lid: Lid | None = None,
        disturbances: bool = False,
    ) -> Plant:
        """Return a plant with its paste at `start_c` and heater and vessel at `vessel_c` (None: as the
        paste).
        """
        return Plant(
            self.warmer,
            self.fill,
            self.probes,
            seed=seed,
            ambient_c=ambient_c,
            start_c=start_c,
            vessel_c=vessel_c,
            lid=self.lid if lid is None else lid,
            disturbances=disturbances,
        )

    def settings_toml(
        self, food_code: str = "fda-2022", port_url: str | None = None, programme_toml: str | None = None
    ) -> str:
        """Return a complete holdctl.toml for this warmer, with the round figures that a baker would know."""
        return settings_text(self, food_code, port_url, programme_toml)


_PROBES = (
    ProbeSpec(Place.MID, lag_s=15.0, resolution_k=0.0625, noise_k=0.02),
    ProbeSpec(Place.WALL, lag_s=5.0, resolution_k=0.0625, noise_k=0.02),
)

_MAT_BOX = Preset(
    "mat-box",
    "Heat mat in an insulated box",
    "A 60 W mat on the floor of an insulated box warms a one-kilogram tin from below and all round.",
    Warmer(
        power_w=60.0,
        radius_m=0.070,
        bodies=(
            Body("heater", 120.0),
            Body("base", 220.0),
            Body("side", 260.0),
            Body("lid", 120.0),
            Body("box", 250.0),
            Body("casing", 500.0, outer=True),
        ),
        links=(
            Link("heater", "base", 2.5),
            Link("heater", "box", 1.6),
            Link("base", "side", 2.5),
            Link("box", "side", 0.8),
            Link("side", "lid", 0.15),
            Link("box", "casing", 0.35),
        ),
        surfaces=(Surface("casing", 0.45, 0.25),),
        cover=Cover("box", on_w_k=0.15, insulated_w_k=0.06),
        hot_wall="base",
    ),
    Fill(Flour.WHITE_WHEAT, 1.4, 1.0),
    Lid.BOXED,
    _PROBES,
    Nominal(power_w=60.0, cycle_s=80.0, kind=Kind.BOX, material=Material.STEEL),
)

_JACKET = Preset(
    "jacket",
    "Water jacket on a hotplate",
    "A pot of two kilograms stands in a water jacket on a 600 W hotplate; jacket and lid are wrapped.",
    Warmer(
        power_w=600.0,
        radius_m=0.080,
        bodies=(
            Body("heater", 700.0),
            Body("jacket", 6300.0),
            Body("base", 150.0),
            Body("side", 350.0),
            Body("lid", 200.0),
            Body("cover", 60.0, outer=True),
            Body("casing", 300.0, outer=True),
        ),
        links=(
            Link("heater", "jacket", 25.0),
            Link("jacket", "base", 14.0),
            Link("jacket", "side", 30.0),
            Link("side", "lid", 0.5),
            Link("jacket", "casing", 0.5),
            Link("heater", "casing", 0.2),
        ),
        surfaces=(
            Surface("casing", 0.13, 0.15, emissivity=0.6),
            Surface("cover", 0.028, 0.045, Facing.UP),
        ),
        cover=Cover("cover", on_w_k=5.0, insulated_w_k=0.06),
        hot_wall="base",
        headspace_w_m2k=15.0,
    ),
    Fill(Flour.WHOLE_WHEAT, 2.0, 2.0),
    Lid.INSULATED,
    _PROBES,
    Nominal(
        power_w=600.0,
        cycle_s=80.0,
        material=Material.STEEL,
        figures=Figures(heat_capacity_j_k=7500.0, delay_s=40.0, loss_w_k=0.5),
    ),
)

_LAMP_BOX = Preset(
    "lamp-box",
    "Lamp in a box",
    "A 40 W lamp in a small lined box shines on a jar of half a kilogram.",
    Warmer(
        power_w=40.0,
        radius_m=0.050,
        bodies=(
            Body("heater", 25.0),
            Body("base", 90.0),
            Body("side", 260.0),
            Body("lid", 80.0),
            Body("box", 180.0),
            Body("casing", 300.0, outer=True),
        ),
        links=(
            Link("heater", "box", 0.8),
            Link("heater", "side", 0.35),
            Link("box", "base", 0.15),
            Link("box", "side", 0.7),
            Link("base", "side", 0.3),
            Link("side", "lid", 0.1),
            Link("box", "casing", 0.45),
        ),
        surfaces=(Surface("casing", 0.30, 0.22),),
        cover=Cover("box", on_w_k=0.15, insulated_w_k=0.05),
        hot_wall="side",
    ),
    Fill(Flour.WHITE_WHEAT, 1.4, 0.5),
    Lid.BOXED,
    _PROBES,
    Nominal(
        power_w=40.0,
        cycle_s=80.0,
        material=Material.GLASS,
        figures=Figures(heat_capacity_j_k=550.0, delay_s=60.0, loss_w_k=0.35),
    ),
)

_SMALL_POT = Preset(
    "small-pot",
    "Small thick pot on a strong plate",
    "A thick aluminium pot with 700 g on a 1 kW cast plate, wrapped at the side and under a padded lid.",
    Warmer(
        power_w=1000.0,
        radius_m=0.060,
        bodies=(
            Body("heater", 1400.0),
            Body("base", 400.0),
            Body("side", 500.0),
            Body("lid", 220.0),
            Body("cover", 40.0, outer=True),
            Body("casing", 120.0, outer=True),
        ),
        links=(
            Link("heater", "base", 20.0),
            Link("base", "side", 9.0),
            Link("side", "lid", 0.7),
            Link("side", "casing", 0.08),
            Link("heater", "casing", 0.15),
        ),
        surfaces=(
            Surface("casing", 0.06, 0.08, emissivity=0.6),
            Surface("cover", 0.018, 0.035, Facing.UP),
        ),
        cover=Cover("cover", on_w_k=4.0, insulated_w_k=0.045),
        hot_wall="base",
        headspace_w_m2k=15.0,
    ),
    Fill(Flour.WHITE_WHEAT, 2.0, 0.7),
    Lid.INSULATED,
    _PROBES,
    Nominal(
        power_w=1000.0,
        cycle_s=80.0,
        material=Material.ALUMINIUM,
        figures=Figures(heat_capacity_j_k=2300.0, delay_s=60.0, loss_w_k=0.2),
    ),
)

_STIRRED_KETTLE = Preset(
    "stirred-kettle",
    "Kettle with a paddle",
    "A jacketed bakery kettle of 2 kW holds twelve kilograms under a lid while a paddle keeps them moving.",
    Warmer(
        power_w=2000.0,
        radius_m=0.150,
        bodies=(
            Body("heater", 1500.0),
            Body("jacket", 14000.0),
            Body("base", 1500.0),
            Body("side", 3500.0),
            Body("lid", 1200.0),
            Body("cover", 50.0, outer=True),
            Body("casing", 2500.0, outer=True),
        ),
        links=(
            Link("heater", "jacket", 60.0),
            Link("jacket", "base", 30.0),
            Link("jacket", "side", 70.0),
            Link("side", "lid", 1.5),
            Link("jacket", "casing", 1.2),
        ),
        surfaces=(
            Surface("casing", 0.55, 0.3, emissivity=0.3),
            Surface("cover", 0.09, 0.08, Facing.UP, emissivity=0.3),
        ),
        cover=Cover("cover", on_w_k=20.0, insulated_w_k=0.3),
        hot_wall="side",
        contact_w_m2k=250.0,
        headspace_w_m2k=15.0,
        stirred=True,
    ),
    Fill(Flour.WHOLE_RYE, 3.0, 12.0),
    Lid.ON,
    _PROBES,
    Nominal(power_w=2000.0, cycle_s=80.0, kind=Kind.JACKET, material=Material.STEEL),
)

PRESETS = {preset.name: preset for preset in (_MAT_BOX, _JACKET, _LAMP_BOX, _SMALL_POT, _STIRRED_KETTLE)}
"""All warmers by name."""
