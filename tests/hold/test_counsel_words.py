"""What control tells the baker, word by word, and the borders beyond which it is worth a word."""

import copy
from dataclasses import replace
from functools import cache

import msgspec
import pytest

from holdctl.control.margins import Margins
from holdctl.control.tuning import LoopMargins, margins_told
from holdctl.events import Forecast, Notice, NoticeKind, Phase
from holdctl.hold import Hold
from holdctl.hold.counsel import Counsel
from holdctl.hold.programme import Progress
from holdsim import PRESETS
from tests.closed_loop import Loop
from tests.closed_loop import told as settings_of

MIN = 60_000


@cache
def _played() -> Loop:
    return Loop(Hold(settings_of("jacket")), PRESETS["jacket"].build(seed=1, start_c=30.0)).run(60)


def counsel(**changes) -> Counsel:
    """A counsel that has said nothing yet, of a hold one minute old."""
    return Counsel(copy.deepcopy(_played().hold.drive.controller), **changes)


def progress(phase=Phase.COME_UP, left_ms=None) -> Progress:
    class Told:
        pass

    told = Told()
    told.phase, told.left_ms = phase, left_ms
    return told


def forecast(minutes: int | None = 90, stir_min: int = 0, stir_k: float = 9.004) -> Forecast:
    band = None if minutes is None else (minutes * MIN - 6 * MIN, minutes * MIN, minutes * MIN + 12 * MIN)
    return Forecast(band, None, 40.04, 70.06, stir_min * MIN, stir_k)


def only(notices: list[Notice], name: str) -> Notice:
    (found,) = [n for n in notices if n.name == name]
    return found


def names(notices: list[Notice]) -> list[str]:
    return [n.name for n in notices]


# Forecasts ------------------------------------------------------------------------------------------------------


def test_a_forecast_is_told_in_hours_with_its_range_and_the_coldest_and_hottest_on_the_way():
    said = only(counsel().told(forecast(90), 0), "forecast")
    assert said.kind is NoticeKind.FORECAST
    assert said.text == "every part in range in 1.5 h (1.4 to 1.7); on the way coldest 40.0, hottest 70.1 °C"
    assert said.detail == msgspec.structs.asdict(forecast(90))
    never = only(counsel().told(forecast(None), 0), "forecast")
    assert never.text == "not every part will be in range within a day"


@pytest.mark.parametrize(
    ("phase", "again_ms"),
    [
        (Phase.COME_UP, 4 * MIN),
        (Phase.SETTLING, 4 * MIN),
        (Phase.PROMPT, 4 * MIN),
        (Phase.HOLD, 12 * MIN),
        (Phase.HOT_HOLDING, 12 * MIN),
    ],
)
def test_a_forecast_is_due_after_two_and_a_half_minutes_then_every_four_on_the_way_and_every_twelve_in_the_hold(
    phase, again_ms
):
    one = counsel()
    assert one.task(149_999, progress(phase)) is None
    assert one.task(150_000, progress(phase)) is not None
    assert one.task(150_000 + again_ms - 1, progress(phase)) is None
    assert one.task(150_000 + again_ms, progress(phase)) is not None


def test_the_time_that_is_left_of_a_hold_goes_into_its_forecast_in_seconds(monkeypatch):
    one, asked = counsel(), []
    monkeypatch.setattr(type(one.controller), "snapshot", lambda _self, left_s: asked.append(left_s))
    assert one.task(150_000, progress(left_ms=90_000)) is None, "without a snapshot there is none"
    one.task(999_000, progress(left_ms=None))
    assert asked == [90.0, None]


# Advice ---------------------------------------------------------------------------------------------------------


def test_a_stir_is_advised_again_after_twenty_minutes_and_not_before():
    one = counsel()
    stir = only(one.told(forecast(90, 25), 0), "stir-now")
    assert (stir.kind, stir.detail) == (NoticeKind.ADVICE, {"stir_ms": 25 * MIN, "stir_k": 9.0})
    assert stir.text
    assert "stir-now" not in names(one.told(forecast(90, 25), 20 * MIN - 1))
    assert "stir-now" in names(one.told(forecast(90, 25), 20 * MIN))
    assert "stir-now" not in names(one.told(forecast(90, 0), 60 * MIN)), "it is worth nothing"


def test_a_stir_that_was_seen_is_said_asks_for_a_forecast_in_a_minute_and_keeps_advice_back():
    one = counsel()
    one.task(150_000, progress())
    one.controller.estimator.stirs += 1
    seen = only(one.look(200_000, 0.5, 1.0), "stir-seen")
    assert (seen.kind, seen.text) == (
        NoticeKind.INFO,
        "A stir: all paste is taken to have one temperature from here.",
    )
    assert "stir-seen" not in names(one.look(201_000, 0.5, 1.0))
    assert one.task(259_999, progress()) is None
    assert one.task(260_000, progress()) is not None
    assert "stir-now" not in names(one.told(forecast(90, 25), 200_000 + 20 * MIN - 1))
    assert "stir-now" in names(one.told(forecast(90, 25), 200_000 + 20 * MIN))


@pytest.mark.parametrize(
    ("minutes", "gain_ms", "text"),
    [
        (60, 26 * MIN, "The stir brought 26 min."),
        (85, MIN, "The stir brought 1 min."),
        (86, 0, "The stir brought no time."),
        (95, -9 * MIN, "The stir brought no time."),
        (None, None, "Stirred; when every part will be in range can't be said yet."),
    ],
)
def test_what_a_stir_brought_is_told_against_the_forecast_before_it(minutes, gain_ms, text):
    one = counsel()
    one.told(forecast(90), 10 * MIN)
    one.controller.estimator.stirs += 1
    one.look(12 * MIN, 0.5, 1.0)
    said = only(one.told(forecast(minutes), 14 * MIN), "stirred")
    assert (said.kind, said.text, said.detail) == (NoticeKind.ADVICE, text, {"gain_ms": gain_ms})
    assert "stirred" not in names(one.told(forecast(10), 18 * MIN)), "it is told once"


def test_a_stir_before_any_forecast_has_nothing_to_be_measured_against():
    one = counsel()
    one.controller.estimator.stirs += 1
    one.look(MIN, 0.5, 1.0)
    assert names(one.told(forecast(90), 2 * MIN)) == ["forecast"]


# A come-up that is too slow ---------------------------------------------------------------------------------------


def test_a_come_up_is_too_slow_a_quarter_and_a_quarter_of_an_hour_after_its_late_bound():
    one = counsel()
    assert one.slow(forecast(48), 20 * MIN - 1) == ""
    assert one._promise is None, "the first twenty minutes promise nothing"
    assert one.slow(forecast(48), 20 * MIN) == ""  # its late bound: an hour from here
    assert one.slow(forecast(48), 20 * MIN + 90 * MIN) == ""
    late = one.slow(forecast(48), 20 * MIN + 90 * MIN + 1)
    assert late == "not every part is in range after 90 min, foretold were 60 at most"


def test_in_range_nothing_is_too_slow_and_what_follows_has_its_own_time():
    one = counsel()
    one.slow(forecast(48), 20 * MIN)
    almost = Forecast((0, 1, 60_000), None, 60.0, 66.0, 0, 0.0)
    assert one.slow(almost, 199 * MIN) != ""
    assert one.slow(forecast(0), 200 * MIN) == ""
    assert one.slow(forecast(48), 300 * MIN) == "", "a new promise begins here"
    assert one.slow(forecast(1), 389 * MIN) == ""
    assert one.slow(forecast(1), 391 * MIN) != ""


@pytest.mark.parametrize("hands", ["stirs", "additions"])
def test_a_stir_and_an_addition_are_a_new_start(hands):
    one = counsel()
    one.slow(forecast(48), 20 * MIN)
    setattr(one.controller.estimator, hands, getattr(one.controller.estimator, hands) + 1)
    assert one.slow(forecast(48), 200 * MIN) == ""
    assert one.slow(forecast(48), 291 * MIN) != ""


def test_a_come_up_without_an_end_in_sight_promises_nothing():
    one = counsel()
    assert one.slow(forecast(None), 20 * MIN) == ""
    assert one._promise is None
    assert one.slow(forecast(48), 300 * MIN) == ""


# What a second probe would show -----------------------------------------------------------------------------------


def blind(margin_k: float, *, limited: bool = True, sees_wall: bool = False) -> Counsel:
    one = counsel()
    one.controller.sees_wall = sees_wall
    one.controller.margin_k, one.controller.limited = margin_k, limited
    return one


def test_power_that_is_held_back_for_want_of_a_probe_is_told_with_how_much_hotter_the_wall_may_be():
    said = only(blind(4.96).look(0, 0.5, 1.0), "second-probe")
    assert said.kind is NoticeKind.ADVICE
    assert said.detail == {"margin_k": 4.96}
    assert said.text == (
        "Power is held back: with no probe at the wall the paste there may be 5 K hotter than estimated. A second "
        "probe on the heated wall would show it, and the come-up would be faster."
    )


@pytest.mark.parametrize(
    ("margin_k", "told"), [({"margin_k": 2.0}, True), ({"margin_k": 1.999}, False),
                           ({"margin_k": 5.0, "limited": False}, False),
                           ({"margin_k": 5.0, "sees_wall": True}, False)],
)  # fmt: skip
def test_two_kelvin_that_cost_power_are_worth_a_word(margin_k, told):
    one = blind(**margin_k)
    assert ("second-probe" in names(one.look(0, 0.5, 1.0))) is told
    assert "second-probe" not in names(one.look(1000, 0.5, 1.0)), "once"


# Another warmer ---------------------------------------------------------------------------------------------------


def moved(one: Counsel, **shares: float) -> None:
    learning = one.controller.estimator.learning
    values = {name: share * learning.first.value(name) for name, share in shares.items()}
    learning.belief = replace(learning.belief, parameters=replace(learning.belief.parameters, **values))
    one.controller.estimator.changed += 1


def twenty_minutes(one: Counsel, seconds: int = 1200) -> Counsel:
    stored = one.controller.estimator.learning._stored.duty
    stored += [0.5] * (seconds // 10 - len(stored))
    return one


def learnt_for(one: Counsel, seconds: float) -> Counsel:
    learning = one.controller.estimator.learning
    learning.__class__ = type("Learnt", (type(learning),), {"seconds": seconds})
    return one


@pytest.mark.parametrize(
    ("name", "share", "text"),
    [
        ("paste_j_m3k", 2.0, "The paste takes up 100 % more"),
        ("vessel_j_k", 60.0, "The vessel takes up 5900 % more"),
        ("heater_j_k", 60.0, "The heater takes up 5900 % more"),
        ("loss_w_k", 20.0, "The warmer loses 1900 % more"),
        ("top_w_m2k", 60.0, "The paste loses through its lid 5900 % more"),
    ],
)
def test_what_is_found_to_be_other_than_told_is_named_with_its_percentage_and_what_to_put_right(
    name, share, text
):
    one = learnt_for(counsel(), 1200.0)
    moved(one, **{name: share})
    assert abs(one.controller.estimator.learning.moved()[name]) >= 3.5
    said = only(one.look(0, 0.5, 1.0), "warmer-changed")
    assert said.kind is NoticeKind.ADVICE
    assert said.text == (
        f"{text} than expected of this warmer and scald. If vessel, batch or lid are not the usual ones, put [vessel] "
        "and [scald] in holdctl.toml right."
    )
    assert said.detail == {"parameter": name, "percent": pytest.approx(100 * (share - 1), abs=0.05)}
    one.controller.estimator.changed += 1
    assert "warmer-changed" not in names(one.look(0, 0.5, 1.0)), "once"


def test_a_percentage_is_kept_with_one_decimal():
    one = learnt_for(counsel(), 1200.0)
    moved(one, vessel_j_k=60.1234)
    assert only(one.look(0, 0.5, 1.0), "warmer-changed").detail["percent"] == 5912.3


def test_water_round_the_vessel_is_named_where_a_warmer_has_any():
    one = learnt_for(counsel(), 1200.0)
    moved(one, medium_j_k=0.5)
    learning = one.controller.estimator.learning
    learning.__class__ = type("Wet", (type(learning),), {"moved": lambda _self: {"medium_j_k": -4.0}})
    text = only(one.look(0, 0.5, 1.0), "warmer-changed").text
    assert text.startswith("Water or air round the vessel takes up 50 % less than expected")


def test_of_several_the_one_that_is_furthest_off_is_named():
    one = learnt_for(counsel(), 1200.0)
    moved(one, vessel_j_k=60.0, loss_w_k=0.01)
    off = one.controller.estimator.learning.moved()
    furthest = max(("vessel_j_k", "loss_w_k"), key=lambda name: abs(off[name]))
    assert only(one.look(0, 0.5, 1.0), "warmer-changed").detail["parameter"] == furthest


def test_before_twenty_minutes_of_learning_nothing_is_called_another_warmer_and_each_finding_is_looked_at_once():
    one = learnt_for(counsel(), 1199.9)
    moved(one, vessel_j_k=60.0)
    assert "warmer-changed" not in names(one.look(0, 0.5, 1.0))
    learnt_for(one, 1200.0)
    learning = one.controller.estimator.learning
    looks = []
    learning.__class__ = type(
        "Near", (type(learning),), {"moved": lambda _self: looks.append(1) or {"vessel_j_k": 3.49}}
    )
    for _ in range(3):
        one.look(0, 0.5, 1.0)
    assert len(looks) == 1
    learning.__class__ = type(
        "Far", (type(learning),), {"moved": lambda _self: {"vessel_j_k": -3.5, "odd": 99.0}}
    )
    assert "warmer-changed" not in names(one.look(0, 0.5, 1.0)), "nothing new was found"
    one.controller.estimator.changed += 1
    assert only(one.look(0, 0.5, 1.0), "warmer-changed").detail["parameter"] == "vessel_j_k"


# Heat that is missing ---------------------------------------------------------------------------------------------


def loaded(load: float, *, settled: bool = True, paused: bool = False) -> Counsel:
    one = counsel()
    learning = one.controller.estimator.learning
    learning.settled, learning.paused = settled, paused
    bring(one, load)
    return one


def bring(one: Counsel, load: float) -> None:
    filter_ = one.controller.estimator.filter
    filter_.x[-1] = load
    assert filter_.load == load


def balance(one: Counsel, duty: float = 0.1, dt_s: float = 600.0) -> list[Notice]:
    return [n for n in one.look(0, duty, dt_s) if n.name == "heat-balance"]


@pytest.mark.parametrize(("load", "way"), [(-0.2, "less"), (0.2, "more")])
def test_heat_that_is_missing_or_too_much_is_told_in_watts_with_where_to_look(load, way):
    one = loaded(load)
    (said,) = balance(one)
    watts = 0.2 * one.controller.power_w
    assert said.kind is NoticeKind.ADVICE
    assert said.text == (
        f"The paste gets about {watts:.0f} W {way} than this warmer gave before. Look at the lid, a draught, the "
        "mains, or whether the fill is another one."
    )
    assert said.detail == {"watts": round(load * one.controller.power_w, 1)}
    assert balance(one) == [], "once"


@pytest.mark.parametrize(
    ("load", "duty", "told"),
    [(0.0599, 0.0, False), (0.0601, 0.0, True), (0.19, 0.4, False), (0.201, 0.4, True)],
)
def test_six_percent_of_the_power_and_half_of_the_duty_are_worth_a_word(load, duty, told):
    assert bool(balance(loaded(load), duty)) is told


def test_it_must_last_for_minutes_and_is_told_again_once_it_was_gone():
    one = loaded(0.2)
    assert balance(one, dt_s=60.0) == [], "a tenth of the way in a minute"
    assert one._load == pytest.approx(0.02)
    assert balance(one, dt_s=6000.0), "never further than all the way"
    assert one._load == pytest.approx(0.2)
    bring(one, 0.031)
    balance(one, dt_s=600.0)
    bring(one, 0.2)
    assert balance(one) == [], "it was not gone"
    bring(one, 0.029)
    balance(one, dt_s=600.0)
    bring(one, 0.2)
    assert balance(one)


def test_while_nothing_is_settled_or_hands_are_in_the_paste_no_heat_is_missed():
    unsettled = loaded(0.2, settled=False)
    assert balance(unsettled) == []
    assert unsettled._load == pytest.approx(0.2)
    paused = loaded(0.2, paused=True)
    assert balance(paused) == []
    assert paused._load == 0.0


def test_the_loops_margins_are_kept_when_they_change_and_only_then():
    one = counsel()
    margins = LoopMargins(Margins(1.3, 4.0, 60.0, 0.1), Margins(1.5, 3.0, 50.0, 0.01))
    one.controller.margins = margins
    text, detail = margins_told(margins)
    said = only(one.look(0, 0.5, 1.0), "loop-margins")
    assert (said.kind, said.text, said.detail) == (NoticeKind.CONTROL, text, detail)
    assert "loop-margins" not in names(one.look(1000, 0.5, 1.0))
    one.controller.margins = LoopMargins(margins.inner, margins.outer)  # the same again, made anew
    assert "loop-margins" not in names(one.look(2000, 0.5, 1.0))
    one.controller.margins = LoopMargins(margins.outer, margins.inner)
    assert "loop-margins" in names(one.look(3000, 0.5, 1.0))
