"""What the screen says of a declared cooling, and that nothing of the hold before is said beside it."""

from holdctl.events import RequestKind
from tests.watch.conftest import screen
from tests.watch.nights import HOLD


def cooled(begin, seconds=1800, order='{"stand":"ice-bath","stirred":true}', k_s=0.004, **changes):
    night = begin(HOLD, **changes)
    night.steady(600, every=2)
    night.ask(RequestKind.COOL, order)
    for k in range(0, seconds, 2):
        night.read((round(65.0 - k_s * k, 2), round(65.0 - k_s * k, 2)), 2)
    night.ask(RequestKind.ACKNOWLEDGE)
    return night


def words(night, width=160, height=50):
    return " ".join(screen(night).frame(width, height).plain.split())


def test_the_first_line_counts_down_to_the_next_stage(begin):
    shown = screen(cooled(begin, 1500)).frame(160, 50).plain.split("\n")[0]
    assert shown.startswith("Cooling in an ice bath")
    assert "59.0 °C" in shown
    assert "21 °C within 2 h 0" in shown
    assert "(its clock has not started)" in shown


def test_each_stage_has_its_time_and_its_forecast_and_nothing_is_said_of_the_hold(begin):
    text = words(cooled(begin, 3600))
    # 57 °C less the probe's error was passed about half an hour in; FDA Food Code 3-501.14: 2 h, and 6 h in all.
    assert "21 °C within 1 h 2" in text
    assert "Food code, cooling (FDA Food Code 2022, 3-501.14(A)): 21 °C by 00:3" in text
    assert "5 °C by 04:3" in text
    for gone in ("set 65", "come-up", "step 1 of", "never below", "keep at"):
        assert gone not in text


def test_a_stage_that_was_reached_says_whether_in_time(begin):
    assert "21 °C reached 22:2" in (text := words(cooled(begin, 1000, k_s=0.05)))
    assert ", in time; 5 °C by" in text


def test_a_cooling_too_slow_says_so_in_capitals(begin):
    assert "TOO LATE" in words(cooled(begin, 2400, '{"stand":"room"}'))


def test_while_its_probe_is_in_doubt_no_old_forecast_is_shown(begin):
    night = cooled(begin, 1200, '{"stand":"room"}', k_s=0.01)
    for _ in range(200):
        night.read((20.0, 20.0))
    text = words(night)
    assert "at once, as no paste does" in text
    assert "no forecast while its probe is in doubt" in text
    assert "Paste 20.0" not in text


def test_before_the_first_forecast_it_says_that_one_comes(begin):
    assert "the first forecast comes within a minute or two" in words(cooled(begin, 20))


def test_a_code_without_times_for_cooling_says_that(begin):
    assert "this code gives a cooling no times" in words(cooled(begin, 300, food_code="uk"))
