"""Settings that contradict each other: every one is found before the relay may ever close."""

from collections.abc import Iterator

from holdctl.settings import PASTE_PLACES, Place, Settings, Step

_ABOVE_K = 2.0
"""A high limit must stand at least this far above what control may ask for, or it would trip in a good hold."""

_UNDER_CEILING_K = 1.0
_WALL_ABOVE_K = 1.0
"""A wall that may not be this much warmer than the set temperature can't bring the paste there."""


def contradictions(settings: Settings) -> list[str]:
    """Return one sentence for each contradiction, with the keys it concerns; empty where there is none."""
    return [
        *_probes(settings),
        *_range(settings),
        *_steps(settings),
        *_limits(settings),
        *_way(settings),
        *_relay(settings),
    ]


def _probes(settings: Settings) -> Iterator[str]:
    channels = [probe.channel for probe in settings.probe]
    for channel in sorted({c for c in channels if channels.count(c) > 1}):
        yield f"probe: channel {channel} is given twice; give each probe its own."
    if not any(probe.place in PASTE_PLACES for probe in settings.probe):
        yield "probe: none sits in the paste; place one at “core”, “mid” or “edge”."
    if sum(probe.place is Place.WALL for probe in settings.probe) > 1:
        yield "probe: two sit at the wall; one decides, so give the other another place."


def _range(settings: Settings) -> Iterator[str]:
    low, high = settings.programme.every_part
    if low >= high:
        yield f"programme.every_part: {low:g} is not below {high:g}; write [lower, upper]."
    ceiling = settings.programme.ceiling
    if ceiling < high:
        yield (
            f"programme.ceiling: {ceiling:g} °C is below the upper every_part {high:g} °C; raise it or lower the range."
        )
    top = settings.limits.paste_high_c - _ABOVE_K
    for temp in (t for t in _asked(settings) if ceiling - _UNDER_CEILING_K < t <= top):
        yield (
            f"programme.ceiling: {ceiling:g} °C leaves less than {_UNDER_CEILING_K:g} K above the set temperature "
            f"{temp:g} °C, so the wall could never bring the paste there; raise the ceiling."
        )
    control = settings.control
    floor = low if control.wall_floor_c is None else control.wall_floor_c
    wall = high if control.wall_ceiling_c is None else control.wall_ceiling_c
    if floor >= wall:
        yield f"control: the wall's floor {floor:g} °C is not below its ceiling {wall:g} °C."
    if control.wall_ceiling_c is not None:
        for temp in (t for t in _asked(settings) if t + _WALL_ABOVE_K > wall):
            yield (
                f"control.wall_ceiling_c: {wall:g} °C is less than {_WALL_ABOVE_K:g} K above the set temperature "
                f"{temp:g} °C, which the paste could then never reach."
            )


def _asked(settings: Settings) -> list[float]:
    """Return every set temperature of the programme, °C."""
    programme = settings.programme
    return [t for t in (*(step.to for step in programme.step), programme.after.to) if t is not None]


def _steps(settings: Settings) -> Iterator[str]:
    low, high = settings.programme.every_part
    for number, step in enumerate(settings.programme.step, start=1):
        where = f"programme.step {number}"
        yield from _kind(where, step)
        if step.hold_for is not None and step.to is not None and not low < step.to < high:
            yield f"{where}: to = {step.to:g} is outside every_part {low:g}…{high:g}, so its clock could never run."
    after = settings.programme.after
    if (
        after.then == "hot-holding"
        and after.to is None
        and not any(s.hold_for for s in settings.programme.step)
    ):
        yield "programme.after: hot holding needs `to`, since no step holds a temperature."


def _kind(where: str, step: Step) -> Iterator[str]:
    if [step.hold_for is not None, step.prompt is not None, step.fall_to is not None].count(True) != 1:
        yield f"{where}: give exactly one of `for` (with `to`), `prompt` or `fall_to`."
    if step.hold_for is not None and step.to is None:
        yield f"{where}: a hold needs `to`, its set temperature."
    if step.prompt is None and any(value is not None for value in (step.due, step.wait, step.unanswered)):
        yield f"{where}: `due`, `wait` and `unanswered` belong to a prompt."
    if step.due is not None and step.to is None:
        yield f"{where}: a prompt with `due` needs `to`, which the relay keeps until then."
    if step.fall_to is not None and step.to is not None:
        yield f"{where}: a fall has no `to`: the relay is off until `fall_to` is reached."
    if step.unanswered in ("go-on", "stop") and step.wait is None:
        yield f"{where}: say with `wait` how long the prompt waits before “{step.unanswered}”."


def _limits(settings: Settings) -> Iterator[str]:
    limits, control = settings.limits, settings.control
    high = settings.programme.every_part[1]
    ceiling = high if control.wall_ceiling_c is None else control.wall_ceiling_c
    asked = _asked(settings)
    for top, name in (
        (limits.paste_high_c, "limits.paste_high_c"),
        (limits.wall_high_c, "limits.wall_high_c"),
    ):
        for temp in (t for t in asked if t + _ABOVE_K > top):
            yield f"{name}: {top:g} °C is less than {_ABOVE_K:g} K above the set temperature {temp:g} °C."
    for top, name, below, what in (
        (limits.wall_high_c, "wall_high_c", ceiling, "the wall's ceiling"),
        (limits.paste_high_c, "paste_high_c", high, "the upper every_part,"),
    ):
        if below + _ABOVE_K > top:
            yield f"limits.{name}: {top:g} °C is less than {_ABOVE_K:g} K above {what} {below:g} °C."


def _way(settings: Settings) -> Iterator[str]:
    """The ceiling of the way up against the limit that trips, where the range itself keeps clear of it."""
    programme, top = settings.programme, settings.limits.paste_high_c
    if programme.every_part[1] + _ABOVE_K <= top < programme.ceiling + _ABOVE_K:
        yield (
            f"limits.paste_high_c: {top:g} °C is less than {_ABOVE_K:g} K above the programme's ceiling "
            f"{programme.ceiling:g} °C."
        )


def _relay(settings: Settings) -> Iterator[str]:
    warmer = settings.warmer
    if warmer.min_on_s + warmer.min_off_s > warmer.cycle_s:
        yield (
            f"warmer.cycle_s: {warmer.cycle_s:g} s is shorter than min_on_s + min_off_s = "
            f"{warmer.min_on_s + warmer.min_off_s:g} s."
        )
