"""The systemd units that `holdctl service` prints: text from a few facts, nothing else.

The hold runs under the baker's own account, because record, requests and settings are the baker's. Everything that it
does not need is taken from it: the network, other devices, the right to write anywhere but beside its record.
What is left open, and why:

- /proc is not cut down to processes: the kernel's name for this boot is read from it.
- No user namespace of its own: the serial port belongs to a group, and a group without a mapping is a doubt at night.
- Homes are readable: programme, settings and a baker's own commands may lie there.
"""

from dataclasses import dataclass, field
from pathlib import PurePath


@dataclass(frozen=True, slots=True)
class Facts:
    """What a unit has to know."""

    user: str
    program: tuple[str, ...]
    """How holdctl is called: the interpreter's full path, then its arguments."""
    config: str
    """Settings, full path; `%i` in it is the instance."""
    state: str
    """Folder of the records, full path."""
    record: str = ""
    """Record file, where it is not the warmer's own."""
    group: str = ""
    """Group that may open the port; empty: none is needed."""
    devices: tuple[str, ...] = ("char-ttyUSB", "char-ttyACM")
    """Drivers of serial ports, as /proc/devices names them."""
    host: str = ""
    """Address to which a socket:// port leads; empty where it is not known or is a name."""
    read_only: tuple[str, ...] = ()
    """Folders under a home that the mail unit has to read."""
    environment: tuple[str, ...] = field(default=())
    """Further `NAME=value`."""


_ALL_UNITS = """\
NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
ProtectSystem=strict
PrivateTmp=yes
PrivateMounts=yes
ProtectHostname=yes
ProtectClock=yes
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectProc=invisible
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
RemoveIPC=yes
KeyringMode=private
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
UMask=0077
LimitCORE=0
"""


def hold_unit(facts: Facts, *, network: bool, template: bool = False) -> str:
    """Return the unit of a hold; with `network` for a port on socket://, else without any."""
    of = " %i" if template else ""
    run = [
        *facts.program,
        "run",
        "--config",
        facts.config,
        *(["--record", facts.record] if facts.record else []),
    ]
    return "\n".join(
        [
            "# Made by `holdctl service`. Nothing in here replaces an independent thermal cut-off.",
            "[Unit]",
            f"Description=Temperature hold of a scald{of}",
            "Documentation=man:systemd.service(5)",
            *(["Wants=network-online.target", "After=network-online.target"] if network else []),
            "# Twenty starts in ten minutes, then it stays down: look at `journalctl -u`. After a blackout a node, or",
            "# the way to it, may need minutes longer than this computer: a start without it fails and is repeated.",
            "StartLimitIntervalSec=10min",
            "StartLimitBurst=20",
            "",
            "[Service]",
            "Type=notify",
            "NotifyAccess=main",
            f"User={facts.user}",
            *([f"SupplementaryGroups={facts.group}"] if facts.group and not network else []),
            f"ExecStart={_command(run)}",
            *_environment(facts, "PYTHONUNBUFFERED=1", "PYTHONFAULTHANDLER=1", "OMP_NUM_THREADS=1"),
            "# An interrupted hold is followed from its begin first; the hold asks for more time as it goes on.",
            "TimeoutStartSec=5min",
            "# In memory, and kept after the end: readings that a failing disk did not take are left here.",
            f"RuntimeDirectory=holdctl{'-%i' if template else ''}",
            "RuntimeDirectoryMode=0700",
            "RuntimeDirectoryPreserve=yes",
            "# Fed by turns of the loop that were in time. The relay does not wait for it: its lease is 5 s at most.",
            "WatchdogSec=30s",
            "Restart=on-failure",
            "RestartSec=15s",
            "# 2: the settings are wrong, and will be after the next start.",
            "RestartPreventExitStatus=2",
            "KillSignal=SIGTERM",
            "KillMode=mixed",
            "TimeoutStopSec=60s",
            "# A command that eats the memory must not take the hold with it.",
            "OOMPolicy=continue",
            "OOMScoreAdjust=-500",
            "Nice=-5",
            "TasksMax=64",
            "",
            *_hold_rights(facts, network),
            _ALL_UNITS,
            "# No [Install]: a computer that starts must not begin to heat. What an interruption left open goes on by",
            "# the unit of `holdctl service --after-boot`.",
            "",
        ]
    )


def _hold_rights(facts: Facts, network: bool) -> list[str]:
    lines = ["ProtectHome=read-only", f"ReadWritePaths={_path(facts.state)}", "DevicePolicy=closed"]
    if not network:
        lines += [f"DeviceAllow={device} rw" for device in facts.devices]
        return [*lines, "PrivateNetwork=yes", "RestrictAddressFamilies=AF_UNIX", "IPAddressDeny=any"]
    lines += ["PrivateDevices=yes", "RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6"]
    return [*lines, *(["IPAddressDeny=any", f"IPAddressAllow={facts.host}"] if facts.host else [])]


def mail_unit(facts: Facts, *, template: bool = False) -> str:
    """Return the unit that sends the messages of a hold: it has the network, and nothing of the warmer's."""
    of = " %i" if template else ""
    mail = [*facts.program, "mail", "--stay", "--config", facts.config]
    mail += ["--record", facts.record] if facts.record else []
    return "\n".join(
        [
            "# Made by `holdctl service --mail`.",
            "[Unit]",
            f"Description=Messages of a temperature hold{of}",
            "Wants=network-online.target",
            "After=network-online.target",
            "",
            "[Service]",
            "Type=exec",
            f"User={facts.user}",
            f"ExecStart={_command(mail)}",
            *_environment(facts, "PYTHONUNBUFFERED=1"),
            "Restart=always",
            "RestartSec=30s",
            "RestartPreventExitStatus=2",
            "TasksMax=16",
            "",
            "ProtectHome=tmpfs",
            f"BindPaths={_path(facts.state)}",
            *(f"BindReadOnlyPaths={_path(folder)}" for folder in facts.read_only),
            "PrivateDevices=yes",
            "DevicePolicy=closed",
            "RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6",
            _ALL_UNITS,
            "[Install]",
            "WantedBy=multi-user.target",
            "",
        ]
    )


def after_boot_unit(facts: Facts, unit: str, *, template: bool = False) -> str:
    """Return the unit that, at boot, starts the hold's own `unit` where a hold was left open, and else does nothing."""
    of = " %i" if template else ""
    open_ = [*facts.program, "alive", "--unfinished", "--config", facts.config]
    open_ += ["--record", facts.record] if facts.record else []
    return "\n".join(
        [
            "# Made by `holdctl service --after-boot`.",
            "[Unit]",
            f"Description=Go on with a temperature hold that was left open{of}",
            "After=local-fs.target time-sync.target",
            "",
            "[Service]",
            "Type=oneshot",
            f"User={facts.user}",
            *_environment(facts),
            f"ExecCondition={_command(open_)}",
            "# The plus sign: this one line as root, because only root may start a system unit.",
            f"ExecStart=+/usr/bin/systemctl start --no-block {unit}",
            "",
            "ProtectHome=read-only",
            "PrivateNetwork=yes",
            "PrivateDevices=yes",
            "RestrictAddressFamilies=AF_UNIX",
            _ALL_UNITS,
            "[Install]",
            "WantedBy=multi-user.target",
            "",
        ]
    )


def _environment(facts: Facts, *more: str) -> list[str]:
    return [f"Environment={_word(pair)}" for pair in (*more, *facts.environment)]


def _command(words: list[str]) -> str:
    return " ".join(_word(word).replace("$", "$$") for word in words)


def _word(text: str) -> str:
    """Quote one word for a unit; `%i` stays, what else looks like a specifier does not."""
    text = text.replace("%", "%%").replace("%%i", "%i").replace("\\", "\\\\").replace('"', '\\"')
    return f'"{text}"' if not text or set(text) & set(" \t'\";") else text


def _path(path: str) -> str:
    return _word(str(PurePath(path)))
