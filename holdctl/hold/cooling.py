"""A declared cooling of one hold: no heat, the code's stages, what is foretold of them and what would help.

The probe may sit anywhere: the physical course of a paste of this form, in this place, says what the hottest and the
coldest paste are when the probe's place is at what it reads. It is begun anew where somebody says that the paste was
moved, spread or stirred; the clocks of the stages are not.
"""

from dataclasses import dataclass
from typing import Any

from holdctl.events import Condition, Estimate, Instant, Notice, NoticeKind
from holdctl.food.codes import code_of
from holdctl.food.cooling import CoolingWatch, StageVerdict, Standing
from holdctl.food.rules import Cooling as CoolingRule
from holdctl.food.rules import CoolingStage
from holdctl.food.say import lasting
from holdctl.food.spells import SpellKind
from holdctl.food.storage import cooled_to
from holdctl.food.worst_case import error_k
from holdctl.hold.cool_help import helps
from holdctl.hold.cool_never import FAR_S, NEVER, Never
from holdctl.hold.cool_order import CoolOrder, paste_of
from holdctl.hold.cool_probes import CoolProbes
from holdctl.hold.cool_probes import paste_of as paste_seen
from holdctl.hold.probes import Values
from holdctl.hold.resume import spoken
from holdctl.paste.cooling import CoolingCurve, cool_down
from holdctl.paste.cooling_pace import Ahead, Pace
from holdctl.safety.cooling_probe import Doubt, Paste
from holdctl.settings import PASTE_PLACES, Place, Probe, Settings

FIRST_MS, AGAIN_MS, HELP_MS = 60_000, 120_000, 600_000
"""When the first forecast is told, how often the next ones, and how often what would help is reckoned anew."""
SLOW = "cooling-slow"
MISSED = "cooling-missed"
_NEVER = Ahead(None, None, None)


@dataclass(frozen=True, slots=True)
class Foretold:
    """One stage with what is foretold of it; times in s of the hold."""

    verdict: StageVerdict
    stage: CoolingStage
    due_s: float | None
    """When it must be reached; of one whose clock has not started, as foretold."""
    ahead: Ahead
    known: bool = True
    """Whether the paste's form is known: of an unknown one only a forecast that is surely too late counts."""

    @property
    def late_s(self) -> float | None:
        """How much too late it is expected; None: in time or not known; infinite where it is never reached."""
        if self.verdict.ended or self.due_s is None:
            return None
        expected = self.ahead.expected_s if self.known else self.ahead.early_s
        if expected is None:
            return float("inf") if self.known else None
        return expected - self.due_s if expected > self.due_s else None


class Cooling:
    """Follows the paste from the declaration until it is cold."""

    def __init__(self, settings: Settings, order: CoolOrder, now: Instant, last_hot_ms: int | None) -> None:
        """`last_hot_ms`: when all paste was last known to be at or above the first stage's start, ms of the hold."""
        self._settings = settings
        self.code = code_of(settings)
        rules = self.code.of(CoolingRule)
        self._stages = rules[0].stages if rules else ()
        self.source = rules[0].source if rules else self.code.source
        since_s = None if last_hot_ms is None else last_hot_ms / 1000
        self.watch = CoolingWatch(self._stages, since_s)
        self._probes = tuple(p for p in settings.probe if p.place in PASTE_PLACES)
        self.alone = order.alone
        self.estimate: Estimate | None = None
        self._hottest_c: float | None = None
        self._told: dict[int, Standing] = {}
        self._help = ""
        self._help_ms, self._help_c = -HELP_MS, 0.0
        self.probes = CoolProbes(self._probes)
        self._never = Never(cooled_to(self.code).limit_c)
        self.moved(order, now)

    def moved(self, order: CoolOrder, now: Instant) -> None:
        """Take where and how the paste cools from now on."""
        self.order = order
        self.probes.trust()
        self._anew(now)

    def _anew(self, now: Instant) -> None:
        self._never.anew()
        self._course: tuple[CoolingCurve, Pace] | None = None
        self._next_ms = now.hold_ms + FIRST_MS
        self._help_ms = -HELP_MS

    @property
    def done(self) -> bool:
        """Whether all paste is as cold as the code wants it; where it has no number, as cold as date marking does."""
        if not self.probes.calm:
            return False  # what a probe reads on its way out of the paste proves nothing
        if self._stages:
            return self.watch.done
        return self._hottest_c is not None and self._hottest_c <= self._never.end_c

    def take(self, values: Values, now: Instant) -> tuple[list[Notice], list[Condition]]:
        """Take a valid reading; return what is to be said of it, and how its two alarms stand."""
        t_s = now.hold_ms / 1000
        warmest_c = max(values.used_c[p.channel] + error_k(p) for p in self._probes)
        curve, pace = self._made(warmest_c, t_s)
        good = self.probes.look(values.used_c, now, curve, self._seen_paste(), known=self.order.known)
        said = self.probes.told()
        if self.probes.doubt_from_ms is not None:
            self.watch.doubt(self.probes.doubt_from_ms / 1000)
        if self.probes.changed is not Doubt.NONE:
            said.append(self._changed(now))
            curve, pace = self._made(warmest_c, t_s)
        hottest_c = self._followed(curve, pace, [(p, values.used_c[p.channel]) for p in good], t_s)
        notices, conditions = self._told_of(now, hottest_c)
        return [*said, *notices], [*self.probes.conditions(now), *conditions]

    def _followed(
        self, curve: CoolingCurve, pace: Pace, reads: list[tuple[Probe, float]], t_s: float
    ) -> float | None:
        """Carry estimate, stages and pace to these readings; return the hottest paste, errors counted, °C."""
        if not reads:
            self.estimate = self._hottest_c = None
            self.watch.add(t_s, None, None)
            return None
        self.estimate = self._estimated(curve, [(probe.place, value) for probe, value in reads])
        # As a review sees it (food/worst_case.py): the same paste can't be cold here and warm there.
        error = max(error_k(probe) for probe, _ in reads)
        coldest_c = min(self.estimate.coldest_c - error, *(value - error_k(p) for p, value in reads))
        hottest_c = max(self.estimate.hottest_c + error, *(value + error_k(p) for p, value in reads))
        self._hottest_c = hottest_c
        self.watch.add(t_s, coldest_c, hottest_c)
        pace.add(t_s, hottest_c)
        return hottest_c

    def _seen_paste(self) -> Paste | None:
        """Return the paste as it was before this reading."""
        was, where = self.estimate, self.order.around(self._settings)
        around_c = (where.beside_c, where.above_c, self._settings.room.ambient_c)
        ends = None if was is None else (was.coldest_c, was.mean_c, was.hottest_c)
        return paste_seen(ends, around_c, known=self.order.known)

    def _changed(self, now: Instant) -> Notice:
        """Begin the course anew where the paste was stirred, or the probe put elsewhere, without a word."""
        stirred = self.probes.changed is Doubt.STIRRED
        what = "The paste was stirred" if stirred else "The probe was moved in the paste"
        self._anew(now)
        text = f"{what}, by its readings: the forecast begins anew, the clocks go on."
        return Notice(NoticeKind.INFO, "cooling-anew", text, {"stirred": stirred})

    # The paste -------------------------------------------------------------------------------------------------

    def _made(self, start_c: float, t_s: float) -> tuple[CoolingCurve, Pace]:
        """Return the physical course and its pace, made at the first reading in this place."""
        if self._course is None:
            where = self.order.around(self._settings)
            start = max(start_c, where.beside_c + 1.0, where.above_c + 1.0)
            paste, form = paste_of(self._settings), self.order.form(self._settings)
            curve = cool_down(paste, form, start, where, stirred=self.order.stirred)
            error = max(error_k(p) for p in self._probes)
            self._course = curve, Pace(curve, where.beside_c + error, t_s, self.order.known)
        return self._course

    def _estimated(self, curve: CoolingCurve, reads: list[tuple[Place, float]]) -> Estimate:
        """Return what is shown and recorded. No deviation: whoever judges by it adds the probes' error."""
        place, paste_c = reads[0]
        if not self.order.known:
            values = [value for _, value in reads]
            return Estimate(paste_c, paste_c, min(values), max(values), paste_c)
        cold = min(curve.coldest_where(*one) for one in reads)
        hot = max(curve.hottest_where(*one) for one in reads)
        return Estimate(cold, paste_c, cold, hot, curve.mean_where(place, paste_c))

    # What is said ----------------------------------------------------------------------------------------------

    def _told_of(self, now: Instant, hottest_c: float | None) -> tuple[list[Notice], list[Condition]]:
        verdicts = self.watch.verdicts
        missed = next((v for v in verdicts if v.standing is Standing.MISSED), None)
        conditions = [Condition(MISSED, missed is not None, self._missed_words(missed))]
        said = self._passed(verdicts)
        if hottest_c is not None and now.hold_ms >= self._next_ms:
            self._next_ms = now.hold_ms + AGAIN_MS
            notice, slow = self._forecast(now, hottest_c)
            said.append(notice)
            conditions.append(Condition(SLOW, bool(slow), slow))
            never = self._ends(now, hottest_c)  # one alarm for one cause: while it is too slow, that says it
            conditions.append(never if not slow else Condition(NEVER, False))
        return said, conditions

    def _passed(self, verdicts: tuple[StageVerdict, ...]) -> list[Notice]:
        """Return what has newly begun or been reached."""
        said = []
        for k, verdict in enumerate(verdicts):
            before, after = self._told.get(k, Standing.NOT_BEGUN), verdict.standing
            key = Standing.MET if verdict.ended else after
            if before is key:
                continue
            self._told[k] = key
            text = self._stage_words(self._stages[k], verdict)
            if text:
                detail = {
                    "stage": k,
                    "standing": after.value,
                    "began_s": verdict.began_s,
                    "took_s": verdict.took_s,
                }
                said.append(Notice(NoticeKind.INFO, "cooling-stage", text, detail))
        return said

    def _stage_words(self, stage: CoolingStage, verdict: StageVerdict) -> str:
        within = lasting(stage.within_s)
        if verdict.ended:
            took = lasting(verdict.took_s or 0.0)
            how = {
                Standing.MET: f"within the {within} of {self.source}",
                Standing.MISSED: f"later than the {within} of {self.source}",
            }.get(verdict.standing, f"but its fall through {stage.clock_from_c:g} °C was not recorded")
            return (
                f"All paste is at {stage.to_c:g} °C or below, {took} after {stage.clock_from_c:g} °C: {how}."
            )
        if verdict.standing is Standing.RUNNING:
            return f"The paste has passed {stage.clock_from_c:g} °C: {stage.to_c:g} °C within {within} from there."
        if verdict.standing is Standing.NOT_SHOWN:
            return f"Nobody saw the paste pass {stage.clock_from_c:g} °C: no record shows that its time was kept."
        return ""

    def _missed_words(self, missed: StageVerdict | None) -> str:
        if missed is None:
            return ""
        within = lasting(missed.stage.within_s)
        took = f"after {lasting(missed.took_s or 0.0)}"
        reached = f"was reached {took}" if missed.ended else f"is not reached {took}"
        stage = missed.stage
        return f"{stage.to_c:g} °C {reached}; {self.source} allows {within} from {stage.clock_from_c:g} °C"

    def foretold(self) -> tuple[Foretold, ...]:
        """Return each stage with what the running curve says of it."""
        levels = [level for stage in self._stages for level in (stage.clock_from_c, stage.to_c)]
        ahead = self._course[1].ahead(*levels) if self._course is not None else ()
        ahead = ahead or (_NEVER,) * len(levels)
        found = []
        for k, (stage, verdict) in enumerate(zip(self._stages, self.watch.verdicts, strict=True)):
            starts = verdict.began_s if verdict.began_s is not None else ahead[2 * k].expected_s
            due = None if starts is None else starts + stage.within_s
            found.append(Foretold(verdict, stage, due, ahead[2 * k + 1], self.order.known))
        return tuple(found)

    def _ends(self, now: Instant, hottest_c: float) -> Condition:
        """Return whether it will ever be cold, as it goes now."""
        end_c, t_s = self._never.end_c, now.hold_ms / 1000
        ahead = self._course[1].ahead(end_c) if self._course is not None and self.order.known else ()
        expected_s = ahead[0].expected_s if ahead else None
        foretold = (expected_s is not None and expected_s - t_s < FAR_S) if ahead else None
        text = self._never.look(t_s, hottest_c, foretold)
        if text and not self._help:
            self._help = helps(self._settings, self.order, hottest_c, end_c, 0.0)
        return Condition(NEVER, bool(text), f"{text}. {self._help}".rstrip(". ") if text else "")

    def _helps_again(self, now: Instant, to_c: float) -> bool:
        """Whether what would help is to be reckoned now: another stage is next, or the last reckoning is old."""
        again = to_c != self._help_c or now.hold_ms - self._help_ms >= HELP_MS
        if again:
            self._help_ms, self._help_c = now.hold_ms, to_c
        return again

    def _forecast(self, now: Instant, hottest_c: float) -> tuple[Notice, str]:
        """Return the forecast for screen and record, and why the cooling is too slow (empty: it is not)."""
        rows = self.foretold()
        t_s = now.hold_ms / 1000
        late = next((row for row in rows if row.late_s is not None), None)
        running = late is not None and late.verdict.standing is not Standing.MISSED
        slow = _late_words(late, t_s) if late is not None and running else ""
        if late is None:
            self._help = ""
        next_row = next((row for row in rows if row.due_s is not None and not row.verdict.ended), late)
        if next_row is not None and late is not None and self._helps_again(now, next_row.stage.to_c):
            left_s = (next_row.due_s or t_s) - t_s
            self._help = helps(self._settings, self.order, hottest_c, next_row.stage.to_c, left_s)
        words = [_row_words(row, t_s) for row in rows if not row.verdict.ended]
        text = "; ".join(words) or f"hottest paste {hottest_c:.1f} °C"
        detail: dict[str, Any] = {
            "hottest_c": round(hottest_c, 2),
            "stand": self.order.words(),
            "stages": [_detail(row) for row in rows],
            "help": self._help,
        }
        notice = Notice(
            NoticeKind.COOLING, "cooling", f"{text}.{' ' + self._help if self._help else ''}", detail
        )
        return notice, f"{slow}. {self._help}".rstrip(". ") if slow else ""


def spell(kind: SpellKind, *, begins: bool, by: str, text: str) -> Notice:
    """Return the notice of a declared spell's begin or end."""
    return Notice(NoticeKind.SPELL, kind.value, text, {"begins": begins, "by": by})


def _spoken_s(seconds: float) -> str:
    return spoken(round(max(0.0, seconds) * 1000))


def _late_words(row: Foretold, now_s: float) -> str:
    late = row.late_s or 0.0
    expected = row.ahead.expected_s
    if expected is None:
        return f"as it cools now the hottest paste never comes to {row.stage.to_c:g} °C"
    return f"{row.stage.to_c:g} °C is expected in {_spoken_s(expected - now_s)}, {_spoken_s(late)} too late"


def _row_words(row: Foretold, now_s: float) -> str:
    level = f"{row.stage.to_c:g} °C"
    expected = row.ahead.expected_s
    if expected is None:
        return f"{level} is not reached as it cools now" if row.known else f"{level}: not foretold yet"
    late_s = row.ahead.late_s
    at_latest = "" if late_s is None else f", {_spoken_s(late_s - now_s)} at the latest"
    margin = "" if row.due_s is None else _margin_words(row.due_s - expected)
    return f"{level} in about {_spoken_s(expected - now_s)}{at_latest}{margin}"


def _margin_words(spare_s: float) -> str:
    return f", {_spoken_s(spare_s)} to spare" if spare_s >= 0 else f", {_spoken_s(-spare_s)} too late"


def _detail(row: Foretold) -> dict[str, Any]:
    v, times = row.verdict, (row.ahead.early_s, row.ahead.expected_s, row.ahead.late_s)
    early, expected, late = (None if t is None else round(t) for t in times)
    return {
        "from_c": row.stage.clock_from_c,
        "to_c": row.stage.to_c,
        "within_s": row.stage.within_s,
        "standing": v.standing.value,
        "began_s": v.began_s,
        "reached_s": v.reached_s,
        "due_s": None if row.due_s is None else round(row.due_s),
        "early_s": early,
        "expected_s": expected,
        "late_s": late,
    }
