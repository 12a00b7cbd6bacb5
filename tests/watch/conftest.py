"""A folder for records, and the frame as a terminal would show it."""

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from holdctl.record.query import Record
from holdctl.watch import Screen
from tests.watch.nights import PROGRAMME, Night, settings

ZONE = timezone(timedelta(hours=1))


def console(width: int = 80, height: int = 24, *, color: str | None = None, env: Any = None) -> Console:
    return Console(
        width=width, height=height, file=io.StringIO(), force_terminal=True, color_system=color,
        legacy_windows=False, _environ={} if env is None else env,
    )  # fmt: skip


def screen(night: Night, **options: Any) -> Screen:
    night.store.flush()
    return Screen(Record(night.path), clock=night.clock, zone=ZONE, **options)


def drawn(shown: Screen, width: int = 80, height: int = 24, **options: Any) -> str:
    on = console(width, height, **options)
    on.print(shown.frame(width, height))
    text: str = on.file.getvalue()
    return text


@contextmanager
def beginning(folder: Path) -> Iterator[Callable[..., Night]]:
    """Give a function that begins a night in `folder`; the records are closed in the end."""
    opened = []

    def make(programme: str = PROGRAMME, *, file: str = "night.db", **changes: Any) -> Night:
        pace, simulated = changes.pop("pace", "host"), changes.pop("simulated", False)
        told = settings(changes.pop("preset", "mat-box"), programme, **changes)
        opened.append(Night(folder / file, told, pace=pace, simulated=simulated))
        return opened[-1]

    yield make
    for night in opened:
        night.store.close()


@pytest.fixture
def begin(tmp_path: Path) -> Iterator[Callable[..., Night]]:
    """Begin a night; its record is closed in the end."""
    with beginning(tmp_path) as make:
        yield make
