"""How long the steps are in which a night is run ahead: short where hot and cold meet, long in the hold."""

FIRST_STEP_S, STEP_S, LATE_STEP_S, LID_STEP_S = 20.0, 60.0, 120.0, 10.0
FIRST_S = 1200.0
"""So long the first step, anew after a set temperature or a fall begins: hot paste and a cold wall change each other
fast."""
SETTLED_S = 1800.0
"""In range for so long is for good."""
LID_K = 1.0
"""While a lid is colder by more than this steps are short."""


def step_s(time_s: float, calm_s: float, since_s: float | None, lid_short_k: float) -> float:
    """Return the length of the next step, s: `calm_s` is when things are calm, `since_s` since when all is in range."""
    if lid_short_k > LID_K:
        return LID_STEP_S
    if time_s < calm_s:
        return FIRST_STEP_S
    settled = since_s is not None and time_s - since_s >= SETTLED_S
    return LATE_STEP_S if settled else STEP_S
