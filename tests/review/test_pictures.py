"""Pictures: right form, the same bytes each time, readable without colour, drawn from what was recorded."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from holdctl.errors import JobError
from holdctl.record.query import Record
from holdctl.review import picture
from holdctl.review.lines import averaged, extremes, shares
from holdctl.review.night import read_night
from holdctl.review.overlay import draw_comparison
from holdctl.review.picture import draw_hold

MAGIC = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_a_picture_is_the_same_bytes_each_time(broken: Record, tmp_path: Path, suffix: str) -> None:
    one, two = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    draw_hold(broken, 1, one)
    draw_hold(broken, None, two)
    assert one.read_bytes().startswith(MAGIC[suffix])
    assert one.read_bytes() == two.read_bytes()


def test_an_overlay_is_drawn_the_same_each_time(make_record: Callable[..., Record], tmp_path: Path) -> None:
    record = make_record({}, {"hours": 7.0}, {"broken": True})
    for name in ("one.png", "two.png"):
        draw_comparison(record, 3, tmp_path / name)
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()


def test_a_hold_without_samples_is_drawn_too(tmp_path: Path, make_record: Callable[..., Record]) -> None:
    draw_hold(make_record({"hours": 0.0}), 1, tmp_path / "empty.png")
    assert (tmp_path / "empty.png").exists()


def test_another_form_or_a_missing_folder_is_one_sentence(calm: Record, tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"let its name end in .png, .svg, .pdf"):
        draw_hold(calm, 1, tmp_path / "night.bmp")
    with pytest.raises(JobError, match="Can't write the picture"):
        draw_hold(calm, 1, tmp_path / "nowhere" / "night.png")


def texts(figure: object) -> str:
    from matplotlib.text import Text

    return "\n".join(t.get_text() for t in figure.findobj(Text))  # type: ignore[attr-defined]


def test_limit_rule_range_and_events_stand_in_the_picture(broken: Record) -> None:
    words = texts(picture._draw(read_night(broken, 1), "C"))
    for word in ("hot-holding limit 57 °C: FDA Food Code 2022, 3-501.16(A)(1)", "setpoint",
                 "asked for every part: 62 to 67 °C", "coldest to hottest paste (estimate)", "paste probe",
                 "wall probe", "duty asked", "below the limit, or not recorded", "trip: Long probe open: relay off.",
                 "request: next, asked by baker", "simulated warmer"):  # fmt: skip
        assert word in words
    assert "still latched" not in words


def test_lines_stay_apart_in_greyscale() -> None:
    from matplotlib.colors import to_rgb

    # relative luminance, ITU-R BT.709 weights
    grey = [
        float(np.dot(to_rgb(c), (0.2126, 0.7152, 0.0722)))
        for c in (picture.PASTE, picture.WALL, picture.BAND)
    ]
    assert grey[1] - grey[0] > 0.2
    assert grey[2] - grey[1] > 0.2


def test_thinning_loses_no_peak_and_breaks_at_gaps() -> None:
    t = np.arange(0, 40_000.0)
    values = np.full(t.shape, 65.0)
    values[12_345], values[23_456] = 91.0, 20.0
    line = extremes(t, values)
    assert len(line.hours) <= 2 * 1000
    assert (line.values.max(), line.values.min()) == (91.0, 20.0)
    assert np.all(np.diff(line.hours) > 0)
    gap = extremes(np.array([0.0, 1.0, 100.0, 101.0]), np.array([1.0, 2.0, 3.0, 4.0]))
    assert np.isnan(gap.values).sum() == 1


def test_means_skip_what_is_missing() -> None:
    t = np.arange(0, 4000.0)
    values = np.where((t > 1000) & (t < 1500), np.nan, 2.0)
    line = averaged(t, values, 8)
    assert line.values[0] == 2.0
    assert np.isnan(averaged(t, np.full(t.shape, np.nan), 8).values).all()


def test_shares_are_of_the_whole_span_and_leave_gaps_out() -> None:
    t = np.concatenate((np.arange(0, 1000.0), np.arange(3000, 4001.0)))
    steps = np.diff(t, append=t[-1:])
    line = shares(t, np.ones(t.shape) * steps, 4)
    assert line.values == pytest.approx([0.999, 0.0, 0.0, 1.0])


def test_no_page_of_a_report_loses_a_line_at_its_foot():
    """The last of the longest page's lines stands above the margin, and all lines are on some page."""
    from rich.text import Text

    from holdctl.review.pages import LINES, as_lines, report_pages

    report = Text("\n".join(f"line {k} Ågq" for k in range(3 * LINES)))
    pages = report_pages(report, "a head")
    shown = []
    for page in pages:
        body = page.texts[1]
        box = body.get_window_extent(page.canvas.get_renderer())
        assert box.y0 >= 0.03 * page.bbox.height
        assert box.x1 <= 0.97 * page.bbox.width
        shown += body.get_text().split("\n")
    assert shown == as_lines(report)


def test_a_section_that_begins_near_the_foot_begins_on_the_next_page():
    from rich.text import Text

    from holdctl.review.pages import LINES, report_pages

    lines = [f"line {k}" for k in range(LINES - 5)] + ["", *(f"more {k}" for k in range(20))]
    first, second = report_pages(Text("\n".join(lines)), "a head")
    assert first.texts[1].get_text().rstrip().endswith(f"line {LINES - 6}")
    assert second.texts[1].get_text().startswith("more 0")
