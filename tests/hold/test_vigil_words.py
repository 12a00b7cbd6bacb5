"""What each watch passes on and says, by judges and a controller that are set here by hand."""

from types import SimpleNamespace
from typing import ClassVar

import pytest

from holdctl.control.approach import Leg
from holdctl.events import Condition, Estimate, Instant
from holdctl.hold import vigil as room
from holdctl.hold.vigil import Vigil
from holdctl.hold.vigil import _Followed as _RealFollowed
from holdctl.safety.heat import Finding
from holdctl.settings import Place
from tests.closed_loop import instant
from tests.hold.bench import Bench, stirred
from tests.hold.watched import ESTIMATE, PROBES, Controller, reading, texts, values

# The wiring -------------------------------------------------------------------------------------------------------


def test_the_wiring_is_judged_by_its_own_watches_and_each_condition_has_its_words(vigil, monkeypatch):
    asked = []

    class Watch:
        def __init__(self, answer):
            self.answer = answer

        def look(self, *what):
            asked.append(what)
            return self.answer

    vigil._contact, vigil._acks, vigil._clock = Watch(("welded!", "dead!")), Watch(True), Watch(0.0204)
    vigil._finding = Finding(unordered="hot!", nothing="nothing!")
    found = list(vigil.wiring(reading(up_ms=77), 1500, Instant(9_000, 9_000, 0)))
    assert found == [
        Condition("no-acknowledgement", True, "the node does not acknowledge its leases"),
        Condition("relay-welded", True, "welded!"),
        Condition("heat-unordered", True, "hot!"),
        Condition("no-heat", True, "dead!"),
        Condition("node-clock", True, "the node's clock is 2.0 % fast"),
    ]
    assert asked == [(reading(up_ms=77), 9_000), (reading(up_ms=77), 1500), (77, 9_000)]
    vigil._contact, vigil._acks, vigil._clock = Watch(("", "")), Watch(False), Watch(-0.015)
    assert texts(vigil.wiring(reading(), 0, instant(1000))) == {
        "no-acknowledgement": "",
        "relay-welded": "",
        "heat-unordered": "hot!",
        "no-heat": "nothing!",
        "node-clock": "the node's clock is 1.5 % slow",
    }
    vigil._clock = Watch(0.0)
    assert texts(vigil.wiring(reading(), 0, instant(1000)))["node-clock"] == ""
    vigil._clock = Watch(0.5)
    turned = Instant(9_000, 9_001, 0)
    assert texts(vigil.wiring(reading(), 0, turned))["node-clock"] == "", (
        "the node's clock is the hold's here"
    )


def test_a_lease_is_noted_on_the_hosts_clock(vigil, monkeypatch):
    noted = []
    vigil._contact = SimpleNamespace(leased=lambda *what: noted.append(what))
    vigil.leased(1500, Instant(1, 2, 3))
    assert noted == [(1500, 2)]


def test_what_is_not_there_is_said_by_the_same_condition_each_time(vigil):
    one, other = (list(vigil.wiring(reading(), 0, instant(1000))) for _ in range(2))
    assert all(a is b and not a.active for a, b in zip(one, other, strict=True))


# The probes -------------------------------------------------------------------------------------------------------


def test_all_that_values_and_estimate_show_is_told_by_the_tables_names(vigil):
    found = list(vigil.paste(values(), ESTIMATE, instant(1000), 1.0))
    assert [one.name for one in found] == [
        "probe-out", "probe-frozen", "heat-missing", "probe-jump", "over-ceiling", "probes-disagree",
    ]  # fmt: skip
    assert not any(one.active or one.text for one in found)


def test_a_probe_that_is_out_is_named_and_is_not_called_frozen_too(vigil, controller, monkeypatch):
    controller.estimator.jumps.out = (1, 0)
    forgotten = []
    for channel, frozen in vigil._frozen.items():
        monkeypatch.setattr(type(frozen), "look", lambda *_what: True)
        frozen._value, frozen._since_ms = 65.0, -channel
    found = texts(vigil.paste(values(), ESTIMATE, instant(1000), 1.0))
    assert found["probe-out"] == "probe 2 (wall) reads what the paste can't have"
    assert found["probe-frozen"] == ""
    assert [frozen._value for frozen in vigil._frozen.values()] == [None, None]
    assert forgotten == []
    assert set(vigil._frozen) == {1, 2}, "a probe in the air says nothing of the paste"


def still(vigil: Vigil, monkeypatch, channel: int, for_ms: int, asked: list) -> None:
    class Judge:
        def __init__(self, ch):
            self.channel = ch

        def still_ms(self, _now_ms):
            return for_ms if self.channel == channel else 0

        def look(self, *what):
            asked.append((self.channel, *what))
            return self.channel == channel

        def forget(self):
            asked.append((self.channel, "forget"))

    vigil._frozen = {ch: Judge(ch) for ch in (1, 2)}


def test_a_frozen_probe_is_named_with_its_value_and_for_how_long(vigil, monkeypatch):
    asked = []
    still(vigil, monkeypatch, 2, 119_999, asked)
    found = texts(vigil.paste(values(65.0, 66.004), ESTIMATE, instant(5_000), 1.0))
    assert found["probe-frozen"] == "probe 2 (wall) has read 66.00 °C for 2 minutes"
    assert asked == [(1, 65.0, 5_000, 0.0, 0.0), (2, 66.004, 5_000, 0.0, 0.0)]


class Followed:
    """A probe's place that the model follows alone."""

    made: ClassVar[list] = []

    def __init__(self, _controller, index):
        self.index, self.steps, self.shadow = index, [], SimpleNamespace(valid=True)
        Followed.made.append(self)
        self.moved_k, self.unsure_k = 1.5 + index, 0.25

    def advance(self, ticks, *, alone):
        self.steps.append((ticks, alone))


def test_after_two_minutes_a_still_probes_place_is_followed_by_the_model_and_anew_where_that_has_changed(
    vigil, monkeypatch
):
    monkeypatch.setattr(room, "_Followed", Followed)
    Followed.made = []
    assert vigil._modelled(1, 119_999, 1.0) == (0.0, 0.0)
    assert Followed.made == []
    assert vigil._modelled(1, 120_000, 2.4) == (2.5, 0.25)
    vigil._modelled(1, 121_000, 1.0)
    (one,) = Followed.made
    assert (one.index, one.steps) == (1, [(2, False), (1, False)])
    one.shadow.valid = False
    vigil._modelled(1, 122_000, 1.0)
    assert len(Followed.made) == 2
    vigil._modelled(1, 5_000, 1.0)
    assert vigil._followed == {}
    lone = Vigil(stirred(probe=PROBES[:1]), Controller())
    lone._modelled(0, 120_000, 1.0)
    assert Followed.made[-1].steps == [(1, True)], "its own readings have made the disturbance"


def test_a_place_that_is_followed_starts_where_it_is_and_goes_at_most_five_ticks_at_once():
    bench = Bench()
    bench.reads(30)
    controller = bench.hold.drive.controller
    five, six, alone = (_RealFollowed(controller, 0) for _ in range(3))
    assert (five.moved_k, five.unsure_k) == (0.0, 0.0)
    controller.estimator.filter.x[-1] = (
        0.4  # heat that came since: a lone probe's own readings would have made it
    )
    five.advance(5, alone=False)
    six.advance(6, alone=False)
    alone.advance(5, alone=True)
    assert (six.moved_k, six.unsure_k) == (five.moved_k, five.unsure_k)
    assert five.unsure_k > 0.0
    assert five.moved_k > alone.moved_k


def test_what_the_model_says_of_a_still_probe_is_told_to_its_judge(vigil, monkeypatch):
    monkeypatch.setattr(room, "_Followed", Followed)
    asked = []
    still(vigil, monkeypatch, 2, 600_000, asked)
    vigil._still(values(), instant(7_000), 1.0)
    assert asked == [(1, 65.0, 7_000, 0.0, 0.0), (2, 65.0, 7_000, 2.5, 0.25)]


def test_four_jumps_within_five_minutes_are_a_loose_contact(vigil):
    def jumps(ms, doubtful):
        return vigil._loose(values(doubtful={1} if doubtful else ()), instant(ms))

    assert [jumps(ms, True) for ms in (0, 100_000, 200_000)] == ["", "", ""]
    assert jumps(299_999, True) == "4 jumps within five minutes"
    assert jumps(299_999, False) == "4 jumps within five minutes"
    assert jumps(300_000, False) == "", "the first is five minutes old"
    assert jumps(300_001, True) == "4 jumps within five minutes"


# Temperatures -----------------------------------------------------------------------------------------------------


def above(vigil: Vigil, hottest_c: float, sd_k: float = 0.0, wall_c: float = 65.0) -> str:
    estimate = Estimate(65.0, 65.0, 65.0, hottest_c, 65.0, 0.0, 0.0, sd_k, 0.0)
    return vigil._above(estimate, values(65.0, wall_c))


def test_paste_over_its_ceiling_by_a_kelvin_beside_its_deviation_is_told_until_half_a_kelvin(
    vigil, controller
):
    controller.ceiling_c = 70.0
    vigil.leased(5_000, instant(0))
    assert above(vigil, 71.0) == ""
    assert above(vigil, 72.0, 1.0) == ""
    assert above(vigil, 71.25) == "the hottest paste is estimated at 71.2 °C, 1.2 K over its ceiling"
    assert above(vigil, 70.6) != ""
    assert above(vigil, 70.5) == ""
    assert above(vigil, 70.9) == "", "it has ended"
    controller.ceiling_c = None
    assert above(vigil, 99.0) == ""


def test_before_heat_has_been_ordered_only_what_a_probe_reads_is_over_a_ceiling(vigil, controller):
    controller.ceiling_c = 70.0
    vigil.leased(0, instant(0))
    assert above(vigil, 74.0) == "", "no probe reads it, and nothing has made it hotter"
    assert above(vigil, 74.0, wall_c=71.0) == ""
    assert above(vigil, 74.0, wall_c=71.1) != ""
    assert above(vigil, 70.9, wall_c=99.0) != "", "it ends half a kelvin lower"
    assert above(vigil, 70.5, wall_c=99.0) == "", "a wall above the paste's ceiling is not paste above it"
    vigil.leased(5_000, instant(1_000))
    assert above(vigil, 74.0) != ""


def disagree(vigil: Vigil, apart_k: float, dt_s: float = 600.0) -> str:
    return vigil._disagree(values(65.0, 65.0 + apart_k), dt_s)


def test_probes_disagree_beyond_their_errors_and_half_of_what_the_model_has_between_them(vigil, controller):
    vigil._quiet_s = 1_800.0
    controller.apart_k = {(Place.CORE, Place.WALL): 2.0}
    allowed = 1.5 + 0.3 + 0.5 + 0.5 * 2.0
    assert disagree(vigil, 2.0 + allowed - 0.01) == ""
    assert disagree(vigil, 2.0 + allowed + 0.01) == (
        "probe 2 (wall) and probe 1 (long probe) differ by 3.3 K more than the paste can"
    )
    controller.apart_k = {(Place.CORE, Place.WALL): -2.0}
    assert disagree(vigil, -2.0 - allowed - 0.01, 1e6) != ""
    assert disagree(vigil, -2.0 - 0.5 * allowed - 0.01, 1e6) != "", "it ends at half of that"
    assert disagree(vigil, -2.0 - 0.5 * allowed + 0.01, 1e6) == ""
    assert disagree(vigil, -2.0 - allowed + 0.01, 1e6) == "", "it has ended"


def test_paste_that_still_falls_to_its_setpoint_has_another_shape_than_a_hold(vigil):
    vigil._quiet_s = 1e6
    falling = [vigil._disagree(values(68.0 - 0.06 * minute, 60.0), 60.0) for minute in range(50)]
    level = [vigil._disagree(values(65.0, 60.0), 60.0) for _ in range(60)]
    assert not any(falling[10:]), "what falls is seen after some minutes"
    assert not any(level[:30])
    assert "differ by" in level[-1]


@pytest.mark.parametrize(("above_k", "told"), [(0.99, True), (1.01, False), (9.0, False), (-3.0, True)])
def test_nor_has_paste_the_shape_of_a_hold_whose_depth_has_not_begun_to_fall(vigil, above_k, told):
    """A scald at 74 °C: the middle of 15 cm stands still for an hour, while the wall is kelvins below it."""
    vigil._quiet_s = 1e6
    found = [vigil._disagree(values(65.0 + above_k, 60.0 + above_k), 60.0) for _ in range(60)]
    assert bool(found[-1]) is told


def test_what_differs_is_averaged_over_ten_minutes(vigil):
    vigil._quiet_s = 1_800.0
    disagree(vigil, 6.0, 60.0)
    assert vigil._apart[2] == pytest.approx(0.6)
    disagree(vigil, 6.0, 60.0)
    assert vigil._apart[2] == pytest.approx(0.6 + 0.1 * 5.4)
    disagree(vigil, 6.0, 6000.0)
    assert vigil._apart[2] == pytest.approx(6.0), "never further than all the way"


def test_only_half_an_hour_of_a_quiet_hold_shows_that_probes_disagree_and_of_one_probe_nothing(
    vigil, controller
):
    vigil._quiet_s = 1_799.9
    vigil._apart = {2: 9.0}
    assert disagree(vigil, 50.0) == ""
    assert vigil._apart == {}
    lone = Vigil(stirred(probe=PROBES[:1]), controller)
    lone._quiet_s = 1_800.0
    assert disagree(lone, 50.0) == ""


def test_a_hold_is_quiet_while_its_loops_hold_and_anew_after_a_way_up(vigil, controller):
    for _ in range(3):
        list(vigil.paste(values(), ESTIMATE, instant(1000), 2.0))
    assert vigil._quiet_s == 6.0
    controller.leg = Leg.RIDE
    list(vigil.paste(values(), ESTIMATE, instant(1000), 2.0))
    assert vigil._quiet_s == 0.0
