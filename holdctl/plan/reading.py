"""Read a bread: `bread.toml`, or the options of the command line, into an exact formula and the wish for its scald."""

import difflib
import tomllib
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import msgspec

from holdctl.config.problems import problems
from holdctl.errors import ConfigError
from holdctl.paste.amounts import HUNDRED, exact, text
from holdctl.paste.flours import COMPOSITIONS, USUAL_INCREASE, USUAL_RATIO, Composition, composition
from holdctl.paste.formula import FlourPart, Formula, Ingredient, Into, check
from holdctl.paste.scalding import Wish, scaled
from holdctl.paste.weighing import Scale
from holdctl.plan.bread import Batch, Bread, FlourEntry, IngredientEntry
from holdctl.settings import Flour

USUAL_SHARE_PERCENT = 15.0
"""Share where none is asked for (common practice)."""


def parse(path: Path) -> dict[str, Any]:
    """Return the table of a bread file. Raises ConfigError where it can't be read or is not TOML."""
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{path} is not valid TOML: {error}. Mend that line and try again.") from None
    except FileNotFoundError:
        raise ConfigError(
            f"There is no file {path}; `holdctl plan --example > {path}` writes one to start from."
        ) from None
    except UnicodeDecodeError:
        raise ConfigError(f"{path} can't be read: save it as UTF-8 and try again.") from None
    except OSError as error:
        raise ConfigError(f"{path} can't be read ({error.strerror}): look at its permissions.") from None


def bread(data: dict[str, Any], origin: str) -> Bread:
    """Return the typed bread. Raises ConfigError with everything that is wrong, named by key."""
    found = problems(data, Bread)
    if not found:
        read = msgspec.convert(data, Bread)
        found = list(_contradictions(read))
        if not found:
            return read
    head = f"{origin} can't be used" + (f" ({len(found)} problems)" if len(found) > 1 else "") + ":"
    raise ConfigError("\n  ".join([head, *found]) if len(found) > 1 else f"{head} {found[0]}")


def formula(read: Bread) -> tuple[Formula, Wish]:
    """Return the exact formula in the size asked for and the wish for its scald. Raises ConfigError."""
    in_grams = all(entry.grams is not None for entry in read.flour)
    flour_g = sum((exact(e.grams or 0) for e in read.flour), Fraction(0)) if in_grams else HUNDRED
    if flour_g <= 0:
        raise ConfigError("A formula needs more than 0 g of flour; give a flour its mass.")
    flours = tuple(_flour(entry, flour_g) for entry in read.flour)
    ingredients = tuple(_ingredient(entry, flour_g) for entry in read.ingredient)
    dry = Formula(flour_g, flours, Fraction(0), ingredients)
    base = check(Formula(flour_g, flours, _water(read, dry), ingredients))
    wanted = wish(read)
    return _sized(base, wanted, read.batch, in_grams), wanted


def wish(read: Bread) -> Wish:
    """Return what the scald is to be, in exact parts."""
    entry = read.scald
    share = USUAL_SHARE_PERCENT if entry.share is None else entry.share
    return Wish(
        exact(share) / HUNDRED,
        None if entry.ratio is None else exact(entry.ratio),
        None if entry.increase is None else exact(entry.increase) / HUNDRED,
        exact(entry.malt) / HUNDRED,
    )


def scale(read: Bread) -> Scale:
    """Return what the scales read."""
    entry = read.scale
    return Scale(exact(entry.step_g), exact(entry.fine_step_g), exact(entry.fine_below_g))


def _sized(base: Formula, wanted: Wish, batch: Batch, in_grams: bool) -> Formula:
    if batch.flour_g is not None:
        return base.with_flour(exact(batch.flour_g))
    if batch.total_g is not None:
        return scaled(base, wanted, exact(batch.total_g))
    if batch.piece_g is not None and batch.pieces is not None:
        return scaled(base, wanted, batch.pieces * exact(batch.piece_g))
    if not in_grams:
        raise ConfigError(
            "Percentages don't say how much: give [batch] total_g, flour_g, or pieces and piece_g "
            "(--total, --flour-mass, --pieces and --piece)."
        )
    return base


def _flour(entry: FlourEntry, flour_g: Fraction) -> FlourPart:
    stand_in = _like(entry)
    ratio = exact(USUAL_RATIO[stand_in] if entry.ratio is None else entry.ratio)
    points = exact(USUAL_INCREASE[stand_in] if entry.increase is None else entry.increase)
    part = (exact(entry.grams) if entry.grams is not None else exact(entry.percent or 0)) / flour_g
    weight = None if entry.in_scald is None else exact(entry.in_scald)
    return FlourPart(entry.name, part, ratio, points / HUNDRED, made_of(entry), stand_in, weight)


def known(name: str) -> Flour | None:
    """Return the known flour of this name."""
    return Flour(name) if name in [flour.value for flour in Flour] else None


def made_of(entry: FlourEntry) -> Composition:
    """Return what a flour is made of, by its label or as the known one. Raises ValueError for an impossible label."""
    label = entry.composition
    if label is None:
        return COMPOSITIONS[_like(entry)]
    return composition(label.water, label.protein, label.fat, label.carbohydrate, label.fibre, label.ash)


def _like(entry: FlourEntry) -> Flour:
    return entry.like or known(entry.name) or Flour.WHITE_WHEAT


def _ingredient(entry: IngredientEntry, flour_g: Fraction) -> Ingredient:
    part = exact(entry.grams) / flour_g if entry.grams is not None else exact(entry.percent or 0) / HUNDRED
    return Ingredient(entry.name, part, exact(entry.moisture) / HUNDRED, Into(entry.into))


def _water(read: Bread, dry: Formula) -> Fraction:
    water = read.water
    if water.grams is not None:
        return exact(water.grams) / dry.flour_g
    if water.percent is not None:
        return exact(water.percent) / HUNDRED
    return exact(water.hydration or 0) / HUNDRED - dry.brought


def _contradictions(read: Bread) -> Iterable[str]:
    """Yield a sentence for each pair of keys that don't go together."""
    yield from _one_each(read)
    in_percent = [e.name for e in read.flour if e.percent is not None]
    if in_percent and len(in_percent) < len(read.flour):
        yield "flour: some are in grams, some in percent; give all in one of them."
    in_grams = [e.name for e in read.ingredient if e.grams is not None]
    if read.water.grams is not None:
        in_grams.append("water")
    if in_percent and in_grams:
        yield f"{', '.join(in_grams)}: in grams, but the flour in percent; give all in percent, or the flour in grams."
    for entry in read.flour:
        yield from _own(entry)
    yield from _batch(read.batch)


def _one_each(read: Bread) -> Iterable[str]:
    water = read.water
    if sum(v is not None for v in (water.grams, water.percent, water.hydration)) != 1:
        yield "water: give exactly one of grams, percent and hydration."
    for table, entry in [("flour", e) for e in read.flour] + [("ingredient", e) for e in read.ingredient]:
        if (entry.grams is None) == (entry.percent is None):
            yield f"{table} {entry.name}: give either grams or percent."


def _own(entry: FlourEntry) -> Iterable[str]:
    if entry.like is None and known(entry.name) is None:
        names = [flour.value for flour in Flour]
        near = difflib.get_close_matches(entry.name, names, n=1)
        if entry.ratio is None or entry.increase is None or entry.composition is None:
            yield (
                f"flour {entry.name}: {_known(names, near)} For a flour of your own say which it is like "
                "(like = …), or give its ratio, increase and composition."
            )
    if entry.composition is not None:
        try:
            made_of(entry)
        except ValueError as error:
            yield f"flour {entry.name}.composition: {error}."


def _known(names: list[str], near: list[str]) -> str:
    return f"did you mean “{near[0]}”?" if near else f"known are {', '.join(names)}."


def _batch(batch: Batch) -> Iterable[str]:
    sizes = [batch.total_g, batch.flour_g, batch.piece_g]
    if sum(size is not None for size in sizes) > 1:
        yield "batch: total_g, flour_g and piece_g each set the size; give one of them."
    if batch.piece_g is not None and batch.pieces is None:
        yield f"batch: pieces of {text(exact(batch.piece_g))} g, but how many? Give pieces."
