"""What a baker measured on the paste: pH, water activity, °Brix, mass, taste, its mix. Pure values, their written form.

A measurement enters as a request of a hold (`holdctl note --ph 4.1`), is kept as a note whose detail holds the values,
and is read back from there by the review, by the Food Code's tables (`tcs`) and beside the saccharification index.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from holdctl.errors import ConfigError

MARK = "measured"
"""First word of a request's subject that carries values, and the key of them in the note's detail."""


_OPTIONS = {"mix_c": "mix-peak", "mix_s": "mix-at", "storage_c": "storage", "dough_c": "dough",
            "dough_water_c": "dough-water", "dough_scald_c": "dough-scald", "malt_s": "malt"}  # fmt: skip
"""Values that an option of another name gives."""
_BOUNDS = {"<=": "at most", ">=": "at least", ">": "more than"}
_MALT = {"none": "no malt", "with the flour": "malt in with the flour", "now": "malt in"}
Moment = Annotated[float, Meta(ge=-172_800.0, le=172_800.0)]
"""s since the start of the hold, negative before it."""


class Measurement(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One or several figures taken at one moment; None where not measured."""

    ph: Annotated[float, Meta(ge=0.0, le=14.0)] | None = None
    """pH of the paste."""
    aw: Annotated[float, Meta(gt=0.0, le=1.0)] | None = None
    """Water activity, 0 to 1."""
    packaged: bool = False
    """That pH and water activity are of paste that was closed up after heating, so that nothing gets in any more."""
    brix: Annotated[float, Meta(ge=0.0, le=100.0)] | None = None
    """What a refractometer reads, °Brix: g of sucrose-like matter in 100 g."""
    mass_g: Annotated[float, Meta(gt=0.0, le=1e6)] | None = None
    """Mass of the paste, g."""
    storage_c: Annotated[float, Meta(ge=-30.0, le=60.0)] | None = None
    """What a thermometer read where the paste is stored, °C."""
    sour_from_s: Moment | None = None
    """A souring that is told afterwards began then,"""
    sour_to_s: Moment | None = None
    """and ended then."""
    of_hold: Annotated[int, Meta(ge=1)] | None = None
    """The hold whose paste it is, where it is entered during another one."""
    taste: Annotated[str, Meta(max_length=200)] = ""
    """In the taster's words. A heated, held paste only: never taste one that stood in the warm undeclared."""
    mix_c: Annotated[float, Meta(ge=0.0, le=105.0)] | None = None
    """The paste's temperature when flour and hot water had just come together, °C."""
    mix_s: Moment | None = None
    """When that was."""
    mix_from: Annotated[str, Meta(max_length=60)] = ""
    """Where `mix_c` is from, as `plan 3`; empty: measured."""
    dough_c: Annotated[float, Meta(ge=0.0, le=60.0)] | None = None
    """The final dough's temperature after mixing, °C."""
    dough_water_c: Annotated[float, Meta(ge=0.0, le=105.0)] | None = None
    """The water that went into it, °C, where it was not as planned."""
    dough_scald_c: Annotated[float, Meta(ge=0.0, le=105.0)] | None = None
    """The scald that went into it, °C, where it was not as planned."""
    malt: Literal["none", "with the flour", "now"] | None = None
    """That no malt with living amylases went in, or with the flour before the hot water, or at this moment."""
    malt_s: Moment | None = None
    """When malt went in, where it was later than the flour and not at this moment."""
    text: Annotated[str, Meta(max_length=400)] = ""
    """What else there is to say."""

    @property
    def empty(self) -> bool:
        """Whether it holds no figure, no taste and nothing of malt."""
        figures = (
            self.ph,
            self.aw,
            self.brix,
            self.mass_g,
            self.mix_c,
            self.dough_c,
            self.malt,
            self.malt_s,
            self.storage_c,
        )
        return not self.taste and self.sour_from_s is None and all(v is None for v in figures)

    def words(self) -> str:
        """Return it as a baker reads it: `pH 4.1, 22.5 °Brix, 812 g, taste: sweet`."""
        parts = [f"pH {self.ph:g}"] if self.ph is not None else []
        parts += [f"water activity {self.aw:g}"] if self.aw is not None else []
        parts += ["packaged after heating"] if self.packaged else []
        parts += [f"{self.brix:g} °Brix"] if self.brix is not None else []
        parts += [f"{self.mass_g:g} g"] if self.mass_g is not None else []
        parts += (
            [f"mix {self.mix_c:g} °C{_when(self.mix_s)}{_from(self.mix_from)}"]
            if self.mix_c is not None
            else []
        )
        parts += [f"dough {self.dough_c:g} °C{self._dough_of()}"] if self.dough_c is not None else []
        parts += [f"malt in{_when(self.malt_s)}"] if self.malt_s is not None else []
        parts += [_MALT[self.malt]] if self.malt else []
        parts += [f"stored at {self.storage_c:g} °C"] if self.storage_c is not None else []
        parts += [f"soured from{_when(self.sour_from_s)}"] if self.sour_from_s is not None else []
        parts += [f"to{_when(self.sour_to_s)}"] if self.sour_to_s is not None else []
        parts += [f"paste of hold {self.of_hold}"] if self.of_hold is not None else []
        parts += [f"taste: {self.taste}"] if self.taste else []
        return ", ".join(parts)

    def _dough_of(self) -> str:
        told = (("water", self.dough_water_c), ("scald", self.dough_scald_c))
        said = [f"{name} at {value:g} °C" for name, value in told if value is not None]
        return f" ({', '.join(said)})" if said else ""

    def subject(self) -> str:
        """Return it as the subject of a request."""
        return f"{MARK} {msgspec.json.encode(self).decode()}"

    def detail(self) -> dict[str, Any]:
        """Return it as part of a note's detail."""
        return {MARK: msgspec.to_builtins(self)}


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A measurement with its moment."""

    at_s: float
    """s since the start of the hold."""
    by: str
    value: Measurement


def read_subject(subject: str) -> Measurement | None:
    """Return the measurement that a request's subject carries, None for a plain note.

    Raises ConfigError where it carries one that can't be.
    """
    mark, _, rest = subject.partition(" ")
    if mark != MARK or not rest.startswith("{"):
        return None
    try:
        found = msgspec.json.decode(rest, type=Measurement)
    except (msgspec.ValidationError, msgspec.DecodeError) as error:
        raise ConfigError(
            f"“{rest}” is no measurement ({error}): give it with `holdctl note --ph 4.1`."
        ) from None
    if found.empty:
        raise ConfigError(
            "Nothing was measured: give at least one of --ph, --aw, --brix, --mass-g, --mix-peak, --malt, --storage, "
            "--taste."
        )
    return found


def read_detail(detail: Mapping[str, Any]) -> Measurement | None:
    """Return the measurement in a note's detail, None where it holds none that this version knows."""
    try:
        return msgspec.convert(detail[MARK], Measurement) if MARK in detail else None
    except msgspec.ValidationError:
        return None


def checked(**values: Any) -> Measurement:
    """Return a measurement of what was given. Raises ConfigError that names what can't be."""
    try:
        return msgspec.convert({k: v for k, v in values.items() if v not in (None, "")}, Measurement)
    except msgspec.ValidationError as error:
        raise ConfigError(_wrong(str(error), values)) from None


def _wrong(said: str, values: Mapping[str, Any]) -> str:
    """Return in a sentence what the option's value may be; `said` is msgspec's own word for it."""
    what, _, where = said.replace("`", "").partition(" - at $.")
    option, value = _OPTIONS.get(where, where.replace("_", "-")), values.get(where)
    if where in ("taste", "text"):
        return f"The {where} is too long: {what.rpartition(' ')[2]} letters at most."
    if where in ("mix_s", "malt_s", "sour_from_s", "sour_to_s"):
        return "That moment is more than two days from the hold's begin: say another."
    bound, _, limit = what.removeprefix("Expected float ").partition(" ")
    if bound not in _BOUNDS:
        return f"--{option}: {what}."
    return f"--{option} has to be {_BOUNDS[bound]} {float(limit):g}; it is {value}. Measure again."


def _when(moment_s: float | None) -> str:
    if moment_s is None:
        return ""
    minutes = round(abs(moment_s) / 60)
    side = "before the hold began" if moment_s < 0 else "into the hold"
    return f" {minutes} min {side}" if minutes else " as the hold began"


def _from(source: str) -> str:
    return f" (from {source})" if source else ""
