"""What a cooling makes of each reading: by probes that are told what to find, and a course that is asked for."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from holdctl.events import Estimate
from holdctl.hold import cooling as room
from holdctl.hold.cool_order import CoolOrder
from holdctl.hold.cooling import Cooling
from holdctl.hold.probes import Values
from holdctl.paste.cooling import Stand
from holdctl.paste.cooling_pace import Pace
from holdctl.safety.cooling_probe import Doubt
from holdctl.settings import Place
from tests.closed_loop import instant
from tests.hold.bench import stirred

POT = CoolOrder(stand=Stand.ICE_BATH)


def taken(doubt=Doubt.NONE, doubt_from_ms=None, order=POT, **changes):
    """A cooling whose probes are told what to find."""
    made = Cooling(stirred(food_code="fda-2022", **changes), order, instant(0), None)
    asked = []

    class Probes:
        changed, calm = doubt, True

        def __init__(self):
            self.doubt_from_ms = doubt_from_ms

        def look(self, *what, known):
            asked.append((*what, known))
            return list(made._probes)

        def told(self):
            return []

        def conditions(self, _now):
            return []

    made.probes = Probes()
    return made, asked


def read(made: Cooling, seconds: float, paste_c: float):
    values = Values({1: paste_c, 2: paste_c}, {1: paste_c, 2: paste_c})
    return made.take(values, instant(round(1000 * seconds)))


def test_a_reading_is_judged_by_the_paste_as_it_was_before_it():
    made, asked = taken()
    read(made, 10, 60.0)
    before = made._seen_paste()
    read(made, 11, 59.0)
    assert asked[0][3] is None
    assert asked[1][3] == before
    assert asked[1][:2] == ({1: 59.0, 2: 59.0}, instant(11_000))
    assert asked[1][4] is True


def test_what_is_doubted_is_taken_back_from_its_moment_on():
    made, _ = taken(doubt_from_ms=9_500)
    doubted = []
    made.watch.__class__ = type(
        "Watch", (type(made.watch),), {"__slots__": (), "doubt": lambda _self, since: doubted.append(since)}
    )
    read(made, 10, 60.0)
    assert doubted == [9.5]


def test_hands_in_the_paste_begin_the_course_anew_at_this_very_reading():
    made, _ = taken(doubt=Doubt.STIRRED)
    said, _ = read(made, 100, 60.0)
    assert said[0].name == "cooling-anew"
    curve, pace = made._course
    assert made._next_ms == 160_000
    assert curve.at(Place.MID)[0] == pytest.approx(60.5), "from the warmest that a probe may have read"
    assert pace.towards_c == pytest.approx(made.order.around(made._settings).beside_c + 0.5)


@pytest.mark.parametrize("stirred_too", [True, False])
def test_a_course_is_made_once_of_this_form_in_this_place(stirred_too, monkeypatch):
    made, _ = taken(order=CoolOrder(stand=Stand.ICE_BATH, stirred=stirred_too))
    real, asked = room.cool_down, []
    monkeypatch.setattr(
        room, "cool_down", lambda *what, **how: asked.append((what, how)) or real(*what, **how)
    )
    read(made, 10, 60.0)
    read(made, 20, 59.0)
    ((what, how),) = asked
    around = made.order.around(made._settings)
    assert what[1:] == (made.order.form(made._settings), 60.5, around)
    assert how == {"stirred": stirred_too}


@pytest.mark.parametrize("above", [True, False])
def test_a_course_begins_a_kelvin_over_what_is_around_it_at_least(above, monkeypatch):
    made, _ = taken()
    around = made.order.around(made._settings)
    warm = (
        replace(around, above_c=70.0, beside_c=10.0)
        if above
        else replace(around, above_c=10.0, beside_c=70.0)
    )
    made.order = SimpleNamespace(
        around=lambda _settings: warm, form=made.order.form, stirred=False, known=True, words=lambda: ""
    )
    real, asked = room.cool_down, []
    monkeypatch.setattr(room, "cool_down", lambda *what, **how: asked.append(what[2]) or real(*what, **how))
    read(made, 10, 60.0)
    assert asked == [71.0]


def test_the_coldest_reading_less_its_error_starts_a_clock_and_the_pace_has_each_reading_at_its_second():
    made, _ = taken()
    paces = []
    read(made, 1, 60.0)
    made._course[1].__class__ = type(
        "Paced", (Pace,), {"__slots__": (), "add": lambda _self, *what: paces.append(what)}
    )
    added = []
    made.watch.__class__ = type(
        "Watch", (type(made.watch),), {"__slots__": (), "add": lambda _self, *what: added.append(what)}
    )
    made._estimated = lambda _curve, _reads: Estimate(65.0, 65.0, 64.0, 66.0, 65.0)
    read(made, 2, 57.2)
    assert added == [(2.0, 56.7, 66.5)]
    assert paces == [(2.0, 66.5)]
    made._estimated = lambda _curve, _reads: Estimate(50.0, 50.0, 50.0, 50.0, 50.0)
    read(made, 3, 57.2)
    assert added[-1] == (3.0, 49.5, 57.7)
