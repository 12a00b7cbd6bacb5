"""docs/food-codes.md names every code with its limit."""

from pathlib import Path

import pytest

from holdctl.food.codes import AUTHORITY, CODES, FoodCode

PAGE = (Path(__file__).parents[2] / "docs" / "food-codes.md").read_text()


@pytest.mark.parametrize("code", CODES, ids=lambda c: c.id)
def test_every_code_stands_on_the_page_with_its_limit(code: FoodCode) -> None:
    row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{code.id}`"))
    assert f"{code.hot_holding_c:g} °C" in row


def test_the_page_says_who_decides() -> None:
    assert AUTHORITY in PAGE
