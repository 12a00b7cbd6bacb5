"""What the hold tells from its control: forecasts, advice, a stir's gain, a second probe."""

import copy
import math
from dataclasses import replace
from functools import cache

import msgspec
import numpy as np
import pytest

from holdctl.control.approach import Leg
from holdctl.control.learning import as_event
from holdctl.events import Forecast, Identified, NoticeKind
from holdctl.hold import Hold
from holdctl.hold.deep_probe import shows_after_s
from holdctl.settings import Place, Probe
from holdsim import PRESETS
from tests.closed_loop import Loop, instant, loop
from tests.closed_loop import told as settings_of

MIN = 60_000


def _forecast(minutes: int, stir_min: int = 0) -> Forecast:
    return Forecast((minutes * MIN,) * 3, None, 40.0, 70.0, stir_min * MIN, 9.0)


@cache
def _three_minutes() -> Hold:
    return Loop(Hold(settings_of("jacket")), PRESETS["jacket"].build(seed=1, start_c=30.0)).run(180).hold


def _hold() -> Hold:
    """A hold three minutes old, played once; each caller has its own."""
    return copy.deepcopy(_three_minutes())


def test_a_forecast_is_due_and_says_what_it_foretells():
    hold = _hold()
    task = hold.foretell(instant(180_000))
    assert task is not None
    assert hold.foretell(instant(181_000)) is None
    told = hold.foretold(task(), instant(182_000))
    assert told[0].kind is NoticeKind.FORECAST
    assert set(told[0].detail) == {f.name for f in msgspec.structs.fields(Forecast)}


def test_a_stir_is_advised_once_in_twenty_minutes():
    hold = _hold()
    names = []
    for minute in range(0, 41, 4):
        names += [n.name for n in hold.foretold(_forecast(90, 25), instant(minute * MIN))]
    assert names.count("forecast") == 11
    assert names.count("stir-now") == 3


def test_after_a_stir_the_next_forecast_tells_what_it_brought():
    hold = _hold()
    hold.foretold(_forecast(90), instant(10 * MIN))
    hold.drive.controller.estimator.stirs += 1
    seen = hold.drive.counsel.look(12 * MIN, 0.5, 1.0)
    assert "stir-seen" in [n.name for n in seen]
    told = {n.name: n for n in hold.foretold(_forecast(60), instant(14 * MIN))}
    assert told["stirred"].detail == {"gain_ms": 26 * MIN}
    assert "26 min" in told["stirred"].text
    assert "stirred" not in [n.name for n in hold.foretold(_forecast(58), instant(18 * MIN))]


def test_while_the_baker_is_at_work_no_stir_is_measured_and_afterwards_by_the_forecast_before_it():
    hold = _hold()
    hold.foretold(_forecast(90), instant(10 * MIN))
    hold.drive.controller.estimator.stirs += 1
    hold.drive.counsel.look(12 * MIN, 0.5, 1.0)
    learning = hold.drive.controller.estimator.learning
    learning.paused = True
    assert "stirred" not in [n.name for n in hold.foretold(_forecast(10), instant(13 * MIN))]
    learning.paused = False
    told = {n.name: n for n in hold.foretold(_forecast(60), instant(14 * MIN))}
    assert told["stirred"].detail == {"gain_ms": 26 * MIN}


@pytest.mark.parametrize("blind", ["before", "after", "both"])
def test_where_no_end_can_be_foretold_nothing_is_said_of_what_a_stir_has_brought(blind):
    hold = _hold()
    never = Forecast(None, None, 40.0, 70.0, 0, 9.0)
    hold.foretold(never if blind != "after" else _forecast(90), instant(10 * MIN))
    hold.drive.controller.estimator.stirs += 1
    hold.drive.counsel.look(12 * MIN, 0.5, 1.0)
    after = _forecast(60) if blind == "before" else never
    told = {n.name: n for n in hold.foretold(after, instant(14 * MIN))}
    assert told["stirred"].detail == {"gain_ms": None}
    assert "can't be said yet" in told["stirred"].text


def test_a_second_probe_is_advised_only_where_much_power_is_held_back_and_only_once():
    settings = settings_of("mat-box")
    hold = Hold(msgspec.structs.replace(settings, probe=settings.probe[:1]))
    Loop(hold, PRESETS["mat-box"].build(seed=1, start_c=64.0)).run(2)
    controller, counsel = hold.drive.controller, hold.drive.counsel

    def advised(margin_k, limited):
        controller.margin_k, controller.limited = margin_k, limited
        return [n.name for n in counsel.look(0, 0.5, 1.0) if n.name == "second-probe"]

    assert advised(1.9, True) == []
    assert advised(5.0, False) == []
    assert advised(5.0, True) == ["second-probe"]
    assert advised(5.0, True) == []


@pytest.mark.parametrize(
    ("share", "words"), [(60.0, "The vessel takes up 5900 % more"), (0.02, "98 % less"), (1.05, None)]
)
def test_a_warmer_that_is_found_to_be_another_one_is_told_once_after_twenty_minutes(share, words):
    hold = _hold()
    estimator, counsel = hold.drive.controller.estimator, hold.drive.counsel
    learning = estimator.learning
    vessel = learning.first.value("vessel_j_k")
    moved = replace(learning.belief.parameters, vessel_j_k=share * vessel)
    learning.belief = replace(learning.belief, parameters=moved)
    sd = abs(learning.moved()["vessel_j_k"])
    assert (sd >= 3.5) == (words is not None), f"{sd:.1f} deviations"

    def said():
        estimator.changed += 1
        return [n for n in counsel.look(0, 0.5, 1.0) if n.name == "warmer-changed"]

    assert said() == []  # the stretch is three minutes long
    learning._stored.duty += [0.5] * 120
    found = said()
    assert len(found) == (words is not None)
    assert all(words in n.text for n in found), found
    assert said() == []


def test_a_come_up_much_slower_than_foretold_is_told_and_no_longer_once_it_is_there():
    counsel = _hold().drive.counsel
    assert counsel.slow(_forecast(60), 10 * MIN) == ""  # too early to promise anything
    assert counsel.slow(_forecast(60), 20 * MIN) == ""
    assert counsel.slow(_forecast(50), (20 + 89) * MIN) == ""
    assert "foretold were 60 at most" in counsel.slow(_forecast(50), (20 + 91) * MIN)
    assert counsel.slow(_forecast(0), (20 + 92) * MIN) == ""


def test_after_a_stir_the_come_up_has_its_time_anew():
    counsel = _hold().drive.counsel
    counsel.slow(_forecast(60), 20 * MIN)
    counsel.controller.estimator.stirs += 1
    assert counsel.slow(_forecast(50), (20 + 91) * MIN) == ""


def test_with_one_probe_in_the_core_power_is_held_back_and_a_second_probe_is_advised():
    settings = settings_of("mat-box")
    core = (Probe(channel=1, place=Place.CORE, error_k=0.5),)
    night = Loop(
        Hold(msgspec.structs.replace(settings, probe=core)), PRESETS["mat-box"].build(seed=1, start_c=20.0)
    )
    night.run(2400)
    told = [n for n in night.notices if n.name == "second-probe"]
    assert len(told) == 1
    assert "second probe on the heated wall" in told[0].text
    assert max(row.truth.hottest_c for row in night.rows) <= 71.0


@pytest.mark.parametrize(("place", "late"), [(Place.CORE, True), (Place.EDGE, False)])
def test_a_hold_whose_only_probe_sees_the_heater_late_says_so_once(place, late, monkeypatch):
    settings = settings_of("mat-box")
    probe = (Probe(channel=1, place=place, error_k=0.5),)
    hold = Hold(msgspec.structs.replace(settings, probe=probe))
    Loop(hold, PRESETS["mat-box"].build(seed=1, start_c=65.0)).run(2)
    controller, counsel = hold.drive.controller, hold.drive.counsel

    def said():
        return [n for n in counsel.look(0, 0.5, 1.0) if n.name == "deep-probe"]

    controller.estimator.learnt = False
    assert said() == []
    controller.estimator.learnt, controller._leg = True, Leg.RIDE
    assert said() == []
    controller._leg = Leg.LOOPS
    # The model's own answer to the heat that a hold needs, computed step by step.
    seconds = shows_after_s(controller, controller.needed_duty)
    model = controller.estimator.model
    row, modes, passed = model.row(place) @ model.shape, np.zeros(model.modes), 0
    while float(row @ modes) < 0.1:
        modes, passed = model.advance(modes, controller.needed_duty, 1.0), passed + 1
    assert passed <= seconds <= passed + 60
    assert (seconds > 600) is late
    found = said()
    assert len(found) == late
    assert all(f"only after about {round(seconds / 60)} min" in n.text for n in found)
    assert said() == []


def test_heat_that_a_probe_hardly_sees_never_shows():
    controller = _hold().drive.controller
    assert shows_after_s(controller, 0.0) == math.inf


def test_the_margins_of_the_loops_are_kept_for_the_record():
    night = loop("jacket", start_c=65.0).run(60)
    notices = [n for n in night.notices if n.name == "loop-margins"]
    assert notices
    assert all(n.detail[f"{which}_ms"] <= 1.7 for n in notices for which in ("inner", "outer"))


ODD = (float("nan"), float("inf"), -1.0, 0.0)
PLACES = [
    (where, odd)
    for where in ("heater_j_k", "loss_w_k", "ambient_c", "covariance")
    for odd in (ODD[:2] if where == "ambient_c" else ODD)  # a room may be at 0 or -1 °C
]


@pytest.mark.parametrize(("where", "odd"), PLACES)
def test_parameters_that_are_none_change_nothing(odd, where):
    """A damaged record or a fit gone wild must not reach the model."""
    one = _hold()
    learning = one.drive.controller.estimator.learning
    good = as_event(learning.belief, 0.05, 1000)
    if where == "covariance":
        rows = [list(row) for row in good.covariance]
        rows[0][0] = odd if odd != 0.0 else -2.0
        bad = msgspec.structs.replace(good, covariance=tuple(map(tuple, rows)))
    else:
        bad = msgspec.structs.replace(good, parameters={**good.parameters, where: odd})
    assert isinstance(bad, Identified)
    for wrong in (
        bad,
        msgspec.structs.replace(good, names=("nothing",)),
        msgspec.structs.replace(good, names=()),
    ):
        one.step(wrong, instant(181_000))
        assert one.drive.controller.estimator._waiting is None
    one.step(good, instant(182_000))
    assert one.drive.controller.estimator._waiting == good
