"""Requests of a person on their way to the daemon: small JSON files in a folder beside the record.

`place` writes a file under a temporary name and renames it, so the daemon never sees half of one. Its
`collect` first moves each file into `taken/` and only then hands it out: whatever dies after that, no later
`collect` finds it again, so nothing is obeyed twice; `Store.request` deletes it once record and outcome are
on disk. What was never filed is found by `leftovers` at the next start. A file that is no request of ours
goes to `refused/` and stays there. Who may write to the folder may ask: file permissions are the access
control.
"""

import contextlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import msgspec

from holdctl.errors import StoreError
from holdctl.events import Request, RequestKind
from holdctl.record.files import make_folder

EXPIRY_MS = 60_000
"""Age after which `reset` and `next` are not obeyed any more: common practice, no source."""
LONGEST_SUBJECT = 1000
_LARGEST_BYTES = 8192
_EXPIRING = (RequestKind.RESET, RequestKind.NEXT)

Outcome = Literal["accepted", "expired", "refused"]


class _File(msgspec.Struct, forbid_unknown_fields=True):
    kind: RequestKind
    by: str
    utc_ms: Annotated[int, msgspec.Meta(ge=0, lt=2**53)]
    hold: Annotated[int, msgspec.Meta(ge=0, lt=2**53)] | None = None
    subject: str = ""


@dataclass(frozen=True, slots=True)
class Filed:
    """One request file as collected: the request when it is to be obeyed, and what became of it."""

    request: Request | None
    outcome: Outcome
    reason: str
    raw: str
    placed_utc_ms: int | None = None
    kind: str | None = None
    by: str | None = None
    subject: str | None = None
    path: Path | None = None
    """Where the file waits until `Store.request` has filed it; None when it stays in `refused/`."""


def place(
    folder: Path, *, kind: RequestKind, by: str, hold: int | None = None, subject: str = "", utc_ms: int
) -> Path:
    """Put one request into the spool, complete or not at all, and return its file."""
    if len(subject) > LONGEST_SUBJECT:
        raise StoreError(f"The text is too long: at most {LONGEST_SUBJECT} characters, please.")
    data = msgspec.json.encode(_File(kind=kind, by=by, utc_ms=utc_ms, hold=hold, subject=subject))
    name = f"{utc_ms:014d}-{os.getpid()}-{os.urandom(4).hex()}"
    half, whole = folder / f".{name}.half", folder / f"{name}.json"
    try:
        fd = os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC, 0o600)
        with os.fdopen(fd, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        half.rename(whole)
    except OSError as error:
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)
        raise StoreError(
            f"Can't leave the request in {folder} ({error.strerror}): ask whoever started the hold to do it, "
            "or change the folder's permissions."
        ) from error
    return whole


def prepare(folder: Path) -> None:
    """Make the spool as its daemon's own; whoever asks finds it there. Raises StoreError."""
    try:
        make_folder(folder)
        make_folder(folder / "taken")
    except OSError as error:
        raise StoreError(
            f"Can't make the spool {folder} ({error.strerror}): check its permissions."
        ) from error


def collect(folder: Path, *, now_utc_ms: int, daemon_start_utc_ms: int, hold: int | None) -> list[Filed]:
    """Take every waiting request out of the spool, oldest first, each with what is to become of it.

    Pass each result to `Store.request`; obey its `request` when that is not None. Cheap when nothing waits.
    """
    filed = []
    for name in _waiting(folder):
        found = _take(folder, name)
        if found is not None:
            filed.append(_judge(found, now_utc_ms, daemon_start_utc_ms, hold))
    return filed


def leftovers(folder: Path) -> list[Filed]:
    """Take what lies in the spool when a daemon starts: nothing of it is obeyed, all of it is to be filed.

    Files that an earlier daemon had taken but not filed, and files placed while none ran.
    """
    filed = []
    for name in _waiting(folder / "taken"):
        found = _read(folder, folder / "taken" / name)
        filed.append(_unobeyed(found, "the daemon ended before it was obeyed"))
    for name in _waiting(folder):
        waiting = _take(folder, name)
        if waiting is not None:
            filed.append(_unobeyed(waiting, "it was placed before this start"))
    return filed


def _waiting(folder: Path) -> list[str]:
    try:
        names = os.listdir(folder)  # noqa: PTH208 - polled once per reading, and Path.iterdir() is slower
    except FileNotFoundError:
        return []
    except OSError as error:
        raise StoreError(
            f"Can't look into the spool {folder} ({error.strerror}): check its permissions."
        ) from error
    return sorted(name for name in names if name.endswith(".json") and name[0] != ".")


def _take(folder: Path, name: str) -> "Filed | _Found | None":
    taken = folder / "taken"
    try:
        make_folder(taken)
        (folder / name).rename(taken / name)
    except FileNotFoundError:
        return None  # withdrawn meanwhile
    except OSError as error:
        raise StoreError(
            f"Can't take {folder / name} ({error.strerror}): check the folder's permissions."
        ) from error
    return _read(folder, taken / name)


@dataclass(frozen=True, slots=True)
class _Found:
    file: _File
    raw: str
    path: Path


def _read(folder: Path, path: Path) -> "Filed | _Found":
    raw = ""
    try:
        raw = _bytes_of(path).decode("utf-8", "replace")
        file = msgspec.json.decode(raw, type=_File)
    except (msgspec.DecodeError, OSError) as error:
        return _set_aside(folder, path, raw, str(error))
    if len(file.subject) > LONGEST_SUBJECT:
        return _set_aside(folder, path, raw, "its text is too long")
    return _Found(file, raw, path)


def _bytes_of(path: Path) -> bytes:
    # no links, no pipes: reading must not block nor leave the folder
    fd = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    with os.fdopen(fd, "rb") as file:
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            raise OSError("not a plain file")
        data = file.read(_LARGEST_BYTES + 1)
    if len(data) > _LARGEST_BYTES:
        raise OSError("the file is too large")
    return data


def _set_aside(folder: Path, path: Path, raw: str, why: str) -> Filed:
    refused = folder / "refused"
    try:
        make_folder(refused)
        path.rename(refused / path.name)
    except OSError as error:
        raise StoreError(
            f"Can't move {path} aside ({error.strerror}): check the folder's permissions."
        ) from error
    reason = f"not a request of holdctl ({plain(why)}); the file is kept as refused/{path.name}"
    return Filed(None, "refused", reason, raw)


def _judge(found: "Filed | _Found", now: int, daemon_start: int, hold: int | None) -> Filed:
    if isinstance(found, Filed):
        return found
    file = found.file
    if file.hold is not None and file.hold != hold:
        running = "no hold is running" if hold is None else f"hold {hold} is running"
        return _filed(found, "refused", f"it is meant for hold {file.hold}, but {running}")
    if file.utc_ms < daemon_start and file.kind in _EXPIRING:
        return _filed(found, "expired", "it was placed before this start")
    if file.kind in _EXPIRING and not -EXPIRY_MS <= now - file.utc_ms <= EXPIRY_MS:
        return _filed(
            found, "expired", f"it was placed {(now - file.utc_ms) / 1000:.0f} s ago, the limit is 60 s"
        )
    return _filed(found, "accepted", "")


def _unobeyed(found: "Filed | _Found", reason: str) -> Filed:
    return found if isinstance(found, Filed) else _filed(found, "expired", reason)


def _filed(found: _Found, outcome: Outcome, reason: str) -> Filed:
    file = found.file
    by, subject = plain(file.by), plain(file.subject)
    request = Request(file.kind, by, subject) if outcome == "accepted" else None
    return Filed(request, outcome, reason, found.raw, file.utc_ms, file.kind.value, by, subject, found.path)


def plain(text: str) -> str:
    """Return `text` without control characters, which could drive the terminal of whoever reads it."""
    return "".join(c if c.isprintable() else " " for c in text).strip()
