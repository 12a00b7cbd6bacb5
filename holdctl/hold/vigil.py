"""The watch over one hold: what readings, model and clocks show of a fault, by the names of the table of interlocks.

Each look returns every watched condition with the words for it, empty where it does not stand. What follows from a
condition stands in the table, not here.
"""

import math
from collections.abc import Iterator

from holdctl.control import Controller
from holdctl.control.approach import LOOPS
from holdctl.control.controller import FALLEN_K
from holdctl.control.jumps import Shadow
from holdctl.control.residual import Heat
from holdctl.events import Condition, Estimate, Instant, Reading
from holdctl.hold.probes import Values
from holdctl.safety.frozen import Frozen
from holdctl.safety.heat import Finding, HeatBalance, Look
from holdctl.safety.unasked import OVER_K as UNASKED_K
from holdctl.safety.unasked import Unasked
from holdctl.safety.wiring import Acknowledgements, Contact, NodeClock
from holdctl.settings import Place, Probe, Settings

OVER_K, OVER_BACK_K = 1.0, 0.5
"""Above what the programme allows by so much is an alarm; it ends this far under that again."""
DOUBTS, DOUBTS_MS = 4, 300_000
"""So many jumps within five minutes are a loose contact."""
_SHADOW_MS = 120_000
"""After standing still for so long a probe's place is followed by the model alone."""
_APART_K, _APART_SHARE, _APART_S = 1.5, 0.5, 600.0
"""Probes disagree by more than this, K, beside their own errors and this share of what the model has between them;
averaged over so long."""
_LEVEL_K = 0.25
"""Only where the setpoint's probe keeps within this of its own mean of ten minutes, and has fallen to its setpoint: hot
paste that still falls has another shape than a hold, and deep in it nothing moves for an hour."""
APART_BACK = 0.5
"""It ends within this share of what they may differ by."""
_QUIET_S = 1_800.0
_LEARNT_S = 1_200.0
"""A model identified from less than this still changes with every fit."""


class Vigil:
    """Watches one hold; `look` is called with every reading that has values."""

    def __init__(self, settings: Settings, controller: Controller) -> None:
        self._settings, self._controller = settings, controller
        probes = tuple(p for p in settings.probe if p.place is not Place.AIR)
        self._probes = probes
        self._frozen = {p.channel: Frozen() for p in probes}
        self._followed: dict[int, _Followed] = {}
        self._heat = HeatBalance(settings.warmer.power_w)
        self._finding = Finding()
        self._never = ""
        """Words for a heater that has not heated since the begin."""
        self._unasked, self._climbing = Unasked(), ""
        self._looked: list[Heat] | None = None
        self._contact, self._acks, self._clock = Contact(), Acknowledgements(), NodeClock()
        self._doubts: list[int] = []
        self._over = self._heated = False
        self._apart: dict[int, float] = {}
        self._parted: set[int] = set()
        """Channels of probes that disagree with the setpoint's own."""
        self._level_c: float | None = None
        self._level_s = math.inf
        """How long the setpoint's probe has kept its level."""
        self._quiet_s = 0.0

    @property
    def suspects_heat(self) -> bool:
        """Whether heat without orders stands, or a lack of it in a hold that has settled."""
        finding = self._finding
        if self._climbing:
            return True
        return self._quiet_s > 0 and bool(finding.unordered or finding.nothing or finding.missing)

    def gap(self) -> None:
        """Start anew after a gap."""
        for frozen in self._frozen.values():
            frozen.forget()
        self._followed.clear()
        self._heat.forget()
        self._unasked.forget()
        self._climbing, self._level_c = "", None
        self.booted()
        self._quiet_s = 0.0

    def booted(self) -> None:
        """Start anew with what the node counts since its boot; it may be back within a second or two, without a gap."""
        self._acks.forget()
        self._clock.forget()

    def leased(self, lease_ms: int, now: Instant) -> None:
        """Note the lease that answers a reading."""
        self._contact.leased(lease_ms, now.host_ms)
        if lease_ms > 0:
            self._heated = True
            self._unasked.ordered(now.hold_ms)

    def wiring(self, reading: Reading, lease_ms: int, now: Instant) -> Iterator[Condition]:
        """Yield what a reading shows even where its probes have no values; `lease_ms` answered the one before."""
        welded, dead = self._contact.look(reading, now.host_ms)
        silent = self._acks.look(reading, lease_ms)
        yield _found("no-acknowledgement", "the node does not acknowledge its leases" if silent else "")
        yield _found("relay-welded", welded)
        yield _found("heat-unordered", self._finding.unordered or self._climbing)
        yield _found("no-heat", dead or self._finding.nothing or self._never)
        fast = self._clock.look(reading.up_ms, now.host_ms) if now.hold_ms == now.host_ms else 0.0
        yield _found("node-clock", _astray(fast) if fast else "")

    def paste(self, values: Values, estimate: Estimate, now: Instant, dt_s: float) -> Iterator[Condition]:
        """Yield what values and estimate show."""
        self._quiet_s = self._quiet_s + dt_s if self._controller.leg is LOOPS else 0.0
        yield _found("probe-out", self._out())
        self._climbing = self._climbs(values, now)
        yield _found("probe-frozen", self._still(values, now, dt_s))
        self._balance()
        yield _found("heat-missing", "" if self._finding.nothing else self._finding.missing)
        yield _found("probe-jump", self._loose(values, now))
        yield _found("over-ceiling", self._above(estimate, values))
        yield _found("probes-disagree", self._disagree(values, dt_s))

    def _out(self) -> str:
        out = self._controller.estimator.jumps.out
        return f"{_named(self._probes[out[0]])} reads what the paste can't have" if out else ""

    def _still(self, values: Values, now: Instant, dt_s: float) -> str:
        out, now_ms = self._controller.estimator.jumps.out, now.hold_ms
        for index, probe in enumerate(self._probes):
            frozen = self._frozen[probe.channel]
            if index in out:
                frozen.forget()
                continue
            moved_k, unsure_k = self._modelled(index, frozen.still_ms(now_ms), dt_s)
            if frozen.look(values.seen_c[probe.channel], now_ms, moved_k, unsure_k):
                minutes = frozen.still_ms(now_ms) / 60_000
                value = values.seen_c[probe.channel]
                return f"{_named(probe)} has read {value:.2f} °C for {minutes:.0f} minutes"
        return ""

    def _modelled(self, index: int, still_ms: int, dt_s: float) -> tuple[float, float]:
        """Return by how much the model alone says that a still probe has moved, K, and what a tenth of power makes."""
        if still_ms < _SHADOW_MS:
            if self._followed:
                self._followed.pop(index, None)
            return 0.0, 0.0
        followed = self._followed.get(index)
        if followed is None or not followed.shadow.valid:
            followed = self._followed[index] = _Followed(self._controller, index)
        followed.advance(round(dt_s), alone=len(self._probes) == 1)
        return followed.moved_k, followed.unsure_k

    def _balance(self) -> None:
        estimator = self._controller.estimator
        estimator.residual.unsure(estimator.learning.belief)
        if estimator.heats is self._looked:
            return
        self._looked = estimator.heats
        self._never = self._heat.at_first([_look(heat) for heat in estimator.residual.at_first])
        if not estimator.heats:
            self._heat.forget()
            return
        looks = [_look(heat) for heat in estimator.heats]
        learnt = estimator.learnt and estimator.seconds > _LEARNT_S
        self._finding = self._heat.look(looks, self._controller.needed_duty, learnt=learnt)
        estimator.residual.awake = self._heat.suspects or not learnt
        if self._finding.plain:
            estimator.residual.take()
        if self._finding.touched:
            estimator.touched(max(h.off_k for h in estimator.heats))

    def _climbs(self, values: Values, now: Instant) -> str:
        """Return what gets hotter and hotter though no heat is ordered: it needs no model."""
        if self._unasked.resting(now.hold_ms):
            return ""
        ceiling, used_c = self._controller.ceiling_c, values.used_c
        out = {self._probes[index].channel for index in self._controller.estimator.jumps.out}
        seen = {p.channel: used_c[p.channel] for p in self._probes if p.channel not in out}
        paste = [used_c[p.channel] for p in self._probes if p.place is not Place.WALL]
        above = {} if ceiling is None else {p.channel: ceiling + UNASKED_K for p in self._probes}
        for probe in self._probes if above else ():
            if probe.place is Place.WALL:
                above[probe.channel] = max(above[probe.channel], max(paste) + UNASKED_K)
        found = self._unasked.look(seen, above, now.hold_ms)
        if found is None:
            return ""
        probe = next(p for p in self._probes if p.channel == found.channel)
        rise = f"climbed from {found.from_c:.1f} to {found.to_c:.1f} °C in {found.lasted_s / 60:.0f} min"
        return f"{_named(probe)} {rise}, with no heat ordered for {found.quiet_s / 60:.0f} min"

    def _loose(self, values: Values, now: Instant) -> str:
        if values.doubtful:
            self._doubts.append(now.hold_ms)
        if not self._doubts:
            return ""
        self._doubts = [ms for ms in self._doubts if now.hold_ms - ms < DOUBTS_MS]
        return f"{len(self._doubts)} jumps within five minutes" if len(self._doubts) >= DOUBTS else ""

    def _above(self, estimate: Estimate, values: Values) -> str:
        """Return what is above the ceiling, which counts once the paste has been under it.

        Before any heat has been ordered nothing gets hotter than it was: of paste that falls a young model tells much,
        and only what a probe reads counts.
        """
        ceiling = self._controller.ceiling_c
        if ceiling is None:
            return ""
        over = estimate.hottest_c - estimate.hottest_sd_k - ceiling
        if not self._heated:
            over = min(over, max(values.used_c[probe.channel] for probe in self._probes) - ceiling)
        self._over = over > (OVER_K - OVER_BACK_K if self._over else OVER_K)
        if not self._over:
            return ""
        return f"the hottest paste is estimated at {estimate.hottest_c:.1f} °C, {over:.1f} K over its ceiling"

    def _disagree(self, values: Values, dt_s: float) -> str:
        """Compare each probe in or at the paste with the setpoint's own, in a hold that has been quiet."""
        main = self._controller.main_probe
        self._level(values.used_c[main.channel], dt_s)
        if min(self._quiet_s, self._level_s) < _QUIET_S or len(self._probes) < 2:
            self._apart.clear()
            self._parted.clear()
            return ""
        found = [self._parts(probe, main, values, dt_s) for probe in self._probes if probe is not main]
        return next(filter(None, found), "")

    def _level(self, main_c: float, dt_s: float) -> None:
        """Follow for how long the setpoint's probe has kept its level, at its setpoint."""
        before = main_c if self._level_c is None else self._level_c
        self._level_c = before + (main_c - before) * min(1.0, dt_s / _APART_S)
        asked_c = self._controller.asked_c
        falls = abs(main_c - before) > _LEVEL_K or (asked_c is not None and main_c > asked_c + FALLEN_K)
        self._level_s = 0.0 if falls else self._level_s + dt_s

    def _parts(self, probe: Probe, main: Probe, values: Values, dt_s: float) -> str:
        """Return by how much a probe differs from the setpoint's own where that is too much; it ends at half."""
        channel, expected = probe.channel, self._controller.expected_apart_k(main.place, probe.place)
        off = values.used_c[channel] - values.used_c[main.channel] - expected
        apart = self._apart.get(channel, 0.0)
        self._apart[channel] = apart = apart + (off - apart) * min(1.0, dt_s / _APART_S)
        allowed = _APART_K + probe.error_k + main.error_k + _APART_SHARE * abs(expected)
        by = abs(apart)
        if by <= allowed * (APART_BACK if channel in self._parted else 1.0):
            self._parted.discard(channel)
            return ""
        self._parted.add(channel)
        return f"{_named(probe)} and {_named(main)} differ by {by:.1f} K more than the paste can"


class _Followed:
    """A probe's place, followed by the model alone since it stands still."""

    def __init__(self, controller: Controller, index: int) -> None:
        self._filter, self._index = controller.estimator.filter, index
        self.shadow = Shadow(self._filter)
        self._begin_c = self.shadow.probe_c(index)
        self._answer = 0.0 * self._filter.x

    def advance(self, ticks: int, *, alone: bool) -> None:
        """Let ticks pass; alone, its own readings have made the disturbance, so that it stays as it was."""
        for _ in range(min(ticks, 5)):
            self.shadow.advance(None if alone else self._filter.load)
            self._answer = self._filter.answered(self._answer)

    @property
    def moved_k(self) -> float:
        return self.shadow.probe_c(self._index) - self._begin_c

    @property
    def unsure_k(self) -> float:
        return 0.1 * abs(float(self._answer[self._filter.model.modes + self._index]))


def _look(h: Heat) -> Look:
    return Look(
        h.window_s,
        h.before + h.heat,
        h.heat / h.sd,
        max(0.0, h.duty),
        h.share,
        h.favour,
        h.heat,
        h.off_k,
        h.known_s,
    )


_QUIET: dict[str, Condition] = {}
"""What is not there, by name: nearly all that a reading shows."""


def _found(name: str, text: str) -> Condition:
    if text:
        return Condition(name, active=True, text=text)
    quiet = _QUIET.get(name)
    if quiet is None:
        quiet = _QUIET[name] = Condition(name, active=False)
    return quiet


def _astray(fast: float) -> str:
    return f"the node's clock is {abs(fast) * 100:.1f} % {'fast' if fast > 0 else 'slow'}"


def _named(probe: Probe) -> str:
    return f"probe {probe.channel} ({probe.name or probe.place.value})"
