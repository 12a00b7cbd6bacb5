"""What takes the relay off whatever programme and control want: the interlocks of one hold, asked with each event.

What follows from each row stands in `holdctl.safety`; here it is seen that one stands or has gone.
"""

from typing import TYPE_CHECKING

from holdctl.events import ForeignAck, Instant, LinkChange, NodeBoot, Notice, NoticeKind, Reading, State
from holdctl.hold.probes import Values
from holdctl.hold.resume import look_back
from holdctl.hold.states import Cause
from holdctl.safety import HighLimit
from holdctl.settings import Place, Settings

if TYPE_CHECKING:
    from holdctl.hold.hold import Hold

HELD, STOPPING = State.HELD, State.STOPPING
"""By name once, as in `holdctl.hold.hold`."""
SILENCE_MS = 3_000
"""No valid reading for this long on the host's clock: relay off."""

SHORTEST_LEASE_MS = 1_500
"""A node's longest lease must reach from one reading past the next."""


class Interlocked:
    """The interlocks of one hold and what they have to remember."""

    def __init__(self, settings: Settings) -> None:
        limits = settings.limits
        self._probes = settings.probe
        self.high = HighLimit(
            {
                p.channel: limits.wall_high_c if p.place is Place.WALL else limits.paste_high_c
                for p in settings.probe
                if p.place is not Place.AIR
            }
        )
        self._moved: Instant | None = None

    def trip(self, hold: "Hold", name: str, now: Instant, detail: str, *, over: bool = False) -> None:
        """Trip a row, where the hold is one that can be tripped."""
        if hold.state not in (State.RUNNING, State.HELD):
            return
        hold.drive.rest()
        if not (over and name in hold.standing):  # an event that comes again and again is one trip
            hold.heed(*hold.alarms.raise_now(name, detail, now.hold_ms, over=over))

    # With a reading --------------------------------------------------------------------------------------------

    def look(self, hold: "Hold", reading: Reading, values: Values, now: Instant) -> bool:
        """Trip or clear what this reading shows; True where the relay must be off whatever control says."""
        if hold.state is STOPPING and not reading.relay:
            hold.change(Cause.STOP_DONE, "relay off, confirmed by the node")
        if values.fault:
            hold.no_credit()  # the time until the next valid reading earns nothing
            self.trip(hold, "probe-fault", now, values.fault)
            self._silent_too_long(hold, now)
            return True
        if self._stands_still(now):
            self.trip(hold, "no-reading", now, "the node's clock stands still")
            return True
        hold.last_values = values
        if hold.standing or hold.state is HELD:
            for name in ("no-reading", "probe-fault"):
                hold.clear(name)
        self._cutout(hold, reading, now)
        wait = look_back(hold, values, now)
        if wait:
            self.trip(hold, "restart-wait", now, wait)
        return self._over_limit(hold, values, now) or not self.high.armed or hold.interruptions.pending

    def _stands_still(self, now: Instant) -> bool:
        """Whether the hold's clock, turned by the node, has not moved for as long as silence may last."""
        moved = self._moved
        if moved is None or now.hold_ms != moved.hold_ms:
            self._moved = now
            return False
        return now.host_ms - moved.host_ms >= SILENCE_MS

    def _silent_too_long(self, hold: "Hold", now: Instant) -> None:
        last = hold.last_valid
        if last is not None and now.host_ms - last.host_ms >= SILENCE_MS:
            self.trip(hold, "no-reading", now, "no valid reading for 3 s")

    def _cutout(self, hold: "Hold", reading: Reading, now: Instant) -> None:
        if reading.cut:
            self.trip(hold, "node-cutout", now, "")
        else:
            hold.clear("node-cutout")

    def _over_limit(self, hold: "Hold", values: Values, now: Instant) -> bool:
        armed = self.high.armed
        over = self.high.over(values.seen_c)
        if "high-limit" in hold.standing and not self.high.warm(values.seen_c):
            hold.clear("high-limit", "every probe has fallen 2 K below its limit")
        if not over:
            return False
        # A single wild value takes the relay off for its second; the latch waits for the second reading.
        sure = [channel for channel in over if channel not in values.doubtful]
        if sure and armed:
            self.trip(hold, "high-limit", now, self._over_words(sure[0], values))
        return True

    def _over_words(self, channel: int, values: Values) -> str:
        probe = next(p for p in self._probes if p.channel == channel)
        text = f"probe {channel} ({probe.name or probe.place.value}) at {values.seen_c[channel]:.1f} °C"
        return f"{text}, limit {self.high.limits_c[channel]:g} °C"

    # With what comes from the line -----------------------------------------------------------------------------

    def silence(self, hold: "Hold", now: Instant) -> None:
        """No reading came."""
        hold.drive.rest()
        if hold.state is State.STOPPING:
            hold.change(
                Cause.STOP_DONE, "the node did not confirm that the relay is off; its lease has run out"
            )
        elif "link-down" not in hold.standing:  # one cause, one alarm: without a line there are no readings
            self.trip(hold, "no-reading", now, "no valid reading for 3 s")

    def link(self, hold: "Hold", event: LinkChange, now: Instant) -> None:
        """The line went up or down."""
        if event.up:
            hold.say(Notice(NoticeKind.INFO, "link-up", event.reason or "the line is up"))
            hold.clear("link-down", text="the line is back")
        else:
            # The reason may end in its own advice; the interlock's row has the better one.
            self.trip(hold, "link-down", now, event.reason.partition(": ")[0].rstrip("."))

    def boot(self, hold: "Hold", event: NodeBoot) -> None:
        """The node has said who it is, unasked after a boot."""
        hold.drive.grant(event.max_lease_ms)
        text = f"node {event.firmware}, {event.probes} probes, last boot by {event.cause}"
        hold.say(Notice(NoticeKind.INFO, "node-hello" if event.asked else "node-boot", text))
        if not event.asked:
            hold.drive.rest()
            hold.vigil.booted()
        text = f"the node grants leases of {event.max_lease_ms} ms at most"
        hold.condition("short-lease", event.max_lease_ms < SHORTEST_LEASE_MS, text)

    def foreign(self, hold: "Hold", event: ForeignAck, now: Instant) -> None:
        """The node has obeyed somebody else."""
        text = f"command {event.ack} was obeyed, but never sent from here"
        self.trip(hold, "other-host", now, text, over=True)
