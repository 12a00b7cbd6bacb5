"""The paste's probes in a cooling: which of them still say how the paste is, and what is told of the others.

A reading in doubt counts as none: it brings no stage nearer, and its time is used up. The same stretch is left out by
the review, which finds it by the notices made here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from holdctl.events import Condition, Instant, Notice, NoticeKind
from holdctl.paste.cooling import CoolingCurve
from holdctl.safety.cooling_probe import CoolingProbe, Doubt, Paste
from holdctl.settings import Place, Probe

OUT, STILL = "cooling-out", "cooling-still"
DOUBT = "cooling-doubt"
"""Name of the notice that says from when on a probe's readings count as none, and when they count again."""
SLOW_RATE = 0.3
"""A cooling that goes no quicker than this share of its course still moves its probes."""
_DOUBTFUL = (Doubt.WAITING, Doubt.OUT, Doubt.STILL)


@dataclass(slots=True)
class _Seen:
    probe: Probe
    guard: CoolingProbe = field(default_factory=CoolingProbe)
    good_c: float | None = None
    """Its last reading that was not in doubt, °C."""
    good_ms: int = 0
    doubted: bool = False


class CoolProbes:
    """All probes in the paste, in the order of the settings."""

    def __init__(self, probes: tuple[Probe, ...]) -> None:
        self._seen = [_Seen(probe) for probe in probes]
        self.changed: Doubt = Doubt.NONE
        """Whether with this reading it was told that the paste was stirred, or the probe moved in it."""
        self.doubt_from_ms: int | None = None
        """From when on readings are in doubt that were not a moment ago."""

    def trust(self) -> None:
        """A person has just said where and how the paste stands: everything begins anew."""
        for one in self._seen:
            one.guard.trust()
            one.good_c = None

    def look(
        self,
        used_c: Mapping[int, float],
        now: Instant,
        curve: CoolingCurve,
        paste: Paste | None,
        *,
        known: bool,
    ) -> list[Probe]:
        """Take the readings of one moment; return the probes that are not in doubt."""
        self.changed, self.doubt_from_ms = Doubt.NONE, None
        good = []
        for one in self._seen:
            value = used_c[one.probe.channel]
            doubt = self._one(one, value, now, curve, paste, known)
            if doubt in (Doubt.STIRRED, Doubt.MOVED):
                self.changed = doubt
            if doubt not in _DOUBTFUL:
                one.good_c, one.good_ms = value, now.hold_ms
                good.append(one.probe)
        return good

    def _one(
        self, one: _Seen, value: float, now: Instant, curve: CoolingCurve, paste: Paste | None, known: bool
    ) -> Doubt:
        guard, place = one.guard, one.probe.place
        if guard.doubt is Doubt.OUT and one.good_c is not None:
            guard.returned(value, ahead(curve, place, one.good_c, (now.hold_ms - one.good_ms) / 1000))
        still_s = SLOW_RATE * guard.still_s(now.hold_ms) if known else 0.0
        expected_k = value - ahead(curve, place, value, still_s)
        return guard.look(value, now.hold_ms, paste, expected_k)

    @property
    def calm(self) -> bool:
        """Whether no probe may be on its way out of the paste."""
        return all(one.guard.calm for one in self._seen)

    def told(self) -> list[Notice]:
        """Return what is news of doubts, for the record."""
        said = []
        for one in self._seen:
            doubted = one.guard.doubt in _DOUBTFUL
            if doubted == one.doubted:
                continue
            one.doubted = doubted
            channel, from_ms = one.probe.channel, one.guard.since_ms
            detail = {"channel": channel, "begins": doubted, "from_ms": from_ms}
            text = f"probe {channel}: its readings count {'as none from here on' if doubted else 'again'}"
            said.append(Notice(NoticeKind.CONTROL, DOUBT, text, detail))
            if doubted:
                self.doubt_from_ms = (
                    from_ms if self.doubt_from_ms is None else min(from_ms, self.doubt_from_ms)
                )
        return said

    def conditions(self, now: Instant) -> list[Condition]:
        """Return how the two alarms stand."""
        out = next((one for one in self._seen if one.guard.doubt is Doubt.OUT), None)
        still = next((one for one in self._seen if one.guard.doubt is Doubt.STILL), None)
        return [
            Condition(OUT, out is not None, _out_words(out) if out else ""),
            Condition(STILL, still is not None, _still_words(still, now) if still else ""),
        ]


def paste_of(
    estimate: "tuple[float, float, float] | None", around_c: tuple[float, ...], *, known: bool
) -> Paste | None:
    """Return the paste as a probe is judged by it: (coldest, mean, hottest) °C; of an unknown form anything is paste
    that is not as what is around it.
    """
    if estimate is None:
        return None
    cold, mean, hot = estimate
    return Paste(cold, mean, hot, around_c) if known else Paste(min(around_c), mean, 100.0, around_c)


def ahead(curve: CoolingCurve, place: Place, value_c: float, seconds: float) -> float:
    """Return what a place at `value_c` has come to after some seconds more on its course, °C."""
    course = curve.at(place)
    t = curve.when(value_c, course)
    if t is None or seconds <= 0:
        return value_c
    then = t + seconds
    for k in range(1, len(curve.t_s)):
        if curve.t_s[k] >= then:
            share = (then - curve.t_s[k - 1]) / (curve.t_s[k] - curve.t_s[k - 1])
            there = course[k - 1] + share * (course[k] - course[k - 1])
            return min(value_c, there)
    return min(value_c, course[-1])


def _name(one: _Seen) -> str:
    return f"probe {one.probe.channel} ({one.probe.name or one.probe.place.value})"


def _out_words(one: _Seen) -> str:
    was = "" if one.good_c is None else f" from {one.good_c:.1f}"
    return f"{_name(one)} went{was} to {one.guard.rests_c:.1f} °C at once, as no paste does"


def _still_words(one: _Seen, now: Instant) -> str:
    minutes = round(one.guard.still_s(now.hold_ms) / 60)
    return f"{_name(one)} has repeated one value for {minutes} min while the paste must be cooling"
