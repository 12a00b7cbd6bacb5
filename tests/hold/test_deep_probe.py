"""What is said of a probe that sees the heater late, by times that are set here by hand."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from holdctl.events import NoticeKind
from holdctl.hold import deep_probe as room
from holdctl.hold.deep_probe import SHOWN_K, SOON_S, deep_probe, shows_after_s
from holdctl.settings import Place


def said(monkeypatch, dead_s: float, welded_s: float, *, sees_wall: bool = False):
    times = {0.25: dead_s, 0.75: welded_s}
    monkeypatch.setattr(room, "shows_after_s", lambda _controller, duty: times[duty])
    return deep_probe(SimpleNamespace(sees_wall=sees_wall, needed_duty=0.25))


def test_a_probe_that_sees_the_heater_late_is_told_with_both_times_and_what_would_show_them(monkeypatch):
    notice = said(monkeypatch, 1_260.0, 80.0)
    assert (notice.kind, notice.name) == (NoticeKind.ADVICE, "deep-probe")
    assert notice.text == (
        "This probe sees the heater late: a dead heater would show there only after about 21 min, a welded relay only "
        "after about 1 min, and the paste at the wall is spoilt before. A second probe on the heated wall shows both "
        "within minutes."
    )
    assert notice.detail == {"dead_s": 1_260.0, "welded_s": 80.0}


def test_what_would_show_in_four_hours_not_at_all_is_said_so(monkeypatch):
    notice = said(monkeypatch, math.inf, 20.0)
    assert "a dead heater would show there hardly ever, a welded relay only after about 1 min" in notice.text
    assert notice.detail == {"dead_s": None, "welded_s": 20.0}


@pytest.mark.parametrize(("dead_s", "told"), [(SOON_S, False), (SOON_S + 1.0, True)])
def test_a_fault_that_shows_within_ten_minutes_or_on_a_wall_is_not_worth_a_word(monkeypatch, dead_s, told):
    assert (said(monkeypatch, dead_s, 60.0) is not None) is told
    assert said(monkeypatch, dead_s, 60.0, sees_wall=True) is None


# When it shows ----------------------------------------------------------------------------------------------------


def lag(rise_k: float, tau_s: float, *, beside_k: float = 0.0):
    """A place that full power lifts by `rise_k` with one lag, and by `beside_k` with another of twenty seconds.

    Its modes are mixed by `shape`, and the rest of the network is somewhere else.
    """
    rates = np.array([1.0 / tau_s, 1.0 / 20.0])
    model = SimpleNamespace(
        rates=rates,
        drive=rates * [rise_k, 2.0 * beside_k],
        shape=np.array([[7.0, 7.0], [1.0, 0.5]]),
        row=lambda place: np.array([0.0, 1.0]) if place is Place.CORE else np.array([1.0, 0.0]),
    )
    return SimpleNamespace(
        estimator=SimpleNamespace(model=model), main_probe=SimpleNamespace(place=Place.CORE)
    )


@pytest.mark.parametrize(("rise_k", "tau_s", "duty"), [
    (20.0, 3_600.0, 0.2), (20.0, 3_600.0, 0.8), (0.9, 5_000.0, 0.25), (40.0, 36_000.0, 0.1), (0.4, 4_700.0, 0.3),
])  # fmt: skip
def test_a_fault_shows_when_one_lag_has_passed_its_share_of_the_whole_rise(rise_k, tau_s, duty):
    """Exact algebra of one lag: 1 − exp(−t/τ) of `duty` times the rise; looked at each minute of four hours."""
    exact_s = -tau_s * math.log(1.0 - SHOWN_K / (duty * rise_k))
    assert shows_after_s(lag(rise_k, tau_s), duty) == pytest.approx(60.0 * math.ceil(exact_s / 60.0))


def test_what_the_quick_parts_of_the_warmer_lift_at_once_shows_at_the_first_look():
    assert shows_after_s(lag(20.0, 36_000.0, beside_k=1.0), 0.2) == pytest.approx(60.0)
    assert shows_after_s(lag(20.0, 36_000.0, beside_k=-1.0), 0.2) > 1_800.0, "what falls at first shows later"


def test_a_rise_that_never_comes_to_a_tenth_of_a_kelvin_within_four_hours_never_shows():
    assert math.isinf(shows_after_s(lag(0.3, 600.0), 0.3))
    # After four hours exactly: 4 h of one lag of 10 h is 1 - exp(-0.4) = 0.3297 of the rise.
    just_k = SHOWN_K / (1.0 - math.exp(-0.4))
    assert shows_after_s(lag(1.0001 * just_k, 36_000.0), 1.0) == pytest.approx(4 * 3600.0)
    assert math.isinf(shows_after_s(lag(0.9999 * just_k, 36_000.0), 1.0))


def test_both_times_are_asked_of_the_heat_that_each_fault_changes(monkeypatch):
    asked = []
    monkeypatch.setattr(
        room, "shows_after_s", lambda controller, duty: asked.append((controller, duty)) or 900.0
    )
    controller = SimpleNamespace(sees_wall=False, needed_duty=0.125)
    assert deep_probe(controller).detail == {"dead_s": 900.0, "welded_s": 900.0}
    assert asked == [(controller, 0.125), (controller, 0.875)]
