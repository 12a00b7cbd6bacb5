"""A simulated node in this process and real daemons beside it."""

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from holdctl.clock import SystemClock
from holdctl.record.files import spool_folder
from holdctl.record.query import Record
from holdsim.node import SimulatedNode
from holdsim.pty_line import PtyLine
from holdsim.serve import Service
from tests.daemon.nursery import Child
from tests.daemon.rig import PLAIN_RIG, daemon


class EnoughSeenError(Exception):
    """Raised by a test's interference to end the play."""


class TwoLumps:
    """A quick plant: wall and paste, no noise, and a way to fake what the probes say."""

    def __init__(self) -> None:
        self.paste = self.wall = 66.0
        self.fake: tuple[float, float] | None = None

    def step(self, on_s: float, dt_s: float = 1.0) -> None:
        into = 8.0 * (self.wall - self.paste)
        self.wall += (200.0 * on_s - (into + 0.9 * (self.wall - 20.0)) * dt_s) / 900.0
        self.paste += (into - 0.2 * (self.paste - 20.0)) * dt_s / 3300.0

    def readings(self) -> tuple[float, ...]:
        return self.fake or (self.paste, self.wall)


@dataclass
class Bench:
    """One node on a pty and the daemons that are started on it."""

    folder: Path
    line: PtyLine
    plant: TwoLumps = field(default_factory=TwoLumps)
    daemons: list[Child] = field(default_factory=list)
    leases: list[int] = field(default_factory=list)
    relay: list[bool] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.node = SimulatedNode(self.plant, (None, None))
        self.record_path = self.folder / "rig.db"

    @property
    def record(self) -> Record:
        return Record(self.record_path)

    @property
    def spool(self) -> Path:
        return spool_folder(self.record_path)

    def start(self, *arguments: str, toml: str = PLAIN_RIG) -> Child:
        process = daemon(
            self.folder, toml, self.record_path, "--port", str(self.line.path), "--pace", "device", *arguments
        )
        self.daemons.append(process)
        return process

    def log(self) -> str:
        return (self.folder / "daemon.log").read_text("utf-8")

    def run(
        self, seconds: int, before: Callable[[int], None] = lambda _s: None, patience: float = 5.0
    ) -> None:
        """Play `seconds` in lockstep; `before(second)` may interfere."""

        def tick(second: int) -> None:
            self.leases.append(self.node.left_ms)
            self.relay.append(self.node.relay)
            before(second)

        with suppress(EnoughSeenError):
            Service(self.node, self.line, SystemClock(), tick).lockstep(self.node.ticks + seconds, patience)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    line = PtyLine(None)
    made = Bench(tmp_path, line)
    try:
        yield made
    finally:
        for process in made.daemons:
            process.kill()
        line.close()
