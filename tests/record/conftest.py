"""A record in a temporary folder, and an invented night to write into it."""

import math
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from holdctl.events import Decision, Estimate, Instant, Phase, Reading, State
from holdctl.record.store import Store

START_UTC_MS = 1_760_000_000_123
HOLD: dict[str, Any] = {
    "started_utc_ms": START_UTC_MS,
    "config_json": '{"food_code":"uk"}',
    "warmer": "proving cupboard",
    "programme": "rye night",
    "pace": "host",
    "simulated": True,
    "version": "0.1.0",
    "boot_id": "boot-1",
    "latched": (),
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "night.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with Store.open(path) as opened:
        yield opened


def night(rows: int, seed: int = 1, probes: int = 2) -> Iterator[tuple[Instant, Reading, Decision]]:
    """A night at 1 Hz with the jitter, noise and spread of a real one: nothing rounder than it would be."""
    rng = random.Random(seed)
    up0, hold_ms, utc_off, lease, credit = rng.randrange(10**8), 0, 0, 0, 0
    paste, wall = 74.0, 72.0
    for k in range(rows):
        hold_ms = 1000 * k + rng.randrange(-30, 31) + 40
        utc_off += rng.choice((0, 0, 0, 0, 1, -1))
        paste += (65 - paste) / 5000 + rng.gauss(0, 0.002)
        wall += (66 - wall) / 3000 + rng.gauss(0, 0.02)
        temps = tuple(round(x + rng.gauss(0, 0.03), 2) for x in (paste, wall, paste - 1, 21.0)[:probes])
        left = max(0, lease - 1000 + rng.randrange(40))
        up = up0 + hold_ms + k // 20 + rng.randrange(3)
        age = rng.randrange(600, 1000)
        reading = Reading(k & 65535, up, temps, age, lease > 0, left, 1 + (k + 700) % 65535, 0, False)
        lease = rng.choice((0, 0, 0, 1500, 1500, rng.randrange(2, 1500)))
        hold = k > 3600
        credit += 1000 if hold else 0
        decision = Decision(
            lease, State.RUNNING, Phase.HOLD if hold else Phase.SETTLING, 2, 65.0, 66.0 + rng.gauss(0, 0.2),
            min(1.0, max(0.0, 0.2 + rng.gauss(0, 0.03))),
            Estimate(wall, paste, paste - 2.6 + rng.gauss(0, 0.05), paste + 0.8, paste - 0.9, *_deviations(k)),
            credit,
        )  # fmt: skip
        yield Instant(hold_ms, hold_ms, START_UTC_MS + hold_ms + utc_off), reading, decision


def _deviations(k: int) -> tuple[float, float, float, float]:
    """Wide at the start, narrower as more is known: two bytes each at first, then one."""
    open_k = math.exp(-k / 2500)
    return 0.3 + 1.6 * open_k, 0.25 + 1.4 * open_k, 0.45 + 2.0 * open_k, 0.12 + 0.9 * open_k
