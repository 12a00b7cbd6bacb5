"""A probe in cooling paste, by readings made by hand: what its jumps and its standing still are taken for."""

import pytest

from holdctl.safety.cooling_probe import BACK_K, RECENT_MS, REST_MS, CoolingProbe, Doubt, Paste, _shape

WIDE = Paste(40.0, 50.0, 60.0, (0.5, 20.0))
NARROW = Paste(49.5, 50.0, 50.5, (0.5,))


def feed(
    probe: CoolingProbe, course, seconds: int, from_s: int = 0, *, paste=WIDE, every_s: int = 5
) -> Doubt:
    """Let readings come every few seconds; return what the last is taken for."""
    for second in range(from_s, from_s + seconds, every_s):
        doubt = probe.look(course(second), 1000 * second, paste)
    return doubt


def level(c: float):
    return lambda _second: c


def jumped(to_c: float = 20.0, paste=WIDE) -> CoolingProbe:
    """A probe that has jumped at its hundredth second."""
    probe = CoolingProbe()
    feed(probe, level(50.0), 100)
    assert probe.look(to_c, 100_000, paste) is Doubt.WAITING
    return probe


def out() -> CoolingProbe:
    probe = jumped()
    assert probe.look(20.0, 100_000 + REST_MS, WIDE) is Doubt.OUT
    return probe


# Where it came to rest --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("paste", "rest_c", "shape"), [
    # As near to the mean as 0.15 of what lies between coldest and hottest, or a kelvin: stirred.
    (WIDE, 53.0, Doubt.STIRRED), (WIDE, 47.0, Doubt.STIRRED), (WIDE, 53.01, Doubt.MOVED), (WIDE, 46.99, Doubt.MOVED),
    (NARROW, 51.0, Doubt.STIRRED), (NARROW, 51.01, Doubt.MOVED), (NARROW, 49.0, Doubt.STIRRED),
    # A kelvin beyond all that the paste had: out of it.
    (NARROW, 51.5, Doubt.MOVED), (NARROW, 51.51, Doubt.OUT), (NARROW, 48.5, Doubt.MOVED), (NARROW, 48.49, Doubt.OUT),
    (WIDE, 61.0, Doubt.MOVED), (WIDE, 39.0, Doubt.MOVED), (WIDE, 61.01, Doubt.OUT), (WIDE, 20.0, Doubt.OUT),
    # At what is around it, though some of the paste is as cold.
    (Paste(18.0, 50.0, 60.0, (20.0,)), 22.0, Doubt.OUT), (Paste(18.0, 50.0, 60.0, (20.0,)), 18.0, Doubt.OUT),
    (Paste(18.0, 50.0, 60.0, (20.0,)), 22.01, Doubt.MOVED), (Paste(18.0, 50.0, 60.0, (5.0, 20.0)), 21.0, Doubt.OUT),
    # What is around it is as warm as its mean, and tells nothing.
    (Paste(40.0, 50.0, 60.0, (52.0,)), 54.0, Doubt.MOVED), (Paste(40.0, 50.0, 60.0, (48.0,)), 46.0, Doubt.MOVED),
    (Paste(40.0, 50.0, 60.0, (52.5,)), 54.0, Doubt.OUT),
])  # fmt: skip
def test_where_a_probe_comes_to_rest_tells_a_stir_from_a_probe_that_was_moved_and_one_that_is_out(
    paste, rest_c, shape
):
    assert _shape(paste, rest_c) is shape


# Jumps ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("to_c", "found"), [
    (51.5, Doubt.NONE), (48.5, Doubt.NONE), (51.51, Doubt.WAITING), (48.49, Doubt.WAITING),
])  # fmt: skip
def test_more_than_a_kelvin_and_a_half_within_seconds_is_a_jump(to_c, found):
    probe = CoolingProbe()
    feed(probe, level(50.0), 100)
    assert probe.look(to_c, 100_000, WIDE) is found
    if found is Doubt.WAITING:
        assert probe.since_ms == 100_000 - RECENT_MS


def test_without_an_estimate_of_the_paste_nothing_is_called_a_jump():
    probe = CoolingProbe()
    feed(probe, level(50.0), 100, paste=None)
    assert probe.look(20.0, 100_000, None) is Doubt.NONE


@pytest.mark.parametrize(("value_c", "calm"), [(0.4, True), (-0.4, True), (0.41, False), (-0.41, False)])
def test_a_value_off_its_trend_by_more_than_four_tenths_is_not_calm(value_c, calm):
    probe = CoolingProbe()
    feed(probe, level(0.0), 100)
    probe.look(value_c, 100_000, WIDE)
    assert probe.calm is calm


def test_a_fall_that_goes_on_is_no_jump_and_one_three_times_as_quick_is():
    # 0.1 K/s: over the last twenty seconds its trend is 2 K, and thrice that, with 1.5 K, is allowed.
    for beyond_k, found in (
        (0.0, Doubt.NONE),
        (5.4, Doubt.NONE),
        (5.6, Doubt.WAITING),
        (-5.6, Doubt.WAITING),
    ):
        probe = CoolingProbe()
        feed(probe, lambda s: 60.0 - 0.1 * s, 100)
        assert probe.look(50.0 - beyond_k, 100_000, WIDE) is found, beyond_k


@pytest.mark.parametrize("begin_s", [0, 1_000])
@pytest.mark.parametrize(("known_s", "found"), [(50, Doubt.NONE), (55, Doubt.WAITING)])
def test_what_a_probe_did_before_half_a_minute_is_known_is_no_jump(begin_s, known_s, found):
    probe = CoolingProbe()
    feed(probe, level(50.0), known_s, begin_s)
    assert probe.calm
    assert probe.look(20.0, 1000 * (begin_s + known_s), WIDE) is found


def test_three_readings_are_enough_for_a_jump():
    # Two of the minute before, at its begin and half a minute later, and one of the last seconds.
    probe = CoolingProbe()
    for second in (0, 30, 70):
        probe.look(50.0, 1000 * second, WIDE)
    assert probe.look(20.0, 80_000, WIDE) is Doubt.WAITING


def test_after_a_stir_the_fall_before_it_is_no_trend_any_more():
    probe = CoolingProbe()
    feed(probe, lambda s: 60.0 - 0.01 * s, 600)
    assert probe.look(50.0, 600_000, WIDE) is Doubt.WAITING
    assert probe.look(50.0, 600_000 + REST_MS, WIDE) is Doubt.STIRRED
    assert still(probe, 50.0, 725, 1_500) is Doubt.NONE


def test_a_jump_is_judged_two_minutes_later_by_the_paste_as_it_was_before_it():
    probe = jumped()
    other = Paste(15.0, 20.0, 25.0, (0.5,))
    assert probe.look(20.0, 100_000 + REST_MS - 1, other) is Doubt.WAITING
    assert probe.look(20.5, 100_000 + REST_MS, other) is Doubt.OUT
    assert (probe.doubt, probe.rests_c, probe.since_ms) == (Doubt.OUT, 20.5, 100_000 - RECENT_MS)
    assert probe.look(50.0, 400_000, other) is Doubt.OUT, "until somebody or the course says that it is back"


@pytest.mark.parametrize(("rest_c", "shape"), [(52.0, Doubt.STIRRED), (56.0, Doubt.MOVED)])
def test_what_was_no_slip_is_told_once_and_everything_begins_anew(rest_c, shape):
    probe = jumped(70.0)
    assert probe.look(rest_c, 100_000 + REST_MS, WIDE) is shape
    assert (probe.doubt, probe.rests_c, probe.since_ms) == (Doubt.NONE, rest_c, 100_000 - RECENT_MS)
    assert probe.look(20.0, 225_000, WIDE) is Doubt.NONE, "there is no trend yet to jump from"
    feed(probe, level(20.0), 100, 230)
    assert probe.look(50.0, 330_000, WIDE) is Doubt.WAITING


# Back again -------------------------------------------------------------------------------------------------------


def test_a_probe_that_somebody_has_put_back_counts_once_it_reads_something_else():
    probe = out()
    assert probe.look(50.0, 300_000, WIDE) is Doubt.OUT, "nobody has said so"
    probe.trust()
    for value_c in (20.0, 20.0 + BACK_K, 20.0 - BACK_K, 21.0):
        assert probe.look(value_c, 301_000, WIDE) is Doubt.OUT
    assert probe.look(20.0 + BACK_K + 0.01, 302_000, WIDE) is Doubt.NONE


def test_each_time_that_it_slips_out_somebody_has_to_say_so_anew():
    probe = out()
    probe.trust()
    assert probe.look(50.0, 300_000, WIDE) is Doubt.NONE
    feed(probe, level(50.0), 100, 305)
    assert probe.look(20.0, 405_000, WIDE) is Doubt.WAITING
    assert probe.look(20.0, 405_000 + REST_MS, WIDE) is Doubt.OUT
    assert probe.look(50.0, 600_000, WIDE) is Doubt.OUT


def test_what_a_person_says_of_a_probe_that_is_in_its_place_begins_everything_anew():
    probe = CoolingProbe()
    feed(probe, level(50.0), 100)
    probe.trust()
    assert probe.still_s(120_000) == 0.0
    assert probe.look(20.0, 100_000, WIDE) is Doubt.NONE
    waiting = jumped()
    waiting.trust()
    assert waiting.doubt is Doubt.NONE


@pytest.mark.parametrize(("value_c", "back"), [(53.0, True), (47.0, True), (53.01, False), (46.99, False)])
def test_a_probe_is_back_where_it_reads_what_the_paste_should_have_within_three_kelvin(value_c, back):
    probe = out()
    assert probe.returned(value_c, 50.0) is back
    assert probe.doubt is (Doubt.NONE if back else Doubt.OUT)


def test_a_probe_that_was_never_out_does_not_come_back():
    probe = CoolingProbe()
    feed(probe, level(50.0), 100)
    assert probe.returned(50.0, 50.0) is False
    assert probe.look(20.0, 100_000, WIDE) is Doubt.WAITING, "and nothing has begun anew"


# Still ------------------------------------------------------------------------------------------------------------


def test_for_how_long_a_value_is_the_same_is_counted_from_its_last_change():
    probe = CoolingProbe()
    assert probe.still_s(5_000) == 0.0
    probe.look(60.0, 10_000, WIDE)
    probe.look(60.0, 40_000, WIDE)
    assert probe.still_s(40_500) == 30.5
    probe.look(59.9, 41_000, WIDE)
    assert probe.still_s(41_000) == 0.0


def stands_still(
    fall_s: int, k_s: float = 0.01, begin_s: int = 0, every_s: int = 5
) -> tuple[CoolingProbe, int]:
    """A probe that has fallen from 80 °C for so long and repeats its last value since; and since when, s."""
    probe = CoolingProbe()
    feed(probe, lambda s: 80.0 - k_s * (s - begin_s), fall_s + 1, begin_s, every_s=every_s)
    return probe, begin_s + fall_s


def still(
    probe: CoolingProbe, c: float, from_s: int, upto_s: int, expected_k: float = 0.0, every_s: int = 5
) -> Doubt:
    for second in range(from_s, upto_s + 1, every_s):
        doubt = probe.look(c, 1000 * second, WIDE, expected_k)
    return doubt


@pytest.mark.parametrize("begin_s", [0, 1_000])
def test_a_probe_that_fell_and_repeats_one_value_is_in_doubt_once_two_of_its_steps_are_missing_for_five_minutes(
    begin_s,
):
    # Half of a trend of 0.01 K/s is two steps of 0.0625 K after 25 s, and that for five minutes.
    probe, since_s = stands_still(600, begin_s=begin_s)
    assert still(probe, 74.0, since_s + 5, since_s + 320) is Doubt.NONE
    assert still(probe, 74.0, since_s + 325, since_s + 335) is Doubt.STILL
    assert probe.since_ms == 1000 * since_s
    assert probe.look(73.0, 1000 * (since_s + 340), WIDE) is Doubt.NONE


def test_a_trend_is_from_its_first_reading_to_its_last():
    # A reading in twenty seconds, 0.06 K lower each time: 0.25 K are missing after 84 s, and that for five minutes.
    probe, since_s = stands_still(260, 0.003, every_s=20)
    assert still(probe, 79.22, since_s + 1, since_s + 382, every_s=1) is Doubt.NONE
    assert still(probe, 79.22, since_s + 383, since_s + 385, every_s=1) is Doubt.STILL


def test_a_value_that_changes_is_not_still_whatever_is_expected_of_it():
    probe = CoolingProbe()
    for second in range(0, 900, 5):
        assert probe.look(80.0 - 0.001 * second, 1000 * second, WIDE, 0.5) is Doubt.NONE


@pytest.mark.parametrize("begin_s", [0, 1_000])
@pytest.mark.parametrize(("fall_s", "found"), [(235, Doubt.NONE), (240, Doubt.STILL)])
def test_four_minutes_of_a_fall_make_a_trend(fall_s, found, begin_s):
    probe, since_s = stands_still(fall_s, begin_s=begin_s)
    assert still(probe, 80.0 - 0.01 * fall_s, since_s + 5, since_s + 900) is found


def test_a_trend_is_that_of_the_last_ten_minutes():
    probe, since_s = stands_still(600, 0.02)
    feed(probe, lambda s: 68.0 - 0.0002 * (s - 600), 705, since_s)
    assert still(probe, 68.0 - 0.14, since_s + 705, since_s + 1_305) is Doubt.NONE


@pytest.mark.parametrize(("expected_k", "found"), [
    (0.25, Doubt.NONE), (0.26, Doubt.STILL), (-0.26, Doubt.STILL), (-0.25, Doubt.NONE),
])  # fmt: skip
def test_the_course_of_the_paste_may_say_it_too(expected_k, found):
    probe = CoolingProbe()
    assert still(probe, 60.0, 0, 295, expected_k) is Doubt.NONE
    assert still(probe, 60.0, 300, 310, expected_k) is found
