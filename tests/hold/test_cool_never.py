"""Whether a cooling is called endless: by its forecasts, or because it has stopped falling."""

import pytest

from holdctl.hold.cool_never import ABOVE_K, FORECASTS, STALLED_K, STALLED_S, Never


def test_paste_that_has_stopped_falling_is_told_with_where_it_stands():
    never = Never(5.0)
    never.look(0.0, 60.0, None)
    said = [never.look(600.0 + 120.0 * k, 20.04, None) for k in range(16)]
    words = "the paste has stopped cooling at about 20.0 °C: 5 °C will not come"
    first = said.index(words)
    assert 0.9 * STALLED_S <= 120.0 * first <= STALLED_S
    assert set(said[first:]) == {words}
    # It falls again: three forecasts that come take the word back.
    again = [never.look(2600.0 + 120.0 * k, 18.0 - 3 * k, True) for k in range(FORECASTS)]
    assert [bool(text) for text in again] == [True] * (FORECASTS - 1) + [False]


@pytest.mark.parametrize(
    ("fell_k", "stalled"), [(STALLED_K - 0.01, True), (STALLED_K / 0.9 + 0.01, False)], ids=["less", "more"]
)
def test_it_has_stopped_where_it_fell_by_less_than_a_fifth_of_a_kelvin_in_half_an_hour(fell_k, stalled):
    never = Never(5.0)
    never.look(0.0, 60.0, None)
    for k in range(31):
        said = never.look(3000.0 + 60.0 * k, 20.0 - fell_k * k / 30, None)
    assert bool(said) is stalled


def test_paste_that_is_near_its_end_is_not_told_that_it_will_not_come():
    for off_k, told_so in ((ABOVE_K - 0.01, False), (ABOVE_K + 0.01, True)):
        never = Never(5.0)
        never.look(0.0, 60.0, None)
        for k in range(20):
            said = never.look(600.0 + 120.0 * k, 5.0 + off_k, None)
        assert bool(said) is told_so


def test_paste_that_stands_elsewhere_now_is_judged_anew():
    never = Never(5.0)
    for k in range(FORECASTS):
        said = never.look(120.0 * k, 40.0 - k, False)
    assert said
    never.anew()
    assert [bool(never.look(1000.0 + 120.0 * k, 36.0 - k, False)) for k in range(FORECASTS)] == [
        False,
        False,
        True,
    ]
    never.anew()
    assert never.look(3000.0, 30.0, True) == ""


def test_forecasts_must_say_it_in_a_row():
    never = Never(5.0)
    said = [
        never.look(120.0 * k, 40.0 - k, verdict)
        for k, verdict in enumerate((False, False, True, False, False))
    ]
    assert not any(said)
    assert never.look(720.0, 34.0, False)
    taken = [
        never.look(800.0 + 120.0 * k, 33.0 - k, verdict)
        for k, verdict in enumerate((True, True, False, True, True))
    ]
    assert all(taken)
    assert never.look(1500.0, 25.0, True) == ""
