"""A recorded hour, put through a fresh hold, gives the leases that were given."""

import random
from pathlib import Path

import msgspec
import pytest

from holdctl.events import (
    Condition,
    ForeignAck,
    LinkChange,
    NodeBoot,
    ProbeFault,
    Request,
    RequestKind,
    Silence,
)
from holdctl.hold import Hold, replay
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.settings import Settings
from holdsim import PRESETS
from tests.closed_loop import instant, reading, told

UTC_MS = 1_760_000_000_000
NIGHT = {
    "started_utc_ms": UTC_MS,
    "warmer": "x",
    "programme": "hold",
    "pace": "host",
    "simulated": True,
    "version": "0.1.0",
    "boot_id": "b",
}
PROGRAMME = """
[programme]
[[programme.step]]
prompt = "stir"
wait = "5 min"
unanswered = "go-on"
to = 66
[[programme.step]]
to = 65
for = "15 min"
[programme.after]
then = "hot-holding"
to = 64
"""
AT = {
    5: NodeBoot("x-1", 2, 4000, (None, 105.0), "power"),
    50: Request(RequestKind.RESET, "a baker", "high-limit"),
    100: Request(RequestKind.NEXT, "a baker"),
    700: Request(RequestKind.NOTE, "a baker", "smells of honey"),
    900: LinkChange(False, "unplugged"),
    905: Silence(),
    910: LinkChange(True, "back"),
    920: Request(RequestKind.ACKNOWLEDGE, "a baker", "link-down"),
    930: Request(RequestKind.SHELVE, "a baker", "probe-fault 15 min"),
    940: Request(RequestKind.DISPOSITION, "a baker", "no-reading used hold 1: still 64 °C"),
    950: Condition("probes-disagree", True),
    1200: Condition("probes-disagree", False),
    2000: ForeignAck(77),
    2100: Request(RequestKind.RESET, "a baker", "other-host"),
    2500: NodeBoot("x-1", 2, 1500, (None, 105.0), "watchdog", asked=False),
}


def _simulated_hour(
    name: str, store: Store, settings: Settings, latched: tuple[str, ...]
) -> list[int | None]:
    """Run an hour with everything that may happen in it, recording as the daemon does; return the leases."""
    rng = random.Random(4)
    hold = Hold(settings, latched)
    plant = PRESETS[name].build(seed=2, start_c=68.0, vessel_c=50.0, disturbances=True)
    leases, left, late = [], 0, 0
    for second in range(3600):
        late = (late + rng.randrange(0, 3)) % 40
        now = instant(1000 * second + late)
        if second in AT:
            event = AT[second]
            decision = hold.step(event, now)
            store.event(now, event)
            leases.append(decision.lease_ms)
            for notice in decision.notices:
                store.notice(now, notice)
        lease = left
        if not 900 <= second < 910:
            temps = [round(temp, 2) for temp in plant.readings()]
            if 1500 <= second < 1510:
                temps[0] = ProbeFault.OPEN if second < 1508 else 30.0
            read = reading(second, *temps, relay=left > 0, left_ms=left)
            decision = hold.step(read, now)
            store.sample(now, read, decision)
            for notice in decision.notices:
                store.notice(now, notice)
            leases.append(decision.lease_ms)
            lease = decision.lease_ms
        left = max(0, lease - 1000)
        plant.step(min(lease, 1000) / 1000)
    store.end_hold(now, hold.state)
    return leases


@pytest.fixture(scope="module")
def hours(tmp_path_factory):
    """Record the hour of a warmer with these trips left standing, once; return its record and its leases."""
    made = {}

    def hour(name: str, latched: tuple[str, ...]) -> tuple[Path, list[int | None]]:
        if (name, latched) not in made:
            path = tmp_path_factory.mktemp(name) / "night.db"
            settings = told(name, programme=PROGRAMME)
            with Store.open(path) as store:
                config = msgspec.json.encode(settings).decode()
                store.begin_hold(config_json=config, latched=latched, **NIGHT)
                made[name, latched] = path, _simulated_hour(name, store, settings, latched)
        return made[name, latched]

    return hour


@pytest.mark.parametrize(("name", "latched"), [("jacket", ()), ("stirred-kettle", ("high-limit",))])
def test_a_recorded_hour_replayed_gives_the_same_leases_and_says_the_same(hours, name, latched):
    settings = told(name, programme=PROGRAMME)
    path, given = hours(name, latched)
    record = Record(path)
    row = record.hold()
    again = msgspec.json.decode(row.config_json, type=Settings)
    assert again == settings
    recorded = list(record.replay(row.id))
    inputs = [(now, event) for now, event, _ in recorded]
    decisions = [decision for *_, decision in replay(again, inputs, row.latched)]
    leases = [decision.lease_ms for decision in decisions]
    assert leases == given
    said = [notice for decision in decisions for notice in decision.notices]
    heard = [(e.kind, e.name, e.text, e.detail) for e in record.events(row.id) if e.source == "out"]
    plain = [
        (n.kind.value, n.name, n.text, msgspec.json.decode(msgspec.json.encode(dict(n.detail)))) for n in said
    ]
    assert plain == heard
    assert {"trip", "trip-cleared", "acknowledged", "shelved", "unshelved", "disposition"} <= {
        e[0] for e in heard
    }
    kept = [
        (lease, again) for (_, _, lease), again in zip(recorded, leases, strict=True) if lease is not None
    ]
    assert len(kept) == 3590
    assert all(lease == again for lease, again in kept)
    assert any(leases), "an hour without any heat would prove little"


def test_another_cycle_of_the_relay_would_have_given_other_leases(hours):
    """What the equality above is worth: a small change of the settings shows."""
    settings = told("jacket", programme=PROGRAMME)
    path, given = hours("jacket", ())
    record = Record(path)
    inputs = [(now, event) for now, event, _ in record.replay(1)]
    warmer = msgspec.structs.replace(settings.warmer, cycle_s=settings.warmer.cycle_s + 20)
    other = msgspec.structs.replace(settings, warmer=warmer)
    assert [decision.lease_ms for _, _, decision in replay(other, inputs)] != given
