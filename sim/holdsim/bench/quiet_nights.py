"""`python -m holdsim.bench.quiet_nights FILE`: nights without a fault, one line each in a file; goes on where it ended.

Several may write to files of their own at once, each its share of the nights (`--share 0/2`, `--share 1/2`). Without
`--nights` the files are only summed up: trips and alarms with their 95 % bounds, and whose paste got too hot.
"""

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from holdsim.bench.faults import quiet_night, upper_bound

Night = dict[str, Any]
OVER_K = 1.5
"""What the goals for one probe let a come-up pass its ceiling by."""


def read(paths: Iterable[Path]) -> dict[int, Night]:
    """Return the nights in these files by their number; a line that was cut off is left out."""
    nights: dict[int, Night] = {}
    for path in paths:
        for line in path.read_text().splitlines() if path.exists() else ():
            try:
                night = json.loads(line)
            except json.JSONDecodeError:
                continue
            nights[night["number"]] = night
    return nights


def summed(nights: dict[int, Night]) -> str:
    """Return how many nights had each trip and alarm, with the 95 % upper bound of the rate (Clopper & Pearson)."""
    lines = [f"{len(nights)} nights"]
    tripped = sum(bool(night["trips"]) for night in nights.values())
    lines.append(f"{tripped} with a trip; 95 % bound {upper_bound(tripped, len(nights)):.4f} a night")
    counted: Counter[str] = Counter()
    for night in nights.values():
        counted.update({name for _, name in (*night["trips"], *night["alarms"])})
    for name, count in counted.most_common():
        lines.append(f"{count:5} {name}; 95 % bound {upper_bound(count, len(nights)):.4f} a night")
    for probes in sorted({night["probes"] for night in nights.values()}):
        over_k = [night["over_k"] for night in nights.values() if night["probes"] == probes]
        too_hot = sum(one > OVER_K for one in over_k)
        lines.append(
            f"{probes}: paste over its ceiling by more than {OVER_K} K in {too_hot} of {len(over_k)}, "
            f"at most {max(over_k):.1f} K"
        )
    return "\n".join(lines)


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--nights", default=0, show_default=True, help="Nights in all.")
@click.option("--hours", default=2.0, show_default=True, help="Length of a night, h.")
@click.option(
    "--every", default=30.0, show_default=True, help="Something happens so often on average, min; inf: never."
)
@click.option("--seed", default=1, show_default=True)
@click.option("--share", default="0/1", show_default=True, help="Which part of them: I/N.")
def main(files: tuple[Path, ...], nights: int, hours: float, every: float, seed: int, share: str) -> None:
    """Run the nights that are not in the first file yet, then sum up what all files have."""
    part, parts = (int(word) for word in share.split("/"))
    done = read(files)
    for number in range(part, nights, parts):
        if number in done:
            continue
        with files[0].open("a") as file:
            night = quiet_night(number, seed, round(hours * 3600), 60.0 * every)
            file.write(json.dumps(asdict(night)) + "\n")
    click.echo(summed(read(files)))


if __name__ == "__main__":
    main()
