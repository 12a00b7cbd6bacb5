"""What the baker reads: 80 columns, no colour needed, rules beside windows, never a word of safety."""

import re
from collections.abc import Callable
from io import StringIO

import pytest
from rich.console import Console

from holdctl.errors import StoreError
from holdctl.record.query import Record
from holdctl.review.compare import compare, render_comparison
from holdctl.review.figures import figures
from holdctl.review.report import render_report
from holdctl.review.words import clock, difference, duration, temp


def shown(renderable: object) -> str:
    out = StringIO()
    Console(file=out, width=80, color_system=None, force_terminal=False, legacy_windows=False).print(
        renderable
    )
    return out.getvalue()


def test_the_report_fits_80_columns(broken: Record) -> None:
    text = shown(render_report(figures(broken, 1), broken.events(1)))
    assert max(map(len, text.splitlines())) <= 80
    assert len(text.splitlines()) < 150


def test_every_review_ends_with_the_cautions(calm: Record, broken: Record) -> None:
    for record in (calm, broken):
        for text in (shown(render_report(figures(record, 1))), shown(render_comparison(compare(record, 3)))):
            flat = " ".join(text.split())
            for word in ("Mains near water", "residual-current", "fire", "independent thermal cut-off",
                         "Scalding", "authority decides"):  # fmt: skip
                assert word in flat.partition("Cautions.")[2]


def test_windows_stand_with_rule_limit_and_source(broken: Record) -> None:
    text = " ".join(shown(render_report(figures(broken, 1))).split())
    assert "hot holding (recommendation, sureness high): Food kept hot is held at 57 °C or above." in text
    assert "3-501.16(A)(1)" in text
    assert "hot holding 1:30 to 1:45, 15 min, limit 57 °C, not recorded" in text
    assert "worst 51.1 °C (5.9 K off)" in text
    assert (
        "do: reheat it, every part to 74 °C for 15 s within 2 h (FDA Food Code 2022, 3-403.11(A), (D))"
        in text
    )
    assert "holdctl disposition unsafe-window used|reworked|discarded --hold 1" in text


def test_nothing_is_ever_called_safe(calm: Record, broken: Record) -> None:
    for record in (calm, broken):
        text = shown(render_report(figures(record, 1), record.events(1)))
        assert not re.search(r"\bsafe(ly|ty)?\b", text, re.IGNORECASE)


def test_fahrenheit_is_for_the_screen_alone(calm: Record) -> None:
    text = shown(render_report(figures(calm, 1), units="F")).partition("Cautions.")[0]
    assert "149.0 °F" in text  # 65 °C
    assert "Food kept hot is held at 135 °F or above." in " ".join(text.split())
    assert not re.search(r"\d °C", text)


def test_words_of_an_event_are_not_read_as_markup(make_record: Callable[..., Record], calm: Record) -> None:
    from dataclasses import replace

    events = [replace(calm.events(1)[0], text="[bold]malt[/bold] [/]")]
    assert "[bold]malt[/bold] [/]" in shown(render_report(figures(calm, 1), events))


def test_the_comparison_has_a_column_a_hold(make_record: Callable[..., Record]) -> None:
    record = make_record({}, {"hours": 7.0}, {"broken": True})
    assert [f.hold for f in compare(record, 2).holds] == [2, 3]
    text = shown(render_comparison(compare(record, 5)))
    assert text.splitlines()[0].split() == ["hold", "1", "2", "3"]
    assert max(map(len, text.splitlines())) <= 80


def test_nothing_to_compare_says_how_to_begin(make_record: Callable[..., Record]) -> None:
    with pytest.raises(StoreError, match="no hold to compare yet: start one"):
        compare(make_record(), 3)


def test_times_and_temperatures_read_well() -> None:
    assert [duration(s) for s in (None, 0, 59, 60, 3599, 3600, 36_300)] == [
        "–", "0 s", "59 s", "1 min", "1 h 00 min", "1 h 00 min", "10 h 05 min"]  # fmt: skip
    assert [clock(59), clock(3661), clock(3661, seconds=True)] == ["0:00", "1:01", "1:01:01"]
    assert [temp(65, "F"), temp(None), difference(1, "F")] == ["149.0 °F", "–", "1.80 °F"]
