"""One small task from plant to table."""

import json

import pytest

from holdsim.bench import disturb
from holdsim.bench import run as running
from holdsim.bench.goals import goal_table
from holdsim.bench.run import Task, run, tasks
from holdsim.bench.tables import suite_table


@pytest.fixture
def short_nights(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a way up take a fifth over its limit, and each disturbance twenty minutes."""
    for place in (disturb, running):
        monkeypatch.setattr(place, "SHORTEST_S", 1200)
        monkeypatch.setattr(place, "TIMES", 1.2)


@pytest.mark.usefixtures("short_nights")
def test_a_task_scores_every_controller_on_one_limit_and_its_rows_are_json() -> None:
    outcome = run(Task("two-node", 0, 1, "cold", ("on-off", "ours-two"), disturb=True, curves=True))
    assert [row.controller for row in outcome.rows] == ["on-off", "ours-two"]
    assert len({row.limit_s for row in outcome.rows}) == 1
    assert set(outcome.curves) == {"on-off", "ours-two"}
    limit = outcome.rows[0].limit_s
    assert limit is not None
    for row in outcome.rows:
        # No controller with the limit's own slack arrives before the limit; the truth is looked at each second.
        assert row.score.ratio is None or row.score.ratio >= 1.0 - 2.0 / limit
        assert [one["kind"] for one in row.recoveries] == ["lid", "stir", "mains", "cold mass"]
    assert json.loads(json.dumps([row.plain() for row in outcome.rows]))[0]["controller"] == "on-off"
    assert "on-off" in suite_table(outcome.rows, "two-node", "cold")
    assert "ours-two: come-up ÷ limit" in goal_table(outcome.rows)


def test_more_plants_keep_the_first_ones() -> None:
    few = list(tasks(["two-node"], 2, 1, ["cold"], ("on-off",), disturb=False))
    many = list(tasks(["two-node"], 5, 1, ["cold"], ("on-off",), disturb=False))
    assert many[:2] == few
