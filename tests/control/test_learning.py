"""When a stretch of record is fitted."""

from dataclasses import replace

import numpy as np
import pytest

from holdctl.control import told
from holdctl.control.identify import START
from holdctl.control.learning import AGAIN_S, FIRST_S, LEARNT_S, STEP_S, Learning
from holdctl.control.model import ThermalModel
from holdctl.control.prior import prior
from holdctl.control.ticks import Sensor
from holdctl.settings import Place
from tests.closed_loop import told as settings_of


@pytest.fixture
def learning() -> Learning:
    shape = told(settings_of("stirred-kettle"))
    before, layout = prior(shape, 20.0)
    made = Learning(shape, layout, before, (Sensor(Place.MID),))
    made.begin(np.full(ThermalModel(shape, before.parameters, layout).nodes, 20.0))
    return made


def follow(learning: Learning, seconds: float) -> None:
    for _ in range(round(seconds / STEP_S)):
        learning.tick(0.5, [40.0], STEP_S)


def stir(learning: Learning) -> None:
    learning.begin_again(np.full(6, 40.0))


def first_due_s(learning: Learning) -> float:
    while learning.due() is None:
        follow(learning, STEP_S)
    return learning.seconds


def learnt(learning: Learning) -> None:
    """Take over a fit of the stretch, whatever it found."""
    belief = learning.belief
    learning.belief = replace(belief, parameters=replace(belief.parameters, loss_w_k=2.0))


def test_the_first_fit_of_a_night_is_due_after_a_minute(learning):
    assert first_due_s(learning) == FIRST_S


def test_after_a_stir_a_warmer_learnt_for_an_hour_is_left_alone_for_ten_minutes(learning):
    """A fit of two minutes let go of the way back too early: 437 s instead of 358 s after a tenth of cold mass."""
    follow(learning, LEARNT_S)
    learnt(learning)
    stir(learning)
    assert first_due_s(learning) == AGAIN_S
    follow(learning, 300.0)
    stir(learning)
    assert first_due_s(learning) == AGAIN_S, "what was learnt before the first stir is still known"
    stir(learning)
    follow(learning, 290.0)
    stir(learning)
    assert first_due_s(learning) == AGAIN_S, "a stretch too short to learn from changes nothing"


@pytest.mark.parametrize(("wall_k", "start_k"), [(0.0, 1.5), (1.4, 1.5), (7.5, 7.5)])
def test_after_a_stir_the_walls_start_is_as_open_as_the_estimate_says(learning, wall_k, start_k):
    follow(learning, 600.0)
    learning.begin_again(np.full(6, 40.0), wall_k)
    at = learning.prior.names.index(START)
    assert learning.prior.covariance[at, at] == pytest.approx(start_k**2)
    assert not np.delete(learning.prior.covariance[at], at).any()


def test_a_walls_start_may_be_wherever_it_is_and_no_other_figure_twelve_deviations_off(learning):
    first = learning.first
    assert learning.plausible(replace(first, start_wall_k=first.start_wall_k - 60.0))
    sd = float(np.sqrt(first.covariance[0, 0]))
    name = first.names[0]
    for by, plausible in ((11.9, True), (12.1, False)):
        there = {name: first.value(name) * float(np.exp(by * sd))}
        assert learning.plausible(replace(first, parameters=replace(first.parameters, **there))) is plausible


def test_after_a_stir_a_warmer_that_is_hardly_known_is_learnt_from_the_first_minute(learning):
    follow(learning, LEARNT_S - STEP_S)
    learnt(learning)
    stir(learning)
    assert first_due_s(learning) == FIRST_S
    follow(learning, LEARNT_S)
    stir(learning)
    assert first_due_s(learning) == FIRST_S, "an hour of which no fit has been taken over has taught nothing"
