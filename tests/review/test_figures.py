"""Figures of a known night, computed here a second way."""

import json
import math
import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from holdctl.errors import StoreError
from holdctl.events import Instant, Phase, Reading
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review.figures import figures

from .conftest import SETTINGS, START_UTC_MS, STEP_S, sample, write_night


def test_durations_follow_the_phases(calm: Record) -> None:
    f = figures(calm, 1)
    lengths = {p.phase: p.duration_s for p in f.phases}
    assert list(lengths) == ["settling", "prompt", "hold", "hot holding"]
    assert lengths["settling"] == pytest.approx(0.5 * 3600, abs=STEP_S)
    assert lengths["hold"] == pytest.approx((0.8 * 6 - 0.75) * 3600, abs=2 * STEP_S)
    assert sum(lengths.values()) == calm.samples(1)[-1].at.hold_ms / 1000 - 0.5
    assert f.until_hold_s == pytest.approx(0.75 * 3600, abs=STEP_S)
    assert f.credit_s == pytest.approx(lengths["hold"], abs=STEP_S)


def test_paste_figures_are_those_of_the_offset_reading(calm: Record) -> None:
    rows = [r for r in calm.samples(1) if r.decision.phase is Phase.HOLD]
    paste = [float(r.reading.temps[0]) - 0.2 for r in rows]
    rms = math.sqrt(sum((t - 65.0) ** 2 for t in paste) / len(paste))
    hold = figures(calm, 1).phase("hold")
    assert hold is not None
    assert hold.paste_min_c == round(min(paste), 2)
    assert hold.paste_max_c == round(max(paste), 2)
    assert hold.deviation_rms_k == pytest.approx(rms, rel=1e-9)
    assert hold.coldest_c == min(r.decision.estimate.coldest_c for r in rows if r.decision.estimate)
    assert figures(calm, 1).wall_max_c == max(float(r.reading.temps[1]) for r in calm.samples(1))


def test_energy_is_duty_and_relay_time_times_power(calm: Record) -> None:
    f, rows = figures(calm, 1), calm.samples(1)
    assert f.energy_duty_kwh == pytest.approx(0.25 * 120 * (len(rows) - 1) * STEP_S / 3.6e6)
    on = sum(r.reading.relay for r in rows[:-1])
    assert f.energy_relay_kwh == pytest.approx(on * 120 * STEP_S / 3.6e6)


def test_switch_ons_are_counted_at_their_rise(calm: Record) -> None:
    rows = calm.samples(1)
    relay = [False] + [r.reading.relay for r in rows]
    assert figures(calm, 1).switch_ons == sum(b and not a for a, b in pairwise(relay))
    hold = figures(calm, 1).phase("hold")
    assert hold is not None
    assert hold.switch_ons_per_h == pytest.approx(30, abs=1)  # one cycle of 24 samples, 120 s


def test_a_calm_night_has_no_unsafe_window(calm: Record) -> None:
    f = figures(calm, 1)
    assert (f.windows, f.below_limit_s, f.gaps, f.zone_s, f.limit_reached) == ((), 0.0, 0, 0.0, True)


def test_gaps_faults_and_cold_paste_are_unsafe_windows(broken: Record) -> None:
    f = figures(broken, 1)
    gap, fault, cold = f.windows
    assert (gap.start_s, gap.end_s) == (pytest.approx(5400, abs=6), pytest.approx(6300, abs=6))
    assert gap.unrecorded_s == gap.end_s - gap.start_s
    assert fault.unrecorded_s == fault.end_s - fault.start_s == pytest.approx(36, abs=STEP_S)
    assert cold.end_s == broken.samples(1)[-1].at.hold_ms / 1000
    coldest = min(r.decision.estimate.coldest_c for r in broken.samples(1) if r.decision.estimate)
    assert cold.lowest_c == pytest.approx(coldest - 0.5, abs=0.01)  # the estimate less the probe's error
    assert {w.limit_c for w in f.windows} == {57.0}
    assert all("3-501.16" in w.source for w in f.windows)
    assert f.below_limit_s == sum(w.end_s - w.start_s for w in f.windows)
    assert (f.gaps, f.longest_gap_s) == (1, gap.unrecorded_s)


def test_energy_is_not_counted_across_a_gap(broken: Record) -> None:
    f = figures(broken, 1)
    recorded = broken.samples(1)[-1].at.hold_ms / 1000 - 0.5 - f.longest_gap_s
    assert f.energy_duty_kwh == pytest.approx(0.25 * 120 * recorded / 3.6e6)


def test_trips_carried_over_from_an_earlier_hold_are_not_counted_again(broken: Record) -> None:
    assert (figures(broken, 1).alarms, figures(broken, 1).trips) == (1, 1)


def test_a_late_first_reading_counts_as_a_gap_from_the_start(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        hold = begin(store)
        for k in range(100, 110):
            store.sample(*sample(k, Phase.HOLD, 65.0, False, 0.0))
    [window] = figures(Record(tmp_path / "r.db"), hold).windows
    assert (window.start_s, window.end_s, window.unrecorded_s) == (0.0, 500.5, 500.5)


def begin(store: Store) -> int:
    return store.begin_hold(
        started_utc_ms=START_UTC_MS, config_json=msgspec.json.encode(SETTINGS).decode(), warmer="w", programme="p",
        pace="host", simulated=True, version="0.1.0", boot_id="b", latched=(),
    )  # fmt: skip


def test_hold_time_is_the_sum_over_the_steps(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        hold = begin(store)
        for k, (step, credit_ms) in enumerate([(0, 0), (0, 5000), (1, 0), (1, 7000), (2, 0)]):
            now, reading, decision = sample(k, Phase.HOLD, 65.0, False, 0.0)
            store.sample(now, reading, replace(decision, step=step, credit_ms=credit_ms))
    assert figures(Record(tmp_path / "r.db"), hold).credit_s == 12.0


def test_a_hold_without_samples_has_empty_figures(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        begin(store)
        f = figures(Record(tmp_path / "r.db"))
    assert (f.samples, f.phases, f.windows, f.until_hold_s, f.state) == (0, (), (), None, "open")


def test_a_hold_without_wall_probe_gives_the_estimated_wall(tmp_path: Path) -> None:
    settings = msgspec.structs.replace(SETTINGS, probe=SETTINGS.probe[:1])
    with Store.open(tmp_path / "r.db", batch_ms=10**9) as store:
        write_night(store, hours=1, settings=settings)
    f = figures(Record(tmp_path / "r.db"))
    assert not f.wall_measured
    assert f.wall_max_c == pytest.approx(83.0, abs=0.7)


def test_settings_that_cannot_be_read_say_what_to_do(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        store.begin_hold(
            started_utc_ms=0, config_json='{"flour": 1}', warmer="w", programme="p", pace="host", simulated=False,
            version="0.9", boot_id="", latched=(),
        )  # fmt: skip
        now = Instant(0, 0, 0)
        store.sample(
            now, Reading(0, 0, (65.0,), 0, False, 0, 0, 0, False), sample(0, Phase.HOLD, 65, False, 0)[2]
        )
    with pytest.raises(StoreError, match=r"settings kept with hold 1 .*holdctl 0.9, or .*holdctl export"):
        figures(Record(tmp_path / "r.db"))


def test_figures_become_json_without_nan(broken: Record, make_record: Callable[..., Record]) -> None:
    text = msgspec.json.encode(figures(broken, 1)).decode()
    assert not re.search(r"NaN|Infinity", text)
    assert json.loads(text)["hold"] == 1
