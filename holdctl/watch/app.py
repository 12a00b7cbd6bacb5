"""The live screen on a terminal, and the screen alone for whoever draws it himself."""

import json
import os
from collections.abc import Callable
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from holdctl.clock import Clock, SystemClock
from holdctl.record.query import Record
from holdctl.watch.bell import Bell
from holdctl.watch.data import frame_json
from holdctl.watch.feed import Feed
from holdctl.watch.snapshot import Snapshot
from holdctl.watch.view import LEAVE, frame
from holdctl.watch.words import Look, Units

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderResult
    from rich.text import Text

REFRESH_S = 0.5


class Screen:
    """One hold's screen: `refresh` reads what is new, `frame` draws it; a rich renderable at the console's size."""

    def __init__(
        self,
        record: Record,
        hold: int | None = None,
        *,
        units: Units | None = None,
        plain: bool = False,
        clock: Clock | None = None,
        zone: tzinfo | None = None,
    ) -> None:
        """Follow a hold, the latest without a number. Raises StoreError when there is none or it can't be read."""
        self._feed = Feed(record, clock or SystemClock(), hold)
        self.look = Look(units or self._feed.settings.units, plain, zone)
        self.footer = ""
        """The caller's own last line."""
        self.leave = LEAVE
        """What Ctrl-C does here."""
        self.snapshot: Snapshot = self._feed.refresh()

    def refresh(self) -> Snapshot:
        """Read what is new in the record and return what stands now."""
        self.snapshot = self._feed.refresh()
        return self.snapshot

    def frame(self, width: int, height: int) -> "Text":
        """Return the screen as it stands in at most `height` lines of at most `width` columns."""
        return frame(self.snapshot, width, height, self.look, self.footer, self.leave)

    def __rich_console__(self, console: "Console", options: "ConsoleOptions") -> "RenderResult":
        """Draw at the size that rich offers."""
        yield self.frame(options.max_width, options.height or console.height)


def watch(
    record_path: Path,
    *,
    hold: int | None = None,
    units: Units | None = None,
    once: bool = False,
    as_json: bool = False,
    quiet: bool = False,
    console: "Console | None" = None,
    stop: Callable[[], bool] = lambda: False,
    clock: Clock | None = None,
    zone: tzinfo | None = None,
) -> int:
    """Show a hold until it ends, `stop` says so, or Ctrl-C; leave its last frame on the terminal. Returns 0.

    One frame only with `once`, with `as_json` (as one line of JSON), and where no terminal is. Raises StoreError when
    record or hold can't be read. Unless `quiet` the terminal's bell rings for what nobody has acknowledged.
    """
    console = console or _console()
    clock = clock or SystemClock()
    screen = Screen(Record(record_path), hold, units=units, plain=plain_only(console), clock=clock, zone=zone)
    if as_json:
        console.file.write(json.dumps(frame_json(screen.snapshot, screen.look), ensure_ascii=False) + "\n")
        return 0
    if not once and console.is_terminal and not screen.snapshot.ended:
        _follow(screen, console, stop, clock, None if quiet else Bell(screen.snapshot.settings.notify))
    # One line less than the terminal has, for the shell's prompt: else the sentence on top would scroll away.
    console.print(screen.frame(console.width, console.height - 1 if console.is_terminal else 24))
    return 0


def plain_only(console: "Console") -> bool:
    """Say whether the terminal shows ASCII only: another encoding than UTF-8, or the Linux console's small font."""
    return not console.encoding.lower().startswith("utf") or os.environ.get("TERM") == "linux"


def _console() -> "Console":
    from rich.console import Console

    return Console(highlight=False)


def _follow(
    screen: Screen, console: "Console", stop: Callable[[], bool], clock: Clock, bell: Bell | None
) -> None:
    from rich.live import Live

    try:
        with Live(screen, console=console, screen=True, auto_refresh=False) as live:
            while not stop():
                live.refresh()
                if bell is not None and bell.rings(screen.snapshot.alarms, clock.monotonic_ms()):
                    console.bell()
                clock.sleep(REFRESH_S)
                if screen.refresh().ended:
                    return
    except KeyboardInterrupt:
        return
