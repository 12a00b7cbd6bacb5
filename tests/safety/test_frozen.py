"""A probe that repeats one value where it should move."""

import numpy as np

from holdctl.safety.frozen import MOVED_MS, STILL_MS, Frozen

MINUTE = 60_000


def _noisy(
    rng: np.random.Generator, step_k: float = 0.0625, noise_k: float = 0.03, at_c: float = 65.0
) -> float:
    return float(round((at_c + noise_k * rng.standard_normal()) / step_k) * step_k)


def _learnt(minutes: int = 40, **how: float) -> tuple[Frozen, np.random.Generator, int]:
    probe, rng = Frozen(), np.random.default_rng(1)
    for second in range(minutes * 60):
        assert not probe.look(_noisy(rng, **how), 1000 * second)
    return probe, rng, minutes * MINUTE


def test_a_flickering_probe_that_stands_still_for_eight_minutes_is_frozen():
    probe, _, now = _learnt()
    found = [probe.look(65.0, now + 1000 * s) for s in range(600)]
    assert not any(found[: STILL_MS // 1000 - 1])
    assert all(found[STILL_MS // 1000 + 1 :])


def test_it_is_well_again_with_the_first_other_value():
    probe, _, now = _learnt()
    for second in range(600):
        probe.look(65.0, now + 1000 * second)
    assert not probe.look(65.0625, now + 600_000)


def test_a_flicker_that_was_seen_for_less_than_half_an_hour_is_not_relied_on():
    probe, _, now = _learnt(minutes=20)
    assert not any(probe.look(65.0, now + 1000 * s) for s in range(2400))


def test_a_probe_without_noise_may_repeat_its_code_for_forty_minutes_in_a_good_hold():
    probe = Frozen()
    assert not any(probe.look(65.0, 1000 * s) for s in range(2400))


def test_a_slope_alone_is_no_flicker():
    """Codes that only rise say nothing of noise: standing still afterwards may be the paste's own doing."""
    probe = Frozen()
    for second in range(2400):
        probe.look(20.0 + 0.0625 * (second // 20), 1000 * second)
    assert not any(probe.look(27.5, 2_400_000 + 1000 * s) for s in range(2400))


def test_a_still_probe_whose_place_must_have_moved_is_frozen_after_five_minutes():
    probe = Frozen()
    found = [probe.look(65.0, 1000 * s, expected_k=0.3) for s in range(400)]
    assert not any(found[: MOVED_MS // 1000])
    assert all(found[MOVED_MS // 1000 + 1 :])


def test_what_a_tenth_of_the_power_explains_is_no_movement():
    probe = Frozen()
    assert not any(probe.look(65.0, 1000 * s, expected_k=0.3, unsure_k=0.2) for s in range(1000))


def test_two_of_the_probes_own_steps_are_no_movement():
    probe = Frozen()
    probe.look(65.0, 0)
    probe.look(65.5, 1000)  # its step is half a kelvin
    assert not any(probe.look(65.5, 2000 + 1000 * s, expected_k=-0.9) for s in range(1000))
    assert probe.step_k == 0.5


def test_after_a_gap_it_begins_anew_but_remembers_the_flicker():
    probe, _, now = _learnt()
    probe.look(65.0, now)
    probe.forget()
    later = now + 60 * MINUTE
    assert not probe.look(65.0, later)
    assert probe.look(65.0, later + STILL_MS)


# At their borders -----------------------------------------------------------------------------------------------


def test_before_the_first_value_nothing_has_stood_still():
    probe = Frozen()
    assert probe.still_ms(5_000) == 0
    probe.look(65.0, 5_000)
    assert probe.still_ms(7_000) == 2_000
    probe.forget()
    assert probe.still_ms(9_000) == 0


def test_the_smallest_step_that_was_seen_counts():
    probe = Frozen()
    for second, value in enumerate((65.0, 65.5, 65.25, 66.25)):
        probe.look(value, 1000 * second)
    assert probe.step_k == 0.25


def test_just_two_steps_are_no_movement_and_five_minutes_are_enough_whenever_they_begin():
    for begun in (0, 10_000_000):
        probe = Frozen()
        assert not any(probe.look(65.0, begun + 1000 * s, expected_k=0.125) for s in range(1000))
        later = begun + 1_000_000
        found = [probe.look(65.0, later + 1000 * s, expected_k=0.13) for s in range(302)]
        assert found.index(True) == MOVED_MS // 1000
        # A movement that is taken back begins anew.
        probe.look(65.0, later + 302_000, expected_k=0.0)
        assert not any(probe.look(65.0, later + 303_000 + 1000 * s, expected_k=0.13) for s in range(300))


def _minutes(flicker_every_s: int, minutes: int, back_s: int = 1) -> Frozen:
    """Let a probe go up for `back_s` seconds and down again, every so often."""
    probe = Frozen()
    for second in range(60 * minutes + 1):
        up = second % flicker_every_s in range(10, 10 + back_s)
        probe.look(65.0625 if up else 65.0, 1000 * second)
    return probe


def test_one_flicker_in_each_of_thirty_minutes_is_enough_and_twenty_nine_are_not():
    assert _minutes(60, 31)._learnt
    assert not _minutes(60, 29)._learnt


def test_up_for_three_seconds_is_noise_and_for_four_is_not():
    assert _minutes(30, 31, back_s=3)._learnt
    assert not _minutes(30, 31, back_s=4)._learnt


def test_values_that_never_come_back_at_once_are_no_flicker():
    probe = Frozen()
    for second in range(60 * 31):
        probe.look(65.0 + 0.0625 * (second % 3), 1000 * second)  # up, up, and down by two
    assert not probe._learnt


def test_minutes_in_which_it_only_stood_still_are_neither_for_nor_against():
    probe = _minutes(60, 31)
    for second in range(60 * 31 + 1, 60 * 36):
        probe.look(65.0, 1000 * second)
    assert probe._learnt
    moving = _minutes(60, 31)
    for second in range(60 * 31 + 1, 60 * 34):
        moving.look(65.0 + 0.0625 * (second // 20), 1000 * second)
    assert not moving._learnt, "a probe that moves without flicker has none"
