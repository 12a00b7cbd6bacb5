"""The facts of one account and one warmer that a unit needs: who, where, which port."""

import grp
import ipaddress
import os
import pwd
import re
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from holdctl.config import find, load, state_folder
from holdctl.config.places import config_folder
from holdctl.daemon.unit import Facts
from holdctl.errors import ConfigError
from holdctl.record.files import make_folder, os_error
from holdctl.settings import Settings

_INSTANCE = re.compile(r"%i|[A-Za-z0-9_.-]*")
_GROUPS = ("dialout", "uucp")
_DRIVERS = ("ttyUSB", "ttyACM", "ttyAMA", "ttyS")


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person said; empty where nothing."""

    user: str | None = None
    instance: str = ""
    """Name of one of several warmers, `%i` for all of them."""
    config: Path | None = None
    record: Path | None = None


def facts(asked: Asked) -> tuple[Facts, Settings | None]:
    """Return what a unit has to know, and the settings where they can be read now. Raises ConfigError.

    The state folder is made where it is missing: the unit may write nowhere else, and would not start without it.
    """
    _one_line(asked.config, asked.record)
    person = _person(asked.user)
    mine = person.pw_uid == os.geteuid()
    folders = _mine() if mine else _theirs(person)
    config, settings = _settings(asked, folders[0], mine)
    record = str(asked.record.absolute()) if asked.record else ""
    state = asked.record.absolute().parent if asked.record else folders[1]
    if mine:
        _make(state)
    url = settings.port.url if settings and settings.port else ""
    return (
        Facts(
            user=person.pw_name,
            program=(sys.executable, "-m", "holdctl"),
            config=config,
            state=str(state),
            record=record,
            group=_group(),
            devices=_devices(url),
            host=_host(url),
            read_only=_read_only(Path(person.pw_dir), config, settings),
            environment=tuple(
                f"{n}={os.environ[n]}" for n in ("XDG_STATE_HOME",) if mine and n in os.environ
            ),
        ),
        settings,
    )


def _one_line(*paths: Path | None) -> None:
    """A unit is a file of lines: what could begin a line of its own there is not put into it. Raises ConfigError."""
    for path in paths:
        if path is not None and not str(path.absolute()).isprintable():
            raise ConfigError(f"The path {str(path)!r} can't stand in a unit: rename what has such letters.")


def _person(user: str | None) -> pwd.struct_passwd:
    try:
        person = pwd.getpwnam(user) if user else pwd.getpwuid(os.geteuid())
    except KeyError:
        raise ConfigError(f"There is no account “{user}” here: name one with --user.") from None
    if person.pw_uid == 0:
        raise ConfigError(
            "A hold needs no root: print the unit as yourself, or name your account with --user."
        )
    return person


def _mine() -> tuple[Path, Path]:
    return config_folder(), state_folder()


def _theirs(person: pwd.struct_passwd) -> tuple[Path, Path]:
    """Return the usual folders of another account (XDG base directories)."""
    home = Path(person.pw_dir)
    return home / ".config/holdctl", home / ".local/state/holdctl"


def _settings(asked: Asked, folder: Path, mine: bool) -> tuple[str, Settings | None]:
    """Return the path of the settings, and the settings themselves where there is one file and it can be read."""
    if not _INSTANCE.fullmatch(asked.instance):
        raise ConfigError(
            f"“{asked.instance}” can't name an instance: letters, digits, “-”, “_” and “.” only."
        )
    given = asked.config
    if given is None and asked.instance:
        given = folder / f"{asked.instance}.toml"
    if asked.instance == "%i":
        return str(given), None
    if given is None and not mine:
        given = folder / "holdctl.toml"
    loaded = load(find(given))
    return str(loaded.path.absolute()), loaded.settings


def _make(folder: Path) -> None:
    try:
        make_folder(folder)
    except OSError as error:
        raise os_error(folder, error) from error


def _group() -> str:
    for name in _GROUPS:
        with suppress(KeyError):
            return grp.getgrnam(name).gr_name
    return ""


def _devices(url: str) -> tuple[str, ...]:
    """Return the drivers to allow: those of USB ports, and the one of the port named now where it is another."""
    real = os.path.realpath(url) if url.startswith("/dev/") else ""
    named = [d for d in _DRIVERS if real.startswith(f"/dev/{d}")]
    return tuple(f"char-{d}" for d in dict.fromkeys(["ttyUSB", "ttyACM", *named]))


def _host(url: str) -> str:
    """Return the address of a socket:// port; empty for a name, which may lead anywhere."""
    host = urlsplit(url).hostname or "" if url.startswith("socket://") else ""
    if host == "localhost":
        return "localhost"
    with suppress(ValueError):
        return str(ipaddress.ip_address(host))
    return ""


def _read_only(home: Path, config: str, settings: Settings | None) -> tuple[str, ...]:
    """Return what the mail unit has to read of a home: settings, password, certificate, holdctl itself."""
    mail = settings.notify.mail if settings else None
    wanted = [str(Path(config).parent), sys.prefix, sys.base_prefix, str(Path(__file__).parents[2])]
    wanted += [path for path in (mail.password_file, mail.ca_file) if path] if mail else []
    return tuple(dict.fromkeys(path for path in wanted if Path(path).is_relative_to(home)))
