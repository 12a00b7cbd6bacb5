"""What is told of a warmer: given figures win, words stand in for them, and the words' physics is plausible.

Handbook checks: heat capacity of water 4.18 kJ/kgK and density near 980 kg/m³ at 65 °C (IAPWS-95, rounded); stainless
steel 7.9 g/cm³ and 0.5 kJ/kgK (common handbook values).
"""

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.control import told
from holdctl.control.kinds import Vessel, prior
from holdctl.errors import ConfigError
from holdctl.settings import Kind, Lid, Material, Place, Settings
from holdsim.bench.priors import compare
from holdsim.bench.suites import SUITES, draw
from tests.closed_loop import told as settings_of

POT = Vessel(0.09, 0.10, Material.STEEL, Lid.INSULATED)


def _settings(material: Material | None = Material.STEEL, **warmer) -> Settings:
    settings = settings_of("jacket")
    figures = {"kind": None, "heat_capacity_j_k": None, "delay_s": None, "loss_w_k": None} | warmer
    return msgspec.structs.replace(
        settings,
        warmer=msgspec.structs.replace(settings.warmer, **figures),
        vessel=msgspec.structs.replace(settings.vessel, material=material),
    )


def test_without_a_kind_a_third_of_the_heat_capacity_is_the_heaters_and_the_delay_gives_its_link():
    model = told(_settings(heat_capacity_j_k=900.0, delay_s=60.0, loss_w_k=0.3))
    assert (model.wall_j_k, model.delay_s, model.wall_loss_w_k) == (900.0, 60.0, 0.3)
    assert model.heater_share == pytest.approx(1 / 3)
    assert model.heater_wall_w_k == pytest.approx(300.0 / 60.0)
    sds = (model.capacity_sd, model.heater_share_sd, model.heater_wall_sd, model.loss_sd)
    assert sds == (0.3, 0.5, 0.7, 0.5)


def test_without_a_kind_delay_and_loss_have_the_documented_defaults():
    model = told(_settings(heat_capacity_j_k=900.0))
    assert (model.delay_s, model.wall_loss_w_k) == (30.0, 0.5)
    assert model.heater_wall_w_k == pytest.approx(300.0 / 30.0)


def test_a_delay_of_nothing_makes_no_endless_conductance():
    assert told(_settings(heat_capacity_j_k=900.0, delay_s=0.0)).heater_wall_w_k == pytest.approx(300.0 / 5.0)


def test_a_warmer_of_no_kind_and_no_heat_capacity_is_refused_in_one_sentence():
    with pytest.raises(ConfigError, match="neither kind nor heat_capacity_j_k: give one"):
        told(_settings())


@pytest.mark.parametrize("kind", list(Kind))
def test_each_given_figure_wins_over_the_kind_and_leaves_the_rest(kind):
    plain = told(_settings(kind=kind))
    heavy = told(_settings(kind=kind, heat_capacity_j_k=1234.0))
    assert (heavy.wall_j_k, heavy.capacity_sd) == (1234.0, 0.3)
    assert (heavy.heater_share, heavy.heater_wall_w_k) == (plain.heater_share, plain.heater_wall_w_k)
    leaky = told(_settings(kind=kind, loss_w_k=0.77))
    assert (leaky.wall_loss_w_k, leaky.wall_j_k) == (0.77, plain.wall_j_k)
    late = told(_settings(kind=kind, delay_s=90.0))
    assert late.delay_s == 90.0
    assert late.heater_wall_w_k == pytest.approx(plain.heater_share * plain.wall_j_k / 90.0)


def test_a_steel_pots_wall_is_its_sheet():
    """Bottom, side and lid: 0.107 m² of 1 mm weigh 0.85 kg and take 0.5 kJ/kgK."""
    area = 2 * math.pi * 0.09**2 + 2 * math.pi * 0.09 * 0.10
    kilograms = area * 0.001 * 7900
    assert prior(Kind.JACKET, POT, 600.0).wall_j_k == pytest.approx(kilograms * 500, rel=0.02)


def test_a_bare_metal_outside_loses_as_a_polished_wall_does_and_any_other_more():
    """6 to 8 W/m²K at 65 °C in a room of 20 °C: Churchill and Chu, emissivity 0.2, wall of 12 cm (ht, CoolProp)."""
    outside = math.pi * (0.09 + 0.015) ** 2 + 2 * math.pi * (0.09 + 0.015) * (0.10 + 0.015)
    metal, stone = (
        prior(Kind.JACKET, Vessel(0.09, 0.10, stuff, Lid.ON), 1e6).loss_w_k / outside
        for stuff in (Material.STEEL, Material.STONEWARE)
    )
    assert 6.0 <= metal <= 8.0 < stone


@pytest.mark.parametrize("radius_m", [0.05, 0.09, 0.3, 5.0])
def test_a_box_loses_more_than_through_its_inside_and_less_than_through_its_outside(radius_m):
    """3 cm of foam at 0.035 W/mK, 4 cm away from the vessel; a big box comes near U·A of its walls."""
    wide, high = 2 * radius_m + 0.08, radius_m + 0.08
    inside = 2 * wide**2 + 4 * wide * high
    outside = 2 * (wide + 0.06) ** 2 + 4 * (wide + 0.06) * (high + 0.06)
    through = 1.0 / (0.03 / 0.035 + 1.0 / 10.0)
    loss = prior(Kind.BOX, Vessel(radius_m, radius_m, None, Lid.BOXED), 1e9).loss_w_k
    assert inside * through < loss < outside * through
    if radius_m > 1.0:
        assert loss == pytest.approx(inside * through, rel=0.02)


def test_a_jacket_is_its_water():
    litres = (math.pi * 0.09**2 + 2 * math.pi * 0.09 * 0.10) * 0.015 * 1000
    assert prior(Kind.JACKET, POT, 600.0).heater_j_k == pytest.approx(litres * 0.98 * 4180, rel=0.02)


def test_a_box_holds_its_vessel_and_its_air_is_a_poor_link():
    box, jacket = (prior(kind, POT, 100.0) for kind in (Kind.BOX, Kind.JACKET))
    assert box.heater_wall_w_k < jacket.heater_wall_w_k / 20
    assert box.delay_s > 5 * jacket.delay_s


@pytest.mark.parametrize("kind", list(Kind))
def test_who_says_no_material_is_less_sure_of_a_wall_between_sheet_steel_and_stoneware(kind):
    steel, stoneware, unknown = (
        prior(kind, Vessel(POT.radius_m, POT.height_m, material, POT.lid), 600.0)
        for material in (Material.STEEL, Material.STONEWARE, None)
    )
    assert unknown.wall_sd > steel.wall_sd == stoneware.wall_sd
    assert steel.wall_j_k < unknown.wall_j_k < stoneware.wall_j_k


@pytest.mark.parametrize("kind", [Kind.PLATE, Kind.JACKET, Kind.MAT])
def test_a_bare_vessel_loses_more_than_a_wrapped_one(kind):
    bare = Vessel(POT.radius_m, POT.height_m, POT.material, Lid.ON)
    assert prior(kind, bare, 5000.0).loss_w_k > 2 * prior(kind, POT, 5000.0).loss_w_k


vessels = st.builds(
    Vessel,
    st.floats(0.005, 1.0),
    st.floats(0.005, 1.0),
    st.none() | st.sampled_from(list(Material)),
    st.sampled_from(list(Lid)),
)


@given(st.sampled_from(list(Kind)), vessels, st.floats(1.0, 1e5))
def test_every_prior_is_finite_positive_and_never_a_heater_too_weak_to_hold(kind, vessel, power_w):
    said = prior(kind, vessel, power_w)
    figures = (said.heater_j_k, said.wall_j_k, said.heater_wall_w_k, said.loss_w_k, said.delay_s)
    assert all(0.0 < figure < math.inf for figure in figures)
    assert 0.0 < said.share < 1.0
    assert all(0.0 < sd <= 1.0 for sd in (said.capacity_sd, said.share_sd, said.heater_wall_sd, said.loss_sd))
    assert said.loss_w_k * 45.0 <= 0.5 * power_w * (1 + 1e-9)


@given(st.sampled_from(list(Kind)), vessels)
def test_capacity_and_share_have_the_spread_of_their_two_parts(kind, vessel):
    """Against finite differences of ln(H + W) and ln(H ÷ (H + W))."""
    said, step = prior(kind, vessel, 500.0), 1e-5
    h, w = said.heater_j_k, said.wall_j_k

    def spread(f) -> float:
        by_h = (f(h * math.exp(step), w) - f(h, w)) / step
        by_w = (f(h, w * math.exp(step)) - f(h, w)) / step
        return math.hypot(by_h * said.heater_sd, by_w * said.wall_sd)

    assert said.capacity_sd == pytest.approx(spread(lambda a, b: math.log(a + b)), rel=1e-3)
    assert said.share_sd == pytest.approx(spread(lambda a, b: math.log(a / (a + b))), rel=1e-3)


@pytest.mark.parametrize("suite", SUITES)
def test_drawn_plants_lie_where_the_prior_says(suite):
    """A normal variable is within two standard deviations in 95 of 100; 120 plants of seed 1 gave 83 % to 100 %."""
    rows = [row for number in range(15) for row in compare(draw(suite, number, 8))]
    for figure in ("capacity", "loss", "heater to wall"):
        some = [row for row in rows if row.figure == figure]
        assert sum(abs(row.off_sd) <= 2.0 for row in some) >= 0.85 * len(some), figure
    assert all(abs(row.off_sd) <= 4.0 for row in rows if row.figure != "heater share")


def test_the_benchs_baker_gives_words_and_three_figures():
    settings = draw("unstirred", 0, 1).settings((Place.MID,))
    assert settings.warmer.kind is not None
    assert settings.vessel.material is not None
    assert settings.warmer.heat_capacity_j_k is settings.warmer.delay_s is settings.warmer.loss_w_k is None
