"""What is said of a probe that sees the heater late, by times that are set here by hand."""

import math
from types import SimpleNamespace

import pytest

from holdctl.events import NoticeKind
from holdctl.hold import deep_probe as room
from holdctl.hold.deep_probe import SOON_S, deep_probe


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
