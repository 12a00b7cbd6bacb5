"""The three suites of plants and what their bakers are told, drawn from the distributions of docs/benchmark.md."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from holdctl.paste import USUAL_RATIO, paste_properties
from holdctl.settings import Flour, Kind, Lid, Material, Place, Settings
from holdsim.bench.conducting import Conducting
from holdsim.bench.told import Known, settings_for
from holdsim.bench.two_node import TwoNode, TwoNodeSpec
from holdsim.bench.warmers import Drawn, draw_warmer
from holdsim.bench.world import World
from holdsim.probes import ProbeSpec
from holdsim.steady import steady_state
from holdsim.truth import Truth
from holdsim.warmer import assemble

SUITES = ("two-node", "unstirred", "nonlinear")
SETPOINT_C, CEILING_C = 65.0, 70.0
PLACES = (Place.CORE, Place.MID, Place.EDGE, Place.WALL)
"""Where every plant has a thermometer, in the order of its readings."""
START_C = {"cold": 20.0, "hot": 74.0}
ROOM_C = 20.0

MASS_KG = (0.4, 12.0)
TAU1_S = (3500.0, 14000.0)
TAU2_S = (100.0, 450.0)
DELAY_S = (5, 50)
DUTY = (0.15, 0.6)
WALL_TO_PASTE = (0.2, 1.0)
PASTE_SHARE_OF_LOSS = (0.05, 0.3)
LAG_S = (5.0, 30.0)
STEADY_HOTTEST_C, STEADY_COLDEST_C = 68.0, 61.0
"""A drawn warmer that could not hold 65 °C in the middle within these is drawn again."""

Bench = TwoNode | Conducting


@dataclass(frozen=True)
class Case:
    """One drawn plant: `build` makes it anew at a temperature, always with the same noise and world."""

    suite: str
    number: int
    seed: int
    build: Callable[[float], Bench]
    known: Known
    draws: int = 1
    """How many warmers were drawn before one could hold the paste at all."""

    @property
    def name(self) -> str:
        """As `unstirred-03`."""
        return f"{self.suite}-{self.number:02d}"

    def settings(self, places: tuple[Place, ...]) -> Settings:
        """Return what a baker with probes at these places would write."""
        return settings_for(self.known, places, PLACES)


def draw(suite: str, number: int, seed: int) -> Case:
    """Return case `number` of a suite; it depends on suite, number and seed only. Raises ValueError."""
    if suite not in SUITES:
        raise ValueError(f"no suite {suite}; there are {', '.join(SUITES)}")
    entropy = np.random.SeedSequence([seed, SUITES.index(suite), number])
    rng = np.random.default_rng(entropy)
    if suite == "two-node":
        return _two_node(number, seed, rng)
    return _conducting(suite, number, seed, rng)


def specs(rng: np.random.Generator, lags: tuple[float, float], steps: tuple[float, ...]) -> list[ProbeSpec]:
    """Return a thermometer for each place: noise 0.03 K, no bias."""
    return [
        ProbeSpec(place, float(rng.uniform(*lags)), float(rng.choice(steps)), noise_k=0.03)
        for place in PLACES
    ]


def _two_node(number: int, seed: int, rng: np.random.Generator) -> Case:
    mass = float(np.exp(rng.uniform(*np.log(MASS_KG))))
    flour = Flour(str(rng.choice([f.value for f in Flour])))
    spec = _two_node_spec(rng, mass, paste_properties(flour, USUAL_RATIO[flour], SETPOINT_C).cp_j_kgk)
    probes = specs(rng, (10.0, 10.0), (0.0625,))
    own = int(rng.integers(2**31))
    known = Known.about(
        rng,
        power_w=spec.power_w,
        mass_kg=mass,
        diameter_m=2.0 * np.sqrt(spec.top_m2 / np.pi),
        kind=Kind.JACKET,
        material=Material.STEEL,
        stirred=True,
        lid=Lid.ON,
        flour=flour,
        ratio=USUAL_RATIO[flour],
    )

    def build(start_c: float) -> TwoNode:
        return TwoNode(spec, probes, seed=own, ambient_c=ROOM_C, start_c=start_c)

    return Case("two-node", number, seed, build, known)


def _two_node_spec(rng: np.random.Generator, mass_kg: float, cp_j_kgk: float) -> TwoNodeSpec:
    tau1, tau2 = float(rng.uniform(*TAU1_S)), float(rng.uniform(*TAU2_S))
    duty, delay = float(rng.uniform(*DUTY)), int(rng.integers(DELAY_S[0], DELAY_S[1] + 1))
    while True:
        # Not every split of capacity and loss can have these time constants: about one in a hundred is drawn again.
        wall, share = float(rng.uniform(*WALL_TO_PASTE)), float(rng.uniform(*PASTE_SHARE_OF_LOSS))
        try:
            return two_node_spec(
                paste_j_k=cp_j_kgk * mass_kg,
                wall_j_k=cp_j_kgk * mass_kg * wall,
                tau1_s=tau1,
                tau2_s=tau2,
                duty=duty,
                delay_s=delay,
                paste_share=share,
                top_m2=_top_m2(mass_kg),
                cp_j_kgk=cp_j_kgk,
            )
        except ValueError:
            continue


def _top_m2(mass_kg: float) -> float:
    """Paste as high as it is wide."""
    diameter = (4.0 * mass_kg / 1070.0 / np.pi) ** (1.0 / 3.0)
    return float(np.pi * diameter**2 / 4.0)


def two_node_spec(
    *,
    paste_j_k: float,
    wall_j_k: float,
    tau1_s: float,
    tau2_s: float,
    duty: float,
    delay_s: int,
    paste_share: float,
    top_m2: float = 0.03,
    cp_j_kgk: float = 3500.0,
) -> TwoNodeSpec:
    """Return the two-node plant with exactly these time constants and this duty of the hold at 65 in 20 °C."""
    # Sum and product of the two rates give one quadratic for the loss; its smaller root is the physical one.
    rates = 1.0 / tau1_s + 1.0 / tau2_s
    inverse = 1.0 / wall_j_k + 1.0 / paste_j_k
    slope = (1.0 - paste_share) / wall_j_k + paste_share / paste_j_k
    square = paste_share * (1.0 - paste_share) - slope / inverse
    linear = rates / inverse
    product = wall_j_k * paste_j_k / (tau1_s * tau2_s)
    root = linear**2 + 4.0 * square * product
    if root < 0.0:
        raise ValueError(f"no two-node plant has {tau1_s:.0f} s and {tau2_s:.0f} s")
    loss = 2.0 * product / (linear + float(np.sqrt(root)))
    between = (rates - loss * slope) / inverse

    def spec(power_w: float) -> TwoNodeSpec:
        parts = ((1.0 - paste_share) * loss, paste_share * loss)
        return TwoNodeSpec(wall_j_k, paste_j_k, between, *parts, power_w, delay_s, top_m2, cp_j_kgk)

    return spec((SETPOINT_C - ROOM_C) / duty / spec(1.0).gain_k)


def _conducting(suite: str, number: int, seed: int, rng: np.random.Generator) -> Case:
    linear = suite == "unstirred"
    drawn, tried = _holdable(rng, linear=linear)
    probes = specs(rng, LAG_S, (0.0625,) if linear else (0.0625, 0.1))
    own, outside = (int(x) for x in rng.integers(2**31, size=2))
    warmer, fill, lid = drawn.warmer, drawn.fill, drawn.lid
    known = Known.about(
        rng,
        power_w=warmer.power_w,
        mass_kg=fill.mass_kg,
        diameter_m=2.0 * warmer.radius_m,
        kind=Kind(drawn.kind),
        material=Material(drawn.material),
        stirred=False,
        lid=lid,
        flour=fill.flour,
        ratio=fill.ratio,
    )

    def build(start_c: float) -> Conducting:
        world = World(np.random.default_rng(outside), ROOM_C, disturbed=not linear)
        return Conducting(
            warmer, fill, probes, seed=own, start_c=start_c, lid=lid, world=world, linear=linear
        )

    return Case(suite, number, seed, build, known, tried)


def _holdable(rng: np.random.Generator, *, linear: bool) -> tuple[Drawn, int]:
    """Return the first drawn warmer that can hold the paste at all, and how many were drawn."""
    for tried in range(1, 200):
        drawn = draw_warmer(rng, linear=linear)
        if _can_hold(drawn):
            return drawn, tried
    raise ValueError("two hundred warmers in a row could not hold the paste")


def _can_hold(drawn: Drawn) -> bool:
    assembly = assemble(drawn.warmer, drawn.fill, drawn.lid)
    for place in (Place.CORE, Place.MID, Place.EDGE):
        temps, _ = steady_state(assembly, SETPOINT_C, place, ROOM_C)
        paste = temps[assembly.paste]
        if paste.max() > STEADY_HOTTEST_C or paste.min() < STEADY_COLDEST_C:
            return False
    return True


def at(truth: Truth, place: Place) -> float:
    """Return the true temperature at a place, °C."""
    return truth.probes[PLACES.index(place)]
