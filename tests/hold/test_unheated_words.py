"""What is said when paste is put to cool or to sour, and what becomes of the alarms of its heating."""

import pytest

from holdctl.errors import ConfigError
from holdctl.events import Condition, Instant, Notice, NoticeKind, Request, RequestKind, State
from holdctl.food.codes import code_of
from holdctl.food.rules import Cooling
from holdctl.hold.cool_order import CoolOrder
from holdctl.hold.probes import Values
from holdctl.hold.unheated import HEATING, WATCHED, Unheated
from holdctl.paste.cooling import Stand
from holdctl.settings import Place, Probe
from tests.closed_loop import instant
from tests.hold.bench import Bench, stirred

COOL, SOUR = RequestKind.COOL, RequestKind.SOUR
ICE = CoolOrder(stand=Stand.ICE_BATH, stirred=True).subject()


def hot(**changes) -> Bench:
    bench = Bench(stirred(food_code="fda-2022", **changes))
    bench.reads(3, 65.0, 65.2)
    return bench


def spells(bench: Bench) -> list[Notice]:
    return bench.notices(NoticeKind.SPELL)


def test_a_declared_cooling_says_where_it_cools_by_whom_and_that_the_relay_is_off_for_good():
    bench = hot()
    bench.ask(COOL, ICE)
    (said,) = spells(bench)
    assert said == Notice(
        NoticeKind.SPELL,
        "cooling",
        "Cooling in an ice bath, stirred, declared by a baker: the relay is off for good.",
        {"begins": True, "by": "a baker"},
    )
    bench.ask(COOL, CoolOrder(stand=Stand.FRIDGE, depth_cm=5.0).subject())
    assert spells(bench)[1].text == (
        "The paste cools in the fridge, 5 cm deep from now on, said a baker; the clocks go on."
    )
    assert spells(bench)[1].detail == {"begins": True, "by": "a baker"}


def test_a_cooling_without_a_hold_before_it_says_that_no_relay_is_switched():
    bench = Bench(stirred(food_code="fda-2022"))
    bench.ask(COOL, CoolOrder(alone=True).subject())
    assert spells(bench)[0].text == "Cooling in the room, declared by a baker: no relay is switched."
    assert bench.hold.unheated.alone


def test_a_move_is_taken_with_all_that_is_said_of_it_and_the_clock_counts_from_when_the_paste_was_hot():
    bench = hot()
    bench.ask(COOL, ICE)
    cooling = bench.hold.unheated.cooling
    assert cooling.watch.since_s == pytest.approx(bench.hold.unheated._last_hot_ms / 1000)
    bench.ask(COOL, CoolOrder(stand=Stand.FRIDGE).subject())
    assert bench.hold.unheated.cooling is cooling
    assert cooling.order == CoolOrder(stand=Stand.FRIDGE)


def test_what_the_watches_say_of_a_cooling_is_told_with_its_words():
    bench = hot()
    bench.ask(COOL, ICE)
    cooling, told = bench.hold.unheated.cooling, []
    cooling.__class__ = type(
        "Told",
        (type(cooling),),
        {"take": lambda *_what: ([], [Condition("cooling-slow", True, "too slow!")])},
    )
    seen = [Condition("relay-welded", True, "welded!")]
    leases = []
    bench.hold.vigil.wiring = lambda _reading, lease_ms, _now: leases.append(lease_ms) or seen
    bench.hold.condition = lambda *what: told.append(what)
    bench.read(64.0, 64.0)
    assert told == [("relay-welded", True, "welded!"), ("cooling-slow", True, "too slow!")]
    assert leases == [0]


def test_a_souring_says_that_its_ph_is_to_be_entered_and_by_whom_it_began_and_ended():
    bench = hot()
    bench.ask(SOUR)
    bench.ask(SOUR, "end")
    begun, ended = spells(bench)
    assert begun.text == (
        "Souring, declared by a baker: enter its pH with `holdctl note --ph`; your authority decides by it."
    )
    assert (begun.name, begun.detail) == ("souring", {"begins": True, "by": "a baker"})
    assert (ended.name, ended.text) == ("souring", "Souring ended by a baker.")
    assert ended.detail == {"begins": False, "by": "a baker"}
    assert not bench.hold.unheated.off, "it may run beside a hold"
    assert not bench.hold.unheated.souring


def test_a_souring_in_a_cooling_ends_the_cooling_and_a_cooling_ends_a_souring_and_each_is_said():
    bench = hot()
    bench.ask(COOL, ICE)
    bench.ask(SOUR)
    bench.ask(COOL, ICE)
    said = [(n.name, n.detail["begins"]) for n in spells(bench)]
    assert said == [
        ("cooling", True),
        ("cooling", False),
        ("souring", True),
        ("souring", False),
        ("cooling", True),
    ]
    assert spells(bench)[1].text == "The cooling ends with the souring; the relay stays off."
    assert spells(bench)[1].detail["by"] == "a baker"


@pytest.mark.parametrize(
    ("before", "subject", "why"),
    [
        ((), "end", "no souring is declared"),
        (("",), "", "a souring is declared already"),
        ((), "soon", "“soon” is neither a begin nor the end of a souring"),
    ],
)
def test_a_souring_that_can_not_begin_or_end_is_refused_in_one_sentence(before, subject, why):
    hold = hot().hold
    for first in before:
        hold.unheated.ask(hold, Request(SOUR, "a baker", first), instant(9000))
    with pytest.raises(ConfigError) as refused:
        hold.unheated.ask(hold, Request(SOUR, "a baker", subject), instant(9000))
    assert str(refused.value) == why


@pytest.mark.parametrize("name", HEATING)
def test_an_alarm_of_the_heating_ends_with_the_declared_cooling_and_says_why(name, monkeypatch):
    bench = hot()
    cleared = {}
    monkeypatch.setattr(bench.hold, "clear", lambda alarm, text="": cleared.setdefault(alarm, text))
    bench.ask(COOL, ICE)
    assert cleared[name] == "a cooling has been declared"


def test_the_alarms_of_a_cooling_end_with_it_and_say_why(monkeypatch):
    bench = hot()
    bench.ask(COOL, ICE)
    cleared = {}
    monkeypatch.setattr(bench.hold, "clear", lambda alarm, text="": cleared.setdefault(alarm, text))
    bench.ask(SOUR)
    names = {"cooling-slow", "cooling-missed", "cooling-never", "cooling-out", "cooling-still"}
    assert cleared == dict.fromkeys(names, "the cooling is over")


def test_of_the_wiring_only_what_a_relay_shows_that_should_be_off_is_still_told():
    assert {"relay-welded", "no-acknowledgement", "node-clock"} == WATCHED
    bench = hot()
    bench.ask(COOL, ICE)
    told = []
    bench.hold.condition = lambda name, active, text="": told.append((name, active, text))
    bench.read(64.0, 64.0)
    assert {name for name, *_ in told} >= WATCHED
    assert "no-heat" not in {name for name, *_ in told}
    assert "heat-unordered" not in {name for name, *_ in told}


def test_the_end_of_a_cooling_is_said_and_completes_the_hold():
    bench = hot()
    bench.ask(COOL, ICE)
    bench.hold.unheated.cooling.__class__ = type(
        "Cold", (type(bench.hold.unheated.cooling),), {"done": property(lambda _self: True)}
    )
    last = bench.read(4.0, 4.0)
    assert last.state is State.COMPLETE
    assert spells(bench)[-1] == Notice(
        NoticeKind.SPELL,
        "cooling",
        "All paste is cold: the cooling is done.",
        {"begins": False, "by": "holdctl"},
    )
    (state,) = [n for n in last.notices if n.kind is NoticeKind.STATE]
    assert state.text.endswith(": the paste is cold")


def two_probes(*errors_k: float):
    places = (Place.MID, Place.CORE, Place.WALL)
    return tuple(
        Probe(channel=k + 1, place=place, error_k=e)
        for k, (place, e) in enumerate(zip(places, errors_k, strict=True))
    )


def seen(unheated: Unheated, ms: int, *temps: float, was=None) -> int | None:
    values = dict(enumerate(temps, 1))
    unheated.seen(Values(values, values), Instant(ms, ms, 0), was)
    return unheated._last_hot_ms


def test_all_paste_was_last_hot_when_the_coldest_probe_less_its_error_was():
    unheated = Unheated(stirred(food_code="fda-2022", probe=two_probes(0.5, 1.0, 9.0)))
    assert seen(unheated, 1000, 57.4, 65.0, 20.0) is None
    assert seen(unheated, 2000, 57.5, 58.0, 20.0) == 2000, "the wall's probe is not in the paste"
    assert seen(unheated, 3000, 65.0, 57.9, 65.0) == 2000
    assert seen(unheated, 4000, 65.0, 58.0, 65.0) == 4000


def test_an_estimate_of_colder_paste_counts_with_its_deviation_and_the_worst_error(monkeypatch):
    from holdctl.events import Estimate

    unheated = Unheated(stirred(food_code="fda-2022", probe=two_probes(0.5, 1.0, 0.0)))
    was = Estimate(65.0, 65.0, 59.0, 65.0, 65.0, 0.0, 1.0, 0.0, 0.0)
    assert seen(unheated, 1000, 65.0, 65.0, 65.0, was=was) == 1000
    colder = Estimate(65.0, 65.0, 58.9, 65.0, 65.0, 0.0, 1.0, 0.0, 0.0)
    assert seen(unheated, 2000, 65.0, 65.0, 65.0, was=colder) == 1000


def test_a_code_with_stages_counts_from_where_its_first_clock_starts():
    # SI 2013/2996 holds hot from 63 °C and has no stages; the Food Code's clock starts at 57 °C.
    unheated = Unheated(stirred(food_code="anz", probe=two_probes(0.5, 0.5, 0.5)))
    from_c = code_of(stirred(food_code="anz")).of(Cooling)[0].stages[0].clock_from_c
    assert seen(unheated, 1000, from_c + 0.4, 65.0, 65.0) is None
    assert seen(unheated, 2000, from_c + 0.5, 65.0, 65.0) == 2000


def test_a_code_without_stages_counts_from_its_hot_holding():
    unheated = Unheated(stirred(food_code="uk", probe=two_probes(0.5, 0.5, 0.5)))
    assert seen(unheated, 1000, 63.4, 65.0, 65.0) is None
    assert seen(unheated, 2000, 63.5, 65.0, 65.0) == 2000


def test_after_a_souring_a_cooling_does_not_count_from_what_was_hot_before_it():
    bench = hot()
    assert bench.hold.unheated._last_hot_ms is not None
    bench.ask(SOUR)
    assert bench.hold.unheated._last_hot_ms is None
