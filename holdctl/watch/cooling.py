"""A declared cooling on the screen: what stands first, and the countdown of each stage beside its forecast."""

from holdctl.food.cooling import Standing
from holdctl.food.rules import Cooling as CoolingRule
from holdctl.hold.cool_probes import OUT, STILL
from holdctl.watch.snapshot import CoolingStage, Snapshot
from holdctl.watch.words import Look, span


def cooling_sentence(shot: Snapshot, paste: str, look: Look) -> str:
    """Return the first line: how the paste is, how long the next stage still has, and what would help."""
    told = shot.cooling
    where = f" {told.stand}" if told and told.stand else ""
    stages = told.stages if told else ()
    ahead = next((stage for stage in stages if stage.reached_s is None), None)
    text = f"Cooling{where}. {paste}"
    if ahead is None:
        return f"{text}; the first forecast comes within a minute or two." if not stages else f"{text}."
    text = f"{text}, {look.limit(ahead.to_c)} {_left(shot, ahead)}."
    return f"{text} {told.help}" if told and told.help else text


def cooling_food(shot: Snapshot, look: Look) -> str:
    """Return the food code's line of a cooling: each stage with its time and its forecast, the rule, who decides."""
    stages = shot.cooling.stages if shot.cooling else ()
    rules = shot.food.code.of(CoolingRule)
    source = rules[0].source if rules else shot.food.code.source
    said = "; ".join(_stage(shot, stage, look) for stage in stages) or "no forecast yet"
    if not rules or not rules[0].stages:
        said = "this code gives a cooling no times"
    return f"Food code, cooling ({source}): {said}. Your local authority decides."


def _left(shot: Snapshot, stage: CoolingStage) -> str:
    if stage.due_s is None:
        return "by the food code once its clock has started"
    left_s = stage.due_s - _now_s(shot)
    if left_s <= 0:
        return f"was due {span(-left_s)} ago"
    waits = " (its clock has not started)" if stage.standing == Standing.NOT_BEGUN else ""
    return f"within {span(left_s)}{waits}"


def _stage(shot: Snapshot, stage: CoolingStage, look: Look) -> str:
    level = look.limit(stage.to_c)
    if stage.reached_s is not None:
        how = {Standing.MET: "in time", Standing.MISSED: "TOO LATE"}.get(
            stage.standing, "its begin was not recorded"
        )
        return f"{level} reached {_clock(shot, stage.reached_s, look)}, {how}"
    due = "" if stage.due_s is None else f" by {_clock(shot, stage.due_s, look)}"
    return f"{level}{due}, {_foretold(shot, stage, look)}"


def _foretold(shot: Snapshot, stage: CoolingStage, look: Look) -> str:
    if any(alarm.stands and alarm.name in (OUT, STILL) for alarm in shot.alarms):
        return "no forecast while its probe is in doubt"
    early, late, due = stage.early_s, stage.late_s, stage.due_s
    if early is None:
        return "by the forecast never as it stands"
    when = (
        _clock(shot, early, look)
        if late is None
        else f"{_clock(shot, early, look)}–{_clock(shot, late, look)}"
    )
    if due is None:
        return f"forecast {when}"
    word = (
        "TOO LATE" if early > due else "in time" if late is not None and late <= due else "perhaps too late"
    )
    return f"forecast {when}, {word}"


def _now_s(shot: Snapshot) -> float:
    """Return the hold's own time now, s."""
    at = shot.sample.at if shot.sample else None
    return 0.0 if at is None else (at.hold_ms + max(0, shot.now_utc_ms - at.utc_ms)) / 1000


def _clock(shot: Snapshot, hold_s: float, look: Look) -> str:
    at = shot.sample.at if shot.sample else None
    base_ms = shot.hold.started_utc_ms if at is None else at.utc_ms - at.hold_ms
    return look.time(base_ms + round(1000 * hold_s))
