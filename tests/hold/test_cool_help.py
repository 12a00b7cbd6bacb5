"""What a baker is told to do for a cooling that is too slow: the least work that suffices, else the quickest way."""

import msgspec
import pytest

from holdctl.hold.cool_help import THIN_CM, helps
from holdctl.hold.cool_order import CoolOrder, read_order
from holdctl.paste.cooling import Stand
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


def test_where_nothing_suffices_the_quickest_way_is_said_with_how_much_too_late():
    words = advice(ROOM, 60.0, 5.0, 60.0)
    assert words.startswith("Quickest now: ")
    assert words.endswith(" too late.")
    assert "ice" in words


def test_a_time_that_has_passed_leaves_the_quickest_way_without_a_margin():
    words = advice(ROOM, 60.0, 5.0, 0.0)
    assert words.startswith("Quickest now: ")
    assert "too late" not in words
    assert words.endswith(".")


def test_a_place_that_never_gets_so_cold_is_no_help():
    """A fridge is at 4 °C (`paste/cooling.py`): 3 °C is reached on ice alone."""
    words = advice(ROOM, 60.0, 3.0, 100 * HOUR)
    assert words.startswith("Do now: ")
    assert "ice" in words
    assert "fridge" not in words
    assert advice(ROOM, 60.0, -1.0, 100 * HOUR) == ""


def test_a_way_that_is_hardly_quicker_is_not_told_for_more_work():
    """Each further way has to gain two minutes on the one before."""
    warm = advice(TRAY_ON_ICE, 21.4, 21.0, 1.0)
    assert warm.startswith("Quickest now: stir it: ")
    from_ice = advice(ICE, 21.4, 21.0, 1.0)
    assert "stir it" not in from_ice or "spread" not in from_ice


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
