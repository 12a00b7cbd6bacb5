"""`config` and `completion`."""

from importlib import resources
from pathlib import Path

import click

from holdctl.cli.options import config_option, json_option, say_json


@click.command(epilog="Example: holdctl config --example > holdctl.toml")
@config_option
@click.option("--example", is_flag=True, help="Print a commented holdctl.toml to start from.")
@json_option
def config(config_file: Path | None, example: bool, as_json: bool) -> None:
    """Show the settings in force and where each value came from."""
    if example:
        text = resources.files("holdctl.config").joinpath("example.toml").read_text("utf-8")
        if as_json:
            say_json({"example": text})
        else:
            click.echo(text, nl=False)
        return
    from holdctl.config import load
    from holdctl.config.load import flat

    loaded = load(config_file)
    values = flat(loaded.settings)
    if as_json:
        say_json({key: {"value": value, "from": loaded.origin[key]} for key, value in values.items()})
        return
    width = max(map(len, values))
    for key, value in values.items():
        shown = "–" if value is None else f"{value}"
        click.echo(f"{key:<{width}}  {shown}  [{loaded.origin[key]}]")


@click.command(epilog='Example: eval "$(holdctl completion bash)"')
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@json_option
def completion(shell: str, as_json: bool) -> None:
    """Print the script that lets a shell complete holdctl's commands."""
    from click.shell_completion import get_completion_class

    from holdctl.cli.main import cli

    maker = get_completion_class(shell)
    if maker is None:
        raise click.UsageError(f"no completion for {shell}")
    script = maker(cli, {}, "holdctl", "_HOLDCTL_COMPLETE").source()
    if as_json:
        say_json({"shell": shell, "script": script})
    else:
        click.echo(script)


COMMANDS = (config, completion)
