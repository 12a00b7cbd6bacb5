"""A label in lines: one content for screen, page and picture."""

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo

from holdctl.food.say import in_units
from holdctl.review.label import Label
from holdctl.review.words import look_of

WIDE = 46
"""Letters in a line of the label on a screen."""
NO_USE_BY = "NONE"


@dataclass(frozen=True, slots=True)
class Lines:
    """What stands where: a title, named rows, one of them large, and what has to be said below."""

    title: str
    under: tuple[str, ...]
    rows: tuple[tuple[str, str], ...]
    loud: tuple[tuple[str, str], ...]
    foot: tuple[str, ...]


def lines_of(label: Label, zone: tzinfo, units: str) -> Lines:
    """Return the label's lines, times of `zone`, temperatures in `units`, "C" or "F"."""

    def say(text: str) -> str:
        # A tub is read by whoever opens the fridge: what a code writes in both units stands in both for °C.
        return look_of(units).text(text if units == "C" else in_units(text, units))

    under = [f"batch {label.batch}"] if label.batch else []
    under += [label.bakery] if label.bakery else []
    rows = [("flour", _flour(label)), ("made", f"{_when(label.made_utc, zone)}, {label.made_from}")]
    if label.cooled_utc is not None:
        rows.append(("cooled", f"{_when(label.cooled_utc, zone)}, all of it {label.cooled_to} or below"))
    rows.append(("cooling", f"{label.cooling_words} ({label.cooling_source})"))
    if label.stored:
        last = label.stored[-1]
        at = datetime.fromtimestamp(last.at_utc_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        rows.append(("stored", f"{last.words}, {_when(at, zone)}"))
    rows.append(("record", f"hold {label.hold}{', SIMULATED' if label.simulated else ''}"))
    loud = (("KEEP AT", f"{label.keep} or below"), ("USE BY", _day(label.use_by)))
    return Lines(
        say(label.name), tuple(map(say, under)), _said(rows, say),
        _said(loud, say), tuple(map(say, _foot(label))),
    )  # fmt: skip


def _said(
    rows: "list[tuple[str, str]] | tuple[tuple[str, str], ...]", say: Callable[[str], str]
) -> tuple[tuple[str, str], ...]:
    return tuple((name, say(value)) for name, value in rows)


def _flour(label: Label) -> str:
    if label.flour is None:
        return "not told"
    usual = " (usual)" if label.usual else ""
    return f"{label.flour.replace('-', ' ')}, flour : water 1 : {label.ratio:g}{usual}"


def _when(iso_utc: str, zone: tzinfo) -> str:
    return datetime.fromisoformat(iso_utc).astimezone(zone).strftime("%a %Y-%m-%d %H:%M %Z")


def _day(iso: str | None) -> str:
    return NO_USE_BY if iso is None else date.fromisoformat(iso).strftime("%a %Y-%m-%d")


def _foot(label: Label) -> list[str]:
    """Return why there is no use by or what has to be said of it, what it rests on, and who decides."""
    said = [f"No use by. {label.why}" if label.use_by is None else label.why]
    if label.use_by is not None:
        said.append(
            f"{label.guide} {label.days} days at {label.keep} or below, the day it was made is day 1."
        )
    said += [f"{label.code}: cold holding {label.code_limit}."] if label.code_limit else []
    said.append(f"That it looks and smells right proves nothing. {label.authority}")
    return [text for text in said if text]


def text_of(lines: Lines) -> str:
    """Return the label for a screen, in a frame."""
    inside = WIDE - 4
    body = [
        *_wrap(lines.title.upper(), inside),
        *(part for text in lines.under for part in _wrap(text, inside)),
        "",
    ]
    for name, value in lines.rows:
        body += _row(name, value, inside)
    body.append("")
    for name, value in lines.loud:
        body += _row(name, value, inside)
    body.append("")
    body += [part for text in lines.foot for part in _wrap(text, inside)]
    edge = f"+{'-' * (WIDE - 2)}+"
    return "\n".join([edge, *(f"| {line:<{inside}} |" for line in body), edge])


def _row(name: str, value: str, width: int) -> list[str]:
    return textwrap.wrap(
        value, width, initial_indent=f"{name:<9}", subsequent_indent=" " * 9, break_on_hyphens=False
    )


def _wrap(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""]
