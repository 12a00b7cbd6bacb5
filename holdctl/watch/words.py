"""How the live screen writes temperatures, times and texts: in the user's unit, local time, the terminal's letters."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Literal

from holdctl.events import Phase

Units = Literal["C", "F"]

PHASE_WORDS = {
    Phase.NONE: "running",
    Phase.SETTLING: "settling",
    Phase.COME_UP: "come-up",
    Phase.HOLD: "holding",
    Phase.PROMPT: "waiting for you",
    Phase.FALLING: "falling",
    Phase.HOT_HOLDING: "hot holding",
    Phase.COOLING: "cooling",
}
"""How a screen says what a running hold is doing."""

_CELSIUS = re.compile(r"(-?\d+(?:\.\d+)?) °C")
_KELVIN = re.compile(r"(\d+(?:\.\d+)?) K\b")
_ASCII = {
    "°": "", "±": "+-",
    "–": "-", "—": "-", "−": "-", "…": "...", "→": "->", "“": '"', "”": '"', "’": "'", "·": "|", "×": "x",
}  # fmt: skip


def fahrenheit(value_c: float) -> float:
    """Return °F of °C."""
    return value_c * 1.8 + 32


@dataclass(frozen=True, slots=True)
class Look:
    """What the eye in front of the screen wants."""

    units: Units = "C"
    plain: bool = False
    """ASCII only: for terminals that can't show more."""
    zone: tzinfo | None = None
    """Of the clock times; None: the machine's own."""

    def number(self, value_c: float | None) -> str:
        """Return a temperature without its unit, one decimal; dashes for none."""
        if value_c is None:
            return "--.-"
        value = fahrenheit(value_c) if self.units == "F" else value_c
        return f"{value:.1f}"

    def temp(self, value_c: float | None) -> str:
        """Return a measured or estimated temperature, `65.0 °C`."""
        return f"{self.number(value_c)} °{self.units}"

    def difference(self, value_k: float) -> str:
        """Return a difference of temperatures, `6.2 K` or `11.2 °F`."""
        return f"{value_k:.1f} K" if self.units == "C" else f"{value_k * 1.8:.1f} °F"

    def plus_minus(self, sd_k: float) -> str:
        """Return two standard deviations of an estimate, `±0.4`; empty where none was given."""
        if sd_k <= 0:
            return ""
        value = 2 * sd_k * (1.8 if self.units == "F" else 1)
        return f"±{value:.1f}" if value < 9.95 else f"±{value:.0f}"

    def limit(self, value_c: float) -> str:
        """Return a temperature that somebody chose, `62 °C`: no decimals that were not given."""
        value = fahrenheit(value_c) if self.units == "F" else value_c
        return f"{round(value, 1):g} °{self.units}"

    def time(self, utc_ms: float) -> str:
        """Return the local clock time, `03:40`."""
        return self._local(utc_ms).strftime("%H:%M")

    def span_of_time(self, early_utc_ms: float, late_utc_ms: float) -> str:
        """Return local clock times, `05:10–05:40`, rounded outwards: to 5 min for a span of 20 min or more."""
        step_ms = 300_000 if late_utc_ms - early_utc_ms >= 1_200_000 else 60_000
        early = self.time(early_utc_ms // step_ms * step_ms)
        late = self.time(-(-late_utc_ms // step_ms) * step_ms)
        return f"about {early}" if early == late else f"{early}–{late}"

    def day(self, utc_ms: float) -> str:
        """Return the local date, `2026-01-31`."""
        return self._local(utc_ms).strftime("%Y-%m-%d")

    def second_of_day(self, utc_ms: float) -> int:
        """Return the seconds since local midnight."""
        at = self._local(utc_ms)
        return at.hour * 3600 + at.minute * 60 + at.second

    def text(self, text: str) -> str:
        """Return a text as this terminal can show it: no control characters, temperatures in the user's unit."""
        if self.units == "F":
            text = _CELSIUS.sub(lambda m: self.limit(float(m[1])), text)
            text = _KELVIN.sub(lambda m: f"{float(m[1]) * 1.8:g} °F", text)
        if self.plain:
            text = "".join(_ASCII.get(char, char) for char in text)
            text = text.encode("ascii", "replace").decode()
        return "".join(char if char.isprintable() else " " for char in text)

    def _local(self, utc_ms: float) -> datetime:
        return datetime.fromtimestamp(utc_ms / 1000, UTC).astimezone(self.zone)


def span(seconds: float) -> str:
    """Return a length of time as `4 h`, `1 h 52 min`, `12 min`, `35 s`; rounded down to its last unit."""
    if seconds < 60:
        return f"{max(0, int(seconds))} s"
    minutes = int(seconds // 60)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"
