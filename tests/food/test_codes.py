"""The codes' numbers, each beside its published source."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from holdctl.config.problems import problems
from holdctl.errors import ConfigError
from holdctl.food.codes import CODES, as_read, code, code_of
from holdctl.food.rules import Cooling, Heating, HotHolding, Reheating, Rule, TimeControl, limit_words
from holdctl.settings import OwnCode, Settings
from tests.review.conftest import SETTINGS

CHECKS: list[dict[str, Any]] = json.loads(
    (Path(__file__).parents[1] / "data" / "food_codes.json").read_text("utf-8")
)["checks"]
OWN = {"name": "Agreed plan", "source": "letter of the authority", "force": "law", "hot_holding_c": 61.0}


def _named(check: dict[str, Any]) -> str:
    return "-".join(str(check[k]) for k in ("code", "rule", "stage", "field") if k in check)


@pytest.mark.parametrize("check", CHECKS, ids=_named)
def test_every_number_is_the_one_of_its_published_source(check: dict[str, Any]) -> None:
    rule: Any = next(r for r in code(check["code"]).rules if r.name == check["rule"])
    place = rule.stages[check["stage"] - 1] if "stage" in check else rule
    field = check["field"]
    value = (
        getattr(place, field.removesuffix("_min") + "_s") if field.endswith("_min") else getattr(place, field)
    )
    if field.endswith("_min") and value is not None:
        value /= 60
    assert value == check["expected"]
    assert check["source"]


def test_the_food_codes_total_runs_from_57_c_and_the_australian_second_stage_from_21_c() -> None:
    # FDA Food Code 3-501.14(A): a total of 6 hours, from 57 °C on; Standard 3.2.2 cl. 7(3): "a further four hours".
    fda, anz = (code(i).of(Cooling)[0].stages for i in ("fda-2022", "anz"))
    assert [s.clock_from_c for s in fda] == [57, 57]
    assert [s.clock_from_c for s in anz] == [60, 21]


def test_a_limit_in_f_is_the_codes_own_where_it_has_one_and_converted_else() -> None:
    assert code("fda-2022").limit_text("F") == "135 °F"
    assert code("uk").limit_text("F") == "145.4 °F"
    assert limit_words(74.0, 165.0, "C") == "74 °C"


def test_who_works_in_f_is_held_to_the_codes_own_figure_where_it_is_the_stricter() -> None:
    """135 °F are 57.22 °C; 41, 70 and 165 °F are 5.00, 21.11 and 73.89 °C."""
    in_f, in_c = (as_read(code("fda-2022"), units) for units in "FC")
    assert in_c == code("fda-2022")
    assert (in_f.hot_holding_c, in_f.cold_holding_c) == (57.22, 5.0)
    assert in_f.of(Heating)[0].to_c == 57.22 and in_f.of(Reheating)[0].to_c == 74.0
    assert [(s.clock_from_c, s.to_c) for s in in_f.of(Cooling)[0].stages] == [(57.22, 21.0), (57.22, 5.0)]
    assert as_read(code("uk"), "F") == code("uk")
    settings = msgspec.structs.replace(SETTINGS, units="F")
    assert code_of(settings).hot_holding_c == 57.22 and code_of(SETTINGS).hot_holding_c == 57.0


def test_uk_and_scotland_name_their_reach() -> None:
    assert "2013/2996" in code("uk").source
    for place in ("Wales", "Scotland", "Northern Ireland"):
        assert place in code("uk").remarks
    assert code("uk-scotland").of(Reheating)[0].to_c == 82.0


def test_what_only_time_can_forbid_has_no_temperature_of_its_own() -> None:
    # NSW Food Authority 2-hour/4-hour guide: the times between 5 and 60 °C are added up.
    (rule,) = code("anz").of(TimeControl)
    assert rule.cumulative
    assert (rule.cold_c, rule.hot_c) == (5.0, 60.0)


def test_no_code_has_a_time_for_a_fresh_mix_and_the_advice_says_whose_it_is() -> None:
    from holdctl.food.code_data import ADVISORY_HEATING

    assert all(r.within_s is None for c in CODES for r in c.of(Heating))
    assert ADVISORY_HEATING.within_s == 7200
    assert ADVISORY_HEATING.force == "advisory"
    assert "this project" in ADVISORY_HEATING.source
    assert "analogy" in ADVISORY_HEATING.source


@pytest.mark.parametrize("wrong", ["", "FDA", "eu"])
def test_an_unknown_code_lists_the_known_ones_and_who_decides(wrong: str) -> None:
    with pytest.raises(
        ConfigError, match=r'"fda-2022".*57 °C.*"uk".*63 °C.*local authority decides'
    ) as caught:
        code(wrong)
    assert caught.value.exit_code == 2


def _rules() -> list[Rule]:
    return [r for c in CODES for r in c.rules]


def test_every_rule_says_text_source_force_and_how_sure() -> None:
    assert len({c.id for c in CODES}) == len(CODES)
    for c in CODES:
        assert len({r.name for r in c.rules}) == len(c.rules)
        assert len(c.of(HotHolding)) == 1
        assert f"{c.hot_holding_c:g} °C" in c.rule
    for rule in _rules():
        assert rule.text.endswith(".")
        assert rule.source
        assert rule.sureness.split(":")[0].split(" ")[0] in ("high", "medium", "low")
        assert rule.force in ("law", "recommendation")


def test_nothing_here_calls_food_safe() -> None:
    for c in CODES:
        told = (c.name, c.remarks, *(t for r in c.rules for t in (r.text, r.sureness, r.remarks)))
        assert "safe" not in " ".join(told).lower().replace("health and safety code", "")


def _own(**more: Any) -> Settings:
    own = msgspec.convert({**OWN, **more}, OwnCode)
    return msgspec.structs.replace(SETTINGS, food_code="own", own_code=own)


def test_a_code_of_ones_own_is_used_with_its_numbers_and_its_source() -> None:
    found = code_of(
        _own(
            cold_holding_c=6.0,
            once_below_min=30,
            cooling=[{"to_c": 20, "within_min": 90, "clock_from_c": 61}],
            reheating={"to_c": 75, "dwell_s": 30, "from_c": 6, "within_min": 60},
            heating={"to_c": 61},
            time_control={"longest_min": 180, "cold_c": 6, "hot_c": 61},
        )
    )
    assert (found.hot_holding_c, found.cold_holding_c) == (61.0, 6.0)
    assert found.of(Cooling)[0].stages[0].within_s == 5400
    assert found.of(Reheating)[0].within_s == 3600
    assert found.of(TimeControl)[0].longest_s == 10_800
    assert {r.source for r in found.rules} == {"letter of the authority"}
    assert {r.force for r in found.rules} == {"law"}
    assert found.limit_text("C") == "61 °C"


def test_an_unknown_key_of_ones_own_code_is_refused_with_the_nearest_known_one() -> None:
    said = problems({"own_code": {**OWN, "hot_holdng_c": 61.0}}, Settings)
    assert "own_code.hot_holdng_c: unknown key; did you mean “hot_holding_c”?" in said


def test_own_without_its_table_and_a_table_without_own_are_refused() -> None:
    with pytest.raises(ConfigError, match=r'food_code = "own" needs a table \[own_code\]'):
        code_of(msgspec.structs.replace(SETTINGS, food_code="own"))
    with pytest.raises(ConfigError, match=r"\[own_code\] is there, but food_code names"):
        code_of(msgspec.structs.replace(_own(), food_code="uk"))
