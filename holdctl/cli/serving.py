"""`service`, `mail` and `alive`: a hold under a service manager, its messages, and its sign of life."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.options import FILE, config_option, find_record, json_option, record_option, say_json
from holdctl.errors import ConfigError, JobError

if TYPE_CHECKING:
    from holdctl.settings import Settings


@click.command(epilog="Example: holdctl service | sudo tee /etc/systemd/system/holdctl.service")
@click.option("--template", is_flag=True, help="For several warmers: one settings file for each instance.")
@click.option("--instance", metavar="NAME", help="For one of several warmers, by the name of its settings.")
@click.option("--socket", is_flag=True, help="The node hangs on socket://: allow the network.")
@click.option("--mail", is_flag=True, help="The unit that sends messages instead.")
@click.option("--after-boot", is_flag=True, help="The unit that goes on with a hold left open, instead.")
@click.option("--user", help="Account that the hold runs under; yours when left out.")
@config_option
@click.option("--record", type=FILE, help="Record file to use instead of the warmer's own.")
@json_option
def service(
    template: bool,
    instance: str | None,
    socket: bool,
    mail: bool,
    after_boot: bool,
    user: str | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Print a systemd unit for a hold, with no more rights than it needs; nothing is installed."""
    from holdctl.daemon import unit as units
    from holdctl.daemon.account import Asked, facts

    if template and instance:
        raise click.UsageError("--template and --instance exclude each other.")
    if mail and after_boot:
        raise click.UsageError("--mail and --after-boot are two units: print one after the other.")
    asked = Asked(user, "%i" if template else instance or "", config_file, record)
    found, settings = facts(asked)
    kind = "-mail" if mail else "-after-boot" if after_boot else ""
    suffix = "@" if template else f"-{instance}" if instance else ""
    if mail:
        text = units.mail_unit(found, template=template)
    elif after_boot:
        started = "holdctl@%i.service" if template else f"holdctl{suffix}.service"
        text = units.after_boot_unit(found, started, template=template)
    else:
        network = socket or _on_socket(settings)
        text = units.hold_unit(found, network=network, template=template)
    name = f"holdctl{kind}{suffix}.service"
    if as_json:
        say_json({"name": name, "user": found.user, "state": found.state, "unit": text})
        return
    click.echo(text, nl=False)
    click.echo(f"Put it into /etc/systemd/system/{name}, then: sudo systemctl daemon-reload", err=True)


def _on_socket(settings: "Settings | None") -> bool:
    return settings is not None and settings.port is not None and settings.port.url.startswith("socket://")


@click.command(epilog="Example: holdctl mail --test")
@click.option("--stay", is_flag=True, help="Stay and send what comes; also tell when the hold goes silent.")
@click.option("--test", is_flag=True, help="Send one message now to see that it arrives.")
@config_option
@record_option
@json_option
def mail(stay: bool, test: bool, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Send the messages that wait beside the record, by the mail server of the settings."""
    from holdctl.clock import SystemClock
    from holdctl.config import load, record_path
    from holdctl.daemon import post
    from holdctl.daemon.letters import Letter, letter_folder, put

    settings = load(config_file).settings
    if settings.notify.mail is None:
        raise ConfigError("No mail server is named: see [notify.mail] in `holdctl config --example`.")
    path, clock = record or record_path(settings.warmer.name), SystemClock()
    if test:
        letter = Letter(
            clock.utc_ms(), f"{settings.warmer.name}: a test", "This message is a test.\n", second=True
        )
        why = put(letter_folder(path), letter)
        if why:
            raise JobError(f"{why[0].upper()}{why[1:]}.")
    if stay:
        post.stay(settings.notify.mail, path, clock, lambda words: click.echo(words, err=True))
    sent = post.send_waiting(settings.notify.mail, path, clock)
    if as_json:
        say_json({"sent": sent, "folder": str(letter_folder(path))})
    else:
        click.echo(f"Sent: {sent}.")


@click.command(epilog='Example: holdctl alive --max-age "3 min" || echo "look at the hold"')
@click.option("--max-age", default="3 min", show_default=True, help="An older sign of life is none.")
@click.option("--alarms", is_flag=True, help="Fail on an alarm that nobody has acknowledged, too.")
@click.option(
    "--unfinished", is_flag=True, help="Say only whether a hold was left open; fail where none was."
)
@config_option
@record_option
@json_option
def alive(
    max_age: str, alarms: bool, unfinished: bool, config_file: Path | None, record: Path | None, as_json: bool
) -> int:
    """Say whether the hold gives signs of life, for a watcher: 0 it does or has ended in order, 1 it does not."""
    from holdctl.clock import SystemClock, boot_id
    from holdctl.daemon.heartbeat import heartbeat_file, read
    from holdctl.events import State
    from holdctl.hold.programme import duration_ms

    longest_ms, path, clock = duration_ms(max_age), find_record(record, config_file), SystemClock()
    if unfinished:
        return _unfinished(path, as_json)
    heartbeat = read(heartbeat_file(path))
    if heartbeat is None:
        raise JobError(f"There is no sign of life beside {path}: no hold has begun there.")
    age_ms = heartbeat.age_ms(clock.utc_ms(), clock.monotonic_ms(), boot_id())
    late = age_ms is None or age_ms > longest_ms or heartbeat.state == State.ABORTED
    fresh = heartbeat.ended or not late
    waits = heartbeat.unacknowledged if alarms else ()
    good = fresh and not waits
    if as_json:
        age_s = None if age_ms is None else age_ms / 1000
        names = ("hold", "state", "words", "alarms", "unacknowledged", "ended", "utc_ms")
        say_json({"alive": fresh, "good": good, "age_s": age_s, **{n: getattr(heartbeat, n) for n in names}})
    else:
        since = "before this computer was started" if age_ms is None else f"{age_ms // 1000} s ago"
        said = "Alive" if fresh and not heartbeat.ended else "Ended" if fresh else "No sign of life"
        click.echo(f"{said}: hold {heartbeat.hold}, {heartbeat.words} (written {since}).")
        if waits:
            click.echo(f"Not acknowledged: {', '.join(waits)}.")
    return 0 if good else 1


def _unfinished(path: Path, as_json: bool) -> int:
    from holdctl.record.query import Record

    hold = Record(path).hold()
    left = hold.state is None and Record(path).writer_pid() is None
    if as_json:
        say_json({"hold": hold.id, "unfinished": left})
    else:
        click.echo(f"Hold {hold.id} {'was left open' if left else 'is not left open'}.")
    return 0 if left else 1


COMMANDS = (service, mail, alive)
