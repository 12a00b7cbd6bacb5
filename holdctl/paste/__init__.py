"""The paste itself: what flour and water are made of, and how they carry heat. Numbers in, numbers out."""

from holdctl.paste.flours import COMPOSITIONS, USUAL_RATIO, Composition
from holdctl.paste.thermal import (
    Properties,
    flour_properties,
    paste_properties,
    water_cp_j_kgk,
)

__all__ = [
    "COMPOSITIONS",
    "USUAL_RATIO",
    "Composition",
    "Properties",
    "flour_properties",
    "paste_properties",
    "water_cp_j_kgk",
]
