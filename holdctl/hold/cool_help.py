"""What would help a cooling that is too slow: the same physics, run for what the baker could do now."""

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from holdctl.hold.cool_order import CoolOrder, paste_of
from holdctl.hold.resume import spoken
from holdctl.paste.cooling import Form, Stand, cool_down
from holdctl.settings import Settings

THIN_CM = 2.0
"""A layer that is called thin: what fits into a flat tray (this project's choice)."""
_WORTH_S = 120.0
"""Less than this sooner is not worth the work."""


@dataclass(frozen=True, slots=True)
class _Way:
    words: str
    order: CoolOrder


def helps(settings: Settings, now: CoolOrder, hottest_c: float, to_c: float, left_s: float) -> str:
    """Return the least work that brings all paste to `to_c` within `left_s`, in words; else the quickest way.

    All paste is taken to be as hot as its hottest, °C.
    """
    best: tuple[float, str] | None = None
    for way in _ways(now, now.form(settings)):
        takes_s = _takes_s(settings, way, hottest_c, to_c)
        if takes_s is None:
            continue
        words = f"{way.words}: {to_c:g} °C in about {spoken(round(takes_s * 1000))}"
        if takes_s <= left_s:
            return f"Do now: {words}, in time."
        if best is None or takes_s < best[0] - _WORTH_S:
            late = f", {spoken(round((takes_s - left_s) * 1000))} too late" if left_s > 0 else ""
            best = (takes_s, f"Quickest now: {words}{late}.")
    return "" if best is None else best[1]


def _ways(now: CoolOrder, form: Form) -> Iterator[_Way]:
    """Yield what could be done, the least work first."""
    thick = form.depth_m > 1.25 * THIN_CM / 100
    cold = msgspec.structs.replace
    if now.stand is Stand.ROOM:
        yield _Way("put it into the fridge", cold(now, stand=Stand.FRIDGE))
    if now.stand is not Stand.ICE_BATH:
        yield _Way("stand it in an ice bath", cold(now, stand=Stand.ICE_BATH))
    if thick and now.stand is not Stand.ROOM:
        yield _Way(f"spread it {THIN_CM:g} cm deep", cold(now, depth_cm=THIN_CM))
    if thick:
        words = f"spread it {THIN_CM:g} cm deep in a tray on ice"
        yield _Way(words, cold(now, stand=Stand.ICE_BATH, depth_cm=THIN_CM))
    words = "stir it in an ice bath" if now.stand is not Stand.ICE_BATH else "stir it"
    yield _Way(words, cold(now, stand=Stand.ICE_BATH, stirred=True))


def _takes_s(settings: Settings, way: _Way, hottest_c: float, to_c: float) -> float | None:
    where = way.order.around(settings)
    start_c = max(hottest_c, where.beside_c + 1.0)
    form = way.order.form(settings)
    curve = cool_down(paste_of(settings), form, start_c, where, stirred=way.order.stirred)
    return curve.when(to_c)
