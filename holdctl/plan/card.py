"""The kitchen card of a plan in words: one content for terminal, page and picture, in the order of the work.

Temperatures stand as `65 °C`, so that one rule at the edge can turn them into the user's unit. What no section of the
plan fills does not appear.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from holdctl.plan.cooling import words
from holdctl.plan.plan import DoughPart, Line, Plan, PlanStep
from holdctl.plan.words import clock, day, grams, mass, number, span, temp

STAR = "*"
"""Marks what common practice filled in."""
CAUTIONS = (
    "Scalding paste sticks, steam burns. Warm paste feeds bacteria, spores outlive 65 °C: your food code and "
    "authority decide what may be used."
)
CAUTIONS_BRIEF = "Paste and steam scald; warm paste feeds bacteria: ask your food code."
STICKIER = "Stickier than you know this dough: that is the scald. Add no flour."
_AS_POURED_K = 1.0
"""Boiling water cools by less than this while it is poured."""
HEAD = ("", "scald", "final dough", "together", "%")


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence. `rank` 0 is what the work needs, 1 says why, 2 is more: a small screen leaves out the highest."""

    text: str
    rank: int = 0
    tail: str = ""
    """The rest of it, which a small screen leaves out with the why."""
    brief: str = ""
    """The same for a screen on which nothing else has room; empty where it can't be said shorter."""
    spare: bool = False
    """Where even that is too much, it is left out: nobody has to do anything about it."""

    @property
    def whole(self) -> str:
        """Everything."""
        return f"{self.text}{self.tail}"


WHY, MORE = 1, 2


@dataclass(frozen=True, slots=True)
class Section:
    """One step of the work; its label is a word."""

    label: str
    lines: tuple[Said, ...]
    loud: bool = False
    """Something that must not be overlooked."""
    brief: str = ""
    """What stands for all of it where even the shortest lines are too many."""


@dataclass(frozen=True, slots=True)
class Card:
    """What stands on the card."""

    title: str
    made: str
    facts: tuple[str, ...]
    first: tuple[Section, ...]
    """What comes before everything else."""
    rows: tuple[tuple[str, ...], ...]
    """Ingredient, scald, final dough, together, percent."""
    foot: tuple[str, ...]
    sections: tuple[Section, ...]


def card(plan: Plan, say: Callable[[str], str] = str, units: str = "C") -> Card:
    """Return the card; `say` turns each sentence into the user's unit, "C" or "F", in which codes have figures, too."""

    def said(sections: Iterator[Section]) -> tuple[Section, ...]:
        return tuple(replace(s, lines=tuple(_in(line, say) for line in s.lines)) for s in sections if s.lines)

    number_of = f"plan {plan.id}, " if plan.id is not None else ""
    return Card(
        title=say(plan.name),
        made=f"{number_of}{day(plan.made_utc_ms)}",
        facts=tuple(map(say, _facts(plan))),
        first=said(_first(plan)),
        rows=tuple(_row(line, plan) for line in plan.formula.lines),
        foot=_foot(plan),
        sections=said(_sections(plan, units)),
    )


def _facts(plan: Plan) -> Iterator[str]:
    formula, scald = plan.formula, plan.scald
    size = f"{grams(formula.whole_g)} dough"
    if formula.pieces is not None and formula.piece_g is not None:
        one = "1 piece" if formula.pieces == 1 else f"{formula.pieces} pieces"
        size = f"{one} of {grams(formula.piece_g)}"
    yield size
    yield f"scald {number(scald.share)} %{_star(plan, 'share')} 1:{number(scald.ratio, 2)}{_star(plan, 'ratio')}"
    before, after = number(formula.hydration_before), number(formula.hydration_after)
    yield f"hydration {before} → {after} %{_star(plan, 'increase')}"
    if plan.assumed:
        yield f"{STAR} common practice"


def _star(plan: Plan, key: str) -> str:
    return STAR if f"scald.{key}" in plan.assumed else ""


def _row(line: Line, plan: Plan) -> tuple[str, ...]:
    fine = line.total_g < plan.formula.fine_below_g
    step = plan.formula.fine_step_g if fine else plan.formula.step_g
    masses = (mass(value, step) for value in (line.scald_g, line.dough_g, line.total_g))
    return (line.name, *masses, f"{line.percent:.{1 if line.percent >= 1 else 2}f}")


def _foot(plan: Plan) -> tuple[str, ...]:
    scald_g, whole_g = plan.scald.mass_g, plan.formula.whole_g
    dough_g = round(whole_g - scald_g, 6)
    percent = sum(line.percent for line in plan.formula.lines)
    return ("", grams(scald_g), f"+ {grams(dough_g)}", f"= {grams(whole_g)}", f"{percent:.1f}")


def _in(line: Said, say: Callable[[str], str]) -> Said:
    return replace(line, text=say(line.text), tail=say(line.tail), brief=say(line.brief))


def _first(plan: Plan) -> Iterator[Section]:
    """Yield what the baker must know before weighing."""
    night = plan.night
    if night is not None and not night.code_kept:
        yield Section("Stop", tuple(Said(text) for text in (night.verdict, night.nearest) if text), loud=True)


def _sections(plan: Plan, units: str) -> Iterator[Section]:
    yield Section("Scald", tuple(_scald(plan)))
    yield Section("Malt", tuple(_malt(plan)))
    yield Section("Night", tuple(_night(plan)))
    yield Section("Ready", tuple(_ready(plan)))
    yield Section("Cooling", tuple(_cooling(plan, units)))
    yield Section("Dough", tuple(_dough(plan)))
    notes = "1 note: read it" if len(plan.warnings) == 1 else f"{len(plan.warnings)} notes: read them"
    yield Section("Note", tuple(map(Said, plan.warnings)), brief=f"{notes} before you begin.")
    yield Section("Care", (Said(CAUTIONS, brief=CAUTIONS_BRIEF),))


def _notes(notes: tuple[str, ...]) -> Iterator[Said]:
    return (Said(note, MORE) for note in notes)


def _scald(plan: Plan) -> Iterator[Said]:
    """How hot the water is, and what comes of it."""
    mix = plan.mix
    if mix is None:
        return
    jugs = f"Water of {temp(mix.water_c)}"
    if mix.hot_water_g is not None and mix.cold_water_g:
        jugs += f" ({grams(mix.hot_water_g)} boiling + {grams(mix.cold_water_g)} cold)"
    elif mix.boiling_c - mix.water_c < _AS_POURED_K:
        jugs = f"Boiling water, {temp(mix.water_c)} as poured"
    yield Said(f"{jugs}: mix of {temp(mix.mix_c)} ({temp(mix.low_c)} to {temp(mix.high_c)}).")
    yield Said(mix.why, WHY)
    yield from _notes(mix.notes)


def _malt(plan: Plan) -> Iterator[Said]:
    if not plan.scald.malt_g:
        return
    at_once = plan.mix is not None and not plan.mix.boil_first
    when = (
        "once it is stirred smooth and reads below 70 °C" if at_once else "only once the mix is below 70 °C"
    )
    steps = plan.programme.steps if plan.programme else ()
    told = any("malt" in step.words.lower() for step in steps)
    yield Said(f"{grams(plan.scald.malt_g)}, {when}: hotter, its amylases end.", WHY if told else 0)


def _night(plan: Plan) -> Iterator[Said]:
    programme, night = plan.programme, plan.night
    if programme is not None:
        start = programme.start_utc_ms
        for step in programme.steps:
            when = "" if step.at_s is None else f"+{span(step.at_s)}  "
            if step.at_s is not None and start is not None:
                when = f"{clock(start + 1000 * step.at_s)}  "
            head, colon, tail = step.words.partition(": ")
            yield Said(f"{when}{head}", WHY if _is_end(plan, step) else 0, colon + tail, spare=step.alone)
    if night is not None:
        yield from (Said(text) for text in night.mind)
        if night.code_kept:
            yield Said(night.verdict, WHY)
        yield Said(
            f"Paste {temp(night.coldest_c)} to {temp(night.hottest_c)} on the way ({night.known}).", WHY
        )
        if night.energy_kwh is not None:
            price = "" if night.cost is None else f", {night.cost:.2f} at your price"
            yield Said(f"The warmer takes about {number(night.energy_kwh, 2)} kWh{price}.", MORE)
        yield from _notes(night.notes)


def _is_end(plan: Plan, step: PlanStep) -> bool:
    """Whether a step is what the line about being ready says, too."""
    night = plan.night
    if night is None or night.ready_s is None or step.at_s is None:
        return False
    return abs(step.at_s - night.ready_s[1]) < 60


def _ready(plan: Plan) -> Iterator[Said]:
    night, programme = plan.night, plan.programme
    if night is None or night.ready_s is None:
        return
    early, expected, late = night.ready_s
    start = programme.start_utc_ms if programme is not None else None
    if start is None:
        yield Said(f"{span(expected)} after mixing ({span(early)} to {span(late)}).")
        return
    at = [clock(start + 1000 * value) for value in (expected, early, late)]
    yield Said(f"{at[0]} ({at[1]} to {at[2]}).")


def _cooling(plan: Plan, units: str) -> Iterator[Said]:
    if plan.cooling is not None:
        dough, stored, times = words(plan.cooling, units)
        yield Said(dough)
        if stored:
            yield Said(stored, WHY if plan.cooling.kept == "yes" else 0)
            yield Said(times, WHY)
        yield from _notes(plan.cooling.notes)


def _water(dough: DoughPart) -> str:
    """Say the dough's water, and the ice in it, as they are weighed."""
    if not dough.ice_g:
        return f"{grams(dough.water_g)} water at {temp(dough.water_c)}"
    tap_g = round(dough.water_g - dough.ice_g, 3)
    return f"{grams(tap_g)} water at {temp(dough.water_c)} and {grams(dough.ice_g)} crushed ice"


def _dough(plan: Plan) -> Iterator[Said]:
    dough = plan.dough
    if dough is not None:
        yield from (Said(note) for note in dough.notes if not dough.met)
        yield Said(
            f"{_water(dough)}, scald {temp(dough.scald_c)}: "
            f"dough {temp(dough.dough_c)} ({temp(dough.low_c)} to {temp(dough.high_c)})."
        )
        yield from (Said(note, WHY) for note in dough.notes if dough.met)
        if dough.why:
            yield Said(dough.why, WHY)
    yield Said(STICKIER, spare=True)
