"""When the terminal's bell rings: by the same policy that tells people outside."""

from collections.abc import Iterable

from holdctl.hold.programme import duration_ms
from holdctl.safety import Priority, of
from holdctl.safety.notification import Notifier, Seen, Telling
from holdctl.settings import Notify
from holdctl.watch.snapshot import Alarm


class Bell:
    """Rings once for a new alarm, and again until somebody acknowledges it."""

    def __init__(self, notify: Notify) -> None:
        """Take the intervals from the settings of the hold."""
        every = {
            Priority.HIGH: notify.repeat_high,
            Priority.MEDIUM: notify.repeat_medium,
            Priority.LOW: notify.repeat_low,
        }
        self._notifier = Notifier({priority: duration_ms(text) for priority, text in every.items()})

    def rings(self, alarms: Iterable[Alarm], now_ms: int) -> bool:
        """Return whether it rings now, once, for what stands on the screen; `now_ms` never goes back."""
        seen = [
            Seen(a.name, of(a.name).priority, a.text, unacknowledged=not a.acknowledged, shelved=a.shelved)
            for a in alarms
        ]
        return any(message.why is not Telling.OVER for message in self._notifier.look(seen, now_ms))
