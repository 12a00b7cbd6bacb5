"""What was measured is kept once, weighed by its precision, and forgotten by nobody but the baker."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.errors import StoreError
from holdctl.paste.dough import Rise
from holdctl.paste.mixing import Loss
from holdctl.plan.learned import KEPT, Memory, Seen, load, mixing_rise, pooled, save, vessel_loss, words

BELIEVED = Loss(400.0, 250.0)


def mixed(value=600.0, sd=60.0, origin="a", vessel="pot", at=1000):
    return Seen(
        kind="mix",
        vessel=vessel,
        value=value,
        sd=sd,
        measured_c=74.0,
        planned_c=76.0,
        at_utc_ms=at,
        origin=origin,
    )


def kneaded(value=5.0, origin="a", minutes=None, at=1000):
    return Seen(
        kind="dough", vessel="", value=value, sd=1.1, measured_c=27.0, planned_c=26.0, at_utc_ms=at, origin=origin,
        minutes=minutes,
    )  # fmt: skip


def test_measurements_weigh_by_their_precision():
    # Inverse-variance weighting: (400/250² + 600/60²)/(1/250² + 1/60²).
    mean, sd = pooled((400.0, 250.0), [(600.0, 60.0)])
    assert mean == pytest.approx(589.11, abs=0.01)
    assert sd == pytest.approx(58.34, abs=0.01)


@given(st.lists(st.tuples(st.floats(0.0, 2000.0), st.floats(10.0, 300.0)), min_size=1, max_size=8))
def test_learning_lies_between_what_was_believed_and_seen_and_is_surer_than_each(values):
    mean, sd = pooled((400.0, 250.0), values)
    assert min(400.0, *(v for v, _ in values)) - 1e-6 <= mean <= max(400.0, *(v for v, _ in values)) + 1e-6
    assert sd < min(250.0, *(s for _, s in values))


def test_one_mix_moves_the_belief_and_keeps_the_scatter_of_the_next():
    loss = vessel_loss(Memory(seen=(mixed(),)), "pot", BELIEVED)
    assert loss.j_k == pytest.approx(589.1, abs=0.1)
    assert loss.sd_j_k == pytest.approx(math.hypot(58.34, 0.15 * 589.1), abs=0.1)


def test_from_the_fourth_mix_on_its_own_scatter_counts():
    seen = tuple(mixed(value, origin=str(value)) for value in (590.0, 600.0, 610.0, 600.0))
    loss = vessel_loss(Memory(seen=seen), "pot", BELIEVED)
    assert loss.sd_j_k == pytest.approx(math.hypot(29.8, math.sqrt(200.0 / 3.0)), abs=0.3)


def test_another_vessel_learns_nothing_from_it():
    assert vessel_loss(Memory(seen=(mixed(),)), "bowl", BELIEVED) is None
    assert mixing_rise(Memory(seen=(mixed(),)), Rise(3.2, 1.2)) is None


def test_a_rise_is_taken_in_proportion_to_the_minutes_where_they_were_told():
    memory = Memory(seen=(kneaded(5.0, minutes=10.0),))
    doubled = mixing_rise(memory, Rise(6.4, 1000.0), minutes=20.0)
    assert doubled.k == pytest.approx(10.0, abs=1e-3)
    assert mixing_rise(Memory(seen=(kneaded(5.0),)), Rise(6.4, 1000.0), minutes=20.0).k == pytest.approx(
        5.0, abs=1e-3
    )
    assert doubled.how == "learnt from 1 dough of yours"


def test_the_same_night_counts_once():
    memory = Memory().with_one(mixed(500.0)).with_one(mixed(600.0)).with_one(kneaded())
    assert [s.value for s in memory.of("mix", "pot")] == [600.0]
    assert len(memory.seen) == 2


def test_the_oldest_is_dropped():
    memory = Memory()
    for at in range(KEPT + 3):
        memory = memory.with_one(mixed(origin=str(at), at=at)).with_one(
            mixed(origin=f"b{at}", vessel="bowl", at=at)
        )
    assert [s.at_utc_ms for s in memory.of("mix", "pot")] == list(range(3, KEPT + 3))
    assert len(memory.of("mix", "bowl")) == KEPT


def test_it_says_what_it_learnt():
    said = words(Memory(seen=(mixed(), mixed(700.0, origin="b"), kneaded(5.0))))
    assert said[0].startswith("pot: 2 mixes measured, on average 2.0 K colder than planned")
    assert "650 J" in said[0]
    assert "friction factor of 20 K" in said[1]
    assert words(Memory()) == []


def test_what_was_learnt_comes_back_as_it_was_kept(tmp_path):
    path = tmp_path / "state" / "learned.json"
    assert load(path) == Memory()
    memory = Memory(seen=(mixed(), kneaded()))
    save(memory, path)
    assert load(path) == memory
    assert path.stat().st_mode & 0o777 == 0o600
    assert [p.name for p in path.parent.iterdir()] == ["learned.json"]


@pytest.mark.parametrize("text", ["", "{", '{"version": 2, "seen": []}', '{"seen": [{"kind": "bread"}]}'])
def test_a_file_that_is_not_understood_is_not_guessed_at(tmp_path, text):
    path = tmp_path / "learned.json"
    path.write_text(text, "utf-8")
    with pytest.raises(StoreError, match="move that file away"):
        load(path)


def test_a_folder_that_can_not_be_written_is_said(tmp_path):
    (tmp_path / "state").write_text("a file", "utf-8")
    with pytest.raises(StoreError, match="can't be kept"):
        save(Memory(), tmp_path / "state" / "learned.json")
