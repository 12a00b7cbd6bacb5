"""Numbers as a baker reads them."""

from contextlib import suppress
from datetime import UTC, datetime

from holdctl.errors import ConfigError
from holdctl.events import RequestKind
from holdctl.food.measured import read_subject as read_measured
from holdctl.hold.cool_order import read_order
from holdctl.record.chain import Head
from holdctl.record.rows import EventRow
from holdctl.watch.words import Look, span

_LAST_READINGS_S = 5.0
OF_FIGURES = (
    "Figures come from the probes and estimates named above; what they mean for food, the authority decides."
)


def temp(value_c: float | None, units: str = "C", digits: int = 1) -> str:
    """Return a temperature in the user's unit, a dash for none."""
    if value_c is None:
        return "–"
    value = value_c if units == "C" else value_c * 1.8 + 32
    return f"{value:.{digits}f} °{units}"


def head_words(head: Head) -> str:
    """Return what a record's chain is known by: `verify` finds what has been changed before it, or cut off."""
    return f"Record: {head.rows} rows, head {head.hex}"


def with_doubt(value_c: float | None, sd_k: float | None, units: str = "C") -> str:
    """Return an estimate with two standard deviations and without its unit, `64.5 ±0.4`; a dash for none."""
    if value_c is None:
        return "–"
    look = look_of(units)
    return f"{look.number(value_c)} {look.plus_minus(sd_k or 0.0)}".rstrip()


def look_of(units: str) -> Look:
    """Return how texts and estimates are written in a unit."""
    return Look(units="F" if units == "F" else "C")


def difference(value_k: float | None, units: str = "C", digits: int = 2) -> str:
    """Return a temperature difference: kelvin, or Fahrenheit degrees."""
    if value_k is None:
        return "–"
    return f"{value_k:.{digits}f} K" if units == "C" else f"{value_k * 1.8:.{digits}f} °F"


def duration(seconds: float | None) -> str:
    """Return a length of time as `4 h 05 min`, `12 min`, `35 s`; a dash for none."""
    if seconds is None:
        return "–"
    if seconds < 60:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


def clock(hold_s: float, seconds: bool = False) -> str:
    """Return a time since the start of the hold as `3:05` (hours and minutes) or `3:05:20`."""
    whole = int(hold_s)
    text = f"{whole // 3600}:{whole // 60 % 60:02d}"
    return f"{text}:{whole % 60:02d}" if seconds else text


def said(event: EventRow, units: str = "C") -> str:
    """Return an event in words, temperatures in the user's unit; a request with who asked."""
    if event.kind == "request":
        return look_of(units).text(f"{event.name}, asked by {_asked(event)}")
    return look_of(units).text(event.text or event.name)


def _asked(event: EventRow) -> str:
    """Return who asked and for what: what a program wrote into a request's subject in words."""
    by, subject = event.detail.get("by"), str(event.detail.get("subject") or "")
    with suppress(ConfigError):
        if event.name == RequestKind.COOL:
            return f"{by}: {read_order(subject).words()}"
        found = read_measured(subject) if event.name == RequestKind.NOTE else None
        if found is not None:
            return f"{by}: {', '.join(part for part in (found.text, found.words()) if part)}"
    return event.text


def counted(n: int, one: str) -> str:
    """Return `1 gap`, `2 gaps`."""
    return f"{n} {one}" if n == 1 else f"{n} {one}s"


def local_time(utc_ms: float, form: str = "%Y-%m-%d %H:%M %Z") -> str:
    """Return UTC as the machine's local time with its zone, `2026-01-31 22:05 CET`."""
    return datetime.fromtimestamp(utc_ms / 1000, UTC).astimezone().strftime(form)


def local_of(iso_utc: str, form: str = "%Y-%m-%d %H:%M %Z") -> str:
    """Return the UTC of a figure (ISO 8601) as the machine's local time with its zone."""
    return datetime.fromisoformat(iso_utc).astimezone().strftime(form)


def earned(credit_s: float, asked_s: float) -> str:
    """Return `2 h 50 min of 4 h`: hold time earned of what the programme asks for."""
    if not asked_s:
        return span(credit_s)
    # The reading that ends a step is the next step's already: a second of each step is in no sample.
    done = asked_s - credit_s < _LAST_READINGS_S
    return f"{span(asked_s if done else credit_s)} of {span(asked_s)}"
