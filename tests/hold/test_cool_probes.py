"""Probes in a cooling: one that repeats a value, one that slipped out, stirred paste; and a cooling without end."""

import pytest

from holdctl.events import NoticeKind, RequestKind
from holdctl.food.cooling import Standing
from holdctl.hold.cool_never import FORECASTS, STALLED_S, Never
from holdctl.hold.cool_order import CoolOrder
from holdctl.hold.cool_probes import ahead
from holdctl.paste.cooling import CoolingCurve, Stand
from holdctl.safety.cooling_probe import REST_MS, CoolingProbe, Doubt, Paste
from holdctl.settings import Place, Room
from tests.hold.bench import stirred
from tests.hold.test_cooling import ICE, MIN, Cold, alarms, hot

ROOM_C = 20.0
POT = CoolOrder(stand=Stand.ICE_BATH)


def cooling(minutes: float = 30, half_min: float = 40, order: CoolOrder = POT, **changes) -> Cold:
    bench = hot(room=Room(ambient_c=ROOM_C), **changes)
    bench.ask(RequestKind.COOL, order.subject())
    bench.cools(minutes, half_min, every_s=2)
    return bench


def reads(bench: Cold, value, minutes: float, every_s: int = 2) -> None:
    for k in range(round(minutes * MIN / every_s)):
        bench.n += every_s - 1
        c = value(k * every_s) if callable(value) else value
        bench.read(round(c, 2), round(c, 2), after_ms=1000 * every_s)


def slipping(bench: Cold, to_c: float, lag_s: float = 15.0):
    from math import exp

    start = bench.c
    return lambda s: to_c + (start - to_c) * exp(-s / lag_s)


def now_of(bench: Cold):
    return bench.hold.unheated.cooling.watch


def test_a_probe_that_repeats_one_value_while_the_paste_must_be_falling_is_an_alarm():
    bench = cooling()
    reads(bench, bench.c, 4)
    assert "cooling-still" not in alarms(bench)
    reads(bench, bench.c, 10)
    assert "cooling-still" in alarms(bench)
    text = next(n.text for n in bench.notices(NoticeKind.ALARM) if n.name == "cooling-still")
    assert "probe 1" in text and "has repeated one value for" in text


def test_its_time_is_used_up_and_ends_the_doubt_with_the_next_change():
    bench = cooling()
    reads(bench, bench.c, 15)
    assert bench.seen[-1].estimate is None
    bench.cools(5, 40, every_s=2)
    assert "cooling-still" not in alarms(bench)
    assert bench.seen[-1].estimate is not None
    doubts = [n for n in bench.notices() if n.name == "cooling-doubt"]
    assert [n.detail["begins"] for n in doubts] == [True, False]
    # the doubt reaches back to the first of the repeated values, half an hour in
    assert doubts[0].detail["from_ms"] == pytest.approx(30 * MIN * 1000 + 5000, abs=20_000)


def test_a_probe_that_stood_still_above_57_does_not_put_off_the_clock():
    bench = cooling(minutes=4)
    assert bench.c > 58
    before = now_of(bench).now_s
    reads(bench, bench.c, 15)
    bench.c = 45.0
    reads(bench, 45.0, 0.1)
    began = now_of(bench).began_s
    assert began is not None and began <= before + 5


@pytest.mark.parametrize("to_c", [ROOM_C, 0.5])
def test_a_probe_that_slips_out_is_an_alarm_and_never_makes_the_paste_cold(to_c):
    bench = cooling(half_min=60, order=ICE)
    reads(bench, slipping(bench, to_c), 10)
    assert "cooling-out" in alarms(bench)
    verdicts = now_of(bench).verdicts
    assert all(v.reached_s is None for v in verdicts)
    assert bench.hold.unheated.cooling is not None, "the cooling must not be done"


def test_a_slip_into_ice_water_late_in_a_cooling_does_not_end_it():
    bench = cooling(minutes=150, half_min=60, order=ICE)
    assert 8 < bench.c < 16
    reads(bench, slipping(bench, 0.5), 20)
    assert "cooling-out" in alarms(bench)
    assert not now_of(bench).done


def test_what_a_slipped_probe_reads_is_told_apart_from_paste_that_was_stirred():
    bench = cooling(half_min=90)
    mean = bench.seen[-1].estimate.mean_c
    assert abs(mean - bench.c) > 2
    reads(bench, slipping(bench, mean, 5.0), 5)
    assert "cooling-out" not in alarms(bench)
    assert any(n.name == "cooling-anew" and n.detail["stirred"] for n in bench.notices())


def test_a_probe_put_back_is_trusted_again_by_itself_or_by_a_word():
    bench = cooling(half_min=90, order=ICE)
    left = bench.c
    reads(bench, slipping(bench, ROOM_C), 5)
    assert "cooling-out" in alarms(bench)
    bench.ask(RequestKind.COOL, ICE.subject())
    bench.c = left - 2
    bench.cools(5, 90, every_s=2)
    assert "cooling-out" not in alarms(bench)


def test_a_word_does_not_make_paste_cold_by_a_probe_that_still_lies_outside():
    bench = cooling(half_min=90, order=ICE)
    left = bench.c
    reads(bench, slipping(bench, 0.5), 5)
    bench.ask(RequestKind.COOL, ICE.subject())
    reads(bench, 0.5, 5)
    assert "cooling-out" in alarms(bench)
    assert all(v.reached_s is None for v in now_of(bench).verdicts)
    reads(bench, left - 2, 1)
    assert "cooling-out" not in alarms(bench)


@pytest.mark.parametrize("half_min", [3, 8, 20])
def test_a_quick_cooling_is_no_jump(half_min):
    bench = cooling(minutes=6 * half_min, half_min=half_min, order=ICE)
    assert not [n for n in bench.notices() if n.name in ("cooling-anew", "cooling-doubt")]


def test_moving_the_paste_with_a_word_is_no_jump():
    bench = cooling(half_min=90)
    bench.ask(RequestKind.COOL, ICE.subject())
    bench.c -= 12
    bench.cools(10, 60, every_s=2)
    assert not alarms(bench) & {"cooling-out", "cooling-still"}


def test_a_pot_that_stops_above_the_limit_is_told_with_advice():
    """By a code that has no number no time runs out: nothing else would tell it."""
    bench = Cold(stirred(food_code="de-bfr-2020"))
    bench.reads(5, 65.0, 65.2)
    bench.ask(RequestKind.COOL, POT.subject())
    bench.cools(150, 30, every_s=2)
    bench.cools(45, 10, ambient_c=bench.c - 0.05, every_s=2)
    assert "cooling-never" in alarms(bench)
    text = [n.text for n in bench.notices(NoticeKind.ALARM) if n.name == "cooling-never"][-1]
    assert "stir it" in text


def test_never_needs_several_forecasts_and_several_to_be_taken_back():
    never = Never(5.0)
    said = [never.look(120.0 * k, 40.0 - 0.5 * k, False) for k in range(FORECASTS)]
    assert said[:-1] == [""] * (FORECASTS - 1) and "does not come to 5 °C within 12 h" in said[-1]
    back = [never.look(120.0 * (k + 3), 38.0 - 0.5 * k, True) for k in range(FORECASTS)]
    assert all(back[:-1]) and back[-1] == ""


def test_a_thick_core_that_waits_for_its_edge_has_not_stalled():
    never = Never(5.0)
    assert not any(never.look(120.0 * k, 65.0, None) for k in range(int(STALLED_S / 60)))


def test_without_a_known_form_no_forecast_calls_a_cooling_endless():
    never = Never(5.0)
    assert not any(never.look(120.0 * k, 40.0 - 0.2 * k, None) for k in range(100))


PASTE = Paste(20.0, 32.0, 40.0, (0.5, 20.0))


@pytest.mark.parametrize(
    ("rest_c", "shape"),
    [(32.4, Doubt.STIRRED), (20.3, Doubt.OUT), (0.6, Doubt.OUT), (60.0, Doubt.OUT), (26.0, Doubt.MOVED)],
)
def test_where_a_jump_comes_to_rest_tells_what_it_was(rest_c, shape):
    guard = CoolingProbe()
    for k in range(60):
        assert guard.look(38.0 - 0.01 * k, 10_000 * k, PASTE) is Doubt.NONE
    at = 600_000
    assert guard.look(rest_c, at, PASTE) is Doubt.WAITING
    assert guard.look(rest_c, at + REST_MS - 1, PASTE) is Doubt.WAITING
    assert guard.look(rest_c, at + REST_MS, PASTE) is shape


def test_taking_back_what_was_seen_after_a_moment_leaves_what_was_seen_before():
    from holdctl.food.codes import code
    from holdctl.food.cooling import CoolingWatch
    from holdctl.food.rules import Cooling

    watch = CoolingWatch(code("fda-2022").of(Cooling)[0].stages)
    for t, c in ((0, 60.0), (600, 50.0), (3000, 20.0), (4000, 4.0)):
        watch.add(t, c, c)
    assert watch.done
    watch.doubt(3500)
    first, second = watch.verdicts
    assert (first.standing, first.reached_s) == (Standing.MET, 3000)
    assert (second.standing, second.reached_s) == (Standing.RUNNING, None)


def test_paste_seen_ahead_follows_its_course_and_stays_at_its_end():
    course = (60.0, 50.0, 45.0, 42.0)
    curve = CoolingCurve((0.0, 600.0, 1200.0, 1800.0), *[course] * 6)
    assert ahead(curve, Place.CORE, 55.0, 600.0) == pytest.approx(47.5)
    assert ahead(curve, Place.CORE, 55.0, 7200.0) == 42.0, "the course knows no more"
    assert ahead(curve, Place.CORE, 55.0, 0.0) == 55.0
    assert ahead(curve, Place.CORE, 30.0, 600.0) == 30.0, "colder than any of the course"


def test_a_probe_that_has_read_nothing_has_not_stood_still():
    assert CoolingProbe().still_s(60_000) == 0.0


def test_a_probe_that_was_never_out_has_not_returned():
    probe = CoolingProbe()
    assert not probe.returned(40.0, 40.0)
    probe.doubt = Doubt.OUT
    assert not probe.returned(20.0, 40.0)
    assert probe.returned(40.0, 40.0)
    assert probe.doubt is Doubt.NONE
