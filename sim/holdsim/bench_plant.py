"""Measure how many times faster than the clock each warmer runs: `python -m holdsim.bench_plant`.

One figure per warmer: seconds of the warmer for each second of this machine, one step and one set of readings per
second, relay switching, disturbances on. The best of several rounds counts: the others tell of the machine's load.
"""

import sys

from holdctl.clock import SystemClock
from holdctl.settings import Place
from holdsim.presets import PRESETS, Preset

STEPS = 10_000
ROUNDS = 5
CYCLE_S = 80


def main() -> None:
    """Write one line per warmer, with a bar of one mark per thousand."""
    sys.stdout.write(f"times real time, best of {ROUNDS} rounds of {STEPS} steps of 1 s\n")
    for preset in PRESETS.values():
        ratio = times_real_time(preset)
        sys.stdout.write(f"{preset.name:16}{ratio:8.0f}  {'#' * round(ratio / 1000)}\n")


def times_real_time(preset: Preset, rounds: int = ROUNDS) -> float:
    """Return the warmer's seconds per second of this machine."""
    clock = SystemClock()
    best_ms = float("inf")
    for _ in range(rounds):
        plant = preset.build(disturbances=True)
        on_s = _on_per_cycle(preset)
        start = clock.monotonic_ms()
        for second in range(STEPS):
            plant.step(1.0 if second % CYCLE_S < on_s else 0.0)
            plant.readings()
        best_ms = min(best_ms, clock.monotonic_ms() - start)
    return 1000.0 * STEPS / best_ms


def _on_per_cycle(preset: Preset) -> int:
    """Whole seconds of each cycle that roughly hold the paste."""
    needed = preset.build().steady(65.0, Place.MID).power_w
    return round(needed / preset.warmer.power_w * CYCLE_S)


if __name__ == "__main__":
    main()
