"""What is said of a declared cooling, word by word, by forecasts and stages that are set here by hand.

A baker decides by these at midnight: each has its temperature, its time, the rule, and what is left or too late.
"""

import pytest

from holdctl.events import Condition, Notice, NoticeKind, RequestKind
from holdctl.food.spells import SpellKind
from holdctl.hold import cooling as room
from holdctl.hold.cool_never import FAR_S, FORECASTS, NEVER
from holdctl.hold.cool_order import CoolOrder
from holdctl.hold.cooling import MISSED, SLOW, Cooling, Foretold, spell
from holdctl.paste.cooling import Stand
from holdctl.paste.cooling_pace import Ahead
from holdctl.safety.cooling_probe import Doubt
from holdctl.settings import Place, Probe
from tests.closed_loop import instant
from tests.hold.bench import Bench, stirred

H, MIN = 3600.0, 60.0
FDA = "FDA Food Code 2022, 3-501.14(A)"
HELP = "Spread it."
NONE = Ahead(None, None, None)
POT = CoolOrder(stand=Stand.ICE_BATH)


class Told:
    """A forecast that says what it is told to say."""

    def __init__(self, *aheads: Ahead, end: Ahead | None = None) -> None:
        self.aheads, self.end, self.asked = aheads, end, []

    def ahead(self, *levels: float):
        self.asked.append(levels)
        if len(levels) == 1:
            return () if self.end is None else (self.end,)
        return self.aheads


@pytest.fixture(autouse=True)
def helped(monkeypatch):
    """What would help is reckoned elsewhere; here it is one sentence, and what it was asked for is kept."""
    asked = []
    monkeypatch.setattr(room, "helps", lambda *what: asked.append(what[2:]) or HELP)
    return asked


def cooling(
    *aheads: Ahead, order: CoolOrder = POT, code: str = "fda-2022", end: Ahead | None = None, hot_s=None
):
    made = Cooling(stirred(food_code=code), order, instant(0), hot_s)
    made._course = None, Told(*aheads, end=end)
    return made


def at(seconds: float, coldest_c: float, made: Cooling, hottest_c: float | None = None) -> None:
    made.watch.add(seconds, coldest_c, coldest_c if hottest_c is None else hottest_c)


def told(made: Cooling, seconds: float, hottest_c: float | None = 50.0):
    return made._told_of(instant(round(1000 * seconds)), hottest_c)


def forecast(made: Cooling, seconds: float, hottest_c: float = 50.0) -> Notice:
    return next(n for n in told(made, seconds, hottest_c)[0] if n.kind is NoticeKind.COOLING)


def condition(made: Cooling, name: str, seconds: float, hottest_c: float = 50.0) -> Condition:
    return next(c for c in told(made, seconds, hottest_c)[1] if c.name == name)


def ahead(expected_s: float, by_s: float = 0.0) -> Ahead:
    return Ahead(expected_s - by_s, expected_s, expected_s + by_s)


# Stages -----------------------------------------------------------------------------------------------------------


def test_a_stage_says_when_its_clock_starts_when_it_is_reached_and_by_which_rule():
    made = cooling()
    at(0, 60.0, made)
    assert told(made, 0, None) == ([], [Condition(MISSED, False)])
    at(600, 56.9, made)
    said, _ = told(made, 600, None)
    assert [n.text for n in said] == [
        "The paste has passed 57 °C: 21 °C within 2 h from there.",
        "The paste has passed 57 °C: 5 °C within 6 h from there.",
    ]
    assert {(n.kind, n.name) for n in said} == {(NoticeKind.INFO, "cooling-stage")}
    assert said[0].detail == {"stage": 0, "standing": "running", "began_s": 0, "took_s": 600}
    assert said[1].detail["stage"] == 1
    at(601, 56.8, made)
    assert told(made, 601, None)[0] == [], "each is said once"
    at(5400, 21.0, made)
    (met,) = told(made, 5400, None)[0]
    assert met.text == f"All paste is at 21 °C or below, 1 h 30 min after 57 °C: within the 2 h of {FDA}."
    assert met.detail == {"stage": 0, "standing": "met", "began_s": 0, "took_s": 5400}
    at(7 * H, 4.0, made)
    (late,) = told(made, 7 * H, None)[0]
    assert late.text == f"All paste is at 5 °C or below, 7 h after 57 °C: later than the 6 h of {FDA}."
    assert late.detail["standing"] == "missed"


def test_paste_that_nobody_saw_above_the_start_is_said_so_and_again_when_it_is_down():
    made = cooling()
    at(10, 50.0, made)
    said, conditions = told(made, 10, None)
    assert [n.text for n in said] == [
        "Nobody saw the paste pass 57 °C: no record shows that its time was kept."
    ] * 2
    assert conditions == [Condition(MISSED, False)]
    at(3610, 20.0, made)
    (down,) = told(made, 3610, None)[0]
    assert down.text == (
        "All paste is at 21 °C or below, 1 h after 57 °C: but its fall through 57 °C was not recorded."
    )
    assert down.detail["standing"] == "not shown"


def test_a_time_that_has_passed_is_an_alarm_with_the_rule_before_and_after_the_paste_is_down():
    made = cooling()
    at(0, 60.0, made)
    at(2 * H, 40.0, made)
    assert not condition(made, MISSED, 2 * H).active
    at(2 * H + MIN, 40.0, made)
    over = condition(made, MISSED, 2 * H + MIN)
    assert (over.active, over.text) == (
        True,
        f"21 °C is not reached after 2 h 01 min; {FDA} allows 2 h from 57 °C",
    )
    at(3 * H, 20.0, made)
    assert condition(made, MISSED, 3 * H).text == f"21 °C was reached after 3 h; {FDA} allows 2 h from 57 °C"
    texts = [n.text for n in told(made, 3 * H, None)[0]]
    assert not any("The paste has passed" in text for text in texts), "it was said above"


# Forecasts --------------------------------------------------------------------------------------------------------


def test_forecasts_are_told_after_a_minute_and_then_every_two():
    made = cooling(*[ahead(H)] * 4)
    cases = ((59.999, False), (60.0, True), (179.999, False), (180.0, True), (300.0, True))
    for seconds, due in cases:
        assert any(n.kind is NoticeKind.COOLING for n in told(made, seconds)[0]) is due, seconds
    assert told(made, 900.0, None)[0] == [], "without a reading that counts there is none"


def test_a_forecast_tells_each_stage_with_its_latest_and_what_is_to_spare():
    made = cooling(ahead(-300), ahead(1 * H, 600), ahead(-300), ahead(5 * H, 1200))
    at(0, 60.0, made)
    at(60, 56.0, made)
    notice = forecast(made, 60.0, 55.004)
    assert notice.name == "cooling"
    assert notice.text == (
        "21 °C in about 59 min, 69 min at the latest, 60 min to spare; "
        "5 °C in about 4 h 59 min, 5 h 19 min at the latest, 60 min to spare."
    )
    stage = {
        "from_c": 57.0,
        "to_c": 21.0,
        "within_s": 2 * H,
        "standing": "running",
        "began_s": 0,
        "reached_s": None,
        "due_s": 7200,
        "early_s": 3000,
        "expected_s": 3600,
        "late_s": 4200,
    }
    assert notice.detail["stages"][0] == stage
    assert notice.detail["stages"][1]["to_c"] == 5.0
    assert {key: notice.detail[key] for key in ("hottest_c", "stand", "help")} == {
        "hottest_c": 55.0,
        "stand": "in an ice bath",
        "help": "",
    }
    assert made._course[1].asked[0] == (57.0, 21.0, 57.0, 5.0)


def test_before_its_clock_starts_a_stage_is_due_by_when_that_is_foretold():
    made = cooling(ahead(600), ahead(600 + 2 * H), NONE, NONE)
    at(0, 60.0, made)
    first, second = made.foretold()
    assert (first.due_s, first.late_s) == (600 + 2 * H, None)
    assert (second.due_s, second.late_s) == (None, None)
    assert forecast(made, 60.0).text.startswith(
        "21 °C in about 2 h 09 min, 2 h 09 min at the latest, 0.0 s to spare;"
    )


def test_a_forecast_that_is_too_late_is_an_alarm_with_what_would_help():
    made = cooling(ahead(0), ahead(2.5 * H), ahead(0), ahead(5 * H))
    at(0, 60.0, made)
    at(60, 56.0, made)
    said, conditions = told(made, 60.0)
    slow = next(c for c in conditions if c.name == SLOW)
    assert (slow.active, slow.text) == (
        True,
        f"21 °C is expected in 2 h 29 min, 30 min too late. {HELP}"[:-1],
    )
    assert next(c for c in conditions if c.name == NEVER) == Condition(NEVER, False)
    text = said[-1].text
    assert text.startswith(
        "21 °C in about 2 h 29 min, 2 h 29 min at the latest, 30 min too late; 5 °C in about "
    )
    assert text.endswith(f" to spare. {HELP}")
    assert said[-1].detail["help"] == HELP


def test_what_is_never_reached_is_said_so():
    made = cooling(ahead(0), NONE, ahead(0), NONE)
    at(0, 60.0, made)
    at(60, 56.0, made)
    notice = forecast(made, 60.0)
    assert notice.text.startswith(
        "21 °C is not reached as it cools now; 5 °C is not reached as it cools now."
    )
    assert notice.detail["stages"][0]["expected_s"] is None
    assert made.foretold()[0].late_s == float("inf")
    made._next_ms = 0
    slow = condition(made, SLOW, 120.0)
    assert slow.text == f"as it cools now the hottest paste never comes to 21 °C. {HELP}"[:-1]


def test_what_was_missed_is_no_longer_called_too_slow_but_what_would_help_is_told():
    made = cooling(ahead(0), ahead(4 * H), ahead(0), ahead(5 * H))
    at(0, 60.0, made)
    at(2.5 * H, 40.0, made)
    said, conditions = told(made, 2.5 * H)
    assert [c.active for c in conditions if c.name == SLOW] == [False]
    assert [c.active for c in conditions if c.name == MISSED] == [True]
    assert said[-1].detail["help"] == HELP


def test_a_stage_that_is_reached_is_no_longer_foretold():
    made = cooling(ahead(0), ahead(5000), ahead(0), ahead(5 * H))
    at(0, 60.0, made)
    at(60, 56.0, made)
    at(5000, 20.0, made)
    told(made, 5000, None)
    notice = forecast(made, 5000.0)
    assert notice.text.startswith("5 °C in about 3 h 36 min")
    assert made.foretold()[0].late_s is None
    assert notice.detail["stages"][0]["reached_s"] == 5000
    at(6000, 4.0, made)
    told(made, 6000, None)
    assert forecast(made, 6000.0, 3.96).text == "hottest paste 4.0 °C."


def test_without_a_course_nothing_is_foretold():
    made = cooling()
    made._course = None
    assert [row.ahead for row in made.foretold()] == [NONE, NONE]
    assert forecast(made, 60.0).text.startswith("21 °C is not reached as it cools now")


def test_of_paste_whose_form_nobody_told_only_what_is_surely_too_late_counts():
    row = cooling(*[NONE] * 4).foretold()[0]
    verdict, stage = row.verdict, row.stage
    late = Ahead(7000.0, 9000.0, None)
    assert Foretold(verdict, stage, 8000.0, late).late_s == 1000.0
    assert Foretold(verdict, stage, 8000.0, late, False).late_s is None
    assert Foretold(verdict, stage, 6900.0, late, False).late_s == 100.0
    assert Foretold(verdict, stage, 7000.0, NONE, False).late_s is None
    assert Foretold(verdict, stage, 9000.0, late).late_s is None, "just in time"
    made = cooling(NONE, NONE, NONE, NONE, order=CoolOrder(alone=True, unknown=True))
    assert forecast(made, 60.0).text == "21 °C: not foretold yet; 5 °C: not foretold yet."


def test_what_would_help_is_reckoned_for_the_next_stage_and_again_after_ten_minutes(helped):
    made = cooling(ahead(0), ahead(2.5 * H), ahead(0), ahead(7 * H))
    at(0, 60.0, made)
    at(60, 56.0, made)
    told(made, 60.0, 55.0)
    assert helped == [(55.0, 21.0, 2 * H - 60.0)]
    told(made, 659.0, 54.0)
    assert len(helped) == 1
    told(made, 60.0 + 720.0, 53.0)
    assert len(helped) == 2
    at(H, 20.0, made)
    told(made, H, 20.0)
    assert helped[-1] == (20.0, 5.0, 5 * H), "another stage is next"
    made._course[1].aheads = (ahead(0), ahead(2.5 * H), ahead(0), ahead(5 * H))
    assert forecast(made, H + 120.0).detail["help"] == "", "all in time: no help is needed"


# A cooling without an end -----------------------------------------------------------------------------------------


def test_a_cooling_that_never_ends_is_an_alarm_with_what_would_help(helped):
    made = cooling(code="uk", end=NONE)
    for k in range(FORECASTS):
        never = condition(made, NEVER, 60.0 + 120.0 * k, 40.0 - 0.5 * k)
        assert never.active is (k == FORECASTS - 1)
    end_c = made._never.end_c
    assert (
        never.text
        == (f"as it cools now the hottest paste does not come to {end_c:g} °C within 12 h. {HELP}"[:-1])
    )
    assert helped == [(39.0, end_c, 0.0)]


@pytest.mark.parametrize(("in_s", "comes"), [(FAR_S - 1, True), (FAR_S, False)])
def test_what_is_foretold_further_ahead_than_twelve_hours_is_as_good_as_never(in_s, comes):
    made = cooling(code="uk", end=Ahead(None, 0.0, None))
    for k in range(FORECASTS):
        made._course[1].end = ahead(60.0 + 120.0 * k + in_s)
        never = condition(made, NEVER, 60.0 + 120.0 * k, 40.0 - 0.5 * k)
    assert never.active is not comes


def test_of_an_unknown_form_or_before_a_forecast_no_cooling_is_called_endless():
    unknown = cooling(code="uk", end=NONE, order=CoolOrder(alone=True, unknown=True))
    early = cooling(code="uk")
    for made in (unknown, early):
        for k in range(6):
            assert not condition(made, NEVER, 60.0 + 120.0 * k, 40.0 - 0.5 * k).active


# What else is said ------------------------------------------------------------------------------------------------


def test_a_spell_tells_its_kind_by_whom_and_whether_it_begins():
    said = spell(SpellKind.SOURING, begins=True, by="a baker", text="x")
    assert said == Notice(NoticeKind.SPELL, "souring", "x", {"begins": True, "by": "a baker"})


def test_a_cooling_by_the_code_without_stages_ends_at_its_cold_holding_by_the_hottest_paste():
    made = cooling(code="uk")
    assert made.source
    end_c = made._never.end_c
    assert not made.done
    made._hottest_c = end_c + 0.01
    assert not made.done
    made._hottest_c = end_c
    assert made.done
    made.probes._seen[0].guard.calm = False
    assert not made.done, "what a probe reads on its way out of the paste proves nothing"


def seen_of(bench: Bench, *temps: float):
    return bench.read(*temps).estimate


def test_of_two_probes_in_the_paste_the_hottest_and_the_coldest_count_with_their_own_errors():
    probes = tuple(
        Probe(channel=c, place=p, error_k=e) for c, p, e in ((1, Place.MID, 0.2), (2, Place.CORE, 1.5))
    )
    bench = Bench(stirred(food_code="fda-2022", probe=probes))
    bench.reads(3, 65.0, 65.0)
    bench.ask(RequestKind.COOL, CoolOrder(stand=Stand.ICE_BATH, stirred=True).subject())
    bench.read(64.0, 62.0)
    followed = bench.hold.unheated.cooling
    estimate = followed.estimate
    assert estimate.paste_c == 64.0
    assert estimate.coldest_c <= 62.0
    assert estimate.hottest_c >= 64.0
    assert followed._hottest_c == pytest.approx(estimate.hottest_c + 1.5)


def test_of_an_unknown_form_what_the_probes_read_is_all_that_is_shown():
    probes = tuple(Probe(channel=c, place=p, error_k=0.5) for c, p in ((1, Place.MID), (2, Place.CORE)))
    bench = Bench(stirred(food_code="fda-2022", probe=probes))
    bench.ask(RequestKind.COOL, CoolOrder(alone=True, unknown=True).subject())
    estimate = seen_of(bench, 50.0, 47.0)
    assert (estimate.wall_c, estimate.paste_c, estimate.mean_c) == (50.0, 50.0, 50.0)
    assert (estimate.coldest_c, estimate.hottest_c) == (47.0, 50.0)


def test_what_was_said_of_time_does_not_drift():
    made = Cooling(stirred(food_code="fda-2022"), POT, instant(0), 7_200_000)
    assert made.watch.since_s == 7200.0
    assert (made._help, made._help_ms, made._help_c) == ("", -600_000, 0.0)
    assert condition(made, MISSED, 0).text == ""


@pytest.mark.parametrize(
    ("doubt", "stirred_too", "what"),
    [
        (Doubt.STIRRED, True, "The paste was stirred"),
        (Doubt.MOVED, False, "The probe was moved in the paste"),
    ],
)
def test_what_the_readings_tell_of_hands_in_the_paste_is_said_and_the_forecast_begins_anew(
    doubt, stirred_too, what
):
    made = cooling(*[ahead(H)] * 4)
    made.probes.changed, made._help_ms = doubt, 5_000
    made._never._said = "it never comes"
    assert made._changed(instant(90_000)) == Notice(
        NoticeKind.INFO,
        "cooling-anew",
        f"{what}, by its readings: the forecast begins anew, the clocks go on.",
        {"stirred": stirred_too},
    )
    assert (made._course, made._next_ms, made._help_ms) == (None, 150_000, -600_000)
    assert made._never._said == ""
