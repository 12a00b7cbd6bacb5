"""docs/watch.md says what the screen does."""

from collections.abc import Callable
from pathlib import Path

from holdctl.watch import frame_json
from holdctl.watch.curve import SPANS_H
from tests.watch.conftest import screen
from tests.watch.nights import HOLD, Night

TEXT = (Path(__file__).parents[2] / "docs" / "watch.md").read_text("utf-8")


def test_every_key_of_the_json_is_documented(begin: Callable[..., Night]) -> None:
    night = begin(HOLD)
    night.steady(2)
    data = frame_json(screen(night).snapshot)
    table = TEXT.split("## JSON")[1]
    assert [key for key in (*data, *data["food"]) if f"`{key}`" not in table] == []


def test_the_frame_in_the_document_is_a_real_one() -> None:
    golden = (Path(__file__).parent / "golden" / "holding-80x24.txt").read_text("utf-8")
    shown = TEXT.split("```")[1].strip("\n")
    assert golden.startswith(shown)


def test_the_spans_of_the_curve_are_those_of_the_document() -> None:
    *first, last = (f"{hours:g}" for hours in SPANS_H)
    assert f"over {', '.join(first)} or {last} h" in TEXT
