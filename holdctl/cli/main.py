"""The command group and the one place where errors become sentences and exit codes."""

import io
import os
import sys
from pathlib import Path

import click

from holdctl import __version__
from holdctl.cli import (
    asking,
    cooling,
    disposing,
    keeping,
    labelling,
    looking,
    measured,
    noting,
    planning,
    running,
    serving,
    setting,
    tune,
)
from holdctl.errors import HoldctlError

# The matrices are small: threads of the algebra library only wait for each other, and for the relay's loop.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

_EPILOG = """\b
Examples:
  holdctl plan --example > bread.toml
  holdctl plan bread.toml       what to weigh, how hot, what next
  holdctl demo                  a simulated night, no hardware
  holdctl config --example > holdctl.toml
  holdctl start                 begin a hold in the background
  holdctl watch                 look at it
  holdctl review                what the last night did

Nothing here replaces an independent thermal cut-off, nor the local food code.
"""


@click.group(
    epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="holdctl")
def cli() -> None:
    """Hold a baker's scald near 65 °C overnight: all of it, recorded, with the food code beside it."""


for _room in (
    planning,
    measured,
    running,
    looking,
    asking,
    cooling,
    labelling,
    noting,
    disposing,
    keeping,
    setting,
    tune,
    serving,
):
    for _command in _room.COMMANDS:
        cli.add_command(_command)


def main() -> None:
    """Run the command line and leave with 0, 1 (the job failed), 2 (bad input) or 130 (interrupted)."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a letter that a terminal can't show must not end a hold
    try:
        sys.exit(cli.main(prog_name="holdctl", standalone_mode=False) or 0)
    except HoldctlError as error:
        _leave(str(error), error.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has gone: nobody is left to tell
        sys.exit(1)
    except Exception as error:  # the last line of defence: a person gets a sentence, not a traceback
        _leave(f"{_keep(error)}", 1)


def _leave(sentence: str, code: int) -> None:
    click.echo(f"holdctl: {sentence}", err=True)
    sys.exit(code)


def _keep(error: Exception) -> str:
    """Write the traceback to a file and return a sentence that names it."""
    import traceback

    from holdctl.config import state_folder

    said = f"This is a fault of holdctl's own ({type(error).__name__}: {error})"
    try:
        path = state_folder() / "last-fault.txt"
        _write_private(path, "".join(traceback.format_exception(error)))
    except (OSError, HoldctlError):
        return f"{said}; please report it."
    return f"{said}; please report it with {path}."


def _write_private(path: Path, text: str) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    path.touch(mode=0o600)
    path.write_text(text, "utf-8")
