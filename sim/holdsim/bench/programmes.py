"""`python -m holdsim.bench.programmes`: programmes of several steps as a plan foretells them, and as they come.

Each preset runs one programme with holds at two temperatures, a fall before, between and after, and a prompt that the
baker answers two minutes after it is asked. The simulator has its own physics.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from holdctl.events import RequestKind
from holdctl.plan.course import Start
from holdctl.plan.legs import ANSWER_S
from holdctl.plan.night import Night
from holdctl.settings import Step
from holdsim.bench.nights import AMBIENT_C, settings_of
from holdsim.bench.ours import Ours
from holdsim.presets import PRESETS

STEPS = (
    Step(fall_to=67.0),
    Step(to=65.0, hold_for="1 h"),
    Step(prompt="Leaven in?", to=65.0),
    Step(fall_to=55.0),
    Step(to=58.0, hold_for="1 h"),
    Step(fall_to=45.0),
)
EVERY_PART = (50.0, 70.0)
START_C = 72.0
LONGEST_S = 24 * 3600


@dataclass(frozen=True)
class Row:
    """The end of one step, s from the start: foretold, and as it came; None: not within a day."""

    preset: str
    step: str
    foretold_s: float | None
    came_s: float | None


def planned(preset: str, steps: tuple[Step, ...] = STEPS, start_c: float = START_C) -> Night:
    """Return a night of a preset with a programme of its own, paste and vessel hot and not stirred."""
    settings = settings_of(preset)
    own = msgspec.structs.replace(
        settings.programme, step=steps, every_part=EVERY_PART, ceiling=EVERY_PART[1]
    )
    settings = msgspec.structs.replace(settings, programme=own)
    return Night(settings, Start(start_c, start_c, start_c))


def compare(night: Night, preset: str) -> Iterator[Row]:
    """Foretell one night, let it happen, and yield the end of each step."""
    course = night.runner(night.warmer().model()).run(whole=True)
    came = _happen(night, preset)
    foretold = {span.number: span.ended_s for span in course.spans}
    for number, step in enumerate(night.settings.programme.step, 1):
        yield Row(preset, _words(step), foretold.get(number), came.get(number))


def _happen(night: Night, preset: str) -> dict[int, float]:
    plant = PRESETS[preset].build(seed=1, ambient_c=AMBIENT_C, start_c=night.start.paste_c)
    hold = Ours(night.settings, night.known)
    steps, at, asked_s = night.settings.programme.step, 0, 0
    came: dict[int, float] = {}
    for second in range(LONGEST_S):
        plant.step(hold.step(plant.readings()))
        while at < hold.hold.progress.index:
            at += 1
            came[at], asked_s = float(second), second
        if at == len(steps):
            break
        if steps[at].prompt is not None and second - asked_s >= ANSWER_S:
            hold.ask(RequestKind.NEXT)
    return came


def _words(step: Step) -> str:
    if step.prompt is not None:
        return "prompt"
    return (
        f"fall to {step.fall_to:g} °C"
        if step.fall_to is not None
        else f"hold {step.hold_for} at {step.to:g} °C"
    )


def main(arguments: list[str] | None = None) -> int:
    """Print the table; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m holdsim.bench.programmes", description=__doc__)
    parser.add_argument("--presets", nargs="+", choices=tuple(PRESETS), default=list(PRESETS))
    given = parser.parse_args(arguments)
    sys.stdout.write("| warmer | step | ends, foretold min | came | off |\n| --- | --- | --- | --- | --- |\n")
    for preset in given.presets:
        for row in compare(planned(preset), preset):
            if row.foretold_s is None or row.came_s is None:
                sys.stdout.write(f"| {row.preset} | {row.step} | {row.foretold_s} | {row.came_s} | – |\n")
                continue
            off = 100.0 * (row.foretold_s / row.came_s - 1.0) if row.came_s else 0.0
            sys.stdout.write(
                f"| {row.preset} | {row.step} | {row.foretold_s / 60:.0f} | {row.came_s / 60:.0f} | {off:+.0f} % |\n"
            )
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
