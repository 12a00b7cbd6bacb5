"""A hold that was left open: found, its gap measured, brought back from its own record."""

import signal
import sqlite3
from contextlib import closing
from itertools import pairwise

import msgspec
import pytest

from holdctl.daemon.lapse import LATE_MS, Lapse
from holdctl.daemon.pace import Pace
from holdctl.daemon.resume import Left, Resumed, find
from holdctl.errors import StoreError
from holdctl.events import ClockJump, Late, Reading, Request, RequestKind, State
from holdctl.food.windows import GAP_S
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review.figures import figures
from holdctl.settings import Limits, Place, Probe
from holdctl.watch.feed import Feed
from tests.daemon.interrupted import MovedClock, Night
from tests.hold.bench import HOLD, LONG, stirred

HOUR, YEAR = 3_600_000, 365 * 86_400_000


@pytest.fixture(autouse=True)
def _signals():
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.fixture
def night(tmp_path):
    return Night(tmp_path)


def test_one_night_in_three_runs_is_one_hold_and_a_replay_of_it_gives_the_same_leases(night):
    night.begin(200)
    night.clock.pass_ms(90_000)
    night.go_on(150, dies=True)
    night.clock.pass_ms(20 * 60_000)
    night.go_on(60)
    (hold,) = night.record.holds()
    assert hold.state is State.STOPPED
    again = night.again()
    assert all(lease in (None, decision.lease_ms) for _, lease, decision in again)
    assert sum(lease is not None for _, lease, _ in again) > 380
    assert any(lease for _, lease, _ in again)
    # The third run came after the rule's 15 minutes: held, as the replay says too.
    assert [e.name for e in night.events("trip")] == ["restart-wait"]
    assert again[-40][2].state is State.HELD


def test_at_most_the_batch_of_five_seconds_is_missing_and_counts_as_gap(night):
    night.begin(203)
    night.clock.pass_ms(30_000)
    found = night.go_on(60)
    samples = night.record.samples(1)
    numbers = [s.reading.n for s in samples]
    holes = [(a, b) for a, b in pairwise(numbers) if b != a + 1]
    assert len(holes) == 1
    ((last, first),) = holes
    assert first - last - 1 <= 6
    assert found.restart.gap_ms == 30_000 + 1000 * (first - last)
    t = [s.at.hold_ms for s in samples]
    assert t == sorted(t)
    assert t[numbers.index(first)] - t[numbers.index(last)] >= found.restart.gap_ms


def test_credit_never_exceeds_the_time_that_was_recorded(night):
    night.begin(120)
    for _ in range(3):
        night.clock.pass_ms(60_000)
        night.go_on(40, dies=True)
    night.clock.pass_ms(60_000)
    night.go_on(40)
    samples = night.record.samples(1)
    steps = [b.at.hold_ms - a.at.hold_ms for a, b in pairwise(samples)]
    assert samples[-1].decision.credit_ms <= sum(step for step in steps if step <= 3000)
    assert samples[-1].decision.credit_ms > 180_000


def test_the_gap_counts_whole_as_below_the_limit_and_the_review_says_so(night):
    night.begin(120)
    night.clock.pass_ms(10 * 60_000)
    night.go_on(60)
    found = figures(night.record)
    assert found.gaps == 1
    assert found.longest_gap_s > 600 > GAP_S
    assert found.unrecorded_s == pytest.approx(found.longest_gap_s)
    assert found.below_limit_s >= found.longest_gap_s


def test_after_a_kill_the_screen_has_the_account_of_the_whole_night(night):
    """Growth, heat and bread live in the record alone: who looks after the restart sees what the review will say."""
    night.begin(120)
    night.clock.pass_ms(10 * 60_000)
    night.go_on(60)
    shot, found = Feed(night.record, night.clock).refresh(), figures(night.record)
    assert shot.growth.unrecorded_s == found.growth.unrecorded_s > 600
    for live, after in zip(shot.growth.organisms, found.growth.organisms, strict=True):
        assert live.any_part_log == pytest.approx(after.any_part_log, abs=1e-3)
    assert shot.growth.organisms[0].any_part_log > 0.1
    assert shot.growth.lethality.p70_min == pytest.approx(found.growth.lethality.p70_min) != 0
    assert [p.highest_c for p in shot.bread.parts] == [p.highest_c for p in found.bread.parts]


def test_following_a_long_record_is_told_as_it_goes_on_so_that_no_manager_gives_it_up(night):
    night.begin(1200)
    told = []
    found = find(night.record, night.settings, Pace.HOST, night.clock, night.boot, told.append)
    assert isinstance(found, Resumed)
    assert told[:3] == [0, 500, 1000]


# How a gap is measured ------------------------------------------------------------------------------------------


def test_in_the_same_boot_the_boot_time_clock_measures_whatever_the_wall_clock_says(night):
    night.begin(60)
    night.clock.pass_ms(120_000)
    night.clock.utc -= HOUR
    found = night.find()
    assert (found.restart.clock, found.jump_ms) == ("boot", -HOUR)
    assert 120_000 <= found.restart.gap_ms <= 127_000


@pytest.mark.parametrize("jump_ms", [-HOUR, HOUR, 10 * YEAR])
def test_a_wall_clock_set_in_the_gap_changes_no_lease_and_is_in_the_record(tmp_path, jump_ms):
    leases = []
    for name, jump in (("set", jump_ms), ("left", 0)):
        (tmp_path / name).mkdir()
        night = Night(tmp_path / name)
        night.begin(60)
        night.clock.pass_ms(60_000)
        night.clock.utc += jump
        night.go_on(90)
        leases.append(night.leases)
        assert [e.name for e in night.events("alarm")] == (["clock-jumped"] if jump else [])
        assert [e.detail["jump_ms"] for e in night.events("clock-jump")] == ([jump] if jump else [])
    assert leases[0] == leases[1]


def test_after_a_blackout_the_wall_clock_measures_and_that_is_said(night):
    night.begin(60)
    night.clock.ms, night.boot = 5_000, "boot two"
    night.clock.utc += 120_000
    found = night.go_on(30)
    assert found.restart.clock == "wall"
    assert 120_000 <= found.restart.gap_ms <= 127_000
    (said,) = [e for e in night.events("info") if e.name == "interruption"]
    assert "which nobody vouches for" in said.text
    assert said.detail["goes_on"] is True


@pytest.mark.parametrize("utc_ms", [-HOUR, 10 * YEAR])
def test_after_a_blackout_with_a_wall_clock_that_is_wrong_the_gap_is_unknown_and_the_hold_waits(
    night, utc_ms
):
    night.begin(60)
    night.clock.ms, night.boot = 5_000, "boot two"
    night.clock.utc += utc_ms
    assert night.find().restart.gap_ms is None
    night.go_on(30)
    assert [e.name for e in night.events("trip")] == ["restart-wait"]
    assert "nobody knows how long" in night.events("trip")[0].text
    assert not any(ms for re, ms in night.leases if re > 60)


def test_a_system_without_a_boot_id_has_the_wall_clock_only(night):
    night.boot = ""
    night.begin(60)
    night.clock.pass_ms(60_000)
    assert night.find().restart.clock == "wall"


# Which hold goes on ---------------------------------------------------------------------------------------------


def test_a_changed_table_is_named_and_the_hold_waits_with_the_settings_it_began_with(night):
    night.begin(60)
    other = msgspec.structs.replace(night.settings, limits=Limits(paste_high_c=70.0))
    assert night.find(other).restart.changed == ("limits",)
    found = night.go_on(30, settings=other)
    assert found.hold.settings == night.settings
    assert "not as it was when the hold began: limits" in night.events("trip")[0].text


@pytest.mark.parametrize(
    "change",
    [
        {"programme": stirred(HOLD).programme},
        {"warmer": msgspec.structs.replace(stirred().warmer, name="another one")},
    ],
)
def test_another_programme_or_warmer_is_another_hold(night, change):
    night.begin(60)
    assert isinstance(night.find(msgspec.structs.replace(night.settings, **change)), Left)


def test_a_probe_that_was_moved_is_a_change(night):
    night.begin(60)
    probes = (Probe(channel=1, place=Place.CORE, error_k=0.5), *night.settings.probe[1:])
    assert night.find(msgspec.structs.replace(night.settings, probe=probes)).restart.changed == ("probe",)


def test_a_hold_left_longer_ago_than_the_settings_say_is_forgotten(night):
    night.begin(60)
    night.clock.pass_ms(12 * HOUR - 60_000)
    assert isinstance(night.find(), Resumed)
    night.clock.pass_ms(120_000)
    left = night.find()
    assert isinstance(left, Left)
    assert "forgotten after 12 h" in left.why


def test_a_hold_that_ended_but_for_its_last_line_is_closed_as_it_ended(night):
    night.settings = stirred(HOLD, LONG)
    night.begin(60)
    with Store.open(night.path) as store:
        found = night.find()
        store.resume_hold(1, found.row.anchor, sampled=True)
        at = night.record.latest(1).at
        store.event(at, Request(RequestKind.STOP, "a baker"))
        last = night.record.latest(1)
        decision = msgspec.structs.replace(last.decision, state=State.STOPPED, lease_ms=0)
        at = msgspec.structs.replace(at, hold_ms=at.hold_ms + 1000, host_ms=at.host_ms + 1000)
        store.sample(at, msgspec.structs.replace(last.reading, relay=False), decision)
    left = night.find()
    assert isinstance(left, Left)
    assert left.ended[1] is State.STOPPED


def test_no_hold_left_open_means_nothing_to_go_on_with(night):
    night.begin(60)
    night.go_on(30)
    assert night.find() == Left()


def test_standing_alarms_come_back_with_whether_they_were_acknowledged(night):
    night.begin(60)
    night.clock.pass_ms(40 * 60_000)
    night.go_on(60, dies=True)
    night.clock.pass_ms(10_000)
    found = night.find()
    assert found.hold.alarms == {"restart-wait": False}
    assert found.hold.state is State.HELD


def test_a_damaged_record_is_a_sentence_with_a_next_step(night):
    night.begin(120)
    with closing(sqlite3.connect(night.path)) as connection, connection:
        connection.execute("UPDATE events SET detail = '{}' WHERE kind = 'boot'")  # of no node at all
    with pytest.raises(StoreError, match="damaged"):
        night.find()


# Standing still -------------------------------------------------------------------------------------------------


def test_a_process_that_slept_answers_what_had_piled_up_with_lease_0_only(night):
    def stops(n):
        if n == 100:
            night.clock.pass_ms(10_000)
            return [msgspec.structs.replace(_reading(k), n=k) for k in range(90, 100)]
        return None

    def _reading(k):
        return Reading(k, 1000 * k, (64.8, 64.8), 250, False, 0, 0, 0, False)

    night.before = stops
    night.begin(200)
    answered = [ms for re, ms in night.leases]
    assert any(answered)
    late = next(e for e in night.events("late"))
    assert late.detail["late_ms"] >= 10_000
    assert [e.name for e in night.events("trip")] == ["daemon-late"]
    assert [e.name for e in night.events("trip-cleared")] == ["daemon-late"]
    during = [ms for re, ms in night.leases if 100 <= re <= 109]
    assert not any(during)
    assert any(ms for re, ms in night.leases if re > 111)
    credit = night.record.latest(1).decision.credit_ms
    assert credit <= 200_000


def test_a_laptop_that_slept_for_half_an_hour_waits_like_after_a_crash(night):
    night.before = lambda n: night.clock.pass_ms(30 * 60_000) if n == 100 else None
    night.begin(200)
    assert [e.name for e in night.events("trip")] == ["daemon-late", "restart-wait"]
    assert not any(ms for re, ms in night.leases if re >= 100)


def test_the_wall_clock_may_jump_while_it_runs_and_no_lease_changes(tmp_path):
    leases = []
    for name in ("jumps", "stays"):
        (tmp_path / name).mkdir()
        night = Night(tmp_path / name)

        def jump(n, night=night, jumps=name == "jumps"):
            night.clock.utc += {50: -HOUR, 90: 2 * HOUR, 130: 10 * YEAR}.get(n, 0) if jumps else 0

        night.before = jump
        night.begin(200)
        leases.append(night.leases)
    assert leases[0] == leases[1]
    jumped = [
        e.detail["jump_ms"]
        for e in Record(tmp_path / "jumps" / "night.db").events(1)
        if e.kind == "clock-jump"
    ]
    assert jumped == [-HOUR, 2 * HOUR, 10 * YEAR]


def test_standing_still_is_told_with_the_first_reading_that_had_to_wait():
    clock = MovedClock()
    lapse = Lapse(clock)
    clock.pass_ms(LATE_MS)
    read = Reading(1, 1000, (64.8,), 250, False, 0, 0, 0, False)
    assert lapse.look([read]) == []
    clock.pass_ms(60_000)
    assert lapse.look([]) == []
    clock.pass_ms(200)
    assert lapse.look([read]) == [Late(60_000)]
    assert lapse.look([read]) == []


def test_a_slewed_wall_clock_is_no_jump_and_a_set_one_is():
    clock = MovedClock()
    lapse = Lapse(clock)
    for _ in range(1000):
        clock.pass_ms(250)
        clock.utc += 1
        assert lapse.look([]) == []
    clock.utc -= 5_000
    assert lapse.look([]) == [ClockJump(-5_000)]
