"""Come-ups from cold, each played once: what is estimated and what is foretold on the way, against what came."""

from dataclasses import dataclass, field

import pytest

from holdctl.control.forecast import foresee
from holdctl.events import Forecast
from tests.closed_loop import HOUR, Loop, Row, loop

HOURS = {"jacket": 2.0, "lamp-box": 2.0, "mat-box": 3.5, "small-pot": 2.5}
WHOLE = ("mat-box", "small-pot")
"""These go on until every part has been in range for half an hour."""


@dataclass
class ComeUp:
    """One warmer from 20 °C, with what was foretold every twenty minutes."""

    night: Loop
    told: list[tuple[int, Forecast]] = field(default_factory=list)

    def run(self, name: str) -> "ComeUp":
        while self.night.t_s < HOURS[name] * HOUR:
            self.night.run(600)
            if name in WHOLE and self.night.t_s >= HOUR and self.night.t_s % 1200 == 0:
                self.told.append((self.night.t_s, foresee(self.night.hold.drive.controller.snapshot(3600.0))))
        return self

    def second_hour(self) -> list[Row]:
        return [row for row in self.night.rows if HOUR <= row.t_s < 2 * HOUR]

    def in_range_s(self) -> float:
        """Second since which every part has truly been in range."""
        low, high = self.night.hold.settings.programme.every_part
        rows = self.night.rows
        outside = [r.t_s for r in rows if r.truth.coldest_c < low or r.truth.hottest_c > high]
        return float(max(outside))


@pytest.fixture(scope="module")
def come_up():
    made: dict[str, ComeUp] = {}

    def play(name: str) -> ComeUp:
        if name not in made:
            made[name] = ComeUp(loop(name, start_c=20.0)).run(name)
        return made[name]

    return play


@pytest.mark.parametrize("name", HOURS)
def test_in_a_come_up_from_cold_the_mean_is_known_better_than_by_the_probe(come_up, name):
    """From 20 °C, the second hour; the probe itself is up to 20 K off the mean then."""
    rows = come_up(name).second_hour()
    wrong = max(abs(row.decision.estimate.mean_c - row.truth.mean_c) for row in rows)
    probe = max(abs(row.truth.probes[0] - row.truth.mean_c) for row in rows)
    print(f"{name}: mean off by {wrong:.2f} K, probe by {probe:.2f} K")
    assert len(rows) == 180
    assert wrong < 0.6 * probe


@pytest.mark.parametrize("name", WHOLE)
def test_what_was_foretold_on_the_way_is_what_came(come_up, name):
    """From 20 °C, told every twenty minutes from the first hour on; 80 % should lie in the range."""
    way = come_up(name)
    came = way.in_range_s()
    on_the_way = [(t, f) for t, f in way.told if t < came - 300]
    wrong = [t + f.band_ms[1] / 1000 - came for t, f in on_the_way]
    inside = [f.band_ms[0] / 1000 - 300 <= came - t <= f.band_ms[2] / 1000 + 300 for t, f in on_the_way]
    off = [round(w / 60) for w in wrong]
    print(f"{name}: came after {came / 60:.0f} min; off by {off} min; inside {inside}")
    assert on_the_way
    assert way.night.t_s >= came + 1800
    assert abs(wrong[-1]) <= 15 * 60
    assert sum(inside) >= 0.6 * len(inside)
