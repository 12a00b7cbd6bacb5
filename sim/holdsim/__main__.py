"""Serve a simulated warmer on a pseudo-terminal: `python -m holdsim --preset mat-box --lockstep`.

The first line printed is the port's path, for `holdctl run --port`. Ctrl-C unplugs it.
"""

import argparse
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from holdctl.clock import SystemClock
from holdctl.errors import HoldctlError, StoreError
from holdctl.record.files import spool_folder
from holdctl.settings import Lid, Place
from holdsim.baker import REACTION_S, Baker, Prompt
from holdsim.node import SimulatedNode
from holdsim.plant import Plant
from holdsim.presets import PRESETS, Preset
from holdsim.pty_line import PtyLine
from holdsim.serve import BeforeTick, Service
from holdsim.truth_log import TruthLog

WALL_CUTOUT_C = 95.0
"""The node's own limit on the wall's probe, °C; in the paste it would protect nothing."""


def main(arguments: list[str] | None = None) -> int:
    """Run until the hours are over or a signal comes; return the exit code."""
    parser = _parser()
    wanted = parser.parse_args(arguments)
    if wanted.truth and wanted.record is None:
        parser.error("--truth needs --record: the file lies beside it")
    signal.signal(signal.SIGTERM, _leave)
    try:
        line = PtyLine(wanted.link)
    except OSError as error:
        print(f"holdsim: {error.filename}: {error.strerror}; give --link another name.", file=sys.stderr)  # noqa: T201
        return 2
    try:
        _serve(wanted, line)
    except KeyboardInterrupt:
        pass
    except HoldctlError as error:
        print(f"holdsim: {error}", file=sys.stderr)  # noqa: T201
        return error.exit_code
    finally:
        line.close()
    return 0


def _serve(wanted: argparse.Namespace, line: PtyLine) -> None:
    preset = PRESETS[wanted.preset]
    plant = preset.build(
        seed=wanted.seed,
        ambient_c=wanted.ambient,
        start_c=wanted.start,
        vessel_c=wanted.vessel,
        lid=wanted.lid,
        disturbances=not wanted.calm,
    )
    url = str(wanted.link or line.path)
    if wanted.settings is not None:
        wanted.settings.write_text(preset.settings_toml(port_url=url), encoding="utf-8")
    node = SimulatedNode(plant, _cutouts(preset), feedback=wanted.feedback)
    print(url, flush=True)  # noqa: T201
    people = _people(wanted, plant, node)
    truth = TruthLog(node, wanted.record) if wanted.truth else None
    service = Service(node, line, SystemClock(), _after(truth, people))
    seconds = None if wanted.hours is None else round(wanted.hours * 3600)
    try:
        if wanted.lockstep:
            service.lockstep(seconds, wanted.patience)
        else:
            service.paced(seconds, wanted.speed)
    finally:
        if truth is not None:
            truth.close()


def _after(truth: TruthLog | None, people: BeforeTick) -> BeforeTick:
    """Let what is true be written before people change it."""
    if truth is None:
        return people

    def act(second: int) -> None:
        truth(second)
        people(second)

    return act


def _cutouts(preset: Preset) -> tuple[float | None, ...]:
    return tuple(WALL_CUTOUT_C if spec.place is Place.WALL else None for spec in preset.probes)


def _people(wanted: argparse.Namespace, plant: Plant, node: SimulatedNode) -> BeforeTick:
    if wanted.record is None:
        return lambda _second: None
    spool = wanted.spool or spool_folder(wanted.record)
    baker = Baker(
        plant,
        plant.lid,
        look_into(wanted.record),
        answer_through(spool, wanted.start),
        lambda: node.obeyed > 0,
        wanted.reaction,
    )
    last = None if wanted.stop_at is None else round(wanted.stop_at * 3600)

    def act(second: int) -> None:
        baker.act(second)
        if second == last:
            ask(spool, "stop")

    return act


def look_into(record: Path) -> Callable[[int], list[Prompt]]:
    """Return a function that reads the prompts of the record's latest hold; none while there is none."""
    from holdctl.record.query import Record

    opened: list[Record] = []

    def look(after_seq: int) -> list[Prompt]:
        if not opened:
            try:
                opened.append(Record(record))
            except StoreError:  # not made yet
                return []
        hold = opened[0].hold().id
        rows = opened[0].events(hold, after_seq)
        return [Prompt(row.seq, hold, row.hold_ms, row.detail) for row in rows if row.kind == "prompt"]

    return look


def answer_through(spool: Path, mix_c: float) -> Callable[[Prompt], None]:
    """Return a function that notes how hot the mix was and that malt is in, and places a `next`, as a person would."""
    from holdctl.food.measured import Measurement

    noted = Measurement(mix_c=mix_c, malt="now").subject()

    def answer(prompt: Prompt) -> None:
        ask(spool, "note", prompt.hold, noted)
        ask(spool, "next", prompt.hold)

    return answer


def ask(spool: Path, kind: str, hold: int | None = None, subject: str = "") -> None:
    """Place a request of the simulated baker's."""
    from holdctl.events import RequestKind
    from holdctl.record.spool import place

    by, now_ms = "simulated baker", SystemClock().utc_ms()
    place(spool, kind=RequestKind(kind), by=by, hold=hold, subject=subject, utc_ms=now_ms)


def _leave(_signal: int, _frame: Any) -> None:
    raise KeyboardInterrupt


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="holdsim", description="A simulated warmer on a pseudo-terminal.")
    add = parser.add_argument
    add("--preset", choices=sorted(PRESETS), required=True, help="the warmer")
    add("--seed", type=int, default=1, help="of noise and disturbances (default 1)")
    add("--ambient", type=float, default=20.0, metavar="C", help="room, °C (default 20)")
    add("--start", type=float, default=74.0, metavar="C", help="paste at the start, °C (default 74)")
    add("--vessel", type=float, metavar="C", help="vessel at the start, °C (default: as the paste)")
    add("--lid", type=Lid, choices=list(Lid), help="how the paste is covered (default: the preset's)")
    add("--calm", action="store_true", help="no mains steps, no wandering room")
    add("--feedback", action="store_true", help="the node reports the voltage behind its contact")
    pace = parser.add_mutually_exclusive_group()
    pace.add_argument("--speed", type=_positive, default=1.0, metavar="N", help="simulated per real second")
    pace.add_argument("--lockstep", action="store_true", help="as fast as the host answers")
    add("--patience", type=_positive, default=5.0, metavar="S", help="lockstep: longest wait for the host")
    add("--hours", type=_positive, metavar="H", help="unplug after so many simulated hours")
    add(
        "--stop-at", type=_positive, metavar="H", help="the baker ends the hold after so many simulated hours"
    )
    add("--link", type=Path, metavar="PATH", help="symbolic link to the port, for a name that stays")
    add("--settings", type=Path, metavar="PATH", help="write a holdctl.toml that fits this warmer")
    add("--record", type=Path, metavar="FILE", help="a simulated baker answers this record's prompts")
    add("--spool", type=Path, metavar="FOLDER", help="the baker's answers (default: the record's)")
    add("--truth", action="store_true", help="write the true temperatures beside the record")
    add("--reaction", type=int, default=REACTION_S, metavar="S", help=f"the baker's (default {REACTION_S})")
    return parser


def _positive(text: str) -> float:
    value = float(text)
    if not 0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"not a positive number: {text}")
    return value


if __name__ == "__main__":
    sys.exit(main())
