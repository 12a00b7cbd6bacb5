"""Whether a paste counts as a food that time and temperature must control (TCS), by pH and water activity.

Food Code 1-201.10, interaction tables A (heat-treated and then packaged) and B (not heat-treated, or heat-treated and
not packaged: an open scald). Read in the adoptions of Tennessee (0080-04-09-.01) and Texas (25 TAC 228.2); sureness
high. A heat-treated plant food is TCS by definition unless shown otherwise; "product assessment required" is not shown,
so it counts as TCS here, and so does what was not measured. The local authority decides.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from holdctl.food.measured import Measured

SOUR_PH = 4.2
"""Below this Table B calls even an open heated paste non-TCS, whatever its water activity."""


class Cell(StrEnum):
    """What a table says."""

    NON_TCS = "non-TCS"
    ASSESS = "product assessment required"


_N, _P = Cell.NON_TCS, Cell.ASSESS


@dataclass(frozen=True, slots=True)
class Table:
    """One table: columns by pH, rows by water activity; `None` ends the last one."""

    name: str
    source: str
    ph: tuple[float, ...]
    """Upper ends of all columns but the last."""
    ph_first_open: bool
    """Whether the first column ends below its figure (Table B: pH < 4.2) instead of at it."""
    rows: tuple[tuple[float, bool, tuple[Cell, ...]], ...]
    """Upper end of the water activity, whether it is excluded, and the cells."""

    def cell(self, ph: float, aw: float) -> Cell:
        """Return what the table says of a pH and a water activity (0 to 1)."""
        column = 0
        for k, top in enumerate(self.ph):
            over = ph >= top if k == 0 and self.ph_first_open else ph > top
            column += over
        for top, excluded, cells in self.rows:
            if aw < top or (aw == top and not excluded):
                return cells[column]
        return self.rows[-1][2][column]


TABLE_A = Table(
    name="Table A",
    source="FDA Food Code 2022, 1-201.10, Table A",
    ph=(4.6, 5.6),
    ph_first_open=False,
    rows=(
        (0.92, False, (_N, _N, _N)),
        (0.95, False, (_N, _N, _P)),
        (1.0, False, (_N, _P, _P)),
    ),
)
TABLE_B = Table(
    name="Table B",
    source="FDA Food Code 2022, 1-201.10, Table B",
    ph=(4.2, 4.6, 5.0),
    ph_first_open=True,
    rows=(
        (0.88, True, (_N, _N, _N, _N)),
        (0.90, False, (_N, _N, _N, _P)),
        (0.92, False, (_N, _N, _P, _P)),
        (1.0, False, (_N, _P, _P, _P)),
    ),
)


@dataclass(frozen=True, slots=True)
class Standing:
    """What the measurements say of the paste."""

    tcs: bool
    """Whether it counts as TCS food here."""
    cell: Cell | None
    """What the table says; None where pH was not measured and water activity does not decide alone."""
    text: str
    """In one sentence, with what was assumed."""
    source: str


def standing(measured: Sequence[Measured]) -> Standing:
    """Return how the last measurements stand; what was not measured counts as worst (pH 7, water activity 1).

    Table A where the last pH or water activity was entered of packaged paste, else Table B, the stricter one.
    """
    figures = [m.value for m in measured if m.value.ph is not None or m.value.aw is not None]
    packaged = bool(figures) and figures[-1].packaged
    table = TABLE_A if packaged else TABLE_B
    ph = next((m.value.ph for m in reversed(measured) if m.value.ph is not None), None)
    aw = next((m.value.aw for m in reversed(measured) if m.value.aw is not None), None)
    if ph is None and aw is None:
        text = "Neither pH nor water activity was measured: the paste counts as TCS food, as heated plant food does."
        return Standing(True, None, text, table.source)
    cell = table.cell(7.0 if ph is None else ph, 1.0 if aw is None else aw)
    seen = [f"pH {ph:g}" if ph is not None else "pH not measured, taken as 7"]
    seen += [f"water activity {aw:g}" if aw is not None else "water activity not measured, taken as 1"]
    seen += ["told as heated and then packaged"] if packaged else []
    words = f"{', '.join(seen)}: {table.name} says {cell.value}"
    if cell is Cell.NON_TCS:
        soured = ph is not None and ph < SOUR_PH and not packaged
        text = f"{words}{', a soured paste' if soured else ''}; from that measurement on."
        return Standing(False, cell, text, table.source)
    return Standing(True, cell, f"{words}; without an assessment it counts as TCS food.", table.source)
