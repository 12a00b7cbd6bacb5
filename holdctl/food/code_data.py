"""The codes as data. Each number carries its source and how it was obtained.

What was read is said in `sureness`: the text itself, an adoption of the same section, a guide or page that quotes it,
or only memory. Nothing here is copied from a code's prose: each rule is told in a sentence of this project.
"""

from holdctl.food.code_fda import ADVISORY_HEATING, FDA, HOUR_S
from holdctl.food.rules import (
    ColdHolding,
    Cooling,
    CoolingStage,
    FoodCode,
    HotHolding,
    OnceBelow,
    Reheating,
    TimeControl,
)

_EN = "Food Safety and Hygiene (England) Regulations 2013 (SI 2013/2996), Sch. 4 para. "

UK = FoodCode(
    id="uk",
    name="United Kingdom, hot holding",
    force="law",
    remarks="They cover England; Wales, Scotland and Northern Ireland have texts of their own. Written of food for "
    "service or on display for sale: whether a scald under way is that, the authority says.",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Food kept hot is held at 63 °C or above.",
            source=_EN + "2",
            short="SI 2013/2996, Sch. 4 para. 2",
            force="law",
            sureness="high: read in the regulations; the paragraph differs between the nations (Wales: 6)",
            limit_c=63.0,
        ),
        OnceBelow(
            name="once-below",
            text="One single period of less than 2 h below 63 °C may be shown in defence.",
            source="SI 2005/2059, Sch. 4 para. 7(2), and the same in Wales (WSI 2006/31); carried on in England "
            "in 2013",
            force="law",
            sureness="high: read in the regulations of 2005 and of Wales",
            remarks="A defence in court, for food kept for service or on display for sale, once: not a second "
            "allowance.",
            shorter_than_s=2 * HOUR_S,
        ),
        ColdHolding(
            name="cold-holding",
            text="Food kept cold is held at 8 °C or below.",
            source=_EN + "2",
            force="law",
            sureness="high: read in the regulations; a defence of less than 4 h above it exists for food on display",
            limit_c=8.0,
        ),
        Cooling(
            name="cooling",
            text="Food is cooled as quickly as possible to a temperature that brings no risk to health; the law has no "
            "number.",
            source="Regulation (EC) 852/2004, Annex II ch. IX",
            force="law",
            sureness="medium: the wording of paragraph 6 is from memory; advice of 90 min is from memory, too",
        ),
    ),
)

_SCOT = "Food Hygiene (Scotland) Regulations 2006 (SSI 2006/3), Sch. 4 para. "

SCOTLAND = FoodCode(
    id="uk-scotland",
    name="Scotland",
    force="law",
    remarks="Food undergoing preparation for sale is exempt from paragraph 2: whether a scald under way is that, the "
    "authority says.",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Food kept hot is held above 63 °C.",
            source=_SCOT + "2",
            short="SSI 2006/3, Sch. 4 para. 2",
            force="law",
            sureness="high: read in the regulations as made",
            limit_c=63.0,
        ),
        Reheating(
            name="reheating",
            text="Food that was heated and is heated again for sale is raised to 82 °C or above.",
            source=_SCOT + "3",
            force="law",
            sureness="medium: the paragraph's heading was read in the regulations, its figure on a page on "
            "Scottish food "
            "law and in the regulations of 1995 (SI 1995/2200 reg. 14)",
            remarks="It is a defence that the food could not be raised to it without a deterioration of its qualities.",
            to_c=82.0,
        ),
        Cooling(
            name="cooling",
            text="Food is cooled as quickly as possible to a temperature that brings no risk to health; the law has no "
            "number.",
            source=_SCOT + "2(2)(c)",
            force="law",
            sureness="high: read in the regulations as made",
        ),
    ),
)

_QC = "Quebec, Regulation respecting food (P-29, r. 1), s. 1.4.1"

CANADA = FoodCode(
    id="canada",
    name="Canada (Quebec's law, cooling guideline)",
    force="law",
    remarks="Each province has a text of its own; the numbers are Quebec's.",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Food sold or served hot is kept at 60 °C or above inside.",
            source=_QC,
            short="Quebec P-29, r. 1, s. 1.4.1",
            force="law",
            sureness="high: read in the regulation",
            limit_c=60.0,
        ),
        ColdHolding(
            name="cold-holding",
            text="Food kept cold is held at 4 °C or below.",
            source=_QC,
            force="law",
            sureness="high: read in the regulation",
            limit_c=4.0,
        ),
        Cooling(
            name="cooling",
            text="Cooked food cools from 60 °C to 20 °C within 2 h, and on to 4 °C within a further 4 h.",
            source="Canadian guideline on cooling",
            force="recommendation",
            sureness="medium: read on pages that quote it, among them a health unit's; not in a text of law",
            stages=(
                CoolingStage(to_c=20.0, within_s=2 * HOUR_S, clock_from_c=60.0),
                CoolingStage(to_c=4.0, within_s=4 * HOUR_S, clock_from_c=20.0),
            ),
        ),
    ),
)

_ANZ = "Food Standards Code, Standard 3.2.2, cl. "

ANZ = FoodCode(
    id="anz",
    name="Australia and New Zealand, Standard 3.2.2",
    force="law",
    remarks="Chapter 3 of the code applies in Australia only; New Zealand has rules of its own with the same numbers "
    "(from memory).",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Potentially hazardous food is kept hot at 60 °C or above.",
            source=_ANZ + "6 to 8",
            force="law",
            sureness="high: read in guides of the food authorities; the clause's number is from memory",
            limit_c=60.0,
        ),
        ColdHolding(
            name="cold-holding",
            text="Potentially hazardous food is kept cold at 5 °C or below.",
            source=_ANZ + "6 to 8",
            force="law",
            sureness="high: read in guides of the food authorities; the clause's number is from memory",
            limit_c=5.0,
        ),
        Cooling(
            name="cooling",
            text="Cooked food cools from 60 °C to 21 °C within 2 h, and on to 5 °C within a further 4 h.",
            source=_ANZ + "7(3)",
            force="law",
            sureness="high: read in quotations of the clause",
            stages=(
                CoolingStage(to_c=21.0, within_s=2 * HOUR_S, clock_from_c=60.0),
                CoolingStage(to_c=5.0, within_s=4 * HOUR_S, clock_from_c=21.0),
            ),
        ),
        Reheating(
            name="reheating",
            text="Cooked and cooled food that will be held hot is rapidly heated to 60 °C or above; the clause has no "
            "time.",
            source=_ANZ + "7(4)",
            force="law",
            sureness="high: read in quotations of the clause",
            to_c=60.0,
            from_c=5.0,
        ),
        TimeControl(
            name="time-2h-4h",
            text="All times between 5 and 60 °C together: under 2 h it may be chilled or heated again, from 2 to "
            "4 h it is "
            "used at once, from 4 h on it is discarded.",
            source="NSW Food Authority and FSANZ, 2-hour/4-hour guide to Standard 3.2.2",
            force="recommendation",
            sureness="high: read in the guide; that a cooling within clause 7(3) is not counted is from memory",
            longest_s=4 * HOUR_S,
            cold_c=5.0,
            hot_c=60.0,
            cumulative=True,
            reuse_within_s=2 * HOUR_S,
            at_end="discard",
        ),
    ),
)

_BFR = "BfR Opinion 037/2020 of 27 August 2020 (doi 10.17590/20200827-120755)"

GERMANY = FoodCode(
    id="de-bfr-2020",
    name="Germany, BfR 2020",
    force="recommendation",
    remarks="Advice of the Federal Institute for Risk Assessment, not law; it had advised 65 °C before, "
    "and found growth "
    "unlikely above 57 °C, weak growth up to 60 °C in single studies. A later revision keeps the 60 °C.",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Food kept hot has 60 °C or above in every part.",
            source=_BFR,
            short="BfR Opinion 037/2020",
            force="recommendation",
            sureness="high: read in the opinion",
            limit_c=60.0,
        ),
        Cooling(
            name="cooling",
            text="Food is cooled as quickly as possible to a temperature that brings no risk to health; the law has no "
            "number.",
            source="Regulation (EC) 852/2004, Annex II ch. IX",
            force="law",
            sureness="medium: the wording of paragraph 6 is from memory",
        ),
    ),
)

_FR = "France, arrêté of 21 December 2009, annex IV"

FRANCE = FoodCode(
    id="france",
    name="France, arrêté of 21 December 2009",
    force="law",
    remarks="Written of food with products of animal origin in catering; an arrêté of 8 October 2013 covers other food "
    "(its temperatures were not read).",
    rules=(
        HotHolding(
            name="hot-holding",
            text="Prepared food kept hot until it is eaten is held at 63 °C or above.",
            source=_FR,
            force="law",
            sureness="medium: quoted on professional pages; the arrêté itself was not read",
            limit_c=63.0,
        ),
        ColdHolding(
            name="cold-holding",
            text="Prepared food that was cooled rapidly is kept at 3 °C or below.",
            source=_FR,
            force="law",
            sureness="medium: quoted on professional pages; the arrêté itself was not read",
            limit_c=3.0,
        ),
        Cooling(
            name="cooling",
            text="Prepared food that will be kept cold passes from 63 °C to 10 °C in less than 2 h, at its core.",
            source=_FR,
            force="law",
            sureness="medium: quoted on professional pages; the arrêté itself was not read",
            stages=(CoolingStage(to_c=10.0, within_s=2 * HOUR_S, clock_from_c=63.0),),
        ),
        Reheating(
            name="reheating",
            text="Prepared food that was cooled rapidly passes from 10 °C to 63 °C in less than 1 h, at its core.",
            source=_FR,
            force="law",
            sureness="medium: quoted on professional pages; the arrêté itself was not read",
            to_c=63.0,
            from_c=10.0,
            within_s=1 * HOUR_S,
        ),
    ),
)

__all__ = ["ADVISORY_HEATING", "CODES"]

CODES = (FDA, UK, SCOTLAND, CANADA, ANZ, GERMANY, FRANCE)
