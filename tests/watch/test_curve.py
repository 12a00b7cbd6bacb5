from datetime import timedelta, timezone

import pytest

from holdctl.watch.curve import LEFT, RIGHT, Grid, Marks, curve
from holdctl.watch.snapshot import Bin
from holdctl.watch.words import Look

PLAIN = Look(plain=True, zone=timezone(timedelta(hours=1)))
MARKS = Marks((62.0, 67.0), 57.0)
START_UTC_MS = 1_767_214_800_000  # 21:00 UTC, 22:00 in the zone above


def bins(*values: float, step_ms: int = 15_000, first_ms: int = 0) -> list[Bin]:
    return [Bin(first_ms + k * step_ms, value, value) for k, value in enumerate(values)]


def plot(shown: list[Bin], now_ms: int, size: tuple[int, int] = (77, 12), look: Look = PLAIN) -> list[str]:
    return curve(shown, MARKS, now_ms, START_UTC_MS, size, look)


def cells(lines: list[str]) -> list[str]:
    return [line[LEFT:-RIGHT] for line in lines[:-1]]


def test_a_plot_has_the_size_asked_for() -> None:
    lines = plot(bins(*[65.0] * 400), 6_000_000)
    assert len(lines) == 12
    assert max(map(len, lines)) <= 77


def test_band_and_limit_stand_at_their_temperatures() -> None:
    lines = plot(bins(65.0), 0)
    row = {
        name: next(k for k, line in enumerate(lines) if line.startswith(name))
        for name in ("   67", "   62", "   57")
    }
    assert ". . ." in lines[row["   67"]] and "band" in lines[row["   67"]]
    assert ". . ." in lines[row["   62"]] and "band" in lines[row["   62"]]
    assert "--  --" in lines[row["   57"]] and "code 57" in lines[row["   57"]]
    assert row["   67"] < row["   62"] < row["   57"]


def test_the_curve_lies_between_the_lines_that_it_lies_between() -> None:
    lines = plot(bins(*[64.5] * 100), 1_500_000)
    stars = {k for k, line in enumerate(cells(lines)) if "*" in line}
    dots = [k for k, line in enumerate(cells(lines)) if ". ." in line]
    assert stars and all(dots[0] < k < dots[1] for k in stars)


def test_a_peak_of_one_bin_is_not_lost() -> None:
    values = [65.0] * 2000
    values[1000] = 80.0
    lines = plot(bins(*values), 30_000_000)
    assert "*" in cells(lines)[0]
    assert lines[0].startswith("   80")


def test_a_gap_is_not_bridged() -> None:
    both = bins(*[80.0] * 20) + bins(*[60.0] * 20, first_ms=900_000)
    top = [line.index("*") for line in cells(plot(both, 1_800_000)) if "*" in line]
    between = [line for line in cells(plot(both, 1_800_000))[1:-4] if "*" in line]
    assert len(top) == 2
    assert between == []


def test_neighbours_are_joined() -> None:
    steep = bins(*[80.0] * 20, *[60.0] * 20)
    rows = [k for k, line in enumerate(cells(plot(steep, 600_000))) if "*" in line]
    assert rows == list(range(rows[0], rows[-1] + 1))


@pytest.mark.parametrize(("hours", "shown"), [(0.2, 0.5), (0.7, 1), (3.5, 4), (7, 8), (11.9, 12)])
def test_the_span_grows_in_steps_and_shows_the_whole_night(hours: float, shown: float) -> None:
    now_ms = int(hours * 3_600_000)
    line = cells(plot(bins(65.0, 65.0) + bins(65.0, first_ms=now_ms), now_ms))
    columns = [k for row in line for k, char in enumerate(row) if char == "*"]
    assert min(columns) == 0
    assert max(columns) == pytest.approx(hours / shown * 60, abs=1)


def test_beyond_twelve_hours_the_newest_twelve_are_shown() -> None:
    now_ms = 20 * 3_600_000
    lines = plot(bins(90.0, 90.0) + bins(65.0, first_ms=now_ms - 15_000), now_ms)
    assert not lines[0].startswith("   90")
    assert lines[-1].split()[0] == "|06:00"


def test_the_axis_tells_local_clock_times_at_round_minutes() -> None:
    axis = plot(bins(65.0), 0)[-1]
    assert axis.split() == ["|22:00", "|22:05", "|22:10", "|22:15", "|22:20", "|22:25", "|22:30"]
    assert axis.index("|22:00") == LEFT
    late = curve(bins(65.0), MARKS, 0, START_UTC_MS + 420_000, (77, 12), PLAIN)[-1]
    assert late.split()[0] == "|22:10"
    assert late.index("|22:10") == pytest.approx(LEFT + 6, abs=1)


def test_braille_keeps_four_rows_of_dots_in_a_line() -> None:
    grid = Grid(10, 2, 60.0, 67.0, 2, 4)
    assert [grid.y(value) for value in (67.0, 66.0, 63.0, 60.0)] == [0, 1, 4, 7]
    grid.trace([Bin(0, 60.0, 60.0)], 0, 1000)
    assert grid.rows() == [" " * 10, "⡀" + " " * 9]


def test_plain_plots_are_ascii() -> None:
    assert "".join(plot(bins(*range(20, 80)), 900_000)).isascii()


@pytest.mark.parametrize("size", [(30, 12), (77, 2), (0, 0)])
def test_where_there_is_no_room_there_is_no_plot(size: tuple[int, int]) -> None:
    assert plot(bins(65.0), 0, size) == []


def test_before_the_first_reading_the_lines_stand_alone() -> None:
    lines = plot([], 0)
    assert len(lines) == 12
    assert "*" not in "".join(lines)


def test_fahrenheit_labels_the_lines() -> None:
    look = Look(units="F", plain=True, zone=PLAIN.zone)
    text = "\n".join(plot(bins(65.0), 0, look=look))
    assert "152.6" in text and "143.6" in text and "code 134.6" in text
