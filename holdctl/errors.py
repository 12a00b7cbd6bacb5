"""The errors a person may meet: each is one plain sentence that says what to do next.

The command line prints the sentence alone and leaves with the class's exit code; anything else that
escapes is a bug of ours.
"""


class HoldctlError(Exception):
    """Base of all errors with a sentence for the baker; never raised itself."""

    exit_code = 1


class ConfigError(HoldctlError):
    """The input is wrong: a key, a value, a missing file, a contradiction. Exit code 2."""

    exit_code = 2


class LinkError(HoldctlError):
    """The serial line is gone, busy or silent. Exit code 1."""


class StoreError(HoldctlError):
    """The record can't be opened, read or written. Exit code 1."""


class NoSuchHoldError(StoreError):
    """The record is there, but has no hold of the number that was asked for. Exit code 2."""

    exit_code = 2


class JobError(HoldctlError):
    """A job that was asked for correctly could not be done. Exit code 1."""
