"""An invented night of an invented bakery, short enough to be written in a second, with everything in it."""

import math
from collections.abc import Callable

import msgspec
import pytest
from msgspec.structs import replace

from holdctl.events import (
    Decision,
    Estimate,
    Instant,
    Notice,
    NoticeKind,
    Phase,
    ProbeFault,
    Reading,
    Request,
    RequestKind,
    Silence,
    State,
)
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.settings import Flour, Place, Probe, Programme, Scald, Settings, Step, Vessel, Warmer

START_UTC_MS = 1_760_040_000_000
STEP_S = 5

SETTINGS = Settings(
    food_code="fda-2022",
    warmer=Warmer(name="Proving cupboard", power_w=120.0, heat_capacity_j_k=900.0),
    vessel=Vessel(inner_diameter_cm=12.0),
    scald=Scald(flour=Flour.WHOLE_RYE, mass_g=1000.0),
    probe=(
        Probe(channel=1, place=Place.MID, error_k=0.5, offset_k=-0.2, name="long probe"),
        Probe(channel=2, place=Place.WALL, error_k=0.5),
    ),
    programme=Programme(name="rye night", step=(Step(to=65.0, hold_for="4 h"),)),
)


def sample(
    k: int, phase: Phase, paste_c: float, on: bool, credit_s: float
) -> tuple[Instant, Reading, Decision]:
    """Sample `k` of a night with a sample every 5 s."""
    ms = 1000 * STEP_S * k + 500
    wall_c = paste_c + 1.0 + 0.6 * math.sin(k / 9)
    reading = Reading(k, ms + 77, (round(paste_c + 0.2, 2), round(wall_c, 2)), 700, on, 0, k, 0, False)
    estimate = Estimate(wall_c, paste_c, paste_c - 1.2, paste_c + 0.6, paste_c - 0.3)
    setpoint = None if phase is Phase.PROMPT else 65.0
    decision = Decision(1500 if on else 0, State.RUNNING, phase, 0, setpoint, 66.0, 0.25, estimate,
                        round(credit_s * 1000))  # fmt: skip
    return Instant(ms, ms, START_UTC_MS + ms), reading, decision


def _say(store: Store, now: Instant, notices: tuple[Notice, ...]) -> None:
    for notice in notices:
        store.notice(now, notice)


def write_night(
    store: Store,
    *,
    hours: float = 6.0,
    settings: Settings = SETTINGS,
    broken: bool = False,
    first: tuple[Notice, ...] = (),
) -> int:
    """Write a hold: a fall from 82 °C, a prompt, the hold, hot holding; `broken` adds a gap, a fault and a trip."""
    hold = store.begin_hold(
        started_utc_ms=START_UTC_MS, config_json=msgspec.json.encode(settings).decode(),
        warmer=settings.warmer.name, programme=settings.programme.name, pace="host", simulated=True,
        version="0.1.0", boot_id="b", latched=(),
    )  # fmt: skip
    count, credit = int(hours * 3600 / STEP_S), 0.0
    now = Instant(0, 0, START_UTC_MS)
    _say(store, now, (*first, Notice(NoticeKind.STEP, "step-1", "Hold at 65 °C for 4 h.")))
    for k in range(count):
        h = k * STEP_S / 3600
        paste = 65 + 17 * math.exp(-h / 0.25) + 0.15 * math.sin(k / 50)
        if broken and h > 0.75 * hours:
            paste -= min(12.0, 30 * (h - 0.75 * hours))
        phase = Phase.SETTLING if h < 0.5 else Phase.PROMPT if h < 0.75 else Phase.HOLD
        if h > hours * 0.8:
            phase = Phase.HOT_HOLDING
        credit += STEP_S if phase is Phase.HOLD else 0
        now, reading, decision = sample(k, phase, paste, k % 24 < 6 and phase is not Phase.PROMPT, credit)
        if broken and 1.5 < h < 1.75:
            if 1.5 < h < 1.5 + STEP_S / 1800:
                store.event(now, Silence())
            continue
        if broken and 2.0 < h < 2.01:
            reading = replace(reading, temps=(ProbeFault.OPEN, reading.temps[1]))
        store.sample(now, reading, decision)
        if k == int(0.5 * 3600 / STEP_S):
            store.notice(now, Notice(NoticeKind.PROMPT, "stir", "Stir to 66 °C, add malt, close the lid."))
        if k == int(0.75 * 3600 / STEP_S):
            store.event(now, Request(RequestKind.NEXT, "baker"))
            store.notice(now, Notice(NoticeKind.STEP, "step-2", "Hold at 65 °C for 4 h."))
    if broken:
        store.notice(now, Notice(NoticeKind.ALARM, "no-reading", "No reading for 15 min."))
        store.notice(
            now, Notice(NoticeKind.TRIP, "probe-fault", "Long probe open: relay off.", {"latched": False})
        )
        restored = {"latched": True, "restored": True}
        store.notice(now, Notice(NoticeKind.TRIP, "high-limit", "still latched", restored))
    store.end_hold(now, State.ABORTED if broken else State.STOPPED)
    return hold


@pytest.fixture(scope="session")
def make_record(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Record]:
    """Return a function that writes holds, one for each dict of `write_night` arguments."""

    def make(*nights: dict[str, object]) -> Record:
        path = tmp_path_factory.mktemp("record") / "night.db"
        with Store.open(path, batch_ms=10**9) as store:
            for night in nights:
                write_night(store, **night)  # type: ignore[arg-type]
        return Record(path)

    return make


@pytest.fixture(scope="session")
def calm(make_record: Callable[..., Record]) -> Record:
    return make_record({})


@pytest.fixture(scope="session")
def broken(make_record: Callable[..., Record]) -> Record:
    return make_record({"broken": True})
