"""`holdctl run --plan`: the real daemon on a simulated node, begun from a kept plan."""

import json
import subprocess

import msgspec
import pytest

from holdctl.clock import SystemClock
from holdctl.food.measured import read_detail
from holdctl.plan import store
from holdctl.plan.plan import ProgrammePart
from holdctl.settings import Flour, Programme, Step
from tests.daemon.conftest import bench  # noqa: F401  (a fixture)
from tests.daemon.rig import PLAIN_RIG, holdctl
from tests.plan.breads import plan

STEPS = ProgrammePart(steps=())
OWN = Programme(name="planned", step=(Step(to=64.0, hold_for="3 h"),))


@pytest.fixture
def plans(tmp_path, monkeypatch):
    """An empty state folder, for this process and for those it starts."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return store.folder()


def test_a_night_from_a_plan_holds_its_paste_and_says_so_at_the_head_of_the_record(bench, plans):  # noqa: F811
    kept = store.save(plan())
    bench.start("--plan", str(kept.id))
    bench.run(40)
    record = bench.record
    events = record.events(1)
    told = next(e for e in events if e.name == "plan")
    assert told.detail["plan"]["scald"]["mass_g"] == 360.0
    mix = next(v for e in events if e.kind == "note" and (v := read_detail(e.detail)))
    assert (mix.mix_c, mix.mix_from) == (kept.mix.mix_c, "plan 1")
    settings = json.loads(record.hold(1).config_json)
    scald = {key: settings["scald"][key] for key in ("flour", "mass_g", "ratio", "begins")}
    assert scald == {"flour": Flour.WHITE_WHEAT.value, "mass_g": 360.0, "ratio": 1.4, "begins": "fresh"}
    assert "holdctl.toml has changed" not in bench.log()
    assert "made without a holdctl.toml" in bench.log()


def test_a_planned_night_that_was_killed_goes_on_with_its_plan_though_nobody_names_it(bench, plans):  # noqa: F811
    kept = store.save(msgspec.structs.replace(plan(), programme=ProgrammePart(steps=(), settings=OWN)))
    first = bench.start("--plan", str(kept.id))
    bench.run(30)
    first.kill()
    first.wait()
    bench.start()
    bench.run(30)
    holds = bench.record.holds()
    assert [hold.id for hold in holds] == [1]
    assert holds[0].programme == "planned"
    assert sum(e.name == "plan" for e in bench.record.events(1)) == 1


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("--plan", "7"), 2, "There is no plan 7"),
        (("--wait",), 2, "add --plan"),
        (("--plan", "1", "--wait"), 2, "says no latest start"),
        (("--plan", "1", "--mix-later"), 2, "goes with --wait"),
        (("--plan", "1", "--wait", "--mix-later"), 2, "needs a terminal"),
    ],
)
def test_what_a_planned_night_can_not_do_is_one_sentence(tmp_path, plans, arguments, code, says):
    store.save(plan())
    (tmp_path / "holdctl.toml").write_text(PLAIN_RIG, "utf-8")
    done = holdctl("run", "--config", str(tmp_path / "holdctl.toml"), "--port", "/dev/nowhere", *arguments,
                   stdin=subprocess.DEVNULL)  # fmt: skip
    assert done.returncode == code
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_mixed_paste_is_not_left_to_wait_for_hours(tmp_path, plans):
    late = msgspec.structs.replace(STEPS, start_utc_ms=SystemClock().utc_ms() + 5 * 3_600_000)
    store.save(msgspec.structs.replace(plan(), programme=late))
    (tmp_path / "holdctl.toml").write_text(PLAIN_RIG, "utf-8")
    done = holdctl(
        "run", "--config", str(tmp_path / "holdctl.toml"), "--port", "/dev/nowhere", "--plan", "1", "--wait"
    )
    assert done.returncode == 2
    assert "It does not wait" in done.stderr
    assert "57 °C" in done.stderr


def test_it_waits_for_the_latest_start_with_the_relay_off(monkeypatch, plans):
    from holdctl.cli.planned import Begin, wait_for

    class Clock:
        now = 1_000_000
        slept = 0.0

        def utc_ms(self):
            return self.now

        def sleep(self, seconds):
            self.slept += seconds
            self.now += round(seconds * 1000)

    asked = []
    monkeypatch.setattr("click.pause", lambda text, err: asked.append(text))
    clock = Clock()
    made = msgspec.structs.replace(plan(), programme=msgspec.structs.replace(STEPS, start_utc_ms=1_090_000))
    wait_for(Begin(None, made, waits=False), clock)
    assert clock.slept == 0.0
    wait_for(Begin(None, made, waits=True), clock)
    assert clock.slept == pytest.approx(90.0, abs=0.1)
    assert asked == []
    wait_for(Begin(None, made, waits=True, mix_later=True), clock)
    assert "Mix the scald now" in asked[0]
