"""The middle of the screen: the large number with figures by place beside it, what stands, and the food code's line."""

from holdctl.events import State
from holdctl.food.allowance import Allowance
from holdctl.food.say import in_units
from holdctl.food.windows import ZONE_C, ZONE_F
from holdctl.settings import Place, Probe
from holdctl.watch.cooling import cooling_food
from holdctl.watch.digits import Size, large
from holdctl.watch.relay import relay_words, state_words, welded
from holdctl.watch.snapshot import FoodFigures, Snapshot
from holdctl.watch.words import PHASE_WORDS, Look, span

WIDE = 41
"""Columns that two columns of figures need."""


def beside(shot: Snapshot, width: int, height: int, look: Look) -> list[str]:
    """Return the large number and, to its right, the figures."""
    digits = _digits(shot, width, height, look)
    digits[0] += f" °{look.units}"
    column = max(len(row) for row in digits) + 2
    spare = width - column - WIDE
    rows = _wide(shot, look, 11 + spare) if spare >= 0 else _narrow(shot, look)
    count = max(len(rows), len(digits))
    first = (count - len(rows)) // 2
    left = digits + [""] * (count - len(digits))
    right = [""] * first + rows + [""] * (count - len(rows) - first)
    return [f"{look.text(a):<{column}}{look.text(b)}" for a, b in zip(left, right, strict=True)]


def _digits(shot: Snapshot, width: int, height: int, look: Look) -> list[str]:
    number = look.number(None if shot.stale else shot.paste_c)
    size: Size = (
        "double" if width >= 110 and height >= 34 else "normal" if width >= 72 and height >= 18 else "small"
    )
    return large(number, size, plain=look.plain)


def _wide(shot: Snapshot, look: Look, most: int) -> list[str]:
    """Return what was read and asked in one column, what is estimated in another."""
    known, estimated = _known(shot, look), _estimated(shot, look)
    shown = [("estimated", "")] * bool(estimated) + estimated
    count = max(len(known), len(shown))
    column = min(most, max(11, *(len(name) for name, _ in known)))
    known += [("", "")] * (count - len(known))
    shown += [("", "")] * (count - len(shown))
    body = [f"{a[:column]:<{column}} {b:>9}  {c:<7} {d}" for (a, b), (c, d) in zip(known, shown, strict=True)]
    state = dict.fromkeys([*_target(shot, look), _words(shot), *_step(shot)])
    return [", ".join(state), *body, ", ".join([*_relay(shot), _last(shot)])]


def _narrow(shot: Snapshot, look: Look) -> list[str]:
    """Return the same in one column."""
    known, estimated = _known(shot, look), _estimated(shot, look)
    rows = [f"{name} {value}" for name, value in known] + [
        f"{name}, est. {value.strip()}" for name, value in estimated
    ]
    return [*_target(shot, look), *(_step(shot) or [_words(shot)]), *rows, *_relay(shot)]


def _known(shot: Snapshot, look: Look) -> list[tuple[str, str]]:
    rows = [(_name(probe), _value(shot.reading(probe), look)) for probe in shot.settings.probe]
    if not shot.heated:
        return rows
    asked = shot.sample.decision.wall_setpoint_c if shot.sample else None
    return [*rows, ("wall asked", "–" if asked is None else look.temp(asked))]


def _estimated(shot: Snapshot, look: Look) -> list[tuple[str, str]]:
    if shot.estimate is None:
        return []
    e = shot.estimate
    rows = [
        ("coldest", e.coldest_c, e.coldest_sd_k),
        ("mean", e.mean_c, e.mean_sd_k),
        ("hottest", e.hottest_c, e.hottest_sd_k),
    ]
    if shot.heated and not any(probe.place is Place.WALL for probe in shot.settings.probe):
        rows.append(("wall", e.wall_c, e.wall_sd_k))
    known = shot.known_estimate is not None
    return [(name, _with_doubt(value, sd_k, look) if known else " --.-") for name, value, sd_k in rows]


def _with_doubt(value_c: float, sd_k: float, look: Look) -> str:
    """Return an estimate with two standard deviations, without its unit: it stands beside the large number."""
    gap = "" if look.plain else " "  # "+-" takes a column more
    return f"{look.number(value_c):>5}{gap}{look.plus_minus(sd_k)}".rstrip()


def _target(shot: Snapshot, look: Look) -> list[str]:
    if shot.ended or not shot.heated:
        return []
    if shot.setpoint_c is None and shot.stale:
        return []  # nobody knows what the relay does
    return [relay_words(shot) if shot.setpoint_c is None else f"set {look.limit(shot.setpoint_c)}"]


def _words(shot: Snapshot) -> str:
    if shot.gone:
        return "no daemon"
    if shot.state is not State.RUNNING:
        return state_words(shot)
    if shot.lapsed:
        return "not heard from"
    return relay_words(shot) if any(alarm.holds for alarm in shot.alarms) else PHASE_WORDS[shot.phase]


def _step(shot: Snapshot) -> list[str]:
    if shot.state is not State.RUNNING or shot.ended or shot.cooling is not None:
        return []
    return [
        f"step {shot.step_index + 1} of {len(shot.settings.programme.step)}"
        if shot.step
        else "programme done"
    ]


def _name(probe: Probe) -> str:
    place = {Place.WALL: "wall", Place.AIR: "room air"}.get(probe.place, f"paste, {probe.place.value}")
    return probe.name or place


def _value(value: float | str, look: Look) -> str:
    return look.temp(value) if isinstance(value, float) else value


def _relay(shot: Snapshot) -> list[str]:
    if not shot.heated:
        return ["no warmer"]
    if shot.sample is None:
        return ["no lease given"]
    if shot.ended:
        return ["relay: lease ran out" if shot.sample.reading.relay else "relay off"]
    if shot.stale:
        return ["relay: lease ran out" if shot.lapsed else "relay not known"]
    duty = f"duty {100 * shot.sample.decision.duty:.0f} %"
    off = "reported off" if welded(shot) else "off"
    return [f"relay {'ON' if shot.sample.reading.relay else off}{_contact(shot)}", duty]


def _contact(shot: Snapshot) -> str:
    """Say where the contact is seen to be other than the relay's drive: welded, or burnt."""
    reading = shot.sample.reading if shot.sample else None
    if reading is None or reading.feedback is None or reading.feedback == reading.relay:
        return ""
    return " but LIVE behind it" if reading.feedback else " but nothing behind it"


def _last(shot: Snapshot) -> str:
    if shot.sample is None:
        return "no reading yet"
    if shot.ended:
        return "these are the last figures"
    return f"figures {span(shot.silent_s)} old" if shot.stale else f"read {span(shot.silent_s)} ago"


def food_text(shot: Snapshot, look: Look) -> str:
    """Return the food code's line: rule, source, how the coldest paste stands, what is left of a time, who decides."""
    if shot.cooling is not None and not shot.ended:
        return cooling_food(shot, look)
    if shot.cooled and not shot.heated:
        return look.text(f"Food code, cooling: {' '.join(shot.cooled)} Your local authority decides.")
    food = shot.food
    known = "not known" if food.coldest_known_c is None else look.temp(food.coldest_known_c)
    head = f"Food code: keep at {food.code.limit_text(look.units)} or above ({food.code.short_source})."
    stands = f"Coldest paste, errors counted, {known}, {_below(shot)}."
    return " ".join(
        [head, stands, *_allowed(shot, look), *_came_up(food, look), "Your local authority decides."]
    )


def _came_up(food: FoodFigures, look: Look) -> list[str]:
    if any(a.kind == "come-up" for a in food.allowances) or not food.zone_s + food.zone_unrecorded_s:
        return []
    low, high = ZONE_F if look.units == "F" else ZONE_C
    took = f"{span(food.zone_s)}{_unknown(food.zone_unrecorded_s)}"
    return [f"Come-up between {low:g} and {high:g} °{look.units}: {took}."]


def _allowed(shot: Snapshot, look: Look) -> list[str]:
    """Return what is left of each time that runs, the forecast beside a come-up's."""
    if shot.sample is None:
        return []
    found = []
    for one in shot.food.allowances:
        forecast = _in_time(shot, one, look) if one.kind in ("come-up", "reheating") else ""
        name = {"come-up": "Come-up: ", "reheating": "Reheating: "}.get(one.kind, "")
        text = look.text(in_units(f"{name}{one.text}{forecast}", look.units))
        found.append(f"{text[:1].upper()}{text[1:]}.")
    return found


def _in_time(shot: Snapshot, one: Allowance, look: Look) -> str:
    """Return when every part is foretold in range, and whether that is before the time is over."""
    told = shot.forecast
    if told is None or shot.ended:
        return ""
    if told.forecast.band_ms is None:
        return "; by the forecast it does not get there within a day"
    early, _, late = (told.utc_ms + ms for ms in told.forecast.band_ms)
    over = shot.now_utc_ms + one.left_s * 1000
    word = "in time" if late <= over else "too late: stir" if early > over else "perhaps too late"
    return f"; forecast {look.span_of_time(early, late)}, {word}"


def _below(shot: Snapshot) -> str:
    """Say how long it was below; time without a reading counts as below but was not seen."""
    food = shot.food
    if food.below_s <= 0 and food.below_now_s is None:
        if shot.sample is None:
            return "no reading yet"
        return "not there yet" if food.coming_up else "never below so far"
    if food.below_now_s is None:
        return _in_all(food)
    now_s, unrecorded_s = food.below_now_s, food.unrecorded_now_s
    if now_s - unrecorded_s < 1:
        now = f"no reading for {span(now_s)} now, which counts as below"
    else:
        now = f"BELOW it for {span(now_s)} now{_unknown(unrecorded_s)}"
    earlier = food.below_s - now_s >= 1
    return f"{now}; {_in_all(food)}" if earlier else now


def _in_all(food: FoodFigures) -> str:
    seen_s = food.below_s - food.unrecorded_s
    unrecorded = f"{span(food.unrecorded_s)} without a reading in all, counted as below"
    if seen_s < 1:
        return f"never seen below; {unrecorded}"
    seen = f"below it for {span(seen_s)} in all"
    return f"{seen}; {unrecorded}" if food.unrecorded_s >= 1 else seen


def _unknown(seconds: float) -> str:
    return f" ({span(seconds)} of it without a reading)" if seconds >= 1 else ""


def advice_line(shot: Snapshot, look: Look) -> list[str]:
    """Return the advice to stir with its worth; nothing where there is none now."""
    told = shot.advice
    if told is None:
        return []
    worth = [f"about {span(told.sooner_ms / 1000)} sooner"] * (told.sooner_ms >= 60_000)
    worth += [f"{look.difference(told.evener_k)} less between coldest and hottest"] * (told.evener_k >= 0.1)
    return [look.text(f"Stir now: {', '.join(worth)}." if worth else told.text)]
