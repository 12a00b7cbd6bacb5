"""Every rule held against invented records whose answer is plain by construction or published."""

import pytest

from holdctl.food.codes import CODES, code
from holdctl.food.cooling import Standing
from holdctl.food.cooling import judge as stage_verdicts
from holdctl.food.findings import Declared, Finding, Verdict
from holdctl.food.judge import judge, worst
from holdctl.food.measured import Measured, Measurement
from holdctl.food.rules import Cooling
from holdctl.food.spells import Spell, SpellKind
from holdctl.food.timeline import timeline
from holdctl.food.worst_case import Curve, curve
from tests.food.records import H, newton, straight, without

FDA, UK, ANZ = code("fda-2022"), code("uk"), code("anz")
MET, BROKEN, NONE, OPEN = Verdict.MET, Verdict.BROKEN, Verdict.NOT_APPLICABLE, Verdict.CANNOT_TELL
FRESH, CHILLED = Declared(), Declared(begins="chilled")
GOOD = [(0, 50), (0.5, 64), (8, 64)]


def of(record: Curve, rule: str, told: Declared = FRESH, by: object = FDA) -> Finding:
    found = judge(record, told, by)  # type: ignore[arg-type]
    return next(f for f in found if f.rule == rule)


# Hot holding ------------------------------------------------------------------------------------------------------


def test_a_come_up_of_a_fresh_mix_is_no_hot_holding_and_the_hold_after_it_meets_the_rule() -> None:
    found = of(straight(GOOD), "hot-holding")
    assert (found.verdict, found.breaches) == (MET, ())
    assert "coldest 57.0 °C" in found.observed


def test_a_fall_after_the_limit_was_reached_is_a_window_with_limit_margin_and_action() -> None:
    found = of(straight([*GOOD, (8.5, 54), (9, 54), (9.5, 64)]), "hot-holding")
    assert found.verdict is BROKEN
    (window,) = found.breaches
    # 64 to 54 °C in half an hour passes 57 °C after 0.35 h, and 54 to 64 °C after 0.15 h
    assert window.start_s == pytest.approx(8.35 * H, abs=1)
    assert window.end_s == pytest.approx(9.15 * H, abs=1)
    assert (window.limit_c, window.observed_c, window.margin_k) == (57.0, 54.0, 3.0)
    assert "74 °C (165 °F) for 15 s within 2 h (FDA Food Code 2022, 3-403.11(A), (D))" in window.action
    assert "holdctl disposition" in window.action


def test_a_gap_counts_in_full_and_says_so_even_in_a_come_up() -> None:
    found = of(without(straight(GOOD), 3, 4), "hot-holding")
    (window,) = found.breaches
    assert (window.start_s, window.end_s, window.unrecorded_s, window.observed_c) == (3 * H, 4 * H, H, None)
    assert found.why == "only what was not recorded counts against it"
    assert of(without(straight(GOOD), 0.1, 0.2), "hot-holding").verdict is BROKEN


def test_more_than_four_hours_below_is_advised_to_be_discarded() -> None:
    found = of(straight([*GOOD, (8.1, 50), (13, 50)]), "hot-holding")
    assert found.breaches[0].action.startswith("discard it")


def test_the_uk_limit_breaks_where_the_fda_limit_does_not() -> None:
    record = straight([(0, 60), (0.1, 66), (4, 66), (4.2, 61), (4.4, 66)])
    assert of(record, "hot-holding").verdict is MET
    assert of(record, "hot-holding", by=UK).verdict is BROKEN


def test_one_short_period_meets_the_uk_defence_two_do_not_and_a_gap_cannot_be_shown_to_be_one() -> None:
    one = [(0, 66), (4, 66), (4.2, 61), (4.4, 66), (8, 66)]
    assert of(straight(one), "once-below", by=UK).verdict is MET
    two = [*one, (8.2, 61), (8.4, 66)]
    assert of(straight(two), "once-below", by=UK).verdict is BROKEN
    assert of(without(straight(one), 5, 6), "once-below", by=UK).verdict is BROKEN
    long = [(0, 66), (4, 66), (4.1, 61), (6.2, 61), (6.3, 66)]
    assert of(straight(long), "once-below", by=UK).why == "too long"
    assert of(straight([(0, 66), (8, 66)]), "once-below", by=UK).verdict is NONE


# The way up -------------------------------------------------------------------------------------------------------


def test_two_hours_of_come_up_are_advice_of_this_project_and_never_a_codes_rule() -> None:
    slow = straight([(0, 20), (3, 57.5), (4, 64)])
    found = of(slow, "come-up-advice")
    assert found.verdict is BROKEN
    assert found.force == "advisory"
    assert "this project" in found.source
    assert of(slow, "heating").verdict is MET
    assert worst(judge(slow, Declared(probe_error_k=0.5), FDA)) is MET
    assert of(straight([(0, 20), (1.9, 57.5), (4, 64)]), "come-up-advice").verdict is MET


def test_a_fresh_mix_that_never_came_up_breaks_3_401_13_and_by_a_code_without_it_hot_holding() -> None:
    cold = straight([(0, 30), (5, 50)])
    assert of(cold, "heating").verdict is BROKEN
    assert of(cold, "hot-holding", by=UK).verdict is BROKEN
    going_on = Declared(ended=False)
    assert of(cold, "heating", going_on).verdict is OPEN


def test_a_chilled_scald_has_to_reach_74_c_for_15_s_within_2_h() -> None:
    assert of(straight([(0, 4), (1.9, 75), (4, 65)]), "reheating", CHILLED).verdict is MET
    late = of(straight([(0, 4), (2.5, 75), (4, 65)]), "reheating", CHILLED)
    assert late.verdict is BROKEN
    assert "so only after 2 h 26 min" in late.observed  # it left 5 °C after 2 min, and was there for 15 s
    fridge = straight([(0, 4), (1, 4), (2.9, 75), (4, 65)])
    assert of(fridge, "reheating", CHILLED).verdict is MET  # the clock starts when it leaves 5 °C
    assert (
        of(without(fridge, 0.4, 0.6), "reheating", CHILLED).verdict is BROKEN
    )  # a gap may hide that it left
    held = of(straight([(0, 4), (1.5, 65), (8, 65)]), "reheating", CHILLED)
    assert held.verdict is BROKEN
    assert held.breaches[0].margin_k == 9.0
    assert "before it is held, or discard it" in held.breaches[0].action
    assert of(straight(GOOD), "reheating").verdict is NONE


def test_15_s_at_74_c_are_15_s_without_a_gap() -> None:
    spike = curve([0, 1, 11, 12, 20, 30], [73, 74, 74, 73, 74, 74], [80] * 6)
    assert of(spike, "reheating", CHILLED).verdict is BROKEN
    long = curve([0, 1, 8, 16, 30], [73, 74, 74, 74, 74], [80] * 5)
    assert of(long, "reheating", CHILLED).verdict is MET


def test_paste_that_begins_colder_than_any_fresh_mix_was_chilled_whatever_was_told() -> None:
    found = of(straight([(0, 4), (1.5, 65), (8, 65)]), "reheating", FRESH)
    assert found.verdict is BROKEN
    assert "told as fresh" in found.why


def test_undeclared_reheating_without_a_rule_stays_a_window() -> None:
    found = of(straight([(0, 12), (1, 65), (8, 65)]), "hot-holding", CHILLED, UK)
    assert found.breaches[0].start_s == 0


# Time -------------------------------------------------------------------------------------------------------------


def test_undeclared_time_below_the_limit_is_a_window_and_declared_it_is_time_control() -> None:
    record = straight([(0, 64), (4, 64), (5, 40), (7, 30)])
    assert of(record, "hot-holding").verdict is BROKEN
    told = Declared(time_control=True)
    assert of(record, "hot-holding", told).verdict is MET
    found = of(record, "time-4h", told)
    assert found.verdict is MET
    assert "use or discard it within 1 h 17 min" in found.why


def test_time_control_is_over_after_four_hours_and_warming_does_not_end_it() -> None:
    record = straight([(0, 64), (4, 64), (5, 40), (6, 64), (8.5, 64)])
    found = of(record, "time-4h", Declared(time_control=True))
    assert found.verdict is BROKEN
    assert found.breaches[0].limit_s == 4 * H
    assert found.breaches[0].action.startswith("discard it")


def test_what_time_controls_is_no_observation_of_hot_holding_and_stays_timed_when_it_is_chilled() -> None:
    record = straight([(0, 64), (1, 64), (1.5, 40), (2, 40), (3, 4), (4, 4)])
    told = Declared(time_control=True, spells=(Spell(SpellKind.COOLING, 2 * H, 9 * H),))
    hot = of(record, "hot-holding", told)
    assert hot.verdict is MET
    assert float(hot.observed.split()[1]) >= 57
    rule = timeline(record, told, FDA).timed
    assert rule is not None and rule.name == "time-4h"
    assert timeline(record, Declared(spells=told.spells), FDA).timed is None
    assert timeline(straight([(0, 64), (4, 64)]), told, FDA).timed is None


@pytest.mark.parametrize(
    ("warm_h", "verdict", "why"), [(1.9, MET, "under 2 h"), (3.0, MET, "use it now"), (4.1, BROKEN, "")]
)
def test_two_and_four_hours_in_all_are_what_the_australian_guide_says(
    warm_h: float, verdict: Verdict, why: str
) -> None:
    record = straight([(0, 64), (1, 64), (1.001, 50), (1 + warm_h, 50), (1.001 + warm_h, 64), (9, 64)])
    found = of(record, "time-2h-4h", by=ANZ)
    assert found.verdict is verdict
    assert why in found.why


@pytest.mark.parametrize(("hours", "counted"), [(2.5, "0 s in all"), (9.0, "8 h")])
def test_of_a_cooling_only_one_that_kept_its_stages_is_left_out_of_all_times(
    hours: float, counted: str
) -> None:
    # Standard 3.2.2 cl. 7(3): 60 to 21 °C in 2 h and on to 5 °C in 4 h; a slower one is time between 5 and 60 °C
    record = straight([(0, 64), (1, 64), (1 + hours, 4), (12, 4)])
    found = of(record, "time-2h-4h", Declared(spells=(Spell(SpellKind.COOLING, H, 99 * H),)), by=ANZ)
    assert found.verdict is (MET if hours < 4 else BROKEN)
    assert found.observed.startswith(counted)


# Cooling ----------------------------------------------------------------------------------------------------------

COOLED = Declared(spells=(Spell(SpellKind.COOLING, 0.0, 99 * H),))


def test_newtons_cooling_meets_and_breaks_the_food_code_at_the_closed_forms_times() -> None:
    # T = Ta + (T0 - Ta) 2^(-t/half): 57 to 21 °C takes half * log2((57 - Ta) / (21 - Ta)), to 5 °C likewise.
    good = of(newton(65, 3, 60, 7), "cooling", COOLED)  # 95.1 and 285.29 min
    assert good.verdict is MET
    assert "to 21 °C (70 °F) in 1 h 35 min; to 5 °C (41 °F) in 4 h 45 min" in good.observed
    slow = of(newton(65, 3, 90, 9), "cooling", COOLED)  # 142.65 and 427.94 min
    assert slow.verdict is BROKEN
    first, total = slow.breaches
    assert (first.end_s - first.start_s) / 60 == pytest.approx(142.65, abs=0.05)
    assert (total.end_s - total.start_s) / 60 == pytest.approx(427.94, abs=0.05)
    assert "23 min too late" in slow.observed
    bench = of(newton(65, 20, 90, 9), "cooling", COOLED)  # 468.85 min to 21 °C, never 5 °C
    assert (bench.breaches[0].end_s - bench.breaches[0].start_s) / 60 == pytest.approx(468.85, abs=0.05)
    assert "not to 5 °C" in bench.observed


@pytest.mark.parametrize(("ambient", "half", "hours"), [(3, 60, 7), (3, 90, 9), (20, 90, 9), (3, 60, 1)])
def test_the_live_cooling_and_the_rule_say_the_same_of_a_whole_record(ambient, half, hours) -> None:
    record = newton(65, ambient, half, hours)
    stages = FDA.of(Cooling)[0].stages
    live = stage_verdicts(
        stages, zip(record.t_s.tolist(), record.low_c.tolist(), record.high_c.tolist(), strict=True)
    )
    missed = [v for v in live if v.standing is Standing.MISSED]
    found = of(record, "cooling", COOLED)
    assert len(found.breaches) == len(missed)
    for breach, verdict in zip(found.breaches, missed, strict=True):
        assert breach.length_s == pytest.approx(verdict.took_s, abs=1.5)


def test_the_clock_starts_when_the_paste_passes_57_c_not_when_cooling_is_declared() -> None:
    record = newton(65, 3, 60, 7)
    late = Declared(spells=(Spell(SpellKind.COOLING, 1800.0, 99 * H),))
    assert of(record, "cooling", late).observed == of(record, "cooling", COOLED).observed


def test_a_declared_cooling_is_no_hot_holding_window_and_an_undeclared_one_is() -> None:
    record = newton(65, 3, 60, 7)
    assert of(record, "hot-holding", COOLED).verdict is NONE
    assert of(record, "hot-holding").verdict is BROKEN


def test_a_record_that_ends_too_soon_cannot_tell() -> None:
    assert of(newton(65, 3, 60, 1), "cooling", COOLED).verdict is OPEN
    assert of(newton(65, 3, 60, 1), "cooling", COOLED, UK).verdict is OPEN
    assert of(straight(GOOD), "cooling").verdict is NONE


def test_cold_holding_is_asked_once_the_paste_is_cold() -> None:
    warmed = straight([(0, 57), (3, 4), (4, 4), (4.5, 9), (5, 9)])
    found = of(warmed, "cold-holding", COOLED)
    assert found.verdict is BROKEN
    assert found.breaches[0].margin_k == pytest.approx(4.0)
    assert of(straight([(0, 57), (3, 4), (5, 4)]), "cold-holding", COOLED).verdict is MET
    assert of(straight(GOOD), "cold-holding").verdict is NONE


# Souring ----------------------------------------------------------------------------------------------------------


def test_a_declared_souring_is_over_with_a_ph_below_4_2_and_not_with_4_2() -> None:
    spell = Spell(SpellKind.SOURING, 8 * H, 99 * H)
    record = straight([*GOOD, (8.5, 38), (16, 38)])

    def told(*ph: float) -> Declared:
        measured = tuple(
            Measured(at_s=(10 + k) * H, by="baker", value=Measurement(ph=p)) for k, p in enumerate(ph)
        )
        return Declared(spells=(spell,), measured=measured)

    assert of(record, "hot-holding", told()).verdict is MET
    assert of(record, "souring", told()).verdict is OPEN
    assert of(record, "souring", told(5.0, 4.1)).verdict is MET
    assert of(record, "souring", told(5.0, 4.2)).verdict is BROKEN
    assert "pH 5 after 2 h" in of(record, "souring", told(5.0)).observed


# The whole --------------------------------------------------------------------------------------------------------


def test_the_probes_error_is_held_against_the_thermometers_class() -> None:
    assert of(straight(GOOD), "thermometer", Declared(probe_error_k=1.0)).verdict is MET
    assert of(straight(GOOD), "thermometer", Declared(probe_error_k=1.5)).verdict is BROKEN
    assert of(straight(GOOD), "thermometer").verdict is OPEN


@pytest.mark.parametrize("by", CODES, ids=lambda c: c.id)
def test_every_rule_of_every_code_gives_one_finding_and_none_says_safe(by: object) -> None:
    record = without(straight([*GOOD, (9, 40), (12, 4), (14, 8)], step_s=5), 2, 2.5)
    spells = (
        Spell(SpellKind.COOLING, 8 * H, 13 * H),
        Spell(SpellKind.SOURING, 13 * H, 99 * H),
    )
    for told in (FRESH, CHILLED, Declared(spells=spells, time_control=True)):
        found = judge(record, told, by)  # type: ignore[arg-type]
        names = [f.rule for f in found]
        assert names[: len(by.rules)] == [r.name for r in by.rules]  # type: ignore[attr-defined]
        for f in found:
            words = " ".join((f.text, f.limit, f.observed, f.why, f.remarks, *(b.action for b in f.breaches)))
            assert "safe" not in words.lower()
            assert f.source
            assert f.sureness
            assert bool(f.breaches) == (f.verdict is BROKEN) or f.rule == "thermometer"
            assert all(b.action for b in f.breaches)


def test_a_record_without_a_single_reading_counts_in_full_like_any_gap() -> None:
    blind = curve([0, 100, 200], [float("nan")] * 3, [float("nan")] * 3)
    for by in CODES:
        found = of(blind, "hot-holding", by=by)
        assert found.verdict is BROKEN and "only what was not recorded" in found.why
        assert sum(b.unrecorded_s for b in found.breaches) == 200
    assert of(blind, "heating").verdict is BROKEN
    assert of(blind, "heating", Declared(ended=False)).verdict is OPEN
    assert of(blind, "come-up-advice").verdict is OPEN
    timed = of(blind, "time-6h", Declared(begins="chilled", time_control="6 h from cold"))
    assert timed.verdict is BROKEN and "nothing shows that it began at 5 °C" in timed.observed


def test_a_record_of_no_time_tells_nothing() -> None:
    assert of(curve([], [], []), "hot-holding").verdict is OPEN


def test_a_cooling_whose_begin_was_not_recorded_is_not_called_met() -> None:
    """As the live clock has it: nobody saw the paste pass 57 °C."""
    found = of(newton(50, 3, 40, 5), "cooling", COOLED)
    assert found.verdict is OPEN
    assert "does not show it pass 57 °C" in found.observed


@pytest.mark.parametrize(("ph", "verdict"), [(None, OPEN), (3.9, MET), (4.2, BROKEN)])
def test_a_souring_told_afterwards_is_judged_by_its_ph_and_takes_no_window_back(ph, verdict) -> None:
    """The Food Code's Table B: below pH 4.2. What was undeclared at the time stays a window."""
    fallen = straight([(0, 65), (2, 64), (3, 35), (9, 35)])
    value = Measurement(sour_from_s=3 * H, sour_to_s=8 * H, ph=ph)
    told = Declared(measured=(Measured(at_s=10 * H, by="baker", value=value),))
    found = of(fallen, "souring", told)
    assert found.verdict is verdict
    assert "from 3 h after the begin of the hold on, 5 h long, told by baker" in found.observed
    assert "stays a window" in found.why
    assert of(fallen, "hot-holding", told) == of(fallen, "hot-holding")
    assert of(fallen, "hot-holding", told).verdict is BROKEN


def test_the_coldest_of_a_hold_is_not_what_the_cooling_makes_of_it() -> None:
    told = Declared(spells=(Spell(SpellKind.COOLING, 5.0, 99 * H),))
    record = curve(range(9), [65.0] * 4 + [64.0] + [20.0] * 4, [65.0] * 9)
    assert "coldest 64.0" in of(record, "hot-holding", told).observed
