"""The terminal's bell: once for what is new, again at its interval until somebody has acknowledged it."""

from collections.abc import Callable
from itertools import pairwise

from holdctl.events import RequestKind
from holdctl.watch import watch
from tests.watch.conftest import ZONE, console
from tests.watch.nights import HOLD, Night
from tests.watch.test_app import Ticking

Begin = Callable[..., Night]
HOT = (65.0, 92.0)


def rung(begin: Begin, acts: dict[int, Callable[[Night], None]], minutes: int, **options: bool) -> list[int]:
    """At which minute the bell rang, with a night in which `acts` happen at theirs."""
    night = begin(HOLD)
    night.steady(5)
    night.store.flush()
    rings: list[int] = []
    on = console()

    def tick(count: int) -> None:
        text = on.file.getvalue()  # type: ignore[attr-defined]
        if text.count("\a") > len(rings):
            rings.append(count - 1)
        if count in acts:
            acts[count](night)
            night.store.flush()
        clock.advance(60)

    clock = Ticking(night, tick)
    watch(night.path, console=on, clock=clock, zone=ZONE, stop=lambda: clock.slept > minutes, **options)
    assert on.file.getvalue().count("\a") == len(rings)  # type: ignore[attr-defined]
    return rings


def trip(night: Night) -> None:
    night.steady(9, *HOT)


def acknowledge_all(night: Night) -> None:
    for name in list(night.hold.alarms):
        night.ask(RequestKind.ACKNOWLEDGE, name)


def test_a_good_night_is_silent(begin: Begin) -> None:
    assert rung(begin, {3: lambda night: night.steady(5)}, 30) == []


def test_it_rings_for_a_new_alarm_and_every_five_minutes_until_it_is_acknowledged(begin: Begin) -> None:
    acts = {3: trip, 15: acknowledge_all}
    rings = rung(begin, acts, 40)
    assert len(rings) == 3
    assert rings[0] == 3
    assert [b - a for a, b in pairwise(rings)] == [5, 5]


def test_it_is_silent_when_asked_to_be(begin: Begin) -> None:
    assert rung(begin, {3: trip}, 20, quiet=True) == []


def test_a_single_frame_does_not_ring(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(5)
    trip(night)
    night.store.flush()
    on = console()
    watch(night.path, console=on, clock=night.clock, once=True)
    assert "\a" not in on.file.getvalue()  # type: ignore[attr-defined]
