"""Numbers of a plan as a baker reads them."""

import re
from datetime import UTC, datetime
from decimal import Decimal

GLUE = "\u00a0"
_UNIT = re.compile(r"(\d) (?=°|%|(?:g|cm|h|min|K|kWh)\b)")


def glued(text: str) -> str:
    """Return a text in which no line may be broken between a number and its unit."""
    return _UNIT.sub(rf"\1{GLUE}", text)


def number(value: float, digits: int = 1) -> str:
    """Return a number without needless zeros, `digits` at most after the point."""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def grams(value: float) -> str:
    """Return a mass as it was rounded, `4.5 g`, `150 g`."""
    return f"{number(value, 3)} g"


def mass(value: float, step_g: float) -> str:
    """Return a mass with the decimals of its scale, `18.0 g` where tenths are read; a dash for nothing."""
    digits = max(0, -int(Decimal(repr(step_g)).normalize().as_tuple().exponent))
    return f"{value:.{digits}f} g" if value else "–"


def temp(value_c: float) -> str:
    """Return a temperature, `65 °C` or `64.5 °C`."""
    return f"{number(value_c)} °C"


def span(seconds: float) -> str:
    """Return a length of time to the minute, `4 h 05 min`, `4 h`, `12 min`."""
    hours, minutes = divmod(round(seconds / 60), 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"


def clock(utc_ms: float) -> str:
    """Return the local clock time, `03:40`."""
    return _local(utc_ms).strftime("%H:%M")


def day(utc_ms: float) -> str:
    """Return the local date and time, `2026-01-31 22:05`."""
    return _local(utc_ms).strftime("%Y-%m-%d %H:%M")


def _local(utc_ms: float) -> datetime:
    return datetime.fromtimestamp(utc_ms / 1000, UTC).astimezone()
