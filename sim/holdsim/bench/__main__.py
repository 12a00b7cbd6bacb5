"""`python -m holdsim.bench`: controllers against each other and against the computed limit."""

import argparse
import json
import multiprocessing
import os
import sys
from pathlib import Path


def main(arguments: list[str] | None = None) -> int:
    """Run the benchmark, write its tables, return the exit status."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    from holdsim.bench.field import FIELD, named
    from holdsim.bench.goals import goal_table
    from holdsim.bench.run import Outcome, run, tasks
    from holdsim.bench.suites import SUITES
    from holdsim.bench.tables import suite_table

    parser = argparse.ArgumentParser(prog="python -m holdsim.bench", description=__doc__)
    parser.add_argument("--suite", choices=(*SUITES, "all"), default="all")
    parser.add_argument("--plants", type=int, default=4, help="plants of each suite")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--controllers", nargs="+", metavar="NAME", help=", ".join(e.name for e in FIELD))
    parser.add_argument("--start", choices=("cold", "hot", "both"), default="both")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument(
        "--no-disturbances", action="store_true", help="leave out lid, stir, cold mass, mains"
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write every row there")
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help="draw curves and ratios there")
    given = parser.parse_args(arguments)
    suites = list(SUITES) if given.suite == "all" else [given.suite]
    starts = ["cold", "hot"] if given.start == "both" else [given.start]
    names = tuple(e.name for e in (named(given.controllers) if given.controllers else FIELD))
    todo = list(tasks(suites, given.plants, given.seed, starts, names, disturb=not given.no_disturbances))
    outcomes: list[Outcome] = []
    # Fresh processes see the one-thread setting before they load numpy.
    with multiprocessing.get_context("spawn").Pool(max(1, given.jobs)) as pool:
        for outcome in pool.imap(run, todo):
            outcomes.append(outcome)
            sys.stderr.write(f"\r{len(outcomes)} of {len(todo)}")
            sys.stderr.flush()
    sys.stderr.write("\n")
    rows = [row for outcome in outcomes for row in outcome.rows]
    for suite in suites:
        for start in starts:
            sys.stdout.write(suite_table(rows, suite, start) + "\n")
    untuned = [name for outcome in outcomes for name in outcome.untuned]
    for name in dict.fromkeys(untuned):
        sys.stdout.write(f"{name}: its relay test made no cycle within 16 h on {untuned.count(name)} runs\n")
    slowest = max((outcome.limits_s for outcome in outcomes), default=0.0)
    sys.stdout.write(f"all limits of one plant from one start took at most {slowest:.1f} s\n\n")
    sys.stdout.write(goal_table(rows))
    if given.json:
        given.json.write_text(json.dumps([row.plain() for row in rows], indent=1), encoding="utf-8")
    if given.pictures:
        from holdsim.bench.pictures import draw_all

        draw_all(outcomes, todo, given.pictures)
    return 0


if __name__ == "__main__":
    sys.exit(main())
