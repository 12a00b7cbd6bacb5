"""When to start so that the scald is ready at a time: local clock times, DST, and paste that waits.

All lengths are reckoned in UTC, so a night in which the clock is set has the hours it has.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from holdctl.errors import ConfigError
from holdctl.plan.words import span

SLACK_S = 60.0
"""A start this little in the past is now."""


@dataclass(frozen=True, slots=True)
class Latest:
    """A time asked for, and the latest start for it."""

    start: datetime
    ready: datetime
    needs_s: float
    """From the start, with the late bound."""

    @property
    def start_utc_ms(self) -> int:
        """The start in UTC."""
        return round(1000 * self.start.timestamp())

    @property
    def ready_utc_ms(self) -> int:
        """The time asked for in UTC."""
        return round(1000 * self.ready.timestamp())


def asked(text: str, now: datetime) -> datetime:
    """Return the next moment after `now` (with its zone) at which clocks show `text`, as 05:30. Raises ConfigError.

    Of an hour that comes twice the first counts; a time that a night leaves out is the moment that it is skipped to.
    """
    if now.tzinfo is None:
        raise ValueError("a local time needs a zone")
    try:
        wanted = time.fromisoformat(text.strip().zfill(5))
    except ValueError:
        raise ConfigError(f"--ready: write the time as 05:30; it is “{text}”.") from None
    if wanted.tzinfo is not None:
        raise ConfigError(f"--ready: write the local time, as 05:30, without a zone; it is “{text}”.")
    for days in range(3):
        day = now.date() + timedelta(days=days)
        moment = datetime.combine(day, wanted, tzinfo=now.tzinfo)
        moment = moment.astimezone(UTC).astimezone(now.tzinfo)  # out of a gap
        if moment.astimezone(UTC) > now.astimezone(UTC):
            return moment
    raise ConfigError(f"--ready: there is no {text} to come.")


def latest_start(ready: datetime, needs_s: float | None, now: datetime) -> Latest:
    """Return the latest start for a night that needs so long. Raises ConfigError with the earliest time that can be."""
    if needs_s is None:
        raise ConfigError(
            "This night never gets into range, so no start is early enough; see what would help."
        )
    start = ready.astimezone(UTC) - timedelta(seconds=needs_s)
    late_s = (now.astimezone(UTC) - start).total_seconds()
    if late_s > SLACK_S:
        earliest = (now.astimezone(UTC) + timedelta(seconds=needs_s)).astimezone(ready.tzinfo)
        raise ConfigError(
            f"By {ready:%H:%M} it is not ready: it needs {span(needs_s)}, and that start would have been "
            f"{span(late_s)} ago. Started now it is ready by {earliest:%H:%M}."
        )
    return Latest(start.astimezone(ready.tzinfo), ready, needs_s)
