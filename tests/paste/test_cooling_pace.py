"""The forecast of a running cooling, against Newton's law in closed form and against conduction at another rate."""

from math import exp, log

import numpy as np
import pytest

from holdctl.paste import paste_properties
from holdctl.paste.cooling import Around, Form, Stand, around, cool_down
from holdctl.paste.cooling_pace import Pace
from holdctl.settings import Flour

RYE = paste_properties(Flour.WHOLE_RYE, 3.0, 35.0)
POT = Form(0.05, 0.16)
ROOM = around(Stand.FRIDGE, 20.0)
TOLD = cool_down(RYE, POT, 65.0, ROOM)


def _followed(true, minutes, *, towards_c=4.0, known=True, told=TOLD):
    """Follow `true` (t s → °C) for so long, with a flicker of 0.03 K."""
    noise = np.random.default_rng(5).normal(0.0, 0.03, int(minutes * 60) + 1)
    pace = Pace(told, towards_c, 0.0, known)
    for t_s in range(int(minutes * 60) + 1):
        pace.add(float(t_s), true(t_s) + noise[t_s])
    return pace


def _conducted(form, where):
    curve = cool_down(RYE, form, 65.0, where)
    return curve, lambda t_s: float(np.interp(t_s, curve.t_s, curve.hottest_c))


@pytest.mark.parametrize("minutes", [1, 20, 60, 120])
def test_the_model_itself_is_foretold_from_any_moment(minutes):
    curve, true = _conducted(POT, ROOM)
    (at_21,) = _followed(true, minutes).ahead(21.0)
    assert at_21.early_s <= curve.when(21.0) <= at_21.late_s
    assert at_21.expected_s == pytest.approx(curve.when(21.0), rel=0.06)


def test_a_paste_that_cools_much_slower_than_foretold_is_found_out_within_an_hour():
    slow = Around("draughtless", 4.0, 4.0, 5.0, 5.0, 3.0)
    curve, true = _conducted(Form(0.07, 0.16), slow)
    (at_21,) = _followed(true, 60).ahead(21.0)
    assert at_21.early_s <= curve.when(21.0) <= at_21.late_s
    assert abs(at_21.expected_s - curve.when(21.0)) < 0.15 * curve.when(21.0)


@pytest.mark.parametrize("half_min", [45.0, 90.0])
def test_newtons_law_is_foretold_although_the_vessel_is_not_known(half_min):
    def newton(t_s):
        return 3 + 62 * exp(-log(2) * t_s / (half_min * 60))

    due_s = half_min * 60 / log(2) * log(62 / 18)
    (at_21,) = _followed(newton, 50, towards_c=3.0, known=False).ahead(21.0)
    assert at_21.expected_s == pytest.approx(due_s, rel=0.2)
    assert at_21.early_s <= due_s <= at_21.late_s


@pytest.mark.parametrize("form", [Form(0.03), Form(0.08, 0.12)])
def test_another_form_is_foretold_although_the_vessel_is_not_known(form):
    curve, true = _conducted(form, ROOM)
    (at_21,) = _followed(true, 75, known=False).ahead(21.0)
    assert at_21.early_s <= curve.when(21.0) <= at_21.late_s


def test_the_band_narrows_as_it_is_neared():
    _, true = _conducted(Form(0.05, 0.2), around(Stand.FRIDGE, 20.0))
    widths = []
    for minutes in (2, 45, 100):
        (at_21,) = _followed(true, minutes).ahead(21.0)
        widths.append(at_21.late_s - at_21.early_s)
    assert widths[0] > widths[1] > widths[2]


def test_what_lies_below_all_around_it_is_never_reached():
    told = cool_down(RYE, POT, 65.0, around(Stand.ROOM, 20.0))
    _, true = _conducted(POT, around(Stand.ROOM, 20.0))
    ahead = _followed(true, 60, towards_c=20.0, told=told).ahead(21.0, 5.0)
    assert ahead[1].early_s is None


def test_nothing_is_foretold_before_the_first_reading():
    assert Pace(TOLD, 4.0, 0.0).ahead(21.0) == ()
