"""Growth rates against published figures; the closed integrals against scipy's quadrature."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from holdctl.food.organisms import SETS, UPPER_BOUND, Form, Organism, ParameterSet, le_marc_rate, sets_of
from holdctl.food.rates import generation_min, mean_rates_ln_h, optimum, rate_ln_h

BY_ID = {one.id: one for one in SETS}
RICE = BY_ID["bc-rice-juneja-a"]
SQUARED = ParameterSet(
    id="made-up", organism=Organism.BACILLUS_CEREUS, food="none", form=Form.SQUARED, rate=0.03**2, min_c=6.0,
    max_c=49.0, steepness=0.2, source="none", how="made up", sureness="low",
)  # fmt: skip
LEVEL = ParameterSet(
    id="level", organism=Organism.BACILLUS_CEREUS, food="none", form=Form.CARDINAL, rate=2.0, min_c=6.0,
    optimum_c=36.0, max_c=51.0, source="none", how="made up", sureness="low",
)  # fmt: skip
"""A cardinal set whose denominator does not depend on temperature: 3 Topt = Tmin + 2 Tmax."""
ALL = (*SETS, SQUARED, LEVEL)


# Worked example of the USDA's Agricultural Research Service for cooling rice (model 2021166): log10 CFU per h.
@pytest.mark.parametrize(
    ("temp_c", "published"),
    [(54.59, 0.00), (45.99, 0.60), (38.94, 0.93), (32.92, 0.78), (27.86, 0.56), (23.43, 0.36), (19.89, 0.22),
     (16.71, 0.11), (14.14, 0.05), (11.94, 0.02), (10.13, 0.00), (7.21, 0.00)],
)  # fmt: skip
def test_rice_grows_at_the_published_rate_in_decimal_logs(temp_c, published):
    assert round(float(rate_ln_h(RICE, temp_c)) / math.log(10), 2) == published


# The cardinal equation (Rosso et al. 1993, J. Theor. Biol. 162:447) worked by hand with each set's published numbers.
@pytest.mark.parametrize(
    ("name", "temp_c", "rate"),
    [("bc-rice-hwang", 20, 0.6030), ("bc-rice-hwang", 30, 1.6945), ("bc-rice-hwang", 45, 0.9688),
     ("cp-roast-chicken", 20, 0.6959), ("cp-roast-chicken", 40, 4.9146), ("cp-roast-chicken", 45, 5.9657),
     ("cp-braised-beef", 30, 3.0274), ("cp-braised-beef", 45, 5.5682), ("sa-medvedova", 20, 0.3857),
     ("sa-medvedova", 45, 1.2921), ("bs-rosso", 30, 0.8651), ("bs-rosso", 45, 0.9263),
     ("bc-cereal-group-3", 20, 0.3614), ("bc-cereal-group-3", 40, 1.4017), ("bc-cereal-group-4", 20, 0.3673),
     ("bc-cereal-group-4", 45, 0.8339)],
)  # fmt: skip
def test_the_cardinal_form_gives_its_rates(name, temp_c, rate):
    assert float(rate_ln_h(BY_ID[name], temp_c)) == pytest.approx(rate, abs=5e-5)


# Le Marc et al. 2008, Int. J. Food Microbiol. 128:41, its equation worked with 0.5 % salt and pH 6.2: ln/h.
@pytest.mark.parametrize(
    ("temp_c", "rate"), [(37, 3.170), (41, 3.810), (43, 4.007), (45, 4.062), (47, 3.917), (50, 3.146)]
)
def test_salt_and_ph_enter_as_published(temp_c, rate):
    meat = BY_ID["cp-meat-le-marc"]
    scale = le_marc_rate(0.5, 6.2) / meat.rate
    assert float(rate_ln_h(meat, temp_c)) * scale == pytest.approx(rate, abs=5e-4)


# Derived from the published numbers: B. cereus in rice, ln/h, and its shortest generation time.
@pytest.mark.parametrize(("temp_c", "rate"), [(25, 0.98), (30, 1.52), (35, 1.97), (40, 2.12), (45, 1.605)])
def test_rice_grows_at_the_derived_rate_in_natural_logs(temp_c, rate):
    assert float(rate_ln_h(RICE, temp_c)) == pytest.approx(rate, abs=0.0051)


def test_growth_is_fastest_near_39_not_at_the_coldest():
    at, rate = optimum(RICE)
    assert at == pytest.approx(39.1, abs=0.05)
    assert rate == pytest.approx(2.13, abs=0.005)
    assert generation_min(RICE, at) == pytest.approx(19.5, abs=0.05)


def test_c_perfringens_doubles_about_as_fast_as_was_measured():
    """Labbe & Huang 1995, J. Food Prot. 58:1303: 7.1 min at 41 °C in beef, shortest 6.3 ± 0.4 min at 43 °C in broth."""
    assert generation_min(BY_ID["cp-roast-chicken"], 46.4) == pytest.approx(6.86, abs=0.005)
    assert generation_min(BY_ID["cp-beef-juneja"], 46.0) == pytest.approx(6.9, abs=0.05)
    fastest = min(generation_min(one, optimum(one)[0]) for one in sets_of(Organism.CLOSTRIDIUM_PERFRINGENS))
    assert 6.3 - 0.4 < fastest < 7.1


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_nothing_grows_outside_the_range_of_any_form(one):
    outside = np.array(
        [-20.0, 0.0, one.min_c - 5, one.min_c - 0.1, one.min_c, one.max_c, one.max_c + 0.1, 65.0, 98.0]
    )
    assert (rate_ln_h(one, outside) == 0.0).all()
    assert (rate_ln_h(one, np.linspace(one.min_c + 0.1, one.max_c - 0.1, 500)) > 0).all()
    assert generation_min(one, 65.0) == math.inf


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.id)
def test_the_optimum_is_where_nothing_grows_faster(one):
    at, rate = optimum(one)
    everywhere = rate_ln_h(one, np.arange(0.0, 60.0, 0.01))
    assert rate >= everywhere.max() - 1e-12
    assert rate == pytest.approx(everywhere.max(), rel=1e-5)
    assert one.min_c < at < one.max_c


@given(st.sampled_from(ALL), st.floats(-5, 100), st.floats(-5, 100))
@settings(max_examples=150, deadline=None)
def test_the_closed_integral_is_what_quadrature_gives(one, start, end):
    if abs(end - start) < 0.01:
        return
    low, high = sorted((start, end))
    limits = [at for at in (one.min_c, optimum(one)[0], one.max_c) if low < at < high]
    area, _ = quad(lambda temp: float(rate_ln_h(one, temp)), low, high, points=limits or None, limit=200)
    mean = mean_rates_ln_h(one, np.array([start]), np.array([end]))[0]
    assert mean == pytest.approx(area / (high - low), abs=2e-5)


def test_a_nearly_level_denominator_loses_no_figures():
    """Either side of where the integral changes from a logarithm to a sum."""
    for optimum_c in (35.7, 35.79, 35.81, 36.0, 36.19, 36.21, 36.3):
        one = ParameterSet(
            id="near", organism=Organism.BACILLUS_CEREUS, food="none", form=Form.CARDINAL, rate=2.0, min_c=6.0,
            optimum_c=optimum_c, max_c=51.0, source="none", how="made up", sureness="low",
        )  # fmt: skip
        area, _ = quad(lambda temp: float(rate_ln_h(one, temp)), 6.0, 51.0)  # noqa: B023
        mean = mean_rates_ln_h(one, np.array([0.0]), np.array([60.0]))[0]
        assert mean * 60 == pytest.approx(area, rel=1e-9)


def test_a_rate_per_decimal_log_is_ln_10_times_one_per_natural_log():
    beef = BY_ID["cp-beef-juneja"]
    by_hand = 0.0025 * (40 - 10.15) ** 2 * (1 - math.exp(0.238 * (40 - 53.0)))
    assert float(rate_ln_h(beef, 40.0)) == pytest.approx(by_hand * math.log(10), rel=1e-12)


def test_the_bracket_is_squared_in_one_form_only():
    by_hand = 0.03**2 * (40 - 6) ** 2 * (1 - math.exp(0.2 * (40 - 49))) ** 2
    assert float(rate_ln_h(SQUARED, 40.0)) == pytest.approx(by_hand, rel=1e-12)


def test_a_cardinal_set_with_its_optimum_too_low_is_refused():
    with pytest.raises(ValueError, match="upper half"):
        ParameterSet(
            id="bad", organism=Organism.BACILLUS_CEREUS, food="none", form=Form.CARDINAL, rate=1.0, min_c=10.0,
            optimum_c=29.0, max_c=50.0, source="none", how="made up", sureness="low",
        )  # fmt: skip


def test_every_set_says_where_it_is_from_and_whether_it_is_an_upper_bound():
    assert len({one.id for one in SETS}) == len(SETS)
    for one in SETS:
        assert one.source and one.how and one.unit_known and one.food
        assert (one.h0 is None) == (not one.lag_from)
        assert bool(one.upper_bound) == (one.organism in UPPER_BOUND)
    assert set(UPPER_BOUND) == {Organism.CLOSTRIDIUM_PERFRINGENS, Organism.STAPHYLOCOCCUS_AUREUS}
    assert all(sets_of(organism) for organism in Organism)
    assert "bc-rice-juneja-d" not in {one.id for one in sets_of(Organism.BACILLUS_CEREUS)}  # unit not known


def test_a_lag_taken_from_hours_at_one_temperature_is_that_product():
    """h0 = rate × lag (Baranyi & Roberts): 6 h at 19 °C, the shorter of the published 6 to 8 h."""
    for name in ("bc-cereal-group-3", "bc-cereal-group-4"):
        one = BY_ID[name]
        assert one.h0 == pytest.approx(6 * float(rate_ln_h(one, 19.0)), abs=0.005)
