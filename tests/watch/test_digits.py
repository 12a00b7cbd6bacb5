import pytest

from holdctl.watch.digits import large


def test_a_temperature_is_drawn_as_blocks() -> None:
    assert large("65.0") == [
        "██████  ██████      ██████",
        "██      ██          ██  ██",
        "██████  ██████      ██  ██",
        "██  ██      ██      ██  ██",
        "██████  ██████  ██  ██████",
    ]


def test_half_blocks_make_it_three_rows_high() -> None:
    assert large("65.0", "small") == ["█▀▀ █▀▀   █▀█", "█▀█ ▀▀█   █ █", "▀▀▀ ▀▀▀ ▀ ▀▀▀"]


def test_double_is_twice_as_wide_and_twice_as_high() -> None:
    once, twice = large("-12.5"), large("-12.5", "double")
    assert twice == ["".join(char * 2 for char in row) for row in once for _ in range(2)]


@pytest.mark.parametrize("size", ["small", "normal", "double"])
def test_plain_digits_are_ascii(size: str) -> None:
    rows = large("0123456789.-", size, plain=True)  # type: ignore[arg-type]
    assert "".join(rows).isascii()
    assert rows == ["0123456789.-"] if size == "small" else len(rows) in (5, 10)


def test_no_two_digits_look_the_same() -> None:
    assert len({tuple(large(digit)) for digit in "0123456789-. "}) == 13


@pytest.mark.parametrize("size", ["small", "normal", "double"])
def test_all_rows_are_of_one_length(size: str) -> None:
    assert len({len(row) for row in large("--.-", size)}) == 1  # type: ignore[arg-type]


def test_what_has_no_glyph_is_left_out() -> None:
    assert large("6x5") == large("65")
