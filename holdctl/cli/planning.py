"""`plan`: a bread formula with its scald, as a kitchen card."""

import sys
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holdctl.cli.evening import night_options
from holdctl.cli.options import FILE, config_option, json_option, say_json, units_option
from holdctl.cli.told import celsius, settings_of
from holdctl.errors import ConfigError

if TYPE_CHECKING:
    from holdctl.plan.bread import Bread
    from holdctl.plan.plan import Plan
    from holdctl.settings import Settings


@click.command(
    epilog="Example: holdctl plan --flour white-wheat=1000 --water 660 --salt 18 --yeast 10 --share 15"
)
@click.argument("bread", type=FILE, required=False)
@click.option(
    "--flour", multiple=True, metavar="NAME=AMOUNT", help="Grams, or % of all flour; may come again."
)
@click.option("--water", metavar="AMOUNT", help="Poured: 660, or 66%.")
@click.option(
    "--hydration", type=float, metavar="%", help="Instead of --water: all water, that of --with too."
)
@click.option("--salt", metavar="AMOUNT", help="18, or 1.8%.")
@click.option("--yeast", metavar="AMOUNT", help="10, or 1%.")
@click.option("--with", "others", multiple=True, metavar="NAME=AMOUNT[@WATER]",
              help="Anything else, with the water in it in %: honey=20@18.")  # fmt: skip
@click.option(
    "--share", type=float, metavar="%", help="Flour in the scald, % of all; 15 (common practice 10 to 20)."
)
@click.option(
    "--scald-of", multiple=True, metavar="NAME[=PARTS]", help="Only this flour goes into the scald."
)
@click.option(
    "--ratio", type=float, metavar="N", help="Water : flour of the scald; else as its flour usually takes."
)
@click.option("--increase", type=float, metavar="POINTS", help="Water more, % of all flour; else as usual.")
@click.option("--malt", type=float, metavar="%", help="Diastatic malt, % of the scald's flour; 0.")
@click.option("--pieces", type=int, metavar="N", help="How many loaves.")
@click.option(
    "--piece", type=float, metavar="GRAMS", help="Dough of each; with --pieces it scales everything."
)
@click.option("--total", type=float, metavar="GRAMS", help="All dough: it scales everything.")
@click.option("--flour-mass", type=float, metavar="GRAMS", help="All flour: it scales everything.")
@click.option("--name", help="Of the bread.")
@click.option("--html", type=FILE, help="Also write the card as a page to print into this .html file.")
@click.option("--picture", type=FILE, help="Also draw the card into this .pdf, .png or .svg file.")
@click.option("--save", "keep", is_flag=True, help="Keep the plan and give it a number.")
@click.option("--list", "listed", is_flag=True, help="List the kept plans.")
@click.option("--show", type=int, metavar="ID", help="Show a kept plan.")
@click.option("--measured", type=float, metavar="TEMP", help="The mix came out at this: say what to do now.")
@night_options
@click.option("--example", is_flag=True, help="Print a commented bread.toml to start from.")
@units_option
@config_option
@json_option
def plan(
    bread: Path | None,
    html: Path | None,
    picture: Path | None,
    keep: bool,
    listed: bool,
    show: int | None,
    measured: float | None,
    example: bool,
    units: str | None,
    config_file: Path | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Turn a bread formula into one with a scald: what to weigh, how hot, and what comes next, on one card."""
    if example:
        _example(as_json)
    elif listed:
        _list(as_json)
    else:
        settings = settings_of(config_file)
        shown = units or (settings.units if settings else "C")
        made = (
            _kept(show, bread, {**options, "keep": keep or None})
            if show is not None
            else _made(bread, options, settings, keep, shown)
        )
        if measured is not None:
            from holdctl.cli.measured import say_measured

            say_measured(made, settings, measured, shown, as_json)
            return
        _hand_out(made, shown, html, picture, as_json, keep)
        if keep and not as_json:
            click.echo(f"Kept as plan {made.id}: `holdctl run --plan {made.id}` begins its night.", err=True)


def _example(as_json: bool) -> None:
    text = resources.files("holdctl.plan").joinpath("example.toml").read_text("utf-8")
    if as_json:
        say_json({"example": text})
    else:
        click.echo(text, nl=False)


def _list(as_json: bool) -> None:
    from holdctl.plan import store
    from holdctl.plan.words import day, grams, number

    plans, damaged = store.load_all()
    for words in damaged:
        click.echo(f"holdctl: {words}", err=True)
    if as_json:
        say_json([{"id": p.id, "name": p.name, "made_utc_ms": p.made_utc_ms, "scald_g": p.scald.mass_g,
                   "whole_g": p.formula.whole_g} for p in plans])  # fmt: skip
        return
    if not plans and not damaged:
        click.echo("No plan is kept yet: `holdctl plan bread.toml --save` keeps one.")
    for p in plans:
        scald = f"scald {number(p.scald.share)} %, {grams(p.scald.mass_g)} of {grams(p.formula.whole_g)}"
        click.echo(f"{p.id:>4}  {day(p.made_utc_ms)}  {p.name}: {scald}")


def _kept(number: int, bread: Path | None, options: dict[str, Any]) -> "Plan":
    from holdctl.plan import store

    if bread is not None or any(value not in (None, ()) for value in options.values()):
        raise ConfigError("--show shows a plan as it was kept; leave out the formula and --save.")
    return store.load(number)


def _made(
    bread: Path | None, options: dict[str, Any], settings: "Settings | None", keep: bool, units: str
) -> "Plan":
    from holdctl.cli.evening import evening_of
    from holdctl.clock import SystemClock
    from holdctl.plan import learned, store
    from holdctl.plan.make import make

    options["mix_temp"] = celsius(options["mix_temp"], units)
    evening = evening_of(settings, options, units)
    made = make(_bread(bread, options), settings, SystemClock().utc_ms(), learned.load(), evening)
    return store.save(made) if keep else made


def _bread(path: Path | None, given: dict[str, Any]) -> "Bread":
    """Return the bread of the file, or of the options; scald, batch and name may be given over a file's."""
    from holdctl.plan import options, reading

    formula = ("flour", "water", "hydration", "salt", "yeast", "others")
    if path is None:
        others = [{"name": n, **options.amount(f"--{n}", given[n])} for n in ("salt", "yeast") if given[n]]
        others += [options.ingredient(text) for text in given["others"]]
        data = options.table(given["flour"], given["water"], given["hydration"], others)
    else:
        both = [name for name in formula if given[name] not in (None, ())]
        if both:
            raise ConfigError(
                f"--{both[0].replace('others', 'with')}: the formula is in {path}; change it there."
            )
        data = reading.parse(path)
    if given["name"]:
        data["name"] = given["name"]
    if given["scald_of"]:
        options.scald_only(data, given["scald_of"])
    options.change(data, "scald", {key: given[key] for key in ("share", "ratio", "increase", "malt")})
    options.change(data, "mixing", {"mix_c": given["mix_temp"]})
    sizes = {"total_g": "total", "flour_g": "flour_mass", "pieces": "pieces", "piece_g": "piece"}
    options.change(data, "batch", {key: given[name] for key, name in sizes.items()})
    return reading.bread(data, str(path) if path else "This formula")


def _hand_out(
    made: "Plan", units: str, html: Path | None, picture: Path | None, as_json: bool, kept: bool
) -> None:
    from holdctl.plan.card import card
    from holdctl.watch.words import Look

    shown = card(made, Look(units="F" if units == "F" else "C").text, units)
    if html is not None:
        from holdctl.plan.page import write

        write(shown, html)
    if picture is not None:
        from holdctl.plan.picture import draw

        draw(shown, picture)
    if as_json:
        import msgspec

        say_json(msgspec.to_builtins(made))
        return
    from holdctl.plan.text import render

    click.echo(render(shown, _rows(int(kept))), nl=False)


def _rows(said: int) -> int | None:
    """Return the rows of the screen, less those for prompt and last word; None where nobody looks at a screen."""
    import shutil

    return shutil.get_terminal_size().lines - 1 - said if sys.stdout.isatty() else None


COMMANDS = (plan,)
