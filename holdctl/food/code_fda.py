"""The FDA Food Code as data, and this project's own advice beside it. Sources and sureness as in `code_data`."""

from holdctl.food.rules import (
    ColdHolding,
    Cooling,
    CoolingStage,
    DateMarking,
    FoodCode,
    Heating,
    HotHolding,
    Reheating,
    Thermometer,
    TimeControl,
)

HOUR_S = 3600.0

_ADOPTED = "high: read in state adoptions of the same section, as "
_FDA = "FDA Food Code 2022, "

FDA = FoodCode(
    id="fda-2022",
    name="FDA Food Code 2022",
    force="recommendation",
    remarks="A model code: law where a state, county or tribe has adopted it, often with changes. The federal text of "
    "2022 itself was not read; its numbers are those of 2013 and 2017 (from memory).",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Food kept hot is held at 57 °C (135 °F) or above.",
            source=_FDA + "3-501.16(A)(1)",
            force="recommendation",
            sureness=_ADOPTED + "WAC 246-215-03525",
            limit_c=57.0,
            limit_f=135.0,
        ),
        ColdHolding(
            name="cold-holding",
            text="Food kept cold is held at 5 °C (41 °F) or below.",
            source=_FDA + "3-501.16(A)(2)",
            force="recommendation",
            sureness=_ADOPTED + "WAC 246-215-03525",
            limit_c=5.0,
            limit_f=41.0,
        ),
        Heating(
            name="heating",
            text="Plant food that is cooked for hot holding is brought to 57 °C (135 °F); the text has no time for it.",
            source=_FDA + "3-401.13",
            force="recommendation",
            sureness="high for the temperature: read in California Health and Safety Code 114010 and, as the text of "
            "2013, in two issues of the Conference for Food Protection 2016 (III-019, III-020), one of which "
            "asked for a "
            "time (4 h); whether it was ever adopted is not known here",
            remarks="Written of fruits and vegetables; an issue of 2016 says that grain, rice and pasta count as plant "
            "food. Whether a scald does is for the authority.",
            to_c=57.0,
            to_f=135.0,
        ),
        Reheating(
            name="reheating",
            text="Cooked and cooled food that is reheated for hot holding reaches 74 °C (165 °F) in every part "
            "for 15 s, "
            "within 2 h of leaving 5 °C (41 °F).",
            source=_FDA + "3-403.11(A), (D)",
            force="recommendation",
            sureness=_ADOPTED + "those of Delaware and South Carolina",
            to_c=74.0,
            to_f=165.0,
            dwell_s=15.0,
            from_c=5.0,
            within_s=2 * HOUR_S,
        ),
        Cooling(
            name="cooling",
            text="Cooked food cools from 57 °C to 21 °C (135 to 70 °F) within 2 h, and to 5 °C (41 °F) within a "
            "total of "
            "6 h; both clocks start when it passes 57 °C.",
            source=_FDA + "3-501.14(A)",
            force="recommendation",
            sureness=_ADOPTED + "those of Delaware, Oklahoma and Minnesota",
            stages=(
                CoolingStage(
                    to_c=21.0, to_f=70.0, within_s=2 * HOUR_S, clock_from_c=57.0, clock_from_f=135.0
                ),
                CoolingStage(to_c=5.0, to_f=41.0, within_s=6 * HOUR_S, clock_from_c=57.0, clock_from_f=135.0),
            ),
        ),
        TimeControl(
            name="time-4h",
            text="Time alone may control it: taken from 5 °C (41 °F) or below, or 57 °C (135 °F) or above, it is "
            "used or "
            "discarded within 4 h, by a written procedure made beforehand.",
            source=_FDA + "3-501.19(B)",
            force="recommendation",
            sureness=_ADOPTED + "those of Wisconsin and Georgia",
            longest_s=4 * HOUR_S,
            cold_c=5.0,
            cold_f=41.0,
            hot_c=57.0,
            at_end="discard",
        ),
        TimeControl(
            name="time-6h",
            text="Time alone may control it: taken from 5 °C (41 °F) or below and never above 21 °C (70 °F), it "
            "is used or "
            "discarded within 6 h, by a written procedure made beforehand.",
            source=_FDA + "3-501.19(C)",
            force="recommendation",
            sureness=_ADOPTED + "those of Wisconsin and Georgia",
            longest_s=6 * HOUR_S,
            cold_c=5.0,
            cold_f=41.0,
            hot_c=None,
            never_above_c=21.0,
            never_above_f=70.0,
            at_end="discard",
        ),
        DateMarking(
            name="date-marking",
            text="Ready-to-eat food kept cold for more than 24 h is marked and used within 7 days, the day it was made "
            "counted as the first.",
            source=_FDA + "3-501.17(A)",
            force="recommendation",
            sureness=_ADOPTED + "Minnesota Rules 4626.0400",
            remarks="For ready-to-eat food. A scald that will be baked is not ready to eat: a guide only.",
            days=7,
            at_most_c=5.0,
        ),
        Thermometer(
            name="thermometer",
            text="A food thermometer is accurate to 1 °C (2 °F) either way.",
            source=_FDA + "4-203.11",
            force="recommendation",
            sureness="high: read in California Health and Safety Code 114159(c), both errors in one paragraph",
            error_k=1.0,
        ),
    ),
)

ADVISORY_HEATING = Heating(
    name="come-up-advice",
    text="A fresh mix is between 5 °C (41 °F) and 57 °C (135 °F) for 2 h at most on its way up.",
    source="this project's advice, by analogy with the 2 h of FDA Food Code 3-403.11(D) for reheating",
    force="advisory",
    sureness="no published time limit for heating a fresh mix is known here: this is no code's rule",
    to_c=57.0,
    to_f=135.0,
    within_s=2 * HOUR_S,
    zone_c=(5.0, 57.0),
)
