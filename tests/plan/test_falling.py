"""Falls of a programme of one's own: against one time constant, and in when the night is ready."""

import math
import re
from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import pytest

from holdctl.errors import ConfigError
from holdctl.food.codes import code_of
from holdctl.plan.course import Start
from holdctl.plan.falling import falls, too_slow
from holdctl.plan.night import Night, foretell
from holdctl.plan.nightly import Wishes, steps
from holdctl.plan.nights import Evening, _latest, _nearest, verdict
from holdctl.settings import Place, Step
from tests.closed_loop import told


def _night(*after: Step, name="stirred-kettle") -> Night:
    settings = told(name)
    own = msgspec.structs.replace(settings.programme, step=(*settings.programme.step, *after))
    return Night(msgspec.structs.replace(settings, programme=own), Start(66.0, 65.0, 67.0))


def test_falls_go_from_the_hold_before_them():
    found = list(
        falls(
            _night(Step(fall_to=50.0), Step(fall_to=40.0), Step(to=45.0, hold_for="1 h")).settings.programme
        )
    )
    assert found == [(2, 65.0, 50.0), (3, 50.0, 40.0)]


def _fall_s(found) -> float:
    span = found.course.spans[-1]
    return span.ended_s - span.begun_s


def test_late_in_a_fall_the_excess_fades_with_the_slowest_time_constant():
    """Newton's law of cooling: of any body, once its profile is that of its slowest mode."""
    model = _night().warmer().model()
    room = model.parameters.ambient_c
    times = [_fall_s(foretell(_night(Step(fall_to=room + excess)), 0)) for excess in (16.0, 8.0)]
    assert times[1] - times[0] == pytest.approx(math.log(2.0) / float(min(model.rates)), abs=180.0)


def test_a_fall_below_the_room_never_ends():
    night = _night(Step(fall_to=5.0))
    found = foretell(night, 1)
    assert found.band_s is not None
    assert found.ready_s is None
    now = datetime(2026, 1, 10, 21, tzinfo=UTC)
    with pytest.raises(ConfigError, match="not done within a day"):
        _latest(found, Evening(ready=now.replace(day=12), now=now))
    assert any("not within a day" in step.words for step in steps(night, found, Wishes()))


def test_a_fall_after_the_hold_counts_in_when_it_is_ready():
    night = _night(Step(fall_to=40.0))
    found, alone = foretell(night, 2), foretell(_night(), 2)
    assert found.band_s == alone.band_s
    early, expected, late = (a - b for a, b in zip(found.ready_s, alone.ready_s, strict=True))
    assert 1800.0 < early <= expected <= late
    assert expected == pytest.approx(_fall_s(found))
    assert found.ready_s[1] == pytest.approx(found.course.t_s[-1])
    assert any("falls in the warmer to 40 °C" in step.words for step in steps(night, found, Wishes()))


def test_a_fall_that_is_slower_than_the_codes_cooling_is_said_first():
    """FDA Food Code 3-501.14(A): from 57 to 21 °C within 2 h."""
    night = _night(Step(fall_to=30.0))
    found = foretell(night, 1)
    assert found.kept, "the way up breaks nothing"
    assert "57 °C to 30 °C" in verdict(found)
    assert "over the 2 h" in verdict(found)
    assert "leave that fall out" in _nearest((), found)
    model, own = night.warmer().model(), _night(Step(fall_to=60.0)).settings.programme
    code = code_of(night.settings)
    assert too_slow(model, Place.CORE, own, code) == "", "above the limit a fall is no cooling"
    quick = _night(Step(fall_to=56.0)).settings.programme
    assert too_slow(model, Place.CORE, quick, code) == ""


def test_every_temperature_of_a_verdict_has_its_own_unit_so_that_a_card_can_turn_it_into_fahrenheit():
    night = _night(Step(fall_to=30.0))
    found = foretell(replace(night, start=Start(20.0, 19.0, 21.0)), 1)
    words = [rule.words for rule in found.rules] + [found.slow_fall]
    assert any("5 °C and 57 °C" in one for one in words)
    assert not any(re.search(r"\d (to|and) \d+ °C", one) for one in words)
