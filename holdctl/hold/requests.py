"""What a person may ask of a hold, and what it answers."""

from typing import TYPE_CHECKING

from holdctl.errors import ConfigError
from holdctl.events import Instant, Notice, NoticeKind, Request, RequestKind, State
from holdctl.food import measured
from holdctl.hold.disposition import read_subject
from holdctl.hold.programme import duration_ms
from holdctl.hold.states import ENDED, Cause
from holdctl.safety import INTERLOCKS

if TYPE_CHECKING:
    from holdctl.hold.hold import Hold


_MOVES = (RequestKind.STOP, RequestKind.NEXT, RequestKind.COOL, RequestKind.SOUR)
SKIP = "skip"
"""Subject of a `next` that gives up a hold step whose time is not earned yet."""


def answer(hold: "Hold", request: Request, now: Instant) -> list[Notice]:
    """Do what was asked if it can be done; return what to say about it."""
    if hold.state in ENDED:
        return [_refused(request, "this hold has ended")]
    if hold.state is State.STOPPING and request.kind in _MOVES:
        return [_refused(request, "this hold is stopping already")]
    return _do(hold, request, now)


def _do(hold: "Hold", request: Request, now: Instant) -> list[Notice]:
    match request.kind:
        case RequestKind.STOP:
            hold.change(Cause.STOP, f"asked by {request.by}")
            return []
        case RequestKind.NOTE:
            return [_note(request)]
        case RequestKind.ACKNOWLEDGE:
            return _acknowledge(hold, request)
        case RequestKind.RESET:
            return _reset(hold, request)
        case RequestKind.NEXT:
            return _next(hold, request, now)
        case RequestKind.SHELVE:
            return _shelve(hold, request, now)
        case RequestKind.UNSHELVE:
            back = hold.alarms.unshelve(request.subject, request.by)
            return list(back) or [_refused(request, f"no alarm “{request.subject}” is put aside")]
        case RequestKind.DISPOSITION:
            return _disposition(request)
        case RequestKind.COOL | RequestKind.SOUR:  # pragma: no branch  # there are no other requests
            return _spell(hold, request, now)


def _note(request: Request) -> Notice:
    try:
        return note(request.subject, request.by)
    except ConfigError as error:
        return _refused(request, str(error).rstrip("."))


def note(subject: str, by: str) -> Notice:
    """Return a note of the subject's words, with the values that it carries. Raises ConfigError where they can't be."""
    found = measured.read_subject(subject)
    if found is None:
        return Notice(NoticeKind.NOTE, "note", subject, {"by": by})
    words = found.words()
    text = f"{found.text} ({words})" if found.text else words
    return Notice(NoticeKind.NOTE, "note", text, {"by": by, **found.detail()})


def _refused(request: Request, why: str) -> Notice:
    return Notice(
        NoticeKind.REFUSED, request.kind.value, f"{request.kind.value} refused: {why}.", {"by": request.by}
    )


def _acknowledge(hold: "Hold", request: Request) -> list[Notice]:
    seen = hold.alarms.acknowledge(request.subject, request.by)
    if not seen:
        return [_refused(request, f"no unacknowledged alarm “{request.subject or 'any'}” stands")]
    return list(seen)


def _shelve(hold: "Hold", request: Request, now: Instant) -> list[Notice]:
    name, _, lasts = request.subject.partition(" ")
    try:
        for_ms = duration_ms(lasts)
    except ConfigError as error:
        return [_refused(request, str(error).rstrip("."))]
    why = hold.alarms.why_not_shelved(name, for_ms)
    return (
        [_refused(request, why)] if why else list(hold.alarms.shelve(name, request.by, for_ms, now.hold_ms))
    )


def _disposition(request: Request) -> list[Notice]:
    try:
        return [read_subject(request.subject).entry(request.by)]
    except ConfigError as error:
        return [_refused(request, str(error).rstrip("."))]


def _spell(hold: "Hold", request: Request, now: Instant) -> list[Notice]:
    try:
        return hold.unheated.ask(hold, request, now)
    except ConfigError as error:
        return [_refused(request, str(error).rstrip("."))]


def _reset(hold: "Hold", request: Request) -> list[Notice]:
    name = request.subject
    if name not in hold.standing:
        return [_refused(request, f"no trip “{name}” stands")]
    row = INTERLOCKS.get(name)
    if name == "node-cutout":
        return [
            Notice(NoticeKind.INFO, "cutout-reset", f"asked the node to clear its cut-out, for {request.by}")
        ]
    if row is not None and f"holdctl reset {name}" not in row.what_to_do:
        return [_refused(request, f"{name} is not cleared by a reset: {row.what_to_do}")]
    values = hold.last_values
    if values is None or any(other in hold.standing for other in ("no-reading", "probe-fault", "link-down")):
        return [_refused(request, "there is no valid reading to show that the cause is gone")]
    warm = hold.interlocked.high.warm(values.seen_c) if name == "high-limit" else {}
    if warm:
        still = ", ".join(
            f"probe {c} reads {values.seen_c[c]:.1f} °C and must fall to {top:g} °C"
            for c, top in warm.items()
        )
        return [_refused(request, still)]
    if name == "probe-out":
        hold.drive.controller.estimator.trust(values.used_c)
    there = hold.alarms.why_not_reset(name)
    return [_refused(request, there)] if there else list(hold.alarms.reset(name, request.by))


def _next(hold: "Hold", request: Request, now: Instant) -> list[Notice]:
    if hold.unheated.off:
        return [_refused(request, "the paste is not heated any more; `holdctl stop` ends this hold")]
    if hold.state is State.HELD and "unanswered" not in hold.standing:
        return [_refused(request, "a trip stands; reset it first")]
    left_ms = hold.progress.left_ms
    if left_ms is not None and request.subject != SKIP:
        minutes = round(left_ms / 60_000)
        why = f"{minutes // 60} h {minutes % 60:02d} min of this step are left; `holdctl next --skip` gives them up"
        return [_refused(request, why)]
    if hold.progress.step is None:
        hold.change(Cause.FINISH, f"hot holding ended by {request.by}")
        return []
    hold.say(*hold.progress.next(now.hold_ms))
    for name in ("unanswered", "prompt-unanswered"):
        hold.say(*hold.alarms.acknowledge(name, request.by))  # whoever answers has seen it
        hold.clear(name, f"answered by {request.by}")
    return []
