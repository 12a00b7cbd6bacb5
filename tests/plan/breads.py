"""Breads and plans of an invented bakery for the tests of this room."""

import copy
import json
from functools import cache

from holdctl.plan import make, reading
from holdctl.plan.plan import (
    CoolingPart,
    DoughPart,
    MixPart,
    NightPart,
    PlanStep,
    ProgrammePart,
    StagePart,
)

WHITE = {
    "flour": [{"name": "white-wheat", "grams": 1000}],
    "water": {"grams": 660},
    "ingredient": [{"name": "salt", "grams": 18}, {"name": "yeast", "grams": 10}],
    "scald": {"share": 15},
}
AT_MS = 1_767_225_600_000  # 2026-01-01 00:00 UTC


def bread(**changes):
    data = copy.deepcopy(WHITE)
    data.update(changes)
    return data


def plan(**changes):
    """Return the plan of the white bread with changes; the same one is made once."""
    return _made(json.dumps(bread(**changes)))


@cache
def _made(text):
    return make.make(reading.bread(json.loads(text), "test"), None, AT_MS)


MIX = MixPart(
    water_c=96.0, mix_c=76.4, low_c=75.0, high_c=78.0, boiling_c=99.97,
    why="Hot enough to gelatinise; let it fall below 70 °C before the malt.",
)  # fmt: skip
NIGHT = NightPart(
    warmer="mat box", known="assumed for its kind", start_c=66.0, band_s=(600.0, 1200.0, 2400.0),
    ready_s=(15_000.0, 15_600.0, 16_800.0), coldest_c=62.5, hottest_c=68.0, food_code="fda-2022",
    code_kept=True, verdict="Kept on the way: 57 °C or more (Food Code 3-501.16).",
)  # fmt: skip
PROGRAMME = ProgrammePart(
    steps=(PlanStep(at_s=0.0, words="mix"), PlanStep(at_s=600.0, words="stir until it reads 66 °C"))
)
COOLING = CoolingPart(
    where="fridge", way="in the fridge, spread 2 cm deep", start_c=65.0, depth_cm=2.0, dough_c=30.0,
    dough_s=(2400.0, 4200.0), rule="FDA Food Code 2022, 3-501.14(A)", kept="yes",
    stages=(StagePart(from_c=57.0, to_c=21.0, within_s=7200.0, fast_s=3000.0, slow_s=6000.0, met="yes"),),
)  # fmt: skip
DOUGH = DoughPart(
    wanted_c=26.0, dough_c=26.0, low_c=25.0, high_c=27.0, met=True, water_c=14.0, water_g=550.0, scald_c=30.0,
    rise_k=3.2, rise_how="common practice", rule_c=18.0, rule_dough_c=27.0, why="The bakers' sum knows no masses.",
)  # fmt: skip
