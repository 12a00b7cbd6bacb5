"""`plan --measured` and `learned`: what a thermometer in mix or dough says now, and for the next plan."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holdctl.cli.options import FIGURE, config_option, json_option, say_json, units_option
from holdctl.cli.told import celsius, settings_of
from holdctl.errors import ConfigError

if TYPE_CHECKING:
    from holdctl.paste.mixday import MixDay
    from holdctl.plan.learned import Memory
    from holdctl.plan.plan import Plan
    from holdctl.record.query import Record
    from holdctl.record.rows import EventRow
    from holdctl.review.figures import Figures
    from holdctl.settings import Settings


def say_measured(
    made: "Plan", settings: "Settings | None", measured: float, units: str, as_json: bool
) -> None:
    """Say what to do with a plan's mix that came out at `measured`, and remember it where the plan is kept."""
    from holdctl.plan import learned
    from holdctl.plan.measuring import advise
    from holdctl.watch.words import Look

    memory = learned.load()
    found = advise(made, settings, memory, float(celsius(measured, units) or 0.0))
    kept = made.id is not None and _remember_mix(made, settings, found.measured_c)
    if as_json:
        say_json(_plain(found, kept=kept))
        return
    look = Look(units="F" if units == "F" else "C")
    for line in _lines(found):
        click.echo(_wrapped(look.text(line)))
    if kept:
        click.echo("Remembered for the next plan: `holdctl learned` shows it.")


def _remember_mix(made: "Plan", settings: "Settings | None", measured_c: float) -> bool:
    from holdctl.clock import SystemClock
    from holdctl.plan import learned
    from holdctl.plan.measuring import seen_mix

    origin, now = f"plan {made.id}", SystemClock().utc_ms()
    one = seen_mix(made, settings, measured_c, at_utc_ms=now, origin=origin)
    if one is None:
        return False
    learned.save(learned.load().with_one(one))
    return True


def _lines(found: "MixDay") -> list[str]:
    return [found.words, *(f"{n}. {a.words}" for n, a in enumerate(found.advice, start=1))]


def _plain(found: "MixDay", *, kept: bool) -> dict[str, Any]:
    advice = [
        {"act": a.act.value, "words": a.words, "to_c": a.to_c, "water_g": a.water_g, "minutes": a.minutes}
        for a in found.advice
    ]
    return {"measured_c": found.measured_c, "off_k": found.off_k, "expected": found.expected, "words": found.words,
            "advice": advice, "start_c": found.start_c, "loss_j_k": found.loss_j_k, "remembered": kept}  # fmt: skip


def learn_from(reader: "Record", found: "Figures", events: "list[EventRow]") -> str:
    """Take what a planned night teaches into what is known of its vessel; return it in words, empty for nothing.

    A test rig's night teaches nothing: its paste was none.
    """
    import msgspec

    from holdctl.plan import learned
    from holdctl.review.planned import dough_teaches, learn, teaches
    from holdctl.settings import Settings

    if found.planned is None or found.state == "open" or found.simulated:
        return ""
    row = reader.hold(found.hold)
    settings = msgspec.json.decode(row.config_json, type=Settings)
    mix, memory = teaches(events, found.planned, settings, row.started_utc_ms), learned.load()
    dough = dough_teaches(events, settings, row.started_utc_ms)
    after = learn(learn(memory, mix), dough)
    if after != memory:
        learned.save(after)
    said = [] if mix is None else learned.words(after, mix.vessel)
    said += [] if dough is None else learned.of_doughs(after)
    return f"Learned for the next plan. {' '.join(said)}" if said else ""


@click.command(epilog="Example: holdctl learned --plan 3 --dough 26.8")
@click.option("--plan", "number", type=int, metavar="ID", help="The kept plan that was measured.")
@click.option("--mix", type=FIGURE, metavar="TEMP", help="Its mix came out at this.")
@click.option("--dough", type=FIGURE, metavar="TEMP", help="Its final dough came out at this.")
@click.option(
    "--water", type=FIGURE, metavar="TEMP", help="With --dough: its water was at this, not as planned."
)
@click.option("--scald", type=FIGURE, metavar="TEMP", help="With --dough: the scald went in at this.")
@click.option("--forget", is_flag=True, help="Forget all of it, and go back to common practice.")
@units_option
@config_option
@json_option
def learned(
    number: int | None,
    mix: float | None,
    dough: float | None,
    water: float | None,
    scald: float | None,
    forget: bool,
    units: str | None,
    config_file: Path | None,
    as_json: bool,
) -> None:
    """Show what your mixes and doughs have taught, or tell it one: the next plan reckons with it."""
    from holdctl.plan import learned as memory

    settings = settings_of(config_file)
    units = units or (settings.units if settings else "C")
    told = {name: celsius(v, units) for name, v in
            {"mix": mix, "dough": dough, "water": water, "scald": scald}.items()}  # fmt: skip
    if (number is None) != (mix is None and dough is None):
        raise ConfigError(
            "Say which plan and what was measured: --plan 3 --mix 71.5, or --plan 3 --dough 26.8."
        )
    if forget:
        memory.save(memory.Memory())
    elif number is not None:
        _tell(number, settings, told)
    _show(memory.load(), units, as_json)


def _tell(number: int, settings: "Settings | None", told: dict[str, float | None]) -> None:
    from holdctl.clock import SystemClock
    from holdctl.plan import learned as memory
    from holdctl.plan import store
    from holdctl.plan.measuring import seen_dough, seen_mix

    made, now = store.load(number), SystemClock().utc_ms()
    known = memory.load()
    if told["mix"] is not None:
        one = seen_mix(made, settings, told["mix"], at_utc_ms=now, origin=f"plan {number}")
        if one is None:
            raise ConfigError(
                f"A mix of {told['mix']:.1f} °C teaches nothing: flour, water and vessel of plan {number} can't have "
                "made it; measure right after stirring."
            )
        known = known.with_one(one)
    if told["dough"] is not None:
        known = known.with_one(
            seen_dough(made, settings, told["dough"], water_c=told["water"], scald_c=told["scald"], at_utc_ms=now,
                       origin=f"plan {number}")
        )  # fmt: skip
    memory.save(known)


def _show(memory: "Memory", units: str, as_json: bool) -> None:
    import msgspec

    from holdctl.plan.learned import words
    from holdctl.watch.words import Look

    said = words(memory)
    if as_json:
        say_json({"words": said, "seen": msgspec.to_builtins(memory.seen)})
        return
    look = Look(units="F" if units == "F" else "C")
    nothing = "Nothing is learnt yet: tell a plan's mix (`holdctl plan --show 1 --measured 71.5`) or dough."
    click.echo("\n".join(_wrapped(look.text(line)) for line in said or (nothing,)))


def _wrapped(line: str) -> str:
    import textwrap

    return textwrap.fill(line, 80, subsequent_indent="   ", break_on_hyphens=False)


COMMANDS = (learned,)
