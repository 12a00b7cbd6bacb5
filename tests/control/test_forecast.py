"""The forecast: against the closed loop that it foretells, and its manners."""

from holdctl.control.forecast import advice, foresee
from holdctl.events import Forecast
from tests.closed_loop import HOUR, loop


def test_in_range_already_is_said_as_no_time():
    night = loop("jacket", start_c=65.0).run(HOUR)
    forecast = foresee(night.hold.drive.controller.snapshot(600.0))
    assert forecast.band_ms[1] == 0
    assert forecast.end_ms[1] == 600_000
    assert forecast.coldest_c <= night.rows[-1].truth.coldest_c + 0.3


def _forecast(minutes: float, stir_min: float, peak_k: float = 0.0) -> Forecast:
    band = round(60_000 * minutes)
    return Forecast((band, band, band), None, 60.0, 70.0, round(60_000 * stir_min), 12.0, peak_k)


def test_a_stir_is_advised_from_ten_minutes_or_two_kelvin_on():
    assert advice(_forecast(60, 9)) is None
    assert "11 min sooner" in advice(_forecast(60, 11))
    assert "3 K less hot" in advice(_forecast(60, 0, 3.0))
    assert advice(_forecast(0, 30)) is None
