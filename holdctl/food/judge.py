"""Hold every rule of a code against a record: `judge(curve, declared, code) → findings`. Pure.

What the record leaves open counts against the baker. A rule that does not apply says so; one that can't be told says
why.
"""

from collections.abc import Callable, Iterator
from typing import Any

from holdctl.food.code_fda import ADVISORY_HEATING
from holdctl.food.findings import Declared, Finding, Verdict
from holdctl.food.judge_cold import cold_holding, cooling, date_marking, souring
from holdctl.food.judge_heat import come_up_advice, heating, reheating
from holdctl.food.judge_hot import hot_holding, once_below
from holdctl.food.judge_time import thermometer, time_control
from holdctl.food.rules import (
    ColdHolding,
    Cooling,
    DateMarking,
    FoodCode,
    Heating,
    HotHolding,
    OnceBelow,
    Reheating,
    Rule,
    Thermometer,
    TimeControl,
)
from holdctl.food.timeline import Timeline, timeline
from holdctl.food.worst_case import Curve

_BY_KIND: dict[type[Rule], Callable[[Timeline, Any], Finding]] = {
    HotHolding: hot_holding,
    OnceBelow: once_below,
    ColdHolding: cold_holding,
    Cooling: cooling,
    Heating: heating,
    Reheating: reheating,
    TimeControl: time_control,
    DateMarking: date_marking,
    Thermometer: thermometer,
}


def judge(curve: Curve, declared: Declared, code: FoodCode) -> tuple[Finding, ...]:
    """Return one finding for each rule of the code, and this project's own advice."""
    return tuple(_findings(timeline(curve, declared, code)))


def _findings(line: Timeline) -> Iterator[Finding]:
    for rule in line.code.rules:
        yield _BY_KIND[type(rule)](line, rule)
    yield come_up_advice(line, ADVISORY_HEATING)
    yield from souring(line)


def worst(findings: tuple[Finding, ...]) -> Verdict:
    """Return the worst verdict among rules of the code: broken, then not to be told, then met."""
    asked = {f.verdict for f in findings if f.force != "advisory"}
    for verdict in (Verdict.BROKEN, Verdict.CANNOT_TELL, Verdict.MET):
        if verdict in asked:
            return verdict
    return Verdict.NOT_APPLICABLE
