"""A bread as a person writes it: every mistake is named with its key and the way out."""

import tomllib
from fractions import Fraction
from importlib import resources

import pytest

from holdctl.errors import ConfigError
from holdctl.plan import options, reading
from holdctl.plan.make import make
from holdctl.settings import Flour
from tests.plan.breads import bread, plan

F = Fraction


def refused(data):
    with pytest.raises(ConfigError) as caught:
        reading.formula(reading.bread(data, "bread.toml"))
    return str(caught.value)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"flower": []}, "flower: unknown key; did you mean “flour”?"),
        ({"flour": []}, "flour"),
        ({"flour": [{"name": "white-wheat", "gram": 5}]}, "gram: unknown key; did you mean “grams”?"),
        ({"flour": [{"name": "white-wheat"}]}, "flour white-wheat: give either grams or percent"),
        (
            {"flour": [{"name": "white-wheat", "grams": 1, "percent": 100}]},
            "give either grams or percent",
        ),
        (
            {"flour": [{"name": "white-wheat", "grams": 1}, {"name": "whole-rye", "percent": 9}]},
            "some are in grams, some in percent",
        ),
        ({"flour": [{"name": "white-wheat", "percent": 100}]}, "salt, yeast, water: in grams"),
        ({"flour": [{"name": "spelt", "grams": 100}]}, "known are white-wheat, whole-wheat, whole-rye"),
        ({"flour": [{"name": "white-weat", "grams": 100}]}, "did you mean “white-wheat”?"),
        ({"flour": [{"name": "white-wheat", "grams": 0}]}, "more than 0 g"),
        ({"flour": [{"name": "white-wheat", "grams": float("nan")}]}, "flour 1.grams"),
        ({"flour": [{"name": "white-wheat", "grams": float("inf")}]}, "flour 1.grams"),
        ({"flour": [{"name": "white-wheat", "grams": -1}]}, "flour 1.grams"),
        ({"water": {}}, "exactly one of grams, percent and hydration"),
        ({"water": {"grams": 1, "percent": 2}}, "exactly one of grams, percent and hydration"),
        ({"batch": {"total_g": 1, "flour_g": 1}}, "give one of them"),
        ({"batch": {"piece_g": 900}}, "pieces of 900 g, but how many"),
        ({"scald": {"share": float("nan")}}, "share"),
        ({"scald": {"share": 15, "malt": 101}}, "scald.malt"),
        ({"scald": 15}, "scald: this must be a table"),
        ({"ingredient": [{"name": "milk", "grams": 9, "moisture": 101}]}, "ingredient 1.moisture"),
        ({"ingredient": [{"name": "salt", "grams": 9, "into": "oven"}]}, "“dough”, “scald”"),
    ],
)
def test_what_is_wrong_is_named(changes, says):
    assert says in refused(bread(**changes))


def test_everything_wrong_is_said_at_once():
    said = refused(bread(flower=1, flour=[{"name": "spelt"}], water={"grams": "much"}))
    assert "(2 problems)" in said
    assert "flower" in said
    assert "water.grams" in said


def test_percentages_without_a_size_are_sent_to_the_batch():
    data = bread(flour=[{"name": "white-wheat", "percent": 100}], water={"percent": 66}, ingredient=[])
    assert "[batch]" in refused(data)
    assert make(reading.bread({**data, "batch": {"flour_g": 500}}, ""), None, 0).formula.flour_g == 500


def test_thirds_of_flour_written_with_one_decimal_must_add_up_as_written():
    flours = [
        {"name": name, "percent": p}
        for name, p in zip([f.value for f in Flour], (33.3, 33.3, 33.4), strict=True)
    ]
    data = bread(flour=flours, water={"percent": 70}, ingredient=[], batch={"total_g": 1000})
    assert reading.formula(reading.bread(data, ""))[0].flours[0].part == F("0.333")
    flours[2]["percent"] = 33.3
    assert "add up to 99.9 %" in refused(data)


def test_grams_and_the_same_in_percent_make_the_same_bread():
    grams = reading.formula(reading.bread(bread(), ""))
    percent = bread(
        flour=[{"name": "white-wheat", "percent": 100}],
        water={"percent": 66},
        ingredient=[{"name": "salt", "percent": 1.8}, {"name": "yeast", "percent": 1}],
        batch={"flour_g": 1000},
    )
    assert reading.formula(reading.bread(percent, "")) == grams


def test_a_flour_of_ones_own_may_lean_on_a_known_one():
    own = {"name": "emmer", "grams": 1000, "like": "whole-wheat", "increase": 12}
    made = plan(flour=[own])
    assert (made.scald.ratio, made.scald.increase) == (2, 12)
    assert made.scald.like is Flour.WHOLE_WHEAT
    assert made.assumed == ("scald.ratio",)


def test_what_common_practice_filled_in_is_marked_and_what_was_given_is_not():
    assert plan(scald={}).assumed == ("scald.share", "scald.ratio", "scald.increase")
    assert plan().assumed == ("scald.ratio", "scald.increase")
    assert plan(scald={"share": 15, "ratio": 1.4, "increase": 10}).assumed == ()


def test_own_figures_of_a_flour_that_stays_out_of_the_scald_mark_nothing():
    flours = [
        {"name": "white-wheat", "grams": 800},
        {
            "name": "rye of the mill",
            "grams": 200,
            "like": "whole-rye",
            "ratio": 3,
            "increase": 20,
            "in_scald": 1,
        },
    ]
    assert plan(flour=flours).assumed == ()


def test_the_example_is_a_valid_bread():
    text = resources.files("holdctl.plan").joinpath("example.toml").read_text("utf-8")
    made = make(reading.bread(tomllib.loads(text), "example"), None, 0)
    assert (made.scald.flour_g, made.scald.water_g, made.scald.malt_g) == (150, 450, 4.5)
    assert made.formula.hydration_after == 88


def test_every_default_that_the_example_shows_is_the_default():
    text = resources.files("holdctl.plan").joinpath("example.toml").read_text("utf-8")
    tables = text[text.index("# [scale]") :]
    shown = tomllib.loads("\n".join(line.removeprefix("# ") for line in tables.splitlines()))
    read = reading.bread(bread(), "")
    for table in ("scale", "kitchen", "mixing", "dough"):
        for key, value in shown[table].items():
            default = getattr(getattr(read, table), key)
            assert default in (None, value), (table, key)


def test_masses_too_light_for_the_scale_are_told():
    made = plan(ingredient=[{"name": "saffron", "grams": 0.02}])
    assert any("saffron: 0.02 g reads as 0" in text for text in made.warnings)
    with pytest.raises(ConfigError, match="reads as nothing"):
        plan(flour=[{"name": "white-wheat", "grams": 2}], water={"grams": 1.4}, scale={"fine_step_g": 1})


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("660", {"grams": 660}),
        ("660g", {"grams": 660}),
        ("1,5 kg", {"grams": 1500}),
        ("66%", {"percent": 66}),
        ("1.8 %", {"percent": 1.8}),
    ],
)
def test_an_amount_is_grams_or_a_percentage(text, amount):
    assert options.amount("--salt", text) == amount


@pytest.mark.parametrize("text", ["", "abc", "-5", "5 lb", "nan", "1e3", "6 6"])
def test_any_other_amount_is_refused_with_how_to_write_it(text):
    with pytest.raises(ConfigError, match="--salt: write grams as 660"):
        options.amount("--salt", text)


def test_an_ingredient_may_say_its_water_and_have_a_name_of_several_words():
    assert options.ingredient("oat milk=120@88") == {"name": "oat milk", "grams": 120, "moisture": 88}
    with pytest.raises(ConfigError, match="--with"):
        options.ingredient("honey")


def test_a_size_on_the_command_line_goes_for_the_size_in_the_file():
    data = {"batch": {"pieces": 4, "piece_g": 900}}
    options.change(data, "batch", {"total_g": 2000.0, "pieces": None})
    assert data == {"batch": {"pieces": 4, "total_g": 2000.0}}
    options.change(data, "batch", {"pieces": 2})
    assert data == {"batch": {"pieces": 2, "total_g": 2000.0}}


def test_only_the_flours_named_go_into_the_scald():
    data = bread(
        flour=[{"name": "white-wheat", "grams": 800, "in_scald": 1}, {"name": "whole-rye", "grams": 200}]
    )
    options.scald_only(data, ["whole-rye"])
    made = make(reading.bread(data, ""), None, 0)
    assert [line.scald_g for line in made.formula.lines if line.sort == "flour"] == [0, 150]
    with pytest.raises(ConfigError, match="there is white-wheat, whole-rye"):
        options.scald_only(data, ["spelt"])
