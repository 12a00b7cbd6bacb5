"""The same records under several codes: each is held to its own numbers (sources in `tests/data/food_codes.json`)."""

import pytest

from holdctl.food.codes import as_read, code
from holdctl.food.findings import Declared
from holdctl.food.spells import Spell, SpellKind
from tests.food.records import H, straight
from tests.food.test_judge import ANZ, BROKEN, CHILLED, FDA, MET, OPEN, UK, of

GERMANY, CANADA, FRANCE, SCOTLAND = (code(i) for i in ("de-bfr-2020", "canada", "france", "uk-scotland"))
COOLED = Declared(spells=(Spell(SpellKind.COOLING, 0.0, 99 * H),))


@pytest.mark.parametrize(
    ("by", "limit_c"),
    [(FDA, 57.0), (GERMANY, 60.0), (CANADA, 60.0), (ANZ, 60.0), (UK, 63.0), (SCOTLAND, 63.0), (FRANCE, 63.0)],
    ids=lambda x: getattr(x, "id", x),
)
def test_hot_holding_is_met_at_the_codes_own_limit_and_broken_under_it(by, limit_c) -> None:
    at, under = (straight([(0, 70), (1, t), (6, t)]) for t in (limit_c, limit_c - 0.1))
    assert of(at, "hot-holding", by=by).verdict is MET
    found = of(under, "hot-holding", by=by)
    assert found.verdict is BROKEN
    assert found.breaches[0].margin_k == pytest.approx(0.1)
    assert found.force == by.hot_holding.force and found.source == by.source


def test_germanys_is_a_recommendation_and_its_cooling_has_no_number() -> None:
    """BfR Opinion 037/2020; Regulation (EC) 852/2004, Annex II ch. IX."""
    record = straight([(0, 65), (1, 65), (9, 4)])
    assert of(record, "hot-holding", by=GERMANY).force == "recommendation"
    assert of(record, "cooling", COOLED, GERMANY).verdict is OPEN


@pytest.mark.parametrize(
    ("by", "stages"), [(CANADA, (60, 20, 4)), (ANZ, (60, 21, 5))], ids=lambda x: getattr(x, "id", "")
)
def test_the_second_stage_of_canada_and_australia_runs_from_the_end_of_the_first(by, stages) -> None:
    """2 h, then a further 4 h: a first stage of 1 h leaves no more for the second."""
    top, middle, cold = stages
    good = straight([(0, 70), (1, top), (2, middle), (5.9, cold), (6.5, cold)])
    assert of(good, "cooling", COOLED, by).verdict is MET
    late = straight([(0, 70), (1, top), (2, middle), (6.2, cold), (6.5, cold)])  # 5.2 h in all
    found = of(late, "cooling", COOLED, by)
    (breach,) = found.breaches
    assert (breach.start_s, breach.limit_s) == (pytest.approx(2 * H, abs=2), 4 * H)
    slow = straight([(0, 70), (1, top), (3.1, middle), (4, cold), (6.5, cold)])
    assert [b.limit_s for b in of(slow, "cooling", COOLED, by).breaches] == [2 * H]


def test_reheating_asks_74_82_60_or_63_by_the_code() -> None:
    """FDA 3-403.11, Scotland's paragraph 3, Standard 3.2.2 cl. 7(4), France from 10 °C within 1 h."""
    to = [(0, 4), (0.8, 75), (2, 66), (6, 66)]
    verdicts = {
        by.id: of(straight(to), "reheating", CHILLED, by).verdict for by in (FDA, SCOTLAND, ANZ, FRANCE)
    }
    assert verdicts == {"fda-2022": MET, "uk-scotland": BROKEN, "anz": MET, "france": MET}
    slow = [(0, 4), (2.2, 70), (6, 66)]
    assert of(straight(slow), "reheating", CHILLED, ANZ).verdict is MET  # no time is given
    assert of(straight(slow), "reheating", CHILLED, FRANCE).verdict is BROKEN


def test_paste_at_57_1_degrees_meets_57_c_and_not_135_f() -> None:
    """57.1 °C are 134.8 °F: who reads °F is held to the code's own 135."""
    record = straight([(0, 65), (1, 57.1), (6, 57.1)])
    assert of(record, "hot-holding").verdict is MET
    found = of(record, "hot-holding", by=as_read(FDA, "F"))
    assert found.verdict is BROKEN
    from holdctl.food.say import in_units

    assert in_units(found.limit, "F") == "135 °F or above"
