"""The loop around the screen: when it goes on, when it leaves, what it leaves behind."""

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from holdctl.errors import StoreError
from holdctl.events import RequestKind
from holdctl.watch import frame_json, watch
from holdctl.watch.app import plain_only
from tests.watch.conftest import ZONE, console, screen
from tests.watch.nights import HOLD, FakeClock, Night

Begin = Callable[..., Night]


class Ticking(FakeClock):
    """A clock whose every sleep lets the night go on."""

    def __init__(self, night: Night, tick: Callable[[int], None]) -> None:
        super().__init__(night.clock.utc)
        self.night, self.tick, self.slept = night, tick, 0

    def sleep(self, seconds: float) -> None:
        self.slept += 1
        self.tick(self.slept)
        self.advance(seconds)


def test_the_screen_leaves_when_the_hold_has_ended_and_says_how(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(5)
    night.store.flush()

    def tick(count: int) -> None:
        if count == 3:
            night.ask(RequestKind.STOP)
            night.relay = False
            night.steady(1)
            night.end()

    on = console()
    clock = Ticking(night, tick)
    assert watch(night.path, console=on, clock=clock, zone=ZONE) == 0
    assert clock.slept == 3
    text = on.file.getvalue()  # type: ignore[attr-defined]
    live, after = text.rsplit("\x1b[?1049l", 1)  # back from the alternate screen
    assert "Holding: paste 65.0 °C" in live
    assert "This hold ended at 22:00: stopped: relay off" in after
    assert "holdctl review" in after
    assert after.count("\n") < 24  # the sentence does not scroll away under the shell's prompt


def test_the_screen_leaves_when_its_caller_says_so(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(5)
    clock = Ticking(night, lambda _count: None)
    night.store.flush()
    assert watch(night.path, console=console(), clock=clock, stop=lambda: clock.slept >= 2) == 0
    assert clock.slept == 2


def test_ctrl_c_leaves_the_screen_and_nothing_else(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(5)
    night.store.flush()

    def tick(_count: int) -> None:
        raise KeyboardInterrupt

    assert watch(night.path, console=console(), clock=Ticking(night, tick)) == 0
    assert list(night.path.parent.iterdir()) != []
    assert not (night.path.parent / "night.spool").exists()


def test_a_dead_daemon_stays_on_the_screen(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(5)
    night.store.flush()
    clock = Ticking(night, lambda count: night.store.close() if count == 1 else None)
    on = console()
    watch(night.path, console=on, clock=clock, stop=lambda: clock.slept >= 8)
    assert clock.slept == 8
    assert "The daemon is gone: the relay's lease has run out" in on.file.getvalue()  # type: ignore[attr-defined]


@pytest.mark.parametrize("terminal", [True, False])
def test_once_and_into_a_pipe_it_is_one_frame(begin: Begin, terminal: bool) -> None:
    night = begin(HOLD)
    night.steady(5)
    night.store.flush()
    on = Console(
        width=80, height=24, file=io.StringIO(), force_terminal=terminal, color_system=None, _environ={}
    )
    clock = Ticking(night, lambda _count: pytest.fail("it must not wait"))
    assert watch(night.path, console=on, clock=clock, once=terminal, zone=ZONE) == 0
    text = on.file.getvalue()  # type: ignore[attr-defined]
    assert text.count("Holding: paste 65.0 °C") == 1
    assert "\x1b[?1049h" not in text


def test_json_is_one_line_in_celsius_and_utc(begin: Begin) -> None:
    night = begin(HOLD, units="F", simulated=True)
    night.steady(601)
    night.store.flush()
    on = console()
    assert watch(night.path, as_json=True, console=on, clock=night.clock, zone=ZONE) == 0
    text = on.file.getvalue()  # type: ignore[attr-defined]
    assert text.count("\n") == 1
    data = json.loads(text)
    assert data["sentence"] == "Holding: paste 149.0 °F, 3 h 50 min of 4 h left, ready about 02:00."
    assert data["paste_c"] == 65.0
    assert data["left_s"] == 13_800
    assert data["clock_runs"] is True
    assert data["started_utc"] == "2025-12-31T21:00:00.000Z"
    assert data["food"]["limit_c"] == 57.22  # the user reads °F: 135 °F
    assert data["probes"] == [
        {"channel": 1, "place": "mid", "name": "", "c": 65.0, "fault": None},
        {"channel": 2, "place": "wall", "name": "", "c": 66.2, "fault": None},
    ]
    assert data["test_rig"] is True


def test_json_of_a_trip_names_it_and_has_the_records_state(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.steady(9, 65.0, 91.5)
    data: dict[str, Any] = json.loads(json.dumps(frame_json(screen(night).snapshot)))
    assert (data["state"], data["state_words"], data["level"]) == (
        "held",
        "waiting for you, relay off",
        "trip",
    )
    first = data["alarms"][0]
    assert (first["name"], first["trip"], first["latched"]) == ("high-limit", True, True)


def test_a_missing_record_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"There is no record at .*holdctl run"):
        watch(tmp_path / "none.db", console=console())


def test_a_terminal_without_utf_8_gets_ascii(monkeypatch: Any) -> None:
    monkeypatch.setenv("TERM", "xterm")
    latin = Console(file=io.TextIOWrapper(io.BytesIO(), encoding="latin-1"))
    utf = Console(file=io.TextIOWrapper(io.BytesIO(), encoding="utf-8"))
    assert (plain_only(latin), plain_only(utf)) == (True, False)
    monkeypatch.setenv("TERM", "linux")
    assert plain_only(utf)


def test_watching_imports_neither_matplotlib_nor_the_device() -> None:
    import subprocess
    import sys

    code = (
        "import sys, holdctl.watch\n"
        "bad = {'rich', 'numpy', 'scipy', 'matplotlib', 'serial', 'sqlite_utils'} & set(sys.modules)\n"
        "bad |= {m for m in sys.modules if m.startswith(('holdctl.device', 'holdctl.daemon', 'holdsim'))}\n"
        "print(sorted(bad))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
