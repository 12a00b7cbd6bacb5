"""`run --plan` and `start --plan`: a night that begins from a kept plan, at once or at its latest start."""

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.errors import ConfigError

if TYPE_CHECKING:
    from holdctl.clock import Clock
    from holdctl.events import Identified, Notice
    from holdctl.plan.plan import Plan
    from holdctl.settings import Settings

plan_option = click.option(
    "--plan", "number", type=int, metavar="ID", help="Hold a kept plan: its paste, its programme, its mix."
)
wait_option = click.option(
    "--wait",
    is_flag=True,
    help="With --plan: wait for its latest start, relay off, if the food code lets the paste.",
)
later_option = click.option(
    "--mix-later", is_flag=True, help="With --wait: flour and water are still apart; you mix when it says so."
)
_LOOK_S = 1.0


@dataclass(frozen=True, slots=True)
class Begin:
    """How a hold begins: its settings, and the plan that it comes from, if any."""

    settings: "Settings"
    plan: "Plan | None" = None
    waits: bool = False
    mix_later: bool = False

    def notices(self, now_utc_ms: int) -> "tuple[Notice, ...]":
        """Return what is written at the head of the record."""
        if self.plan is None:
            return ()
        from holdctl.plan import learned
        from holdctl.plan.starting import first_notices

        return first_notices(self.plan, learned.load(), now_utc_ms)


def begin(
    number: int | None,
    settings: "Settings",
    clock: "Clock",
    *,
    wait: bool = False,
    mix_later: bool = False,
    left: Path | None = None,
    record: Path | None = None,
) -> Begin:
    """Return how a hold begins; `left` is a record that a planned hold may have been left open in, `record` the
    warmer's, which may know what an earlier hold has identified.

    Such a hold goes on with its plan, though nobody named it: the machine may have started again by itself.
    Raises ConfigError where a plan does not fit, or may not wait.
    """
    if number is None:
        if wait or mix_later:
            raise ConfigError("--wait and --mix-later go with a plan: add --plan 3.")
        return Begin(_as_left(settings, left) if left is not None else settings)
    from holdctl.plan import starting, store

    plan, now = store.load(number), clock.utc_ms()
    if mix_later and not wait:
        raise ConfigError(
            "--mix-later goes with --wait; without it the hold begins now, with the paste in the warmer."
        )
    if mix_later and not sys.stdin.isatty():
        raise ConfigError("--mix-later asks at the start whether the paste is in: it needs a terminal.")
    if wait and not mix_later:
        wait_s = starting.wait_ms(plan, now) / 1000.0
        starting.refuse_waiting(plan, settings, wait_s, _identified(settings, record))
    for text in (starting.changed_since(plan, settings), starting.too_late(plan, now)):
        if text:
            click.echo(f"Mind: {text}", err=True)
    return Begin(starting.settings_for(plan, settings), plan, wait, mix_later)


def _identified(settings: "Settings", record: Path | None) -> "Identified | None":
    from holdctl.plan.known import identified

    return None if record is None else identified(record, settings.warmer.name)[0]


def _as_left(settings: "Settings", record: Path) -> "Settings":
    """Return the settings with the paste and programme of the planned hold that was left open, if there is one."""
    from holdctl.errors import HoldctlError
    from holdctl.plan import starting

    try:
        plan = starting.left_open(record)
        return settings if plan is None else starting.settings_for(plan, settings)
    except HoldctlError:  # what is wrong with the record, or the plan, is said by those who go on with it
        return settings


def wait_for(night: Begin, clock: "Clock") -> None:
    """Wait for the plan's latest start; with the paste still to be mixed, until it is said to be in."""
    if night.plan is None or not night.waits:
        return
    from holdctl.plan.starting import wait_ms
    from holdctl.plan.words import clock as local
    from holdctl.plan.words import span

    left = wait_ms(night.plan, clock.utc_ms())
    start = clock.utc_ms() + left
    if left:
        click.echo(
            f"Waiting until {local(start)} ({span(left / 1000)}), relay off. Ctrl-C ends it.", err=True
        )
    while clock.utc_ms() < start:
        clock.sleep(min(_LOOK_S, (start - clock.utc_ms()) / 1000 + 0.01))
    if night.mix_later:
        click.pause(
            "\aMix the scald now, put it into the warmer with its probes, then press a key. ", err=True
        )
