"""When it is ready, what a stir is worth, and how far the estimates are trusted."""

from collections.abc import Callable

import pytest

from holdctl.events import Estimate, Forecast, LinkChange, NoticeKind, ProbeFault, RequestKind, Silence
from holdctl.watch import frame_json
from holdctl.watch.sentence import sentence
from tests.watch.conftest import screen
from tests.watch.nights import HOLD, Night

Begin = Callable[..., Night]
MIN = 60_000
READY = Forecast((60 * MIN, 70 * MIN, 85 * MIN), (301 * MIN, 310 * MIN, 324 * MIN), 55.0, 69.0, 25 * MIN, 4.2)


def cold(begin: Begin, programme: str = HOLD, seconds: int = 900) -> Night:
    """A paste too cold for its clock to run, from 22:00 on."""
    night = begin(programme)
    night.steady(seconds, 50.0, 64.0, every=2)
    return night


def said(night: Night) -> str:
    shown = screen(night)
    return sentence(shown.snapshot, shown.look).text


def frame(night: Night, width: int = 80, height: int = 24) -> str:
    return screen(night).frame(width, height).plain


def test_the_ready_time_is_a_range_that_does_not_slide(begin: Begin) -> None:
    night = cold(begin)
    assert said(night).endswith("to go, no forecast yet.")
    night.foretell(READY)
    assert said(night).endswith("4 h of 4 h to go, ready 03:15–03:40.")
    night.steady(400, 50.0, 64.0)
    night.ask(RequestKind.ACKNOWLEDGE)  # such a night has no heat: that is an alarm of its own
    assert said(night).endswith("4 h of 4 h to go, ready 03:15–03:40.")


@pytest.mark.parametrize(
    ("end", "words"),
    [
        ((240 * MIN, 245 * MIN, 251 * MIN), "ready 02:15–02:26."),
        ((240 * MIN, 240 * MIN, 240 * MIN), "ready about 02:15."),
        ((1439 * MIN, 1500 * MIN, 1561 * MIN), "ready 22:10–00:20."),
    ],
)
def test_the_range_is_rounded_outwards(begin: Begin, end: tuple[int, int, int], words: str) -> None:
    night = cold(begin)
    night.foretell(Forecast((0, 0, 0), end, 55.0, 69.0, 0, 0.0))
    assert said(night).endswith(words)


def test_a_range_out_of_reach_is_said_plainly(begin: Begin) -> None:
    night = cold(begin)
    night.foretell(Forecast(None, None, 55.0, 69.0, 0, 0.0))
    assert said(night).endswith("4 h of 4 h to go, not ready within a day.")
    night.foretell(Forecast((1, 2, 3), None, 55.0, 69.0, 0, 0.0))
    assert said(night).endswith("4 h of 4 h to go, not ready within two days.")


def test_the_baker_is_told_when_she_is_wanted_and_hold_steps_in_between_count(begin: Begin) -> None:
    more = """[[programme.step]]
to = 64
for = "30 min"
[[programme.step]]
prompt = "add malt"
"""
    night = cold(begin, HOLD + more)
    night.foretell(READY)
    assert said(night).endswith("you are wanted 03:45–04:10.")


def test_while_the_clock_runs_only_a_doubtful_forecast_is_a_range(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(601)
    sure = 229 * MIN
    night.foretell(Forecast((0, 0, 0), (sure, sure + MIN, sure + 2 * MIN), 64.0, 66.0, 0, 0.0))
    assert said(night).endswith("3 h 50 min of 4 h left, ready about 02:00.")
    night.foretell(Forecast((0, 0, 0), (sure, sure + MIN, sure + 30 * MIN), 64.0, 66.0, 0, 0.0))
    assert said(night).endswith("3 h 50 min of 4 h left, ready 01:55–02:30.")


def test_a_forecast_that_nobody_renews_is_forgotten(begin: Begin) -> None:
    night = cold(begin)
    night.foretell(READY)
    night.steady(902, 50.0, 64.0, every=2)
    night.ask(RequestKind.ACKNOWLEDGE)
    assert said(night).endswith("no forecast yet.")


def test_a_forecast_whose_latest_time_is_past_is_forgotten(begin: Begin) -> None:
    night = cold(begin)
    night.foretell(Forecast((0, 0, 0), (MIN, MIN, 2 * MIN), 55.0, 69.0, 0, 0.0))
    night.steady(125, 50.0, 64.0)
    assert said(night).endswith("no forecast yet.")


def test_a_forecast_is_of_its_own_step(begin: Begin) -> None:
    night = cold(begin, HOLD + '[[programme.step]]\nto = 64\nfor = "30 min"\n')
    night.foretell(READY)
    night.ask(RequestKind.NEXT, "skip")
    night.steady(2, 50.0, 64.0)
    assert said(night).endswith("no forecast yet.")


def test_forecasts_never_fill_the_event_list(begin: Begin) -> None:
    night = cold(begin)
    for _ in range(30):
        night.foretell(READY)
    lines = screen(night).snapshot.lines
    assert [line.kind for line in lines] == ["state", "step", "phase"]
    assert "a forecast" not in frame(night, 160, 50)


def test_another_versions_forecast_is_left_alone(begin: Begin) -> None:
    night = cold(begin)
    night.tell(NoticeKind.FORECAST, "forecast", "odd", band_ms="soon")
    assert said(night).endswith("no forecast yet.")


# Stirring ----------------------------------------------------------------------------------------------------------


def advised(begin: Begin, **worth: float) -> Night:
    night = cold(begin)
    night.tell(NoticeKind.ADVICE, "stir-now", "Stir now, it pays.", **worth)
    return night


@pytest.mark.parametrize(
    ("worth", "line"),
    [
        ({"stir_ms": 25 * MIN, "stir_k": 4.24},
         "Stir now: about 25 min sooner, 4.2 K less between coldest and hottest."),
        ({"stir_ms": 71 * MIN, "stir_k": 0.0}, "Stir now: about 1 h 11 min sooner."),
        ({"stir_ms": 0, "stir_k": 2.5}, "Stir now: 2.5 K less between coldest and hottest."),
        ({}, "Stir now, it pays."),
    ],
)  # fmt: skip
def test_advice_to_stir_stands_under_the_sentence_with_its_worth(
    begin: Begin, worth: dict[str, float], line: str
) -> None:
    assert frame(advised(begin, **worth)).split("\n")[2] == line


def test_advice_without_its_worth_takes_that_of_the_last_forecast(begin: Begin) -> None:
    night = cold(begin)
    night.foretell(READY)
    night.tell(NoticeKind.ADVICE, "stir-now", "Stir now, it pays.")
    assert "Stir now: about 25 min sooner, 4.2 K less" in frame(night)


def test_advice_stands_for_a_quarter_of_an_hour(begin: Begin) -> None:
    night = advised(begin, stir_ms=25 * MIN)
    night.steady(890, 50.0, 64.0, every=2)
    assert "about 25 min sooner" in frame(night)
    night.steady(30, 50.0, 64.0)
    assert "about 25 min sooner" not in frame(night)


def test_a_stir_answers_the_advice_and_its_gain_stays_in_the_events(begin: Begin) -> None:
    night = advised(begin, stir_ms=25 * MIN)
    night.tell(NoticeKind.ADVICE, "stirred", "stirred: ready 22 min sooner than before")
    text = frame(night)
    assert "about 25 min sooner" not in text
    assert "22:15  stirred: ready 22 min sooner than before" in text


def test_nobody_is_told_to_stir_while_the_node_is_silent(begin: Begin) -> None:
    night = advised(begin, stir_ms=25 * MIN)
    night.wait(4)
    night.event(Silence())
    assert "about 25 min sooner" not in frame(night)


# The estimates -----------------------------------------------------------------------------------------------------


def test_estimates_stand_with_two_standard_deviations(begin: Begin) -> None:
    night = begin(HOLD)
    night.deviations = (0.5, 0.62, 5.2, 0.0)
    night.steady(60)
    e = screen(night).snapshot.estimate
    assert e is not None
    text = frame(night)
    assert f"coldest  {e.coldest_c:.1f} ±1.2\n" in text
    assert f"hottest  {e.hottest_c:.1f} ±10\n" in text
    assert f"mean     {e.mean_c:.1f}\n" in text  # none was given
    assert (
        f"{screen(night, units='F').look.number(e.coldest_c)} ±2.2"
        in screen(night, units="F").frame(80, 24).plain
    )


def spoil_probe(night: Night) -> None:
    night.steady(3, ProbeFault.OPEN, 66.0)


def silence(night: Night) -> None:
    night.wait(4)
    night.event(Silence())


def unplug(night: Night) -> None:
    night.event(LinkChange(False, "unplugged"))
    night.event(Silence())


@pytest.mark.parametrize("happens", [spoil_probe, silence, unplug])
def test_estimates_that_rest_on_nothing_are_dashes(begin: Begin, happens: Callable[[Night], None]) -> None:
    night = begin(HOLD)
    night.steady(60)
    assert isinstance(screen(night).snapshot.known_estimate, Estimate)
    happens(night)
    text = frame(night)
    for name in ("coldest", "mean   ", "hottest"):
        assert f"{name}  --.-\n" in text
    assert frame_json(screen(night).snapshot)["estimated"] is None


def test_what_the_screen_knows_is_in_the_json_too(begin: Begin) -> None:
    night = cold(begin)
    night.foretell(READY)
    night.tell(NoticeKind.ADVICE, "stir-now", "Stir now, it pays.")
    data = frame_json(screen(night).snapshot)
    assert data["forecast"]["step_done_utc"] == {
        "early": "2026-01-01T02:16:00.000Z", "expected": "2026-01-01T02:25:00.000Z",
        "late": "2026-01-01T02:39:00.000Z",
    }  # fmt: skip
    assert (data["advice"]["sooner_s"], data["advice"]["evener_k"]) == (1500.0, 4.2)
    assert data["estimated"]["coldest_sd_k"] == 0.21
    night.foretell(Forecast(None, None, 1.0, 2.0, 0, 0.0))
    assert frame_json(screen(night).snapshot)["forecast"]["in_range_utc"] is None
