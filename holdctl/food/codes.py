"""The food codes that holdctl knows, as data. Which one applies is for the local authority to say.

Numbers and wording: FDA Food Code 2022, section 3-501.16(A)(1) (57 °C, 135 °F; its text was read in state
adoptions of the same section, e.g. WAC 246-215-03525), and the Food Safety and Hygiene (England)
Regulations 2013 (SI 2013/2996), Schedule 4 paragraph 2 (63 °C).
"""

from dataclasses import dataclass
from typing import Literal

from holdctl.errors import ConfigError

AUTHORITY = "Your local authority decides which code applies and how."


@dataclass(frozen=True, slots=True)
class FoodCode:
    """One code's rule for hot holding."""

    id: str
    name: str
    hot_holding_c: float
    """Hot food is kept at or above this, °C."""
    rule: str
    """The rule in one sentence."""
    source: str
    """Where the text stands."""
    force: Literal["law", "recommendation"]
    sureness: str
    """How the number was obtained and how far it can be trusted."""
    remarks: str = ""
    hot_holding_f: float | None = None
    """The code's own figure in °F, where its text gives one: it is not the conversion of the other."""

    def limit_text(self, units: str) -> str:
        """Return the limit as the code itself writes it in `units`, "C" or "F"; converted where it has none."""
        if units == "C":
            return f"{self.hot_holding_c:g} °C"
        own = self.hot_holding_f
        return f"{self.hot_holding_c * 1.8 + 32 if own is None else own:g} °F"


CODES = (
    FoodCode(
        id="fda-2022",
        name="FDA Food Code 2022",
        hot_holding_c=57.0,
        rule="Food kept hot is held at 57 °C (135 °F) or above.",
        source="FDA Food Code 2022, 3-501.16(A)(1)",
        force="recommendation",
        sureness="high: read in state adoptions of the same section, as WAC 246-215-03525",
        hot_holding_f=135.0,
        remarks="A model code: law where a state, county or tribe has adopted it, often with changes.",
    ),
    FoodCode(
        id="uk",
        name="United Kingdom, hot holding",
        hot_holding_c=63.0,
        rule="Food kept hot is held at 63 °C or above.",
        source="Food Safety and Hygiene (England) Regulations 2013 (SI 2013/2996), Sch. 4 para. 2",
        force="law",
        sureness="high: read in the regulations",
        remarks="They cover England; Wales, Scotland and Northern Ireland have texts of their own. "
        "They allow one period of less than 2 h below 63 °C, which holdctl does not take into account.",
    ),
)
_BY_ID = {code.id: code for code in CODES}


def code(code_id: str) -> FoodCode:
    """Return a code by its id; raises ConfigError that lists the known ones."""
    found = _BY_ID.get(code_id)
    if found is None:
        known = "; ".join(f'"{c.id}" ({c.name}: {c.hot_holding_c:g} °C)' for c in CODES)
        raise ConfigError(f'food_code = "{code_id}" is not known here; known are {known}. {AUTHORITY}')
    return found
