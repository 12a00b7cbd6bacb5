"""What a baker is told to do for a cooling that is too slow: the least work that suffices, else the quickest way."""

import math

import msgspec
import pytest

from holdctl.errors import ConfigError
from holdctl.hold import cool_help
from holdctl.hold.cool_help import THIN_CM, helps
from holdctl.hold.cool_order import MIDDLE_C, CoolOrder, paste_of, read_order
from holdctl.paste import USUAL_RATIO, paste_properties
from holdctl.paste.cooling import Stand, around
from holdctl.settings import Lid
from tests.hold.bench import stirred

HOUR = 3600.0
POT = stirred()
"""A kettle of deep paste in a room at 20 °C."""
ROOM, FRIDGE = CoolOrder(), CoolOrder(stand=Stand.FRIDGE)
ICE, TRAY_ON_ICE = CoolOrder(stand=Stand.ICE_BATH), CoolOrder(stand=Stand.ICE_BATH, depth_cm=THIN_CM)


def advice(order: CoolOrder, hottest_c: float, to_c: float, left_s: float) -> str:
    return helps(POT, order, hottest_c, to_c, left_s)


def test_with_time_enough_the_least_work_is_said_first():
    assert advice(ROOM, 60.0, 21.0, 100 * HOUR).startswith("Do now: put it into the fridge: 21 °C in about ")
    assert advice(ROOM, 60.0, 21.0, 100 * HOUR).endswith(", in time.")


def test_what_is_done_already_is_not_told_again():
    assert "put it into the fridge" not in advice(FRIDGE, 60.0, 21.0, 100 * HOUR)
    assert advice(FRIDGE, 60.0, 21.0, 100 * HOUR).startswith("Do now: stand it in an ice bath: ")
    assert advice(ICE, 60.0, 21.0, 100 * HOUR).startswith(f"Do now: spread it {THIN_CM:g} cm deep: ")


@pytest.mark.parametrize("depth_cm", [0.5, 1.0, THIN_CM, 1.25 * THIN_CM])
def test_paste_that_is_spread_thin_already_is_told_to_be_stirred(depth_cm):
    thin = CoolOrder(stand=Stand.ICE_BATH, depth_cm=depth_cm)
    assert advice(thin, 60.0, 21.0, 100 * HOUR).startswith("Do now: stir it: 21 °C in about ")


def test_paste_a_little_thicker_than_thin_is_not_worth_spreading_and_a_thick_layer_is():
    edge = 1.25 * THIN_CM
    on_ice = [CoolOrder(stand=Stand.ICE_BATH, depth_cm=cm) for cm in (edge, edge + 0.1)]
    assert ["spread" in advice(order, 60.0, 21.0, 100 * HOUR) for order in on_ice] == [False, True]


@pytest.mark.parametrize(
    ("left_s", "words"),
    [
        (3600.0, "Do now: stir it in an ice bath: 5 °C in about 44 min, in time."),
        (60.0, "Quickest now: stir it in an ice bath: 5 °C in about 44 min, 43 min too late."),
        (1.0, "Quickest now: stir it in an ice bath: 5 °C in about 44 min, 44 min too late."),
        (0.0, "Quickest now: stir it in an ice bath: 5 °C in about 44 min."),  # its time has passed
    ],
)
def test_the_quickest_way_is_said_where_nothing_suffices_with_how_much_too_late_it_is(left_s, words):
    assert advice(ROOM, 60.0, 5.0, left_s) == words


@pytest.fixture
def taking(monkeypatch):
    """Let the ways from a pot in the room, in their order, take these times, s; return the orders that were asked."""

    def take(*times_s: float | None) -> list[CoolOrder]:
        left, asked = list(times_s), []
        monkeypatch.setattr(
            cool_help, "_takes_s", lambda _settings, way, *_: (asked.append(way.order), left.pop(0))[1]
        )
        return asked

    return take


def test_ways_are_tried_by_their_work_and_each_in_its_own_place(taking):
    asked = taking(None, None, None, None)
    assert advice(ROOM, 60.0, 5.0, 60.0) == ""
    assert asked == [
        FRIDGE, ICE, TRAY_ON_ICE, CoolOrder(stand=Stand.ICE_BATH, stirred=True),
    ]  # fmt: skip


@pytest.mark.parametrize(("gain_s", "told"), [(119.0, "fridge"), (120.0, "fridge"), (121.0, "stir")])
def test_more_work_is_told_only_where_it_gains_more_than_two_minutes(taking, gain_s, told):
    taking(10_000.0, 10_000.0, 10_000.0 - 60.0, 10_000.0 - gain_s)
    assert told in advice(ROOM, 60.0, 5.0, 60.0)


def test_what_is_done_just_in_time_is_in_time(taking):
    taking(600.0)
    assert advice(ROOM, 60.0, 5.0, 600.0).endswith(", in time.")


def test_a_place_that_never_gets_so_cold_is_no_help():
    """A fridge is at 4 °C (`paste/cooling.py`): 3 °C is reached on ice alone."""
    words = advice(ROOM, 60.0, 3.0, 100 * HOUR)
    assert words.startswith("Do now: ")
    assert "ice" in words
    assert "fridge" not in words
    assert advice(ROOM, 60.0, -1.0, 100 * HOUR) == ""


def test_the_least_work_is_judged_for_paste_that_is_as_hot_as_its_hottest():
    hot, warm = (advice(FRIDGE, c, 21.0, 2 * HOUR) for c in (90.0, 30.0))
    assert hot != warm


def test_a_vessel_that_nobody_told_of_is_taken_as_a_usual_pot():
    unknown = CoolOrder(unknown=True)
    assert not unknown.known
    assert unknown.form(POT).depth_m == pytest.approx(0.05)
    assert CoolOrder(unknown=True, depth_cm=3.0).known
    assert CoolOrder(unknown=True, depth_cm=3.0).form(POT).depth_m == pytest.approx(0.03)
    assert ROOM.known


def test_an_order_comes_back_from_the_subject_of_its_request_and_says_where_and_how():
    order = CoolOrder(stand=Stand.ICE_BATH, depth_cm=2.5, open=True, stirred=True)
    assert read_order(order.subject()) == order
    assert order.words() == "in an ice bath, 2.5 cm deep, open, stirred"
    assert (
        msgspec.structs.replace(order, open=False, stirred=False).words()
        == "in an ice bath, 2.5 cm deep, covered"
    )
    assert read_order("").words() == "in the room"
    assert FRIDGE.words() == "in the fridge"


@pytest.mark.parametrize("subject", ["ice please", '{"depth_cm": 0}'])
def test_what_is_no_order_is_refused_with_its_own_words_and_the_command(subject):
    with pytest.raises(ConfigError, match="is no order for a cooling") as refused:
        read_order(subject)
    assert str(refused.value).startswith(f"“{subject}” is no order")
    assert str(refused.value).endswith("ask with `holdctl cool`.")


@pytest.mark.parametrize(
    ("lid", "asked", "covered"),
    [(Lid.ON, None, True), (Lid.OFF, None, False), (Lid.OFF, False, True), (Lid.ON, True, False)],
)
def test_the_settings_lid_counts_unless_it_is_said_whether_the_paste_is_open(lid, asked, covered):
    told = msgspec.structs.replace(POT, vessel=msgspec.structs.replace(POT.vessel, lid=lid))
    usual = around(Stand.ROOM, POT.room.ambient_c, Lid.ON if covered else Lid.OFF, POT.vessel.material)
    assert CoolOrder(open=asked).around(told) == usual


def test_the_paste_stands_as_deep_as_its_mass_in_the_vessel_of_the_settings():
    form = ROOM.form(POT)
    mass_kg = form.depth_m * math.pi * (POT.vessel.inner_diameter_cm / 200) ** 2 * paste_of(POT).rho_kg_m3
    assert 1000 * mass_kg == pytest.approx(POT.scald.mass_g, rel=1e-6)


def test_the_scalds_ratio_counts_where_it_is_told_else_the_flours_usual_one():
    plain = msgspec.structs.replace(POT.scald, ratio=None)
    usual = paste_of(msgspec.structs.replace(POT, scald=plain))
    assert usual == paste_properties(plain.flour, USUAL_RATIO[plain.flour], MIDDLE_C)
    wet = msgspec.structs.replace(POT.scald, ratio=7.0)
    assert paste_of(msgspec.structs.replace(POT, scald=wet)) == paste_properties(plain.flour, 7.0, MIDDLE_C)


def test_a_thick_layer_in_the_fridge_is_spread_there_before_it_is_put_on_ice(monkeypatch):
    asked = []
    monkeypatch.setattr(cool_help, "_takes_s", lambda _s, way, *_: asked.append((way.words, way.order)))
    assert advice(FRIDGE, 60.0, 5.0, 60.0) == ""
    assert asked[1:3] == [
        ("spread it 2 cm deep", CoolOrder(stand=Stand.FRIDGE, depth_cm=THIN_CM)),
        ("spread it 2 cm deep in a tray on ice", TRAY_ON_ICE),
    ]
