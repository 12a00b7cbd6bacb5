"""Which alarms stand, who has seen them and which are put aside, from what the record says of each."""

from dataclasses import replace

from holdctl.events import NoticeKind
from holdctl.record.rows import EventRow
from holdctl.safety.alarm_states import UNSEEN, AlarmState
from holdctl.watch.snapshot import Alarm

_RAISED = (NoticeKind.TRIP, NoticeKind.ALARM)
_GONE = (NoticeKind.TRIP_CLEARED, NoticeKind.ALARM_CLEARED, NoticeKind.RETURNED, NoticeKind.RESET)
_SEEN = (NoticeKind.ACKNOWLEDGED, NoticeKind.SHELVED, NoticeKind.UNSHELVED)
_OLD = {NoticeKind.ACKNOWLEDGED: AlarmState.ACKNOWLEDGED}
"""Records written before alarms had states: what is over is gone there."""


class Standing:
    """Fed with a hold's events in order."""

    def __init__(self) -> None:
        self.alarms: dict[str, Alarm] = {}
        self.shelved: dict[str, None] = {}

    def fold(self, event: EventRow) -> None:
        """Take one event; those that are no alarm's pass."""
        if event.kind in _RAISED:
            self.alarms.pop(event.name, None)
            alarm = _alarm(event)
            if alarm.first_out:
                self.alarms = {name: replace(one, first_out=False) for name, one in self.alarms.items()}
            self.alarms[event.name] = alarm
        elif event.kind in _GONE or event.kind in _SEEN:
            self._change(event)

    def _change(self, event: EventRow) -> None:
        state = _state(event)
        self.shelved.pop(event.name, None)
        if state is AlarmState.SHELVED:
            self.shelved[event.name] = None
        alarm = self.alarms.get(event.name)
        if alarm is None:
            return
        over_ms = event.utc_ms if event.kind in _GONE else alarm.over_utc_ms
        shelved = state is AlarmState.SHELVED
        if state is AlarmState.NORMAL or (shelved and over_ms is not None and not alarm.latched):
            del self.alarms[event.name]
            return
        seen = state not in UNSEEN
        self.alarms[event.name] = replace(alarm, acknowledged=seen, shelved=shelved, over_utc_ms=over_ms)


def _state(event: EventRow) -> AlarmState:
    said = event.detail.get("state")
    if said in {state.value for state in AlarmState}:
        return AlarmState(said)
    return _OLD.get(NoticeKind(event.kind), AlarmState.NORMAL)


def _alarm(event: EventRow) -> Alarm:
    detail = event.detail
    state = detail.get("state", AlarmState.UNACKNOWLEDGED)
    over = state in (AlarmState.RETURNED, AlarmState.LATCHED_UNACKNOWLEDGED)
    return Alarm(
        name=event.name,
        trip=event.kind == NoticeKind.TRIP,
        text=event.text,
        since_utc_ms=event.utc_ms,
        acknowledged=state not in UNSEEN,
        latched=detail.get("latched") is True,
        restored=detail.get("restored") is True,
        priority=str(detail.get("priority", "")),
        over_utc_ms=event.utc_ms if over else None,
        shelved=state == AlarmState.SHELVED,
        first_out=detail.get("first_out") is True,
        chattering=detail.get("held_back") == "chattering",
    )
