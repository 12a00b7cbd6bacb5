"""A code of the user's own, from the table `[own_code]` of the settings."""

from collections.abc import Iterator

from holdctl.food.rules import (
    ColdHolding,
    Cooling,
    CoolingStage,
    FoodCode,
    Heating,
    HotHolding,
    OnceBelow,
    Reheating,
    Rule,
    TimeControl,
)
from holdctl.settings import OWN_CODE, OwnCode

_SURE = "as entered in holdctl.toml"


def own_code(own: OwnCode) -> FoodCode:
    """Return the code that a user wrote down."""
    return FoodCode(id=OWN_CODE, name=own.name, force=own.force, rules=tuple(_rules(own)))


def _rules(own: OwnCode) -> Iterator[Rule]:
    yield HotHolding(
        name="hot-holding",
        text=f"Food kept hot is held at {own.hot_holding_c:g} °C or above.",
        source=own.source,
        force=own.force,
        sureness=_SURE,
        limit_c=own.hot_holding_c,
    )
    if own.once_below_min is not None:
        yield OnceBelow(
            name="once-below",
            text=f"One single period of less than {own.once_below_min:g} min below it is allowed.",
            source=own.source,
            force=own.force,
            sureness=_SURE,
            shorter_than_s=own.once_below_min * 60,
        )
    if own.cold_holding_c is not None:
        yield ColdHolding(
            name="cold-holding",
            text=f"Food kept cold is held at {own.cold_holding_c:g} °C or below.",
            source=own.source,
            force=own.force,
            sureness=_SURE,
            limit_c=own.cold_holding_c,
        )
    yield from _heats(own)
    yield from _times(own)


def _heats(own: OwnCode) -> Iterator[Rule]:
    if own.heating is not None:
        yield Heating(
            name="heating",
            text=f"A fresh mix is brought to {own.heating.to_c:g} °C{_within(own.heating.within_min)}.",
            source=own.source,
            force=own.force,
            sureness=_SURE,
            to_c=own.heating.to_c,
            within_s=_seconds(own.heating.within_min),
        )
    again = own.reheating
    if again is not None:
        dwell = f" for {again.dwell_s:g} s" if again.dwell_s else ""
        yield Reheating(
            name="reheating",
            text=f"A cooled scald reaches {again.to_c:g} °C in every part{dwell}{_within(again.within_min)}.",
            source=own.source,
            force=own.force,
            sureness=_SURE,
            to_c=again.to_c,
            dwell_s=again.dwell_s,
            from_c=again.from_c,
            within_s=_seconds(again.within_min),
        )


def _times(own: OwnCode) -> Iterator[Rule]:
    if own.cooling:
        stages = "; ".join(
            f"to {s.to_c:g} °C within {s.within_min:g} min of passing {s.clock_from_c:g} °C"
            for s in own.cooling
        )
        yield Cooling(
            name="cooling",
            text=f"Cooked food cools {stages}.",
            source=own.source,
            force=own.force,
            sureness=_SURE,
            stages=tuple(
                CoolingStage(to_c=s.to_c, within_s=s.within_min * 60, clock_from_c=s.clock_from_c)
                for s in own.cooling
            ),
        )
    time = own.time_control
    if time is not None:
        yield TimeControl(
            name="time",
            text=f"Outside {time.cold_c:g} and {time.hot_c:g} °C control for {time.longest_min:g} min at most, then "
            "discarded.",
            source=own.source,
            force=own.force,
            sureness=_SURE,
            longest_s=time.longest_min * 60,
            cold_c=time.cold_c,
            hot_c=time.hot_c,
            cumulative=time.cumulative,
            at_end="discard",
        )


def _within(minutes: float | None) -> str:
    return "" if minutes is None else f" within {minutes:g} min"


def _seconds(minutes: float | None) -> float | None:
    return None if minutes is None else minutes * 60
