"""The formula and its scald: worked examples by hand, exact conservation, properties of any bread.

The rules themselves (ratio, increase, share) are common practice without a published source; the expected figures of
tests/data/formulas.toml were worked out by hand from them.
"""

import tomllib
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.errors import ConfigError
from holdctl.paste.amounts import apportion, exact, nearest
from holdctl.paste.flours import COMPOSITIONS, blend, composition
from holdctl.paste.formula import Formula, Ingredient, Into, check, known_flour
from holdctl.paste.scalding import Wish, convert, scaled, warnings
from holdctl.paste.weighing import Scale, Sort, weigh
from holdctl.plan import make, reading
from holdctl.settings import Flour
from tests.paste.strategies import formulas, tenths, wishes

CASES = tomllib.loads((Path(__file__).parent.parent / "data" / "formulas.toml").read_text("utf-8"))["case"]
F = Fraction
few = settings(max_examples=40)


def _plan(case):
    return make.make(reading.bread(case["bread"], "case"), None, 0)


def _sum(lines, field, sort=None):
    """Add masses as the decimal numbers that a reader sees."""
    return sum(Decimal(repr(getattr(line, field))) for line in lines if sort in (None, line.sort))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_a_formula_worked_out_by_hand(case):
    plan, want = _plan(case), case["expect"]
    lines = plan.formula.lines
    assert _sum(lines, "scald_g", "flour") == want["scald_flour"]
    assert _sum(lines, "scald_g", "water") == want["scald_water"]
    assert _sum(lines, "dough_g", "flour") == want["dough_flour"]
    assert _sum(lines, "dough_g", "water") == want["dough_water"]
    assert plan.formula.hydration_before == want["before"]
    assert plan.formula.hydration_after == want["after"]
    assert plan.formula.whole_g == want["whole"]
    assert plan.scald.malt_g == want.get("malt", 0)
    assert plan.scald.mass_g == want.get(
        "scald", want["scald_flour"] + want["scald_water"] + want.get("malt", 0)
    )
    assert bool(plan.warnings) is want.get("warns", False)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_what_is_printed_adds_up_to_what_is_printed(case):
    plan = _plan(case)
    lines = plan.formula.lines
    for line in lines:
        assert _sum([line], "scald_g") + _sum([line], "dough_g") == _sum([line], "total_g")
    assert _sum(lines, "total_g") == Decimal(repr(plan.formula.whole_g))
    assert _sum(lines, "scald_g") == Decimal(repr(plan.scald.mass_g))
    assert _sum(lines, "total_g", "flour") == Decimal(repr(plan.formula.flour_g))
    assert _sum(lines, "total_g", "water") == Decimal(repr(plan.formula.water_g))


def test_there_are_twenty_formulas_beside_the_two_worked_examples():
    assert len(CASES) >= 22
    assert len({case["name"] for case in CASES}) == len(CASES)


@few
@given(formulas(), wishes, st.sampled_from([F(1), F(1, 10), F(5), F(1, 100), F(1, 4)]))
def test_no_ingredient_is_lost_or_made_by_rounding(formula, wish, step):
    scale = Scale(step, min(step, F(1, 10)), F(20))
    done = convert(formula, wish)
    sheet = weigh(done, scale)
    for line in sheet.lines:
        grid = scale.step(line.exact_g)
        assert line.scald_g >= 0
        assert line.dough_g >= 0
        assert line.scald_g + line.dough_g == line.total_g
        assert line.total_g % grid == 0
        # Largest remainder moves by less than a step, and the coarse whole by at most half a fine one more.
        assert abs(line.total_g - line.exact_g) < 2 * grid
        assert abs(line.scald_g - line.exact_scald_g) < 2 * grid
    assert sum(line.total_g for line in sheet.lines) == sheet.total_g()
    assert abs(sheet.total_g() - done.whole * formula.flour_g) <= (step + scale.fine_step_g) / 2


@few
@given(formulas(), wishes)
def test_before_rounding_every_ingredient_is_conserved_exactly(formula, wish):
    done = convert(formula, wish)
    sheet = weigh(done)
    assert sum(line.exact_g for line in sheet.lines) == done.whole * formula.flour_g
    assert done.scald_water + done.dough_water == formula.water + done.increase
    assert sum(part for _, part in done.scalded) == wish.share
    assert done.hydration - formula.hydration == done.increase


@few
@given(formulas(), wishes, tenths(1, 10_000))
def test_scaling_changes_masses_and_no_percentage(formula, wish, factor):
    done, larger = convert(formula, wish), convert(formula.with_flour(formula.flour_g * factor), wish)
    for a, b in zip(weigh(done).lines, weigh(larger).lines, strict=True):
        assert b.percent == a.percent
        assert b.exact_g == a.exact_g * factor
        assert b.exact_scald_g == a.exact_scald_g * factor
    assert (larger.ratio, larger.hydration) == (done.ratio, done.hydration)


@few
@given(formulas(), wishes, tenths(10, 100_000))
def test_a_batch_has_exactly_the_mass_asked_for(formula, wish, whole_g):
    sized = scaled(formula, wish, whole_g)
    assert convert(sized, wish).whole * sized.flour_g == whole_g


@few
@given(formulas(), wishes, st.randoms(use_true_random=False))
def test_the_order_of_the_list_decides_nothing(formula, wish, random):
    flours, others = list(formula.flours), list(formula.ingredients)
    random.shuffle(flours)
    random.shuffle(others)
    other = replace(formula, flours=tuple(flours), ingredients=tuple(others))

    def masses(f):
        return {line.name: (line.scald_g, line.dough_g) for line in weigh(convert(f, wish)).lines}

    assert masses(formula) == masses(other)


@few
@given(formulas(), wishes)
def test_grams_and_percentages_lead_to_each_other(formula, wish):
    lines = weigh(convert(formula, wish)).lines
    back = Formula(
        formula.flour_g,
        tuple(
            replace(flour, part=line.percent / 100)
            for flour, line in zip(formula.flours, lines, strict=False)
        ),
        formula.water,
        tuple(
            replace(i, part=next(line.percent for line in lines if line.name == i.name) / 100)
            for i in formula.ingredients
        ),
    )
    assert back == formula


@few
@given(st.lists(tenths(0, 1000), min_size=1, max_size=12), st.sampled_from([F(1), F(1, 10), F(5)]))
def test_rounded_parts_add_up_to_the_rounded_whole(masses, step):
    parts = [(f"part {n}", mass) for n, mass in enumerate(masses)]
    rounded = apportion(parts, step, sum(masses))
    assert sum(rounded) == nearest(sum(masses), step)
    assert all(abs(a - b) < step for a, b in zip(rounded, masses, strict=True))


def test_numbers_are_taken_as_they_were_written():
    assert exact(0.1) == F(1, 10)
    assert exact(33.3) + exact(33.3) + exact(33.4) == 100
    with pytest.raises(ValueError, match=r"NaN|nan"):
        exact(float("nan"))


def _white(water="0.66", *others, flour_g=1000):
    return Formula(F(flour_g), (known_flour(Flour.WHITE_WHEAT, F(1)),), F(water), others)


def test_a_scald_above_the_water_there_is_gets_the_nearest_share_ratio_and_increase_and_each_of_them_works():
    wish = Wish(F("0.6"))
    with pytest.raises(ConfigError) as caught:
        convert(_white(), wish)
    said = str(caught.value)
    assert "840 g of water, but the formula pours 760 g" in said
    assert "a share of 54.2 %, a ratio of 1:1.26 or an increase of 18 points" in said
    for works in (
        Wish(F("0.542")), replace(wish, ratio=F("1.26")), replace(wish, increase=F("0.18")),
    ):  # fmt: skip
        assert convert(_white(), works).dough_water >= 0
    for fails in (
        Wish(F("0.543")), replace(wish, ratio=F("1.27")), replace(wish, increase=F("0.179")),
    ):  # fmt: skip
        with pytest.raises(ConfigError):
            convert(_white(), fails)


def test_water_that_comes_in_milk_cannot_scald_and_is_told():
    milk = Ingredient("milk", F("0.7"), F("0.88"))
    with pytest.raises(ConfigError, match=r"pours 150 g \(616 g more comes in other ingredients"):
        convert(_white("0.05", milk), Wish(F("0.2")))


def test_ingredients_wetter_than_the_hydration_asked_for_get_the_nearest():
    milk = Ingredient("milk", F("0.8"), F("0.9"))
    with pytest.raises(ConfigError, match=r"hydration of 72 %.*nearest: hydration 72 %"):
        check(replace(_white("0", milk), water=F("0.6") - F("0.72")))
    fits = F("0.6") / F("0.9")  # milk that brings just 60 %
    with pytest.raises(ConfigError, match=r"milk at most 66\.7 %"):
        check(replace(_white("0", milk), water=F("0.6") - F("0.72")))
    assert check(replace(_white("0", replace(milk, part=fits)), water=F(0)))


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        (Wish(F("1.2")), "nearest possible share is 100 %"),
        (Wish(F(0)), "usual least is 10 %"),
        (Wish(F("-0.1")), "is none"),
        (Wish(F("0.15"), increase=F("-0.7")), "nearest increase is -66"),
    ],
)
def test_an_impossible_wish_gets_one_sentence_with_the_nearest_value(wish, says):
    with pytest.raises(ConfigError) as caught:
        convert(_white(), wish)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_all_flour_may_be_scalded_where_there_is_water_for_it():
    done = convert(_white("1.4"), Wish(F(1), increase=F(0)))
    assert done.dough_water == 0
    assert weigh(done).dough_g(Sort.FLOUR) == 0


def test_a_scald_of_one_flour_takes_no_more_of_it_than_there_is():
    flours = (
        known_flour(Flour.WHITE_WHEAT, F("0.8")),
        known_flour(Flour.WHOLE_RYE, F("0.2"), F(1)),
    )
    formula = Formula(F(1000), flours, F("0.9"))
    with pytest.raises(ConfigError, match=r"30 % of all flour as whole-rye.*has 20 %.*share is 20 %"):
        convert(formula, Wish(F("0.3")))
    assert convert(formula, Wish(F("0.2"))).scalded[1][1] == F("0.2")


def test_flours_that_do_not_make_a_hundred_are_refused_with_the_nearest():
    flours = (known_flour(Flour.WHITE_WHEAT, F("0.8")), known_flour(Flour.WHOLE_RYE, F("0.19")))
    with pytest.raises(ConfigError, match=r"add up to 99 %.*white-wheat at 81 %"):
        check(Formula(F(1000), flours, F("0.7")))


@pytest.mark.parametrize("name", ["salt", "white-wheat", "water", "diastatic malt"])
def test_two_things_of_one_name_are_refused(name):
    with pytest.raises(ConfigError, match=name):
        check(_white("0.6", Ingredient("salt", F("0.02")), Ingredient(name, F("0.01"))))


@pytest.mark.parametrize(("share", "warned"), [("9.9", 1), ("10", 0), ("20", 0), ("20.1", 1)])
def test_shares_outside_ten_to_twenty_percent_warn_and_are_allowed(share, warned):
    assert len(warnings(convert(_white(), Wish(F(share) / 100)))) == warned


def test_more_malt_than_a_tenth_of_the_scald_flour_warns():
    assert warnings(convert(_white(), Wish(F("0.15"), malt=F("0.1")))) == []
    assert "malt" in warnings(convert(_white(), Wish(F("0.15"), malt=F("0.101"))))[0]


def test_what_goes_into_the_scald_is_weighed_into_the_scald():
    sheet = weigh(convert(_white("0.7", Ingredient("linseed", F("0.08"), into=Into.SCALD)), Wish(F("0.15"))))
    line = next(line for line in sheet.lines if line.name == "linseed")
    assert (line.scald_g, line.dough_g) == (80, 0)


def test_a_mixed_scald_is_made_of_its_flours_by_mass():
    flours = (known_flour(Flour.WHITE_WHEAT, F("0.5"), F(3)), known_flour(Flour.WHOLE_RYE, F("0.5"), F(1)))
    done = convert(Formula(F(1000), flours, F("0.8")), Wish(F("0.2")))
    white, rye = COMPOSITIONS[Flour.WHITE_WHEAT], COMPOSITIONS[Flour.WHOLE_RYE]
    assert done.made_of.protein == pytest.approx(0.75 * white.protein + 0.25 * rye.protein, rel=1e-12)
    assert done.like is Flour.WHITE_WHEAT
    assert done.ratio == F("1.8")  # (3 x 1.4 + 3) / 4
    with pytest.raises(ValueError, match="no flour"):
        blend([])


@pytest.mark.parametrize(
    "label",
    [
        (12, 10, 1, 60, 3, 0.5),
        (12, 10, 1, 76, 80, 0.5),
        (12, -1, 1, 86, 3, 0.5),
        (float("nan"), 10, 1, 76, 3, 0.5),
    ],
)
def test_a_label_that_cannot_be_is_refused(label):
    with pytest.raises(ValueError, match=r"add up|negative"):
        composition(*label)


def test_a_label_that_rounds_is_scaled_to_its_sum():
    made = composition(12, 13, 2, 72, 7, 1.5)
    parts = (made.water, made.protein, made.fat, made.carbohydrate, made.fibre, made.ash)
    assert sum(parts) == pytest.approx(1.0, abs=1e-12)
    assert made.protein == pytest.approx(13 / 100.5)
