"""What the baker of a drawn warmer knows of it, as settings."""

from dataclasses import dataclass

import numpy as np

from holdctl.settings import (
    After,
    Flour,
    Kind,
    Lid,
    Limits,
    Material,
    Place,
    Probe,
    Programme,
    Room,
    Scald,
    Settings,
    Step,
    Vessel,
    Warmer,
)

POWER_ERROR, MASS_ERROR, DIAMETER_ERROR_M = 0.05, 0.03, 0.005
"""Name plate, scale and ruler are wrong by up to this, evenly; nothing else of the warmer is told in figures."""
CEILING_C = 70.0


@dataclass(frozen=True)
class Known:
    """What is told: figures wrong within the bounds above, words right."""

    power_w: float
    mass_kg: float
    diameter_m: float
    kind: Kind
    material: Material
    stirred: bool
    lid: Lid
    flour: Flour
    ratio: float

    @classmethod
    def about(
        cls,
        rng: np.random.Generator,
        *,
        power_w: float,
        mass_kg: float,
        diameter_m: float,
        kind: Kind,
        material: Material,
        stirred: bool,
        lid: Lid,
        flour: Flour,
        ratio: float,
    ) -> "Known":
        """Return the true figures as a baker would read them."""

        def within(bound: float) -> float:
            return float(rng.uniform(-bound, bound))

        return cls(
            power_w=power_w * (1.0 + within(POWER_ERROR)),
            mass_kg=mass_kg * (1.0 + within(MASS_ERROR)),
            diameter_m=diameter_m + within(DIAMETER_ERROR_M),
            kind=kind,
            material=material,
            stirred=stirred,
            lid=lid,
            flour=flour,
            ratio=ratio,
        )


def settings_for(known: Known, places: tuple[Place, ...], channels: tuple[Place, ...]) -> Settings:
    """Return the settings of a baker who uses the probes at `places` of all the fitted `channels`.

    The high limits stand clear of the run, so that control is measured and not the interlock.
    """
    probes = tuple(Probe(channel=channels.index(place) + 1, place=place, error_k=0.5) for place in places)
    return Settings(
        food_code="fda-2022",
        warmer=Warmer(
            name="bench",
            power_w=known.power_w,
            kind=known.kind,
            stirred=known.stirred,
            cycle_s=80.0,
        ),
        vessel=Vessel(inner_diameter_cm=100.0 * known.diameter_m, material=known.material, lid=known.lid),
        scald=Scald(flour=known.flour, mass_g=1000.0 * known.mass_kg, ratio=known.ratio),
        probe=probes,
        programme=Programme(
            step=(Step(to=65.0, hold_for="500 h"),),
            every_part=(60.0, CEILING_C),
            after=After(),
        ),
        test_rig=True,
        room=Room(ambient_c=20.0),
        limits=Limits(paste_high_c=110.0, wall_high_c=150.0),
    )
