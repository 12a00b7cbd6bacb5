"""What all tests share."""

import gc
import os
import sys
from contextlib import suppress
from importlib import import_module
from pathlib import Path

import pytest

# Four thousand tests are millions of objects that live to the end: looked through again and again while they are made,
# they take a quarter longer to make (measured: 21.8 s and 17.2 s of one worker's processor).
gc.disable()

# The matrices are small: threads of the algebra library only wait for each other. Set before numpy is loaded, and
# inherited by the workers and by every process that a test starts.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

# Whole nights first, where several workers share the files: else one of them is still at a night when all is done.
_NIGHTS = (
    "hold/test_five_warmers",
    "cli/test_demo",
    "control/test_come_up",
    "control/test_estimator",
    "firmware/test_with_daemon",
    "daemon/test_kill",
    "bench/test_run",
    "plan/test_night_cli",
    "plan/test_night",
    "hold/test_cooling",
    "hold/test_replay",
    "daemon/test_independent_node",
)
EXAMPLES, SOAKED = 60, 1000
"""Of each property whose test sets no number itself, in the usual run and in the long one."""


def pytest_configure(config):
    from hypothesis import settings

    # A busy machine may take any time for an example: how long one takes is judged nowhere.
    settings.register_profile("usual", max_examples=EXAMPLES, deadline=None)
    settings.register_profile("soak", max_examples=SOAKED, deadline=None)
    settings.load_profile("soak" if config.option.markexpr == "soak" else "usual")
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_sessionstart(session):
    """Let each worker begin elsewhere: what one has translated, the others find in its `__pycache__`."""
    worker, workers = (os.environ.get(f"PYTEST_XDIST_{name}", "") for name in ("WORKER", "WORKER_COUNT"))
    if not worker:
        return
    sys.dont_write_bytecode = False
    root = Path(__file__).parents[1]
    files = sorted(root.glob("tests/*/test_*.py"))
    begin = int(worker[2:]) * len(files) // int(workers)
    for file in files[begin:] + files[:begin]:
        with suppress(Exception, pytest.skip.Exception):  # the collection will say what is wrong with it
            import_module(".".join(file.relative_to(root).with_suffix("").parts))


def pytest_collection_finish(session):
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000)
    gc.enable()


def pytest_collection_modifyitems(items):
    def rank(path):
        found = [k for k, name in enumerate(_NIGHTS) if path.with_suffix("").as_posix().endswith(name)]
        return found[0] if found else len(_NIGHTS)

    ranks = {path: rank(path) for path in {item.path for item in items}}
    items.sort(key=lambda item: ranks[item.path])
