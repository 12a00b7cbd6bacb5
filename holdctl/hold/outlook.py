"""What can be said before the night starts: of a chilled scald, and whether the steady profile keeps what is asked."""

from collections.abc import Iterator

from holdctl.control import Profile, steady_profile, told
from holdctl.events import Notice, NoticeKind
from holdctl.food.codes import code_of
from holdctl.food.judge_cold import stage_words
from holdctl.food.rules import FROM_COLD, Cooling, Reheating, declared_time
from holdctl.food.spells import falling_steps
from holdctl.hold.probes import ProbeSet
from holdctl.hold.programme import hot_holding_c
from holdctl.settings import Lid, Place, Settings


def outlook(settings: Settings) -> list[Notice]:
    """Return what is to be said, with what would mend each; empty where nothing is."""
    profile = steady_profile(told(settings))
    place = ProbeSet(settings.probe).paste.place
    notices: list[Notice] = []
    holds = {step.to for step in settings.programme.step if step.hold_for and step.to is not None}
    for setpoint in sorted(holds):
        notices += _every_part(settings, profile, place, setpoint)
        notices += _code_limit(settings, profile, place, setpoint)
    after = hot_holding_c(settings.programme)
    if settings.programme.after.then == "hot-holding" and after is not None and after not in holds:
        notices += _code_limit(settings, profile, place, after)
    return [*_chilled(settings), *_falls(settings), *notices]


def _falls(settings: Settings) -> Iterator[Notice]:
    """Say of a step that lets the paste fall below the hot-holding limit that it is judged as a cooling."""
    named = code_of(settings)
    for k in sorted(falling_steps(settings.programme, named.hot_holding_c)):
        rules = named.of(Cooling)
        stages = "; ".join(stage_words(stage) for rule in rules for stage in rule.stages)
        how = f"{stages} ({rules[0].source})" if stages else f"{named.name} has no numbers for it here"
        text = (
            f"Step {k + 1} lets the paste fall to {settings.programme.step[k].fall_to:g} °C: below "
            f"{named.hot_holding_c:g} °C that is a cooling, and judged as one: {how}. What stays below the limit after "
            "it is an unsafe window, unless you declare `holdctl sour` or `holdctl cool`."
        )
        yield Notice(NoticeKind.INFO, "planned-fall", text, {"step": k})


def _chilled(settings: Settings) -> Iterator[Notice]:
    """Say of a chilled scald what heating it again asks, and where this programme can't give it."""
    if settings.scald.begins != "chilled":
        return
    named = code_of(settings)
    timed = declared_time(named, settings.time_control) if settings.time_control in FROM_COLD else None
    if timed is not None:
        text = (
            f"Time alone controls this scald, as declared: {timed.text} ({timed.source}). The clock starts when the "
            "hottest paste, errors counted, leaves that temperature."
        )
        yield Notice(NoticeKind.INFO, "time-control", text, {"limit_s": timed.longest_s})
        return
    rules = named.of(Reheating)
    if not rules:
        text = (
            f"This scald was chilled. {named.name} has no figure here for heating it again: all time below "
            f"{named.hot_holding_c:g} °C counts against you. Ask your authority, or make it fresh."
        )
        yield Notice(NoticeKind.INFO, "chilled-scald", text)
    for rule in rules:
        ceiling, error = settings.programme.ceiling, ProbeSet(settings.probe).paste.error_k
        text = f"This scald was chilled: {rule.text} ({rule.source})."
        if rule.to_c + error > ceiling:
            dwell = f", for {rule.dwell_s:g} s" if rule.dwell_s else ""
            text += (
                f" Under this programme's ceiling of {ceiling:g} °C no part may get there: this hold can't meet the "
                f"rule. "
                f"Heat it to {rule.to_c:g} °C first, every part{dwell}, stirring, and let it fall to the hold (above "
                f"70 °C "
                "its amylases end), or discard it."
            )
        yield Notice(NoticeKind.INFO, "chilled-scald", text, {"to_c": rule.to_c, "ceiling_c": ceiling})


def _every_part(settings: Settings, profile: Profile, place: Place, setpoint: float) -> Iterator[Notice]:
    low, high = settings.programme.every_part
    ambient = settings.room.ambient_c
    coldest = profile.coldest_c(setpoint, place, ambient)
    hottest = profile.hottest_c(setpoint, place, ambient)
    if coldest < low:
        needed = profile.setpoint_for(low, place, ambient)
        text = (
            f"With {setpoint:g} °C at the probe the coldest paste would settle at {coldest:.1f} °C, under the "
            f"programme's {low:g} °C, so its clock would not run. {_mend(settings, needed, high)}"
        )
        yield Notice(NoticeKind.INFO, "coldest-part", text, {"coldest_c": coldest, "setpoint_c": needed})
    if hottest > high:
        text = (
            f"With {setpoint:g} °C at the probe the paste at the wall would settle at {hottest:.1f} °C, above the "
            f"programme's {high:g} °C. Lower the setpoint, stir, or use a warmer lid."
        )
        yield Notice(NoticeKind.INFO, "hottest-part", text, {"hottest_c": hottest})


def _code_limit(settings: Settings, profile: Profile, place: Place, setpoint: float) -> Iterator[Notice]:
    rule = code_of(settings)
    ambient = settings.room.ambient_c
    error = ProbeSet(settings.probe).paste.error_k
    coldest = profile.coldest_c(setpoint, place, ambient) - error
    if coldest < rule.hot_holding_c:
        needed = profile.setpoint_for(rule.hot_holding_c + error, place, ambient)
        text = (
            f"At a setpoint of {setpoint:g} °C the coldest paste less the probe's error would be {coldest:.1f} °C, "
            f"under the {rule.hot_holding_c:g} °C of {rule.source}. "
            f"{_mend(settings, needed, settings.programme.every_part[1])}"
        )
        yield Notice(NoticeKind.INFO, "code-limit", text, {"coldest_c": coldest, "setpoint_c": needed})


def _mend(settings: Settings, needed_c: float, high_c: float) -> str:
    offers = []
    if needed_c <= high_c:
        offers.append(f"a setpoint of {needed_c:.1f} °C")
    if not settings.warmer.stirred:
        offers.append("stirring")
    if settings.vessel.lid not in (Lid.INSULATED, Lid.BOXED):
        offers.append("a warmer lid")
    return "What would help: " + (", or ".join(offers) or "a warmer with less loss at the top") + "."
