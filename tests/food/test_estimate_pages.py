"""The pages on growth, heat and amylases say what the code reckons with."""

import re
from pathlib import Path

import pytest

from holdctl.food.amylase import ALPHA, BETA, left_after
from holdctl.food.lethality import RESISTANCES, UK_TABLE, Z_BURGER_K, Z_LISTERIA_K, equivalent_min
from holdctl.food.organisms import SETS
from holdctl.food.rates import generation_min, optimum
from holdctl.paste.gelatinisation import WHEAT

DOCS = Path(__file__).parents[2] / "docs"


def rows(page):
    """Every row of every table, its cells stripped."""
    text = (DOCS / page).read_text("utf-8")
    lines = [line for line in text.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def row(page, first):
    (found,) = [cells for cells in rows(page) if cells[0] == first]
    return found


@pytest.mark.parametrize("one", SETS, ids=lambda one: one.id)
def test_every_fit_stands_on_its_page_with_its_numbers(one):
    _, _, rate, low, best, high, doubles, lag, source, sure = row("growth.md", f"`{one.id}`")
    assert (float(low), float(high)) == (one.min_c, one.max_c)
    assert float(best) == pytest.approx(optimum(one)[0], abs=0.051)
    assert float(doubles) == pytest.approx(generation_min(one, optimum(one)[0]), abs=0.051)
    numbers = [float(n) for n in re.findall(r"\d+\.?\d*(?!\d*\))", rate.replace("(log10)", ""))]
    assert numbers == pytest.approx(
        [one.rate] if one.steepness is None else [one.rate, one.steepness], rel=1e-3
    )
    assert ("log10" in rate) == (one.unit == "log10/h")
    assert lag == "–" if one.h0 is None else float(lag) == pytest.approx(one.h0, abs=0.0051)
    assert sure.startswith(one.sureness)
    assert source


@pytest.mark.parametrize("one", [one for one in RESISTANCES if not one.spores], ids=lambda one: one.name)
def test_the_d_values_stand_on_their_page(one):
    found = [float(cell) for cell in row("lethality.md", one.name)[1:]]
    assert found == pytest.approx([*(one.d_at_min(t) for t in (60, 65, 70)), one.z_k], rel=5e-3)


def test_the_equal_times_stand_on_their_page():
    for temp_c in (60, 63, 65, 67, 70, 75, 80):
        _, listeria, burger, _ = row("lethality.md", str(temp_c))
        assert float(listeria) == pytest.approx(equivalent_min(temp_c, Z_LISTERIA_K), rel=5e-3)
        assert float(burger) == pytest.approx(equivalent_min(temp_c, Z_BURGER_K), rel=1.5e-2)
    for temp_c, minutes in UK_TABLE:
        printed = row("lethality.md", f"{temp_c:g}")[3]
        value, unit = printed.split()
        assert float(value) * {"min": 1, "s": 1 / 60}[unit] == pytest.approx(minutes)


@pytest.mark.parametrize("enzyme", [ALPHA, BETA], ids=lambda one: one.name)
@pytest.mark.parametrize("temp_c", [62, 65, 70])
def test_the_amylase_left_stands_on_its_page(enzyme, temp_c):
    cells = row("saccharification.md", f"{enzyme.name[0]} at {temp_c} °C")[1:]
    for printed, minutes in zip(cells, (30, 60, 180), strict=True):
        nominal, low, high = (round(100 * x) for x in _ordered(left_after(enzyme, temp_c, minutes)))
        wanted = f"{nominal} %" if low == nominal == high else f"{nominal} % ({low}–{high})"
        assert printed == wanted


def _ordered(share):
    return share.nominal, share.low, share.high


def test_half_lives_and_starch_stand_on_the_page():
    text = " ".join((DOCS / "saccharification.md").read_text("utf-8").split())
    for enzyme in (ALPHA, BETA):
        low, nominal, high = enzyme.half_life_min
        assert f"**{nominal:g} min ({low:g} to {high:g})**" in text
        assert f"{enzyme.z_k:g} K" in text
    assert f"onset {WHEAT.onset_c.low:g}, peak {WHEAT.peak_c.low:g}, end {WHEAT.end_c.low:g} °C" in text


def test_every_page_says_that_it_is_no_verdict_and_that_spores_survive():
    growth, heat, bread = (
        " ".join((DOCS / f"{name}.md").read_text("utf-8").split())
        for name in ("growth", "lethality", "saccharification")
    )
    assert "no verdict" in growth and "authority" in growth
    assert "Spores survive" in growth and "Spores survive" in heat
    assert "indicative" in bread
    for text in (growth, heat, bread):
        assert not re.search(
            r"\bsafe(ly|ty)?\b",
            text.replace("Food Saf.", "").replace("Report on the safe cooking of burgers", ""),
            re.IGNORECASE,
        )
