"""Heat without orders, found on the model's own plant: what is put in must come out."""

import math

import numpy as np
import pytest

from holdctl.control import Controller
from holdctl.control.doubt import doubt_of
from holdctl.control.identify import Belief
from holdctl.control.kalman import KalmanFilter
from holdctl.control.model import ThermalModel
from holdctl.control.onsets import FORGET, Onsets
from holdctl.control.prior import prior
from holdctl.control.residual import CALM, Heat, Residual, _heats
from holdctl.control.told import told as told_of
from tests.closed_loop import told

GRID = 15


def _pair(preset="stirred-kettle", truth_of=lambda belief: belief.parameters):
    """A filter with a belief, and a warmer of the same kind whose parameters may be others."""
    estimator = Controller(told(preset)).estimator
    knows = told_of(told(preset))
    belief, layout = prior(knows, knows.ambient_c, sees_wall=True)
    source = KalmanFilter(ThermalModel(knows, belief.parameters, layout), estimator._sensors)
    truth = KalmanFilter(ThermalModel(knows, truth_of(belief), layout), estimator._sensors)
    return source, truth, belief


def _night(
    extra,
    minutes=40,
    duty=lambda t: 0.3,
    noise_k=0.03,
    pair=None,
    unsure=False,
    step_k=1e-6,
    awake=True,
    residual_of=None,
):
    """A warmer, by default exactly the filter's model, with `extra` duty from minute 20 on; yields the looks."""
    source, truth, belief = pair or _pair()
    source.start([60.0, 61.0])
    truth.start([60.0, 61.0])
    residual, rng, heats = Residual(source), np.random.default_rng(3), []
    residual.awake = awake
    if residual_of is not None:
        residual_of.append(residual)
    if unsure:
        residual.unsure(belief)
    for second in range(minutes * 60):
        ordered = duty(second)
        fault = extra(second, ordered) if second >= 1200 else 0.0
        truth.predict(ordered + fault)
        source.predict(ordered)
        seen = [truth.probe_c(i) + noise_k * rng.standard_normal() for i in range(len(source.sensors))]
        readings = [round(value / step_k) * step_k for value in seen]
        source.correct(readings)
        if residual.tick(readings):
            heats = residual.look() or heats
            yield second, heats


def _near(heats, window_s):
    return min(heats, key=lambda heat: abs(heat.window_s - window_s))


@pytest.mark.parametrize("heat", [0.5, -0.3])
def test_heat_that_comes_without_orders_is_measured(heat):
    for second, heats in _night(lambda _s, _d: heat, minutes=30):
        if second > 1200 + 300:
            found = _near(heats, 300)
            assert found.before + found.heat == pytest.approx(heat, abs=0.1)
            assert abs(found.heat) > 20.0 * found.sd
            return


@pytest.mark.parametrize("unsure", [False, True])
@pytest.mark.parametrize(("noise_k", "step_k"), [(0.03, 1e-6), (0.03, 0.0625), (0.0, 0.0625)])
def test_without_a_fault_looks_stay_within_their_deviation(unsure, noise_k, step_k):
    night = _night(lambda _s, _d: 0.0, unsure=unsure, noise_k=noise_k, step_k=step_k, duty=lambda t: 0.21)
    sigmas = [abs(h.heat) / h.sd for second, heats in night if second > 900 for h in heats]
    assert max(sigmas) < 4.0


def test_a_deficit_in_proportion_to_the_duty_is_told_from_a_constant_one():
    def swinging(second):
        return 0.2 if second < 1500 else 0.7

    favours = {}
    for name, extra in (("heater", lambda _s, d: -0.5 * d), ("loss", lambda _s, _d: -0.2)):
        for second, heats in _night(extra, minutes=32, duty=swinging):
            if second > 1890:
                found = _near(heats, 720)
                favours[name] = found.favour
                if name == "heater":
                    assert found.share == pytest.approx(0.5, abs=0.05)
                break
    assert favours["heater"] > 16.0
    assert favours["loss"] < -16.0


def test_an_error_of_the_model_that_it_admits_is_no_heat():
    def wrong(belief):
        return belief.moved(
            np.array([1.0 if n == "loss_w_k" else 0.0 for n in belief.names])
            * np.sqrt(np.diag(belief.covariance))
        )[0]

    worst = {}
    for unsure in (False, True):
        pair = _pair(truth_of=wrong)
        worst[unsure] = max(
            abs(h.heat) / h.sd
            for _, heats in _night(lambda _s, _d: 0.0, pair=pair, unsure=unsure)
            for h in heats
        )
    assert worst[False] > 10.0
    assert worst[True] < 4.0


def test_a_doubt_is_what_another_model_does_otherwise():
    source, _, belief = _pair()
    rng = np.random.default_rng(5)
    doubt = doubt_of(source, belief, GRID)
    assert doubt.directions == len(belief.names)
    duty = 0.4
    temps = 30.0 + 10.0 * rng.random(source.model.nodes)
    temps[5:] = 40.0
    x = np.zeros(source.model.modes + len(source.sensors) + 1)
    x[: source.model.modes] = source.model.begin(temps)
    x[source.model.modes : -1] = [40.0] * len(source.sensors)
    driven = doubt.driven(x, duty, duty)
    f, g, _ = source.over(GRID)
    ours = f @ x + g * duty
    way = np.linalg.cholesky(belief.covariance).T[belief.names.index("ambient_c")]
    other = ThermalModel(source.model.geometry, belief.moved(0.5 * way)[0], source.model.layout)
    there = KalmanFilter(other, source.sensors)
    cooler = source.model.parameters.ambient_c - other.parameters.ambient_c
    y = np.zeros_like(x)
    y[: other.modes] = other.begin(source.model.shape @ x[: source.model.modes] + cooler)
    y[other.modes : -1] = x[other.modes : -1] + cooler
    f, g, _ = there.over(GRID)
    y = f @ y + g * duty
    theirs = np.append(other.shape @ y[: other.modes], y[other.modes : -1]) - cooler
    known = np.append(source.model.shape @ ours[: source.model.modes], ours[source.model.modes : -1])
    column = driven[:, belief.names.index("ambient_c")] * 0.5
    moved = np.append(source.model.shape @ column[: source.model.modes], column[source.model.modes : -1])
    lid = 4  # stands between two others: its temperature is no state of its own
    assert np.delete(known + moved, lid) == pytest.approx(np.delete(theirs, lid), abs=1e-6)


def test_a_new_belief_begins_anew_and_the_same_one_does_not():
    source, _, belief = _pair()
    source.start([60.0, 61.0])
    residual = Residual(source)

    def looks(seconds):
        return [residual.look() for _ in range(seconds) if residual.tick([60.0, 61.0])]

    residual.unsure(belief)
    assert looks(120)[-1]
    residual.unsure(belief)
    assert looks(15)[-1]
    residual.unsure(Belief(belief.parameters, 0.0, belief.names, belief.covariance))
    assert not looks(30)[-1]


def test_onsets_are_kept_for_two_hours_the_older_the_fewer():
    source, _, _ = _pair()
    source.start([60.0, 61.0])
    residual, heats = Residual(source), []
    for _ in range(3 * 3600):
        if residual.tick([60.0, 61.0]):
            heats = residual.look()
    ages = [heat.window_s for heat in heats]
    assert ages == sorted(ages)
    assert ages[0] == 60
    # The first step of the grid begins the course.
    assert {heat.window_s + heat.known_s for heat in heats} == {3 * 3600 - GRID}
    assert 6600 < ages[-1] < 7200
    assert len(ages) < 60


@pytest.mark.parametrize("heat", [0.0, -0.3])
def test_while_nobody_suspects_anything_the_youngest_and_the_surest_onset_are_told_alone(heat):
    thin, whole = {}, {}
    for awake in (True, False):
        for second, heats in _night(lambda _s, _d: heat, minutes=25, awake=awake):
            if second > 900:
                (whole if awake else thin)[second] = heats
    for second, heats in thin.items():
        surest = max(whole[second], key=lambda one: abs(one.heat) / one.sd)
        if abs(surest.heat) / surest.sd >= CALM:
            assert heats == whole[second]
        else:
            assert surest in heats
            assert heats[0] == whole[second][0]
            assert len(heats) <= 2
    assert any(len(heats) > 2 for heats in thin.values()) is (heat != 0.0)


def test_the_begin_is_left_after_a_while_but_for_a_heater_that_has_not_heated_since(monkeypatch):
    assert FORGET * GRID == 2 * 3600
    monkeypatch.setattr("holdctl.control.residual.FORGET", 40.0)
    for duty, left in ((0.0, True), (1.0, False)):
        source, _, belief = _pair()
        source.start([60.0, 60.0])
        residual = Residual(source)
        residual.unsure(belief)
        for second in range(41 * GRID + 1):
            source.predict(duty)
            if residual.tick([60.0 - (second / 3600.0 if left else 0.0)] * 2):
                residual.look()
        assert (residual.at_first == []) is left


@pytest.mark.parametrize("duty", [1.0, 0.0])
def test_the_begin_is_left_as_soon_as_the_heater_has_been_seen_to_heat(duty):
    kept: list[Residual] = []
    night = _night(lambda _s, _d: 0.0, minutes=20, duty=lambda _s: duty, unsure=True, residual_of=kept)
    seen = [second for second, _ in night if kept[0].at_first]
    assert seen[0] <= 5 * GRID
    assert (seen[-1] < 300) is (duty == 1.0), "what has not been asked to heat has not been seen to"


@pytest.mark.parametrize(
    ("heat", "sd", "duty", "seen"),
    [
        (0.0, 0.125, 1.0, False),
        (0.0, 0.1249, 1.0, True),
        (0.0, 0.01, 0.5, True),
        (0.0, 0.01, 0.499, False),
        (-0.5, 0.01, 1.0, False),
        (-0.499, 0.01, 1.0, True),
        (-1.0, 0.01, 1.0, False),
    ],
)
def test_a_heater_is_seen_to_heat_at_eight_deviations_and_more_than_half_of_half_the_power(
    heat, sd, duty, seen
):
    one = Heat(600, heat - 0.25, sd, duty, None, 0.25, 0.0, 0.0, 0)
    surer = Heat(300, -duty - 0.25, 0.001, duty, None, 0.25, 0.0, 0.0, 300)
    assert _heats([one], late=False) is seen
    assert _heats([surer, one], late=False) is seen, "any of them"
    assert _heats([surer, one], late=True) is seen, "late the surest, and that shows none"
    assert _heats([one], late=True) is (heat > -duty / 2.0)
    assert not _heats([], late=True)


def test_an_onset_is_told_what_a_least_squares_over_the_whole_course_says_of_it():
    """Each mark anew from the definition, and all heats with the open directions in one weighted least squares."""
    rng, size, ways = np.random.default_rng(2), 3, 2
    f = np.array([[0.9, 0.1, 0.0], [0.05, 0.9, 0.1], [0.0, 0.0, 1.0]])
    g, open_now = np.array([0.4, 0.1, 0.0]), 0.1 * rng.standard_normal((size, ways))
    gain, sure = np.array([[0.1], [0.2], [0.05]]), np.array([[25.0]])
    onsets, probes = Onsets(size, open_now), slice(0, 1)
    steps = [
        (float(rng.random()), 0.1 * rng.standard_normal((size, ways)), rng.standard_normal(1))
        for _ in range(70)
    ]
    for duty, driven, wrong in steps:
        onsets.begin(0.0)
        onsets.correct(onsets.advance(f, g, duty, driven), probes, gain, sure, wrong)
        onsets.thin()
    along, weight = onsets.told()
    answers, left, count = {}, math.inf, 0.0
    for at, age in enumerate(onsets.ages):
        mark, rows, seen, count = np.hstack([np.zeros((size, 2)), open_now]), [], [], 0.0
        for number, (duty, driven, wrong) in enumerate(steps):
            heat = np.outer(g, [1.0, duty]) * (number >= len(steps) - age)
            after = f @ mark + np.hstack([heat, driven])
            row = (mark[:1] + after[:1]) / 2.0
            mark = after - gain @ row
            fade = (1.0 - 1.0 / FORGET) ** (len(steps) - 1 - number)
            rows.append(math.sqrt(fade) * 5.0 * row[0])
            seen.append(math.sqrt(fade) * 5.0 * wrong[0])
            count += fade
        matrix = np.vstack([np.array(rows), np.hstack([np.zeros((ways, 2)), np.eye(ways)])])
        target = np.append(seen, np.zeros(ways))
        for kind in (0, 1):
            columns = matrix[:, [kind, 2, 3]]
            found, rest, *_ = np.linalg.lstsq(columns, target, rcond=None)
            answers[at, kind] = float(found[0]), float(np.linalg.inv(columns.T @ columns)[0, 0])
            left = min(left, float(rest[0])) if kind == 0 else left
    scatter = max(1.0, left / count)
    assert scatter > 10.0, "innovations that no onset explains make every look less sure"
    for (at, kind), (heat, spread) in answers.items():
        own = 2 * kind
        assert along[kind, at] / weight[own, at] == pytest.approx(heat, rel=1e-9)
        assert 1.0 / weight[own, at] == pytest.approx(spread * scatter, rel=1e-9)


def test_heat_that_was_taken_for_true_is_the_load_and_its_end_is_an_onset_of_its_own():
    residual_of, times, after, taken = [], [], [], None
    night = _night(lambda s, _d: -0.2 if s < 2400 else 0.0, minutes=50, residual_of=residual_of)
    for second, heats in night:
        residual = residual_of[0]
        best = max(heats, key=lambda one: abs(one.heat) / one.sd, default=None)
        if heats is taken or best is None:
            continue
        if second > 1200 and abs(best.heat) > 12.0 * best.sd:
            residual.take()
            times.append(second)
            taken = heats
        elif times and second - times[0] > 300 and second < 2400:
            after += [(one.before + one.heat, abs(one.heat) / one.sd) for one in heats]
    went, came = [one for one in times if one < 2400], [one for one in times if one >= 2400]
    assert len(went) == 1
    assert went[0] < 1300
    assert 2400 < came[0] < 2500
    assert came[-1] < 2760, "a begin between two steps is put right within minutes"
    assert max(sigmas for _, sigmas in after) < 5.5
    assert np.mean([heat for heat, _ in after]) == pytest.approx(-0.2, abs=0.03)
    assert residual._course.x[-1] == pytest.approx(0.0, abs=0.05)


def test_after_heat_was_taken_the_last_look_stays_until_an_onset_since_is_old_enough():
    residual_of, last, seen = [], None, []
    for second, heats in _night(lambda _s, _d: -0.2, minutes=30, residual_of=residual_of):
        if second > 1400 and last is None:
            residual_of[0].take()
            last = heats
        elif last is not None:
            seen.append(heats)
    assert seen[0] is seen[1] is seen[2] is last, "the same look, which is judged once"
    assert [h.window_s for h in seen[3]] == [60]


def test_without_a_course_nothing_is_taken():
    source, _, _ = _pair()
    source.start([65.0, 65.0])
    residual = Residual(source)
    residual.take()
    assert residual._course is None


def test_what_was_believed_at_the_begin_is_judged_on_whatever_is_adopted_until_a_stir():
    source, _, belief = _pair()
    source.start([60.0, 60.0])
    residual = Residual(source)
    residual.unsure(belief)

    def run(seconds):
        for _ in range(seconds):
            source.step(1.0, [60.0, 60.0])  # full power, and nothing rises
            if residual.tick([60.0, 60.0]):
                residual.look()

    run(300)
    other = ThermalModel(source.model.geometry, belief.parameters, source.model.layout)
    source.adopt(other, source.nodes, np.zeros((other.nodes, 1)))
    run(300)
    best = max(residual.at_first, key=lambda heat: abs(heat.heat) / heat.sd)
    assert best.heat < -6.0 * best.sd
    assert best.before + best.heat == pytest.approx(-1.0, abs=0.25)
    residual.forget()
    assert residual.at_first == []
    run(60)
    assert residual.at_first == []


def test_a_probe_that_says_nothing_makes_no_look():
    source, _, _ = _pair()
    source.start([65.0, 65.2])
    residual = Residual(source)
    for _ in range(400):
        source.step(0.2, [None, 65.2])
        if residual.tick([None, 65.2]):
            assert residual.look() == []
