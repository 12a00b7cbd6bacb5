"""The Food Code's tables of pH and water activity, cell by cell, and what unmeasured counts as."""

import pytest

from holdctl.food.measured import Measured, Measurement
from holdctl.food.tcs import TABLE_A, TABLE_B, Cell, standing

N, P = Cell.NON_TCS, Cell.ASSESS

# Food Code 1-201.10 Table A (heat-treated and then packaged), read in Tennessee 0080-04-09-.01 and Texas 25 TAC 228.2:
# rows <= 0.92, > 0.92 to 0.95, > 0.95; columns pH <= 4.6, > 4.6 to 5.6, > 5.6.
A = [(0.92, (N, N, N)), (0.95, (N, N, P)), (0.99, (N, P, P))]
# Table B (not heat-treated, or heat-treated and not packaged), same sources: rows < 0.88, 0.88 to 0.90, > 0.90 to 0.92,
# > 0.92; columns pH < 4.2, 4.2 to 4.6, > 4.6 to 5.0, > 5.0.
B = [
    (0.87, (N, N, N, N)),
    (0.88, (N, N, N, P)),
    (0.90, (N, N, N, P)),
    (0.91, (N, N, P, P)),
    (0.99, (N, P, P, P)),
]


@pytest.mark.parametrize(("aw", "cells"), A)
def test_table_a_is_the_published_one(aw, cells):
    assert tuple(TABLE_A.cell(ph, aw) for ph in (4.6, 5.6, 5.61)) == cells
    assert TABLE_A.cell(4.61, aw) is cells[1]


@pytest.mark.parametrize(("aw", "cells"), B)
def test_table_b_is_the_published_one(aw, cells):
    assert tuple(TABLE_B.cell(ph, aw) for ph in (4.19, 4.6, 5.0, 5.01)) == cells
    assert TABLE_B.cell(4.2, aw) is cells[1]


def entry(at_s: float = 0.0, **values: float | str | bool) -> Measured:
    return Measured(at_s=at_s, by="baker", value=Measurement(**values))


def test_what_nobody_measured_counts_as_tcs_food():
    told = standing(())
    assert told.tcs
    assert told.cell is None
    assert "Neither pH nor water activity was measured" in told.text


def test_a_plain_scald_needs_an_assessment_and_so_counts_as_tcs_food():
    told = standing([entry(ph=6.0, aw=0.99)])
    assert told.tcs
    assert told.cell is P
    assert "without an assessment it counts as TCS food" in told.text


def test_a_soured_scald_below_ph_4_2_is_told_apart_and_4_2_is_not_below():
    told = standing([entry(ph=6.0), entry(60.0, ph=4.1)])
    assert not told.tcs
    assert "a soured paste" in told.text
    assert "water activity not measured, taken as 1" in told.text
    assert standing([entry(ph=4.2)]).tcs


def test_the_last_measurement_counts():
    assert standing([entry(ph=4.1), entry(60.0, ph=5.2)]).tcs


def test_packaged_paste_goes_by_the_other_table_until_it_is_measured_open():
    assert standing([entry(ph=4.5)]).tcs
    packed = [entry(ph=4.5, packaged=True)]
    told = standing(packed)
    assert not told.tcs
    assert told.source.endswith("Table A")
    assert "told as heated and then packaged" in told.text
    assert standing([*packed, entry(60.0, taste="sour")]).source.endswith("Table A")
    opened = standing([*packed, entry(60.0, aw=0.97)])
    assert opened.tcs
    assert opened.source.endswith("Table B")


def test_nothing_is_called_safe():
    texts = [standing(m).text for m in ((), [entry(ph=4.1)], [entry(ph=6.0)], [entry(aw=0.8)])]
    assert "safe" not in " ".join(texts).lower()
