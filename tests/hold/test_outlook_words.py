"""What is said before the night starts, word by word: each sentence names its figure, its rule and what would mend it.

A baker reads these at the start and may act on them alone, so nothing of them may be lost.
"""

import msgspec
import pytest

from holdctl.events import NoticeKind
from holdctl.hold import outlook
from holdctl.settings import After, Lid, Place, Probe, Programme, Step, Vessel
from tests.closed_loop import told

OPEN = Vessel(inner_diameter_cm=12.0, lid=Lid.OFF)
FALL = (Step(fall_to=66.0), Step(to=65.0, hold_for="1 h"), Step(fall_to=32.0), Step(prompt="add the culture"))
FALLS = Programme(step=FALL, after=After(then="relay-off"))


def settings(name="jacket", code="fda-2022", *, chilled=False, **changes):
    base = told(name)
    scald = msgspec.structs.replace(base.scald, begins="chilled") if chilled else base.scald
    return msgspec.structs.replace(base, food_code=code, scald=scald, **changes)


def hold(to: float, after: After | None = None) -> Programme:
    return Programme(step=(Step(to=to, hold_for="1 h"),), after=after or After())


def said(told_of):
    notices = outlook(told_of)
    assert all(notice.kind is NoticeKind.INFO for notice in notices)
    return [(notice.name, notice.text) for notice in notices]


def numbers(told_of, name):
    return next(notice.detail for notice in outlook(told_of) if notice.name == name)


def test_paste_that_settles_too_cold_or_too_hot_is_named_with_both_figures_and_what_would_help():
    open_pot = settings("small-pot", vessel=OPEN)
    cold, hot = numbers(open_pot, "coldest-part"), numbers(open_pot, "hottest-part")
    code = numbers(open_pot, "code-limit")
    assert set(cold) == set(code) == {"coldest_c", "setpoint_c"}
    assert cold["coldest_c"] - code["coldest_c"] == pytest.approx(0.5), "the probe's error"
    assert said(open_pot) == [
        (
            "coldest-part",
            (
                f"With 65 °C at the probe the coldest paste would settle at {cold['coldest_c']:.1f} °C, under the "
                "programme's 62 °C, so its clock would not run. What would help: stirring, or a warmer lid."
            ),
        ),
        (
            "hottest-part",
            (
                f"With 65 °C at the probe the paste at the wall would settle at {hot['hottest_c']:.1f} °C, above the "
                "programme's 67 °C. Lower the setpoint, stir, or use a warmer lid."
            ),
        ),
        (
            "code-limit",
            (
                "At a setpoint of 65 °C the coldest paste less the probe's error would be "
                f"{code['coldest_c']:.1f} °C, under the 57 °C of FDA Food Code 2022, 3-501.16(A)(1). "
                "What would help: stirring, or a warmer lid."
            ),
        ),
    ]


def test_each_hold_of_a_programme_is_looked_at_from_the_coolest_on_and_each_once():
    steps = tuple(Step(to=to, hold_for="1 h") for to in (62.9, 62.5, 62.9))
    uk = settings("stirred-kettle", "uk", programme=Programme(step=steps, after=After(to=62.5)))
    words = [text for name, text in said(uk) if name == "code-limit"]
    assert [text[:26] for text in words] == ["At a setpoint of 62.5 °C t", "At a setpoint of 62.9 °C t"]


def test_exactly_at_the_limit_nothing_is_said_and_a_hair_below_it_is():
    exact = (Probe(channel=1, place=Place.MID, error_k=0.0),)
    at = settings("stirred-kettle", "uk", programme=hold(63.0), probe=exact)
    assert said(at) == []
    below = settings("stirred-kettle", "uk", programme=hold(62.99), probe=exact)
    assert [name for name, _ in said(below)] == ["code-limit"]
    every = msgspec.structs.replace(hold(62.0), every_part=(62.0, 67.0))
    assert said(settings("stirred-kettle", programme=every, probe=exact)) == []
    warm = msgspec.structs.replace(hold(65.0), every_part=(62.0, 65.0))
    assert said(settings("stirred-kettle", programme=warm, probe=exact)) == []


def test_what_would_help_is_only_what_this_warmer_does_not_have_yet():
    lukewarm = settings(programme=hold(63.0))
    needed = numbers(lukewarm, "coldest-part")["setpoint_c"]
    assert said(lukewarm)[0][1].endswith(f" What would help: a setpoint of {needed:.1f} °C, or stirring."), (
        "its lid is an insulated one"
    )
    kettle = settings("stirred-kettle", "uk", programme=hold(62.5))
    assert said(kettle)[0][1].endswith(" What would help: a setpoint of 63.5 °C, or a warmer lid.")
    boxed = Vessel(inner_diameter_cm=12.0, lid=Lid.BOXED)
    narrow = msgspec.structs.replace(hold(62.5), every_part=(62.0, 63.0))
    best = settings("stirred-kettle", "uk", programme=narrow, vessel=boxed)
    assert said(best)[0][1].endswith(" What would help: a warmer with less loss at the top.")
    edge = msgspec.structs.replace(hold(62.5), every_part=(62.0, 63.5))
    assert (
        "a setpoint of 63.5 °C" in said(settings("stirred-kettle", "uk", programme=edge, vessel=boxed))[0][1]
    )


def test_hot_holding_is_looked_at_where_the_relay_stays_on_for_it_and_no_hold_has_it():
    def names(after):
        return [name for name, _ in said(settings("stirred-kettle", programme=hold(65.0, after)))]

    assert names(After(to=55.0)) == ["code-limit"]
    assert names(After(to=65.0)) == names(After()) == []
    assert names(After(then="relay-off", to=55.0)) == []
    both = settings("stirred-kettle", "uk", programme=hold(62.5, After(to=62.0)))
    assert [text[:25] for _, text in said(both)] == ["At a setpoint of 62.5 °C ", "At a setpoint of 62 °C th"]


def test_the_temperature_at_which_a_prompt_waits_is_no_hold():
    steps = (Step(prompt="malt in", to=50.0), Step(to=65.0, hold_for="1 h"))
    assert said(settings("stirred-kettle", programme=Programme(step=steps))) == []


def test_a_chilled_scald_is_told_its_rule_and_where_this_ceiling_forbids_it_what_to_do_first():
    (name, text), *others = said(settings(chilled=True))
    assert (name, others) == ("chilled-scald", [])
    assert text == (
        "This scald was chilled: Cooked and cooled food that is reheated for hot holding reaches 74 °C (165 °F) in "
        "every part for 15 s, within 2 h of leaving 5 °C (41 °F). (FDA Food Code 2022, 3-403.11(A), (D)). Under this "
        "programme's ceiling of 70 °C no part may get there: this hold can't meet the rule. Heat it to 74 °C first, "
        "every part, for 15 s, stirring, and let it fall to the hold (above 70 °C its amylases end), or discard it."
    )
    assert numbers(settings(chilled=True), "chilled-scald") == {"to_c": 74.0, "ceiling_c": 70.0}
    assert said(settings(code="anz", chilled=True))[0][1] == (
        "This scald was chilled: Cooked and cooled food that will be held hot is rapidly heated to 60 °C or above; the "
        "clause has no time. (Food Standards Code, Standard 3.2.2, cl. 7(4))."
    )
    assert said(settings(code="uk", chilled=True))[0] == (
        "chilled-scald",
        (
            "This scald was chilled. United Kingdom, hot holding has no figure here for heating it again: all time "
            "below 63 °C counts against you. Ask your authority, or make it fresh."
        ),
    )


@pytest.mark.parametrize(("ceiling_c", "meets"), [(74.5, True), (74.4, False)])
def test_the_probes_error_counts_where_a_ceiling_is_weighed_against_the_rule_for_reheating(ceiling_c, meets):
    programme = msgspec.structs.replace(hold(65.0), ceiling=ceiling_c)
    assert ("can't meet" in said(settings(chilled=True, programme=programme))[0][1]) is not meets


def test_of_a_code_without_a_dwell_none_is_asked():
    programme = msgspec.structs.replace(hold(58.0), ceiling=60.0)
    text = next(text for name, text in said(settings(code="anz", chilled=True, programme=programme)))
    assert "Heat it to 60 °C first, every part, stirring, and let" in text


@pytest.mark.parametrize(("declared", "limit_s"), [("from cold", 4 * 3600.0), ("6 h from cold", 6 * 3600.0)])
def test_time_that_alone_controls_a_chilled_scald_is_told_with_its_rule_and_where_its_clock_starts(
    declared, limit_s
):
    (name, text), *others = said(settings(chilled=True, time_control=declared))
    assert (name, others) == ("time-control", [])
    assert text.startswith(
        "Time alone controls this scald, as declared: Time alone may control it: taken from 5 °C"
    )
    assert text.endswith(" The clock starts when the hottest paste, errors counted, leaves that temperature.")
    assert f"within {limit_s / 3600:.0f} h" in text
    assert "(FDA Food Code 2022, 3-501.19(" in text
    assert numbers(settings(chilled=True, time_control=declared), "time-control") == {"limit_s": limit_s}


def test_a_planned_fall_below_the_limit_is_told_with_the_codes_stages_and_what_to_declare():
    last = (
        "What stays below the limit after it is an unsafe window, unless you declare `holdctl sour` or "
        "`holdctl cool`."
    )
    assert said(settings(programme=FALLS)) == [
        (
            "planned-fall",
            (
                "Step 3 lets the paste fall to 32 °C: below 57 °C that is a cooling, and judged as one: 57 °C "
                "(135 °F) to 21 °C (70 °F) within 2 h; 57 °C (135 °F) to 5 °C (41 °F) within 6 h (FDA Food Code 2022, "
                f"3-501.14(A)). {last}"
            ),
        )
    ]
    assert numbers(settings(programme=FALLS), "planned-fall") == {"step": 2}
    assert said(settings(code="uk", programme=FALLS))[0] == (
        "planned-fall",
        (
            "Step 3 lets the paste fall to 32 °C: below 63 °C that is a cooling, and judged as one: United Kingdom, "
            f"hot holding has no numbers for it here. {last}"
        ),
    )
