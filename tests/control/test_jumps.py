"""What a jump of a reading means, on the filter of a told warmer."""

import pytest

from holdctl.control import Controller
from holdctl.control.jumps import Paste, Shape, credible, told_by
from holdctl.settings import Place
from tests.closed_loop import told

FLAT = Paste(64.0, 66.0, 65.0, 0.2)
STEEP = Paste(40.0, 69.0, 52.0, 0.5)


@pytest.mark.parametrize(
    ("paste", "rest_c", "shape"),
    [
        (FLAT, 65.3, Shape.STIRRED),
        (FLAT, 60.5, Shape.ADDITION),
        (FLAT, 68.0, Shape.ADDITION),
        (STEEP, 53.0, Shape.STIRRED),
        (STEEP, 66.0, Shape.MOVED),
        (STEEP, 36.0, Shape.ADDITION),
    ],
)
def test_where_a_reading_comes_to_rest_tells_what_was_done(paste, rest_c, shape):
    assert told_by(paste, rest_c) is shape


def test_a_tenth_of_cold_mass_is_credible_and_air_is_not():
    low_c, high_c = credible(FLAT, 65.0)
    assert low_c < 65.0 - 0.1 * (65.0 - 4.0) < high_c  # a tenth from the refrigerator, by the balance of heat
    assert low_c > 45.0
    assert high_c < 80.0


def _held(*, wall: bool = True, seconds: int = 600):
    controller = Controller(told("stirred-kettle"))
    estimator = controller.estimator
    seen = {1: 65.0, 2: 65.2}
    for _ in range(seconds):
        estimator.update(seen, 0.2, 1.0)
    return estimator


def _air(start_c: float, seconds: int, room_c: float = 20.0, lag_s: float = 60.0):
    value = start_c
    for _ in range(seconds):
        value += (room_c - value) / lag_s
        yield round(value / 0.0625) * 0.0625


def test_a_probe_that_falls_as_in_air_is_out_within_a_minute_and_the_paste_is_not_believed_cold():
    estimator = _held()
    for value in _air(65.0, 60):
        estimate = estimator.update({1: value, 2: 65.2}, 0.2, 1.0)
        if estimator.jumps.out:
            break
    assert estimator.jumps.out == (0,)
    assert abs(estimator.update({1: value, 2: 65.2}, 0.2, 1.0).mean_c - 65.0) < 2.0
    assert estimate is not None
    assert estimator.stirs == 0


def test_it_is_back_once_it_agrees_with_the_model_for_ten_seconds():
    estimator = _held()
    for value in _air(65.0, 60):
        estimator.update({1: value, 2: 65.2}, 0.2, 1.0)
    assert estimator.jumps.out
    for _ in range(11):
        estimator.update({1: 64.5, 2: 65.2}, 0.2, 1.0)
    assert not estimator.jumps.out


def test_a_person_may_say_that_it_is_in_its_place():
    estimator = _held()
    for value in _air(65.0, 60):
        estimator.update({1: value, 2: 65.2}, 0.2, 1.0)
    estimator.trust({1: 45.0, 2: 65.2})
    assert not estimator.jumps.out
    assert abs(estimator.update({1: 45.0, 2: 65.2}, 0.2, 1.0).mean_c - 45.0) < 1.0


def test_a_cold_addition_is_told_as_one_and_the_paste_takes_its_temperature():
    estimator = _held()
    for _ in range(90):
        estimate = estimator.update({1: 60.5, 2: 63.0}, 0.2, 1.0)
    assert (estimator.additions, estimator.stirs, estimator.jumps.out) == (1, 0, ())
    assert abs(estimate.mean_c - 60.5) < 1.0


def test_an_addition_that_the_filter_has_swallowed_at_its_first_reading_is_one_all_the_same():
    """Where the watch has let the paste move just then, the second reading is no surprise to the filter any more."""
    estimator = _held()
    estimator.update({1: 63.5, 2: 65.2}, 0.2, 1.0)
    estimator.touched(5.0)
    for _ in range(90):
        estimate = estimator.update({1: 63.5, 2: 65.2}, 0.2, 1.0)
    assert estimator.additions == 1
    assert estimator.learning.seconds <= 90.0, "no fit spans it"
    assert abs(estimate.mean_c - 63.5) < 0.5
    assert abs(estimate.coldest_c - 63.5) < 0.5


@pytest.mark.parametrize("lag_s", [5.0, 12.0, 25.0])
@pytest.mark.parametrize("to_c", [58.0, 69.0])
def test_a_stirred_paste_is_known_long_before_its_probe_has_come_to_rest(to_c, lag_s):
    """The probe's lag is told as 12 s; the answer is right then at once, and within a minute for another one."""
    estimator, value = _held(), 65.0
    off_k = []
    for _ in range(75):
        value += (to_c - value) / lag_s
        estimate = estimator.update({1: round(value / 0.0625) * 0.0625, 2: 65.2}, 0.2, 1.0)
        off_k.append(abs(estimate.mean_c - to_c))
    assert estimator.additions == 1
    if lag_s == 12.0:
        assert off_k[15] < 0.5
    assert off_k[-1] < 0.4
    assert estimator.learning.seconds < 20.0, "what is learnt begins where the probe has come to rest"


def test_a_wall_that_leaps_by_thirty_kelvin_is_off_and_one_that_heats_otherwise_than_told_is_not():
    estimator = _held()
    for _ in range(4):
        estimator.update({1: 65.0, 2: 95.2}, 0.2, 1.0)
    assert estimator.jumps.out
    estimator = _held()
    for second in range(120):
        estimator.update({1: 65.0, 2: 65.2 + 0.4 * second}, 0.2, 1.0)
    assert not estimator.jumps.out


def test_a_wall_probe_that_falls_off_is_out():
    estimator = _held()
    at = [probe.place for probe in estimator._probes].index(Place.WALL)
    for value in _air(65.2, 60):
        estimator.update({1: 65.0, 2: value}, 0.2, 1.0)
    assert estimator.jumps.out == (at,)


def test_while_a_probe_is_out_nothing_is_learnt():
    estimator = _held()
    for value in _air(65.0, 60):
        estimator.update({1: value, 2: 65.2}, 0.2, 1.0)
    assert estimator.due() is None
