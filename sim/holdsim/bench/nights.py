"""`python -m holdsim.bench.nights`: nights as a plan foretells them, beside the same nights in the simulator.

The simulator has its own physics. Each preset is foretold in four ways, then a hold drives it with the probes of its
settings: *told*, from what its owner would tell; *stirred*, the same with the plan's programme and a baker who stirs as
it says; *learned*, with what a first night of eight hours from cold has identified; and the two together. Scored on the
true paste: the time from which every part is in the programme's range for good, and the coldest (after ten minutes, as
foretold) and hottest paste until then.
"""

import argparse
import json
import multiprocessing
import os
import sys
import tomllib
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import msgspec

from holdctl.events import Identified
from holdctl.plan.course import Start
from holdctl.plan.night import SKIN_S, Night, foretell
from holdctl.plan.nightly import Wishes, down_to_c, programme
from holdctl.plan.stirring import Stir, stirs
from holdctl.settings import Room, Settings
from holdsim.bench.ours import Ours
from holdsim.bench.stirrer import Stirrer
from holdsim.presets import PRESETS

AMBIENT_C = 20.0
STARTS_C = (20.0, 66.0, 74.0)
KINDS = ("told", "stirred", "learned", "learned, stirred")
EVERY_S = 5
SURE_S = 1800
"""In range for so long is for good."""
LONGEST_S = 12 * 3600
TAUGHT_C, TAUGHT_S = 20.0, 8 * 3600
"""How the first night begins that a learned one knows, and how long it is."""


@dataclass(frozen=True)
class Row:
    """One night; times in s, °C; None: not within twelve hours."""

    preset: str
    start_c: float
    kind: str
    foretold_s: tuple[float, float, float] | None
    came_s: float | None
    coldest_c: tuple[float, float]
    """Foretold, and true."""
    hottest_c: tuple[float, float]
    stirs_s: tuple[float, ...] = ()

    @property
    def off(self) -> float | None:
        """By what share the time that came was missed."""
        if self.foretold_s is None or self.came_s is None or self.came_s == 0.0:
            return None
        return self.foretold_s[1] / self.came_s - 1.0


def settings_of(preset: str) -> Settings:
    """Return what a preset's owner would tell, in a room of 20 °C."""
    told = msgspec.convert(tomllib.loads(PRESETS[preset].settings_toml()), Settings)
    return msgspec.structs.replace(told, room=Room(ambient_c=AMBIENT_C))


def planned(preset: str, start_c: float, *, stirred: bool = False, known: Identified | None = None) -> Night:
    """Return a night of a preset, paste and vessel at the start's temperature; `stirred` as the plan advises."""
    night = Night(settings_of(preset), Start(start_c, start_c, start_c), known)
    if not stirred:
        return night
    night = replace(night, baker=replace(night.baker, down_to_c=down_to_c(night)))
    return replace(night, baker=replace(night.baker, stirs_s=tuple(stir.at_s for stir in stirs(night))))


def driven(night: Night) -> Settings:
    """Return the settings that the hold of a night runs with: the plan's programme, the baker in it."""
    wishes = Wishes(
        stirs=tuple(Stir(at_s, 0.0, 0.0, 0.0) for at_s in night.baker.stirs_s),
        busy_s=night.runner(night.warmer().model()).run(night.baker).down_s,
    )
    return msgspec.structs.replace(night.settings, programme=programme(night, wishes))


def compare(night: Night, preset: str, kind: str, sure_s: int = SURE_S) -> Row:
    """Foretell one night and let it happen, until every part has been in range for `sure_s`."""
    found = foretell(night)
    low, high = night.settings.programme.every_part
    start_c = night.start.paste_c
    plant = PRESETS[preset].build(seed=1, ambient_c=AMBIENT_C, start_c=start_c)
    hold = Ours(driven(night), night.known)
    baker = Stirrer(plant, hold, night.baker)
    since: int | None = None
    cold, hot = [], []
    for second in range(LONGEST_S):
        if second % EVERY_S == 0:
            truth = plant.truth()
            inside = low <= truth.coldest_c and truth.hottest_c <= high
            since = (second if since is None else since) if inside else None
            cold.append((second, truth.coldest_c))
            hot.append((second, truth.hottest_c))
            if since is not None and second >= SKIN_S and second - since >= sure_s:
                break
        baker.act(second)
        plant.step(hold.step(plant.readings()))
    upto = LONGEST_S if since is None else max(since, SKIN_S)
    return Row(
        preset, start_c, kind, found.band_s, None if since is None else float(since),
        (found.coldest_c[0], min(c for t, c in cold if SKIN_S <= t <= upto)),
        (found.hottest_c[0], max(c for t, c in hot if t <= upto)),
        night.baker.stirs_s,
    )  # fmt: skip


def taught(preset: str, seconds: int = TAUGHT_S) -> Identified | None:
    """Return what a first night from cold identifies of a preset in so many seconds."""
    plant = PRESETS[preset].build(seed=2, ambient_c=AMBIENT_C, start_c=TAUGHT_C)
    hold = Ours(settings_of(preset))
    for _ in range(seconds):
        plant.step(hold.step(plant.readings()))
    return hold.identified


def rows_of(task: tuple[str, tuple[float, ...], tuple[str, ...]]) -> list[Row]:
    """Return all nights of one preset."""
    preset, starts, kinds = task
    known = taught(preset) if any("learned" in kind for kind in kinds) else None
    found = []
    for kind in kinds:
        for start_c in starts:
            stirred = "stirred" in kind
            night = planned(preset, start_c, stirred=stirred, known=known if "learned" in kind else None)
            if stirred and not night.baker.stirs_s and night.baker.down_to_c is None:
                continue  # nothing to stir: the told night is this night
            found.append(compare(night, preset, kind))
    return found


def main(arguments: list[str] | None = None) -> int:
    """Print the table; return the exit status."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    parser = argparse.ArgumentParser(prog="python -m holdsim.bench.nights", description=__doc__)
    parser.add_argument("--presets", nargs="+", choices=tuple(PRESETS), default=list(PRESETS))
    parser.add_argument("--starts", nargs="+", type=float, default=list(STARTS_C), metavar="CELSIUS")
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=list(KINDS))
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--json", type=Path, metavar="FILE", help="write every row there")
    given = parser.parse_args(arguments)
    todo = [(preset, tuple(given.starts), tuple(given.kinds)) for preset in given.presets]
    with multiprocessing.get_context("spawn").Pool(max(1, given.jobs)) as pool:
        rows = [row for found in pool.map(rows_of, todo, chunksize=1) for row in found]
    sys.stdout.write(
        "| warmer | start | known | foretold min | came | off | coldest foretold, true | hottest foretold, true |\n"
    )
    sys.stdout.write("| --- | --- | --- | --- | --- | --- | --- | --- |\n")
    for row in rows:
        sys.stdout.write(_line(row))
    if given.json:
        given.json.write_text(json.dumps([asdict(row) for row in rows], indent=1), encoding="utf-8")
    return 0


def _line(row: Row) -> str:
    told = (
        "never"
        if row.foretold_s is None
        else "{1:.0f} ({0:.0f}–{2:.0f})".format(*(t / 60 for t in row.foretold_s))
    )
    came = "never" if row.came_s is None else f"{row.came_s / 60:.0f}"
    off = "–" if row.off is None else f"{100 * row.off:+.0f} %"
    ends = " | ".join(f"{a:.1f}, {b:.1f}" for a, b in (row.coldest_c, row.hottest_c))
    stirs_min = ", ".join(f"{t / 60:.0f}" for t in row.stirs_s)
    kind = f"{row.kind} at {stirs_min} min" if stirs_min else row.kind
    return f"| {row.preset} | {row.start_c:g} | {kind} | {told} | {came} | {off} | {ends} |\n"


if __name__ == "__main__":
    sys.exit(main())
