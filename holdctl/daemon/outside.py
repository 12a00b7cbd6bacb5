"""Who is told beyond record and log: the service manager, the heartbeat file, commands and mail.

The loop calls in here at every turn, and nothing in here may make it wait: what takes time is done by `Aside`. What
goes wrong in here is told in the record and ends there, because a hold must not end for want of a messenger.
"""

import os
from contextlib import suppress
from functools import partial
from pathlib import Path

import msgspec

from holdctl.clock import Clock, boot_id
from holdctl.daemon.aside import Aside
from holdctl.daemon.heartbeat import EVERY_MS, Heartbeat, heartbeat_file, write
from holdctl.daemon.hook import run
from holdctl.daemon.letters import Letter, letter_folder, put
from holdctl.daemon.manager import Manager
from holdctl.daemon.wording import payload, standing, status, subject, text
from holdctl.events import Instant, Notice, NoticeKind, State
from holdctl.hold import Hold
from holdctl.hold.programme import duration_ms
from holdctl.safety import Priority
from holdctl.safety.notification import Message, Notifier, Telling
from holdctl.settings import Command, Notify, Settings

_LAST_WORDS_S = 3.0
"""At the end what is still to be told gets so long; the relay is off by then."""
_IN_ORDER = (State.COMPLETE, State.STOPPED)
_SHUT_DOWN = "signal SIGTERM"
"""Who asked for the end when the computer is shut down: perhaps nobody who looks after the paste."""
_RAISED = (NoticeKind.TRIP, NoticeKind.ALARM)


class Nobody:
    """Nobody is told."""

    def begun(self, hold: Hold, hold_id: int, now: Instant) -> None:
        """The hold has begun."""

    def noticed(self, notice: Notice, now: Instant) -> None:
        """Something was put into the record."""

    def turned(self, hold: Hold, now: Instant, took_ms: int, *, decided: bool) -> list[Notice]:  # noqa: ARG002
        """A turn of the loop is done; returns what the record should hear."""
        return []

    def ended(self, hold: Hold, now: Instant) -> None:
        """The hold is over, the relay is off."""


class Outside(Nobody):
    """Everybody whom the settings and the environment name."""

    def __init__(
        self, settings: Settings, record: Path, clock: Clock, manager: Manager | None = None
    ) -> None:
        """`record` says where heartbeat and letters go; the manager is that of the environment."""
        self._settings, self._record, self._clock = settings, record, clock
        self._manager = manager or Manager()
        self._notifier = notifier(settings.notify)
        self._commands, self._files = Aside("commands"), Aside("files")
        self._texts: dict[str, str] = {}
        self._hold_id = 0
        self._beat_ms: int | None = None
        self._stopping = self._broken = self._shut_down = False
        self._last_state = ""
        self._extra: list[Message] = []
        self._news: list[str] = []

    def begun(self, hold: Hold, hold_id: int, now: Instant) -> None:  # noqa: ARG002
        """Tell the manager that the hold has begun."""
        self._hold_id = hold_id
        self._manager.ready("begun, no reading yet")

    def noticed(self, notice: Notice, now: Instant) -> None:  # noqa: ARG002
        """Keep the words of alarms; a prompt is told once."""
        if notice.kind in _RAISED:
            self._texts[notice.name] = notice.text
        elif notice.kind is NoticeKind.STATE:
            self._last_state = notice.text
            self._shut_down = self._shut_down or notice.text.endswith(_SHUT_DOWN)
        elif notice.kind is NoticeKind.PROMPT:
            self._extra.append(Message(Telling.PROMPT, Priority.MEDIUM, (), notice.text))

    def turned(self, hold: Hold, now: Instant, took_ms: int, *, decided: bool) -> list[Notice]:
        """Feed the watchdog, tell what is due; returns what commands and files have to say for the record."""
        self._manager.turned(status(hold), now.host_ms, took_ms, decided=decided)
        if hold.state is State.STOPPING:
            self._leave(hold)
        if not self._broken:
            try:
                self._turn(hold, now)
            except Exception as error:  # a fault of ours in telling: the hold goes on, and says so once
                self._broken = True
                self._news.append(f"nobody is told any more: {type(error).__name__}: {error}")
        found = [*self._news, *self._commands.said(), *self._files.said()]
        self._news = []
        return [Notice(NoticeKind.INFO, "notification", words) for words in found]

    def ended(self, hold: Hold, now: Instant) -> None:
        """Say how it ended, give the last messages a moment, and let the heartbeat say that no more will come."""
        with suppress(Exception):  # it may not hide why the hold has ended
            self._leave(hold)
            if hold.state not in _IN_ORDER or self._shut_down:
                words = f"The hold has ended: {self._last_state or hold.state.value}. Look at the paste."
                self._tell(Message(Telling.ENDED, Priority.HIGH, (), words), hold, now)
            self._beat(hold, now)
            for aside in (self._files, self._commands):
                aside.close(_LAST_WORDS_S)

    def _leave(self, hold: Hold) -> None:
        if not self._stopping:
            self._stopping = True
            self._manager.stopping(status(hold))

    def _turn(self, hold: Hold, now: Instant) -> None:
        if self._beat_ms is None or now.host_ms - self._beat_ms >= EVERY_MS:
            self._beat(hold, now)
        messages, self._extra = self._extra, []
        for message in (*messages, *self._notifier.look(standing(hold, self._texts), now.host_ms)):
            self._tell(message, hold, now)

    def _tell(self, message: Message, hold: Hold, now: Instant) -> None:
        notify = self._settings.notify
        name = self._settings.warmer.name
        data = payload(message, self._settings, self._hold_id, hold, now)
        for command in notify.command:
            if message.reaches(Priority(command.least), second=command.when == "unanswered"):
                self._do(self._commands, command.argv[0], partial(self._run, command, data))
        if notify.mail is not None and message.reaches(Priority(notify.mail.least)):
            letter = Letter(
                now.utc_ms,
                subject(message, name),
                text(message, hold, self._hold_id),
                message.escalated,
            )
            self._do(self._files, "mail", partial(put, letter_folder(self._record), letter))

    def _beat(self, hold: Hold, now: Instant) -> None:
        self._beat_ms = now.host_ms
        seen = standing(hold, self._texts)
        heartbeat = Heartbeat(
            utc_ms=self._clock.utc_ms(),
            boot_ms=self._clock.monotonic_ms(),
            boot_id=boot_id(),
            pid=os.getpid(),
            hold=self._hold_id,
            state=hold.state.value,
            words=status(hold),
            alarms=tuple(alarm.name for alarm in seen),
            unacknowledged=tuple(alarm.name for alarm in seen if alarm.waits),
            ended=hold.state in _IN_ORDER,
        )
        self._do(self._files, "heartbeat", partial(write, heartbeat_file(self._record), heartbeat))

    def _run(self, command: Command, data: dict[str, object]) -> str:
        encoded = msgspec.json.encode(data)
        outcome = run(command.argv, encoded, command.timeout_s, self._clock, self._commands.leaving)
        return f"{command.argv[0]} {outcome.words}"

    def _do(self, aside: Aside, what: str, work: "partial[str]") -> None:
        if not aside.do(work):
            self._news.append(f"{what}: left out, too much waits before it")


def notifier(notify: Notify) -> Notifier:
    """Return the policy with the intervals of the settings."""
    every = (notify.repeat_high, notify.repeat_medium, notify.repeat_low)
    return Notifier(
        dict(zip((Priority.HIGH, Priority.MEDIUM, Priority.LOW), map(duration_ms, every), strict=True)),
        notify.escalate_after,
    )
