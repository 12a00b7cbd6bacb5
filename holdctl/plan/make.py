"""Put a plan together from a bread, and from what is known of kitchen and warmer. The time it was made is told."""

import msgspec

from holdctl.errors import ConfigError
from holdctl.food.codes import code_of
from holdctl.paste.amounts import nearest, text
from holdctl.paste.scalding import Conversion, convert, warnings
from holdctl.paste.weighing import Sheet, Sort, weigh
from holdctl.plan import reading
from holdctl.plan.bread import Bread, FlourEntry, digest
from holdctl.plan.cooling import cooling_part
from holdctl.plan.doughing import dough_part
from holdctl.plan.learned import NOTHING, Memory
from holdctl.plan.mixing import mix_part
from holdctl.plan.nightly import counted_on
from holdctl.plan.nights import Evening, night_parts
from holdctl.plan.plan import FormulaPart, Line, Plan, ScaldPart
from holdctl.settings import Settings


def make(
    bread: Bread,
    settings: Settings | None,
    now_utc_ms: int,
    memory: Memory = NOTHING,
    evening: Evening | None = None,
) -> Plan:
    """Return the plan of a bread; `settings` of the warmer where there is one, `memory` what was learnt before.

    With `evening` the night on that warmer is foretold.

    Raises ConfigError for what can't be.
    """
    formula, wish = reading.formula(bread)
    done = convert(formula, wish)
    sheet = weigh(done, reading.scale(bread))
    parts, scald = formula_part(done, sheet, bread), scald_part(done, sheet)
    mix = mix_part(bread, parts, scald, settings, memory)
    night, programme, left_out = None, None, tuple[str, ...]()
    if settings is not None and evening is not None:
        night, programme = night_parts(settings, scald, mix, evening)
        left_out = counted_on(settings.programme, code_of(settings))
    return Plan(
        name=bread.name,
        made_utc_ms=now_utc_ms,
        formula=parts,
        scald=scald,
        mix=mix,
        night=night,
        programme=programme,
        cooling=cooling_part(bread, scald, settings),
        dough=dough_part(bread, parts, scald, settings, memory),
        bread_digest=digest(bread),
        settings_digest=digest(settings) if settings else "",
        assumed=assumed(bread, done),
        warnings=(*warnings(done), *_of_the_scale(sheet), *left_out),
        bread=msgspec.json.decode(msgspec.json.encode(bread)),
    )


def formula_part(done: Conversion, sheet: Sheet, bread: Bread) -> FormulaPart:
    """Return the sheet as plain numbers."""
    pieces, scale = bread.batch.pieces, bread.scale
    whole_g = sheet.total_g()
    one_g = nearest(whole_g / pieces, reading.scale(bread).step(whole_g / pieces)) if pieces else None
    return FormulaPart(
        lines=tuple(
            Line(
                name=line.name,
                sort=line.sort.value,
                scald_g=float(line.scald_g),
                dough_g=float(line.dough_g),
                total_g=float(line.total_g),
                percent=float(line.percent),
            )
            for line in sheet.lines
        ),
        flour_g=float(sheet.total_g(Sort.FLOUR)),
        water_g=float(sheet.total_g(Sort.WATER)),
        whole_g=float(whole_g),
        hydration_before=float(done.formula.hydration * 100),
        hydration_after=float(done.hydration * 100),
        brought_g=float(
            nearest(done.formula.brought * done.formula.flour_g, reading.scale(bread).fine_step_g)
        ),
        pieces=pieces,
        piece_g=None if one_g is None else float(one_g),
        step_g=scale.step_g,
        fine_step_g=scale.fine_step_g,
        fine_below_g=scale.fine_below_g,
    )


def scald_part(done: Conversion, sheet: Sheet) -> ScaldPart:
    """Return the scald as plain numbers; raise ConfigError where the scale can't read it."""
    flour_g = sheet.scald_g(Sort.FLOUR)
    if not flour_g:
        raise ConfigError(
            f"The scald's flour is {text(done.wish.share * done.formula.flour_g, 2)} g, which your scale reads as "
            "nothing; make a larger batch, or set [scale] step_g."
        )
    mix = done.made_of
    return ScaldPart(
        flour_g=float(flour_g),
        water_g=float(sheet.scald_g(Sort.WATER)),
        malt_g=float(sheet.scald_g(Sort.MALT)),
        mass_g=float(sheet.scald_g()),
        share=float(done.wish.share * 100),
        ratio=float(done.ratio),
        increase=float(done.increase * 100),
        malt=float(done.wish.malt * 100),
        like=done.like,
        composition=(mix.water, mix.protein, mix.fat, mix.carbohydrate, mix.fibre, mix.ash),
    )


def assumed(bread: Bread, done: Conversion) -> tuple[str, ...]:
    """Return the keys of what common practice filled in."""
    scalded = {flour.name for flour, part in done.scalded if part}
    entries = [entry for entry in bread.flour if entry.name in scalded]
    found = ["scald.share"] if bread.scald.share is None else []
    if bread.scald.ratio is None and any(_left_out(entry, "ratio") for entry in entries):
        found.append("scald.ratio")
    if bread.scald.increase is None and any(_left_out(entry, "increase") for entry in entries):
        found.append("scald.increase")
    return tuple(found)


def _left_out(entry: FlourEntry, key: str) -> bool:
    return getattr(entry, key) is None


def _of_the_scale(sheet: Sheet) -> list[str]:
    """Return a sentence for each ingredient that the scale can't show."""
    exact = {line.name: line.exact_g for line in sheet.lines}
    return [
        f"{name}: {text(exact[name], 3)} g reads as 0 on your scale; make a larger batch, or dissolve more of it in "
        "water and weigh a part."
        for name in sheet.lost()
    ]
