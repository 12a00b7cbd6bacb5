"""`python -m holdsim.bench.fault_table`: each fault on drawn plants, and nights without one."""

import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict

import click

from holdsim.bench.faults import BEGINS, CALLED, SETS, Detected, Quiet, detect, quiet_night, upper_bound
from holdsim.bench.suites import SUITES, draw


def _one(task: tuple[str, int, int, str, str, str]) -> Detected:
    suite, number, seed, probes, fault, begin = task
    return detect(draw(suite, number, seed), probes, fault, begin)


def _night(task: tuple[int, int, int]) -> Quiet:
    return quiet_night(*task)


def _tasks(
    plants: int, seed: int, probes: tuple[str, ...], begin: str
) -> Iterator[tuple[str, int, int, str, str, str]]:
    for suite in SUITES:
        for name in probes:
            if suite == "two-node" and name in ("edge", "core"):
                continue  # mixed paste has one place
            for fault in CALLED:
                if fault == "wall probe off" and name != "two":
                    continue
                yield from ((suite, number, seed, name, fault, begin) for number in range(plants))


@click.command()
@click.option("--plants", default=4, show_default=True, help="Plants of each suite.")
@click.option(
    "--probes", multiple=True, type=click.Choice(list(SETS)), help="Sets of probes; all when left out."
)
@click.option(
    "--begin",
    default="scald",
    show_default=True,
    type=click.Choice(list(BEGINS)),
    help="How the night of a fault begins: with a scald at 74 °C, or in its hold.",
)
@click.option("--nights", default=0, show_default=True, help="Nights without a fault.")
@click.option("--hours", default=2.0, show_default=True, help="Length of such a night, h.")
@click.option("--seed", default=1, show_default=True)
@click.option("--workers", default=2, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def main(
    plants: int,
    probes: tuple[str, ...],
    begin: str,
    nights: int,
    hours: float,
    seed: int,
    workers: int,
    as_json: bool,
) -> None:
    """Let faults befall holds on drawn plants, then run nights with lids, stirs, cold mass and mains steps only."""
    with ProcessPoolExecutor(workers) as pool:
        found = list(pool.map(_one, list(_tasks(plants, seed, probes or tuple(SETS), begin))))
        length = round(hours * 3600)
        quiet = list(pool.map(_night, [(number, seed, length) for number in range(nights)], chunksize=4))
    if as_json:
        click.echo(
            json.dumps({"faults": [one.plain() for one in found], "nights": [asdict(q) for q in quiet]})
        )
        return
    click.echo("suite      probes  fault             plant  found s  bound s  place K  hottest K  bound K")
    for one in found:
        cells = [
            _number(one.seconds, 0),
            _number(one.bound_s, 0),
            _number(one.place_k, 2),
            _number(one.hottest_k, 2),
            _number(one.bound_k, 2),
        ]
        click.echo(
            f"{one.suite:10} {one.probes:7} {one.fault:17} {one.number:5}  "
            + "  ".join(f"{c:>7}" for c in cells)
        )
    if quiet:
        tripped = [night for night in quiet if night.trips]
        bound = upper_bound(len(tripped), len(quiet))
        click.echo(
            f"{len(tripped)} of {len(quiet)} nights of {hours:g} h with a trip; 95 % bound {bound:.4f} a night"
        )
        for night in tripped:
            click.echo(
                f"  night {night.number}, {night.suite}, {night.probes}: {night.trips}, after {night.happened}"
            )


def _number(value: float | None, digits: int) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


if __name__ == "__main__":
    main()
