"""Corrective actions in words. What the law has no number for is this project's advice and says so.

HACCP: a deviation has a corrective action and the disposition of the product, both recorded (Codex CXC 1-1969; from
memory). The disposition is entered with `holdctl disposition unsafe-window used|reworked|discarded`.
"""

from holdctl.food.rules import FoodCode, Reheating
from holdctl.food.say import degrees, lasting

DISCARD_AFTER_S = 4 * 3600.0
"""More than this between 5 and 57 °C outside a declared cooling: discard; this project's advice, after 3-501.19."""
ENTER = "enter what you did with `holdctl disposition`"


def reheat_words(code: FoodCode) -> str:
    """Return how the code has food heated again for hot holding; empty where it has no rule for it."""
    found = code.of(Reheating)
    if not found:
        return ""
    rule = found[0]
    dwell = f" for {rule.dwell_s:g} s" if rule.dwell_s else ""
    within = f" within {lasting(rule.within_s)}" if rule.within_s else ""
    return f"every part to {degrees(rule.to_c, rule.to_f)}{dwell}{within} ({rule.source})"


def below_hot(code: FoodCode, below_s: float) -> str:
    """Return what to do with paste that was below the hot-holding limit for so long in all."""
    if below_s > DISCARD_AFTER_S:
        return f"discard it: more than {lasting(DISCARD_AFTER_S)} below the limit (this project's advice); {ENTER}"
    again = reheat_words(code)
    heat = f"reheat it, {again}, or discard it" if again else "ask your authority, or discard it"
    return f"{heat}; {ENTER}"


def not_reheated(code: FoodCode) -> str:
    """Return what to do with a chilled scald that did not reach what reheating asks."""
    return f"heat {reheat_words(code)} before it is held, or discard it; {ENTER}"


def not_heated(to_c: float) -> str:
    """Return what to do with a fresh mix that did not come up."""
    return f"bring every part to {to_c:g} °C or discard it; {ENTER}"


def not_cooled(code: FoodCode) -> str:
    """Return what to do with paste that cooled too slowly."""
    again = reheat_words(code)
    heat = f"reheat it once, {again}, and cool it faster" if again else "ask your authority"
    return f"discard it, or, where your authority lets you, {heat}: a thinner layer, an ice bath; {ENTER}"


def time_over(at_end: str) -> str:
    """Return what to do when a time is over."""
    return f"{at_end or 'discard'} it; {ENTER}"


WARMED = f"chill it at once; discard it if you can't say for how long it was warm; {ENTER}"
STILL_SOUR = (
    "hold it hot, chill it, or let it sour on under a plan your authority has agreed to; measure the pH "
    "again and enter it "
    "with `holdctl note --ph`"
)
RECALIBRATE = "check the probe in melting ice, correct its offset and enter the error that is left"
