"""One short programme of `holdsim.bench.programmes`: what the command prints stands in docs/plan.md."""

import pytest

from holdctl.settings import Step
from holdsim.bench.programmes import compare, planned

HOLD = Step(to=65.0, hold_for="1 min")


def test_holds_and_prompts_of_a_bakers_own_programme_end_when_they_were_foretold():
    own = (HOLD, Step(prompt="Taste it.", to=65.0), HOLD)
    rows = list(compare(planned("lamp-box", own, 66.0), "lamp-box"))
    assert [row.step for row in rows] == ["hold 1 min at 65 °C", "prompt", "hold 1 min at 65 °C"]
    assert [row.foretold_s for row in rows] == [60.0, 180.0, 240.0]
    for row in rows:
        assert row.came_s == pytest.approx(row.foretold_s, abs=10.0)
