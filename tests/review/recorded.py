"""Three nights as an inspector would be shown them, recorded by the daemon itself: `python -m tests.review.recorded`.

Everything of a real night is at work but the cable and the clock: settings file, port protocol, daemon, spool, store,
and the start that finds a night left open. The node is simulated on the other side of a port in memory; each of its
seconds moves both clocks on by one; what the daemon reckons beside its loop is done at once. So a seed gives the same
night every time. The records are kept, compressed, in `tests/data/`: to write them takes minutes.
"""

import lzma
import signal
import sys
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

import msgspec

from holdctl.daemon import Job, Pace, prepare
from holdctl.device.node import NodeDriver
from holdctl.events import RequestKind, State
from holdctl.food.measured import Measurement
from holdctl.hold.cool_order import CoolOrder
from holdctl.hold.disposition import WINDOW, checked
from holdctl.paste.cooling import Stand
from holdctl.record.afterwards import enter, enter_note
from holdctl.record.files import spool_folder
from holdctl.record.query import Record
from holdctl.record.spool import place
from holdctl.settings import Settings
from holdsim import PRESETS
from holdsim.cooling_plant import CoolingPlant, Surroundings, spread
from holdsim.node import SimulatedNode

DATA = Path(__file__).parents[1] / "data"
BEGAN_UTC_MS = 1_769_805_000_000
"""2026-01-30 20:30 UTC."""
MIN = 60
ICE = Surroundings(0.5, 20.0, 150.0, 150.0, 5.0)
FRIDGE = Surroundings(4.0, 4.0, 8.0, 8.0, 4.5)

PROGRAMME = """\
[programme]
name = "Wren Lane rye night"
every_part = [62, 67]

[[programme.step]]
to = 65
for = "{length}"

[programme.after]
then = "hot-holding"
longest = "8 h"
"""


class KilledError(BaseException):
    """The current is gone: what is in memory with it."""


class Now:
    """Boot-time clock and wall clock, moved by the node's seconds."""

    def __init__(self) -> None:
        self.ms, self.utc = 1_000_000, BEGAN_UTC_MS

    def monotonic_ms(self) -> int:
        return self.ms

    def utc_ms(self) -> int:
        return self.utc

    def sleep(self, seconds: float) -> None:
        self.pass_ms(round(1000 * seconds))

    def pass_ms(self, ms: int) -> None:
        self.ms, self.utc = self.ms + ms, self.utc + ms


class AtOnce:
    """A pool of no thread: what the daemon reckons beside its loop is done before it goes on."""

    def __init__(self, *_: Any, **__: Any) -> None: ...

    def submit(self, task: Callable[[], Any]) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(task())
        return future

    def shutdown(self, **_: Any) -> None: ...


@dataclass
class Kitchen:
    """One record, a simulated node, and what people do at which second."""

    record: Path
    preset: str
    hold_for: str
    start_c: float
    seed: int
    acts: dict[int, Callable[["Kitchen"], None]] = field(default_factory=dict)
    second: int = 0

    def __post_init__(self) -> None:
        preset = PRESETS[self.preset]
        text = preset.settings_toml("fda-2022", "in memory", PROGRAMME.format(length=self.hold_for))
        self.settings = msgspec.convert(tomllib.loads(text), Settings)
        plant = preset.build(seed=self.seed, start_c=self.start_c, vessel_c=self.start_c, disturbances=True)
        self.node, self.clock, self.waiting = SimulatedNode(plant, (None, None)), Now(), b""

    # The port ------------------------------------------------------------------------------------------------

    def read(self) -> bytes:
        if not self.waiting:
            act = self.acts.get(self.second)
            if act is not None:
                act(self)
            self.second += 1
            self.clock.pass_ms(1000)
            self.waiting = self.node.tick()
        said, self.waiting = self.waiting, b""
        return said

    def write(self, data: bytes) -> None:
        self.waiting += self.node.receive(data)

    def close(self) -> None: ...

    # People --------------------------------------------------------------------------------------------------

    def ask(self, kind: RequestKind, subject: str = "") -> None:
        place(
            spool_folder(self.record),
            kind=kind,
            by="night baker",
            hold=1,
            subject=subject,
            utc_ms=self.clock.utc_ms(),
        )

    def cool(self, where: Surroundings, depth_cm: float | None = None) -> None:
        """Carry the paste to where it cools, and say so."""
        paste = self.node.plant.paste()
        paste = paste if depth_cm is None else spread(*paste, depth_cm / 100)
        self.node.plant = CoolingPlant(paste, where, PRESETS[self.preset].probes, seed=self.seed + 1)
        stand = Stand.ICE_BATH if where is ICE else Stand.FRIDGE
        self.ask(RequestKind.COOL, CoolOrder(stand=stand, depth_cm=depth_cm).subject())

    def dark(self, minutes: int) -> None:
        """Let the current fail in the whole kitchen, and come back."""
        for _ in range(minutes * MIN):
            self.node.plant.step(0.0)
        self.clock.pass_ms(minutes * MIN * 1000)
        self.node.reboot("power")
        self.waiting = b""
        raise KilledError

    # The daemon ----------------------------------------------------------------------------------------------

    def run(self, boot: str = "boot one") -> State | None:
        """Let the daemon run to the hold's end; None where the current failed before."""
        with _in_memory(self):
            try:
                return prepare(Job(self.settings, self.record, self.clock, Pace.HOST, boot_id=boot))
            except KilledError:
                return None


@contextmanager
def _in_memory(kitchen: Kitchen) -> Iterator[None]:
    """Put the port in memory, and let the daemon die as a process dies: nothing is said, nothing is closed."""
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    driver = partial(NodeDriver, open_port=lambda _url, _baud: kitchen)
    with (
        mock.patch("holdctl.daemon.prepare.NodeDriver", driver),
        mock.patch("holdctl.daemon.loop.ThreadPoolExecutor", AtOnce),
        mock.patch("holdctl.daemon.loop.Daemon._break_off", _died),
    ):
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


def _died(_daemon: object, error: BaseException) -> None:
    if not isinstance(error, KilledError):
        raise error


# The nights ----------------------------------------------------------------------------------------------------


def good(record: Path) -> None:
    """Held for 90 min, spread 2 cm deep over ice, cold in time."""
    kitchen = Kitchen(record, "mat-box", "90 min", 66.0, seed=11)
    noted = Measurement(mix_c=78.0, mix_s=-900.0, malt="with the flour").subject()
    kitchen.acts[5 * MIN] = lambda k: k.ask(RequestKind.NOTE, noted)
    kitchen.acts[120 * MIN] = lambda k: k.cool(ICE, 2.0)
    kitchen.run()
    for hours, temp_c in ((10, 3.8), (30, 4.4)):
        kitchen.clock.pass_ms(hours * 60 * MIN * 1000)
        read = Measurement(storage_c=temp_c).subject()
        enter_note(Record(record), 1, read, "day baker", kitchen.clock.utc_ms())


def power_cut(record: Path) -> None:
    """The current fails for 70 min; the hold waits, a baker comes a quarter of an hour later and ends it."""
    kitchen = Kitchen(record, "mat-box", "2 h", 66.0, seed=12)
    kitchen.acts[60 * MIN] = lambda k: k.dark(70)
    kitchen.acts[75 * MIN] = lambda k: k.ask(RequestKind.ACKNOWLEDGE)
    kitchen.acts[76 * MIN] = lambda k: k.ask(RequestKind.STOP)
    kitchen.run()
    kitchen.second += 1
    kitchen.run("boot two")
    reader = Record(record)
    for name in ("probe-fault", "no-reading", "restart-wait", WINDOW):
        what = checked(name, "discarded", 1, "stood dark for over an hour")
        enter(reader, what, "day baker", kitchen.clock.utc_ms() + 20 * MIN * 1000)


def slow(record: Path) -> None:
    """Held for an hour, then left in its vessel in the fridge; ended by hand after 7 h, not cold yet."""
    kitchen = Kitchen(record, "mat-box", "60 min", 66.0, seed=13)
    kitchen.acts[90 * MIN] = lambda k: k.cool(FRIDGE)
    kitchen.acts[(90 + 7 * 60) * MIN] = lambda k: k.ask(RequestKind.STOP)
    kitchen.run()


NIGHTS = {"good": good, "power-cut": power_cut, "slow-cooling": slow}


def kept(name: str, folder: Path) -> Record:
    """Unpack one of the nights that are kept, into a folder."""
    path = folder / f"{name}.db"
    path.write_bytes(lzma.decompress((DATA / f"night-{name}.db.xz").read_bytes()))
    return Record(path)


def _write(name: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "night.db"
        NIGHTS[name](path)
        packed = lzma.compress(path.read_bytes(), preset=9 | lzma.PRESET_EXTREME)
    (DATA / f"night-{name}.db.xz").write_bytes(packed)
    print(f"{name}: {len(packed)} bytes")


if __name__ == "__main__":
    for wanted in sys.argv[1:] or NIGHTS:
        _write(wanted)
