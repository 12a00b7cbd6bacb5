"""The codes' numbers, each beside its published source."""

import pytest

from holdctl.errors import ConfigError
from holdctl.food.codes import CODES, code


def test_fda_hot_holding_limit_is_57_c() -> None:
    # FDA Food Code 2022, 3-501.16(A)(1): "at 57 °C (135 °F) or above"; read in WAC 246-215-03525.
    fda = code("fda-2022")
    assert fda.hot_holding_c == 57.0
    assert fda.hot_holding_c == pytest.approx((135 - 32) / 1.8, abs=0.3)
    assert "3-501.16" in fda.source


def test_uk_hot_holding_limit_is_63_c_and_names_its_reach() -> None:
    # Food Safety and Hygiene (England) Regulations 2013, SI 2013/2996, Schedule 4 paragraph 2.
    uk = code("uk")
    assert uk.hot_holding_c == 63.0
    assert "2013/2996" in uk.source
    assert "Sch. 4" in uk.source
    for place in ("Wales", "Scotland", "Northern Ireland"):
        assert place in uk.remarks


@pytest.mark.parametrize("wrong", ["", "FDA", "eu"])
def test_an_unknown_code_lists_the_known_ones_and_who_decides(wrong: str) -> None:
    with pytest.raises(
        ConfigError, match=r'"fda-2022".*57 °C.*"uk".*63 °C.*local authority decides'
    ) as caught:
        code(wrong)
    assert caught.value.exit_code == 2


def test_every_code_says_rule_source_and_how_sure() -> None:
    assert len({c.id for c in CODES}) == len(CODES)
    for c in CODES:
        assert f"{c.hot_holding_c:g} °C" in c.rule
        assert c.source
        assert c.sureness
        assert c.force in ("law", "recommendation")


def test_nothing_here_calls_food_safe() -> None:
    for c in CODES:
        text = " ".join((c.name, c.rule, c.sureness, c.remarks)).lower()
        assert "safe" not in text
