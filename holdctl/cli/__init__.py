"""The command line: arguments in, words out, nothing else."""

from holdctl.cli.main import cli, main

__all__ = ["cli", "main"]
