"""What a hold does once a cooling has been declared: no heat for good, and the paste is followed to the end.

A declared souring is only written down: it may run beside a hold that keeps the paste at the starter's temperature. In
a cooling it ends that: the paste is not meant to become cold any more, and stays without heat.
"""

from typing import TYPE_CHECKING

from holdctl.errors import ConfigError
from holdctl.events import Estimate, Instant, Notice, Reading, Request, RequestKind
from holdctl.food.codes import code_of
from holdctl.food.rules import Cooling as CoolingRule
from holdctl.food.spells import SpellKind
from holdctl.food.worst_case import error_k
from holdctl.hold.cool_never import NEVER
from holdctl.hold.cool_order import CoolOrder, read_order
from holdctl.hold.cool_probes import OUT, STILL
from holdctl.hold.cooling import MISSED, SLOW, Cooling, spell
from holdctl.hold.probes import Values
from holdctl.hold.states import Cause
from holdctl.settings import PASTE_PLACES, Settings

if TYPE_CHECKING:
    from holdctl.hold.hold import Hold

WATCHED = frozenset({"relay-welded", "no-acknowledgement", "node-clock"})
"""What the wiring may still show; the rest speaks of heat."""
HEATING = (
    "no-heat", "heat-unordered", "heat-missing", "over-ceiling", "slow-come-up", "probes-disagree", "probe-out",
    "probe-frozen", "probe-jump", "short-lease", "restart-wait", "unanswered", "prompt-unanswered", "hot-holding-long",
)  # fmt: skip
"""What stands of a hold that is over once the paste is put to cool."""
END = "end"
"""Subject of a request that ends a souring."""


class Unheated:
    """The declared spells of one hold."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        rules = code_of(settings).of(CoolingRule)
        stages = rules[0].stages if rules else ()
        self._hot_c = stages[0].clock_from_c if stages else code_of(settings).hot_holding_c
        self._errors_k = [(p.channel, error_k(p)) for p in settings.probe if p.place in PASTE_PLACES]
        self._worst_k = max(error for _, error in self._errors_k)
        self._last_hot_ms: int | None = None
        """When all paste was last known to be above where the clock of a cooling starts."""
        self.cooling: Cooling | None = None
        self.souring = False
        self.off = False
        """The relay is off for good."""
        self.alone = False
        """No hold went before: the relay has never been leased."""

    def seen(self, values: Values, now: Instant, was: Estimate | None) -> None:
        """Take a valid reading, whatever the hold does; `was` is the last estimate of all paste before it."""
        coldest_c = min([values.used_c[channel] - error for channel, error in self._errors_k])
        if was is not None:
            coldest_c = min(coldest_c, was.coldest_c - was.coldest_sd_k - self._worst_k)
        if coldest_c >= self._hot_c:
            self._last_hot_ms = now.hold_ms

    # What a person asks ----------------------------------------------------------------------------------------

    def ask(self, hold: "Hold", request: Request, now: Instant) -> list[Notice]:
        """Begin or end a spell; return what to say. Raises ConfigError where it can't be done."""
        if request.kind is RequestKind.COOL:
            return self._cool(hold, read_order(request.subject), request.by, now)
        if request.subject not in ("", END):
            raise ConfigError(f"“{request.subject}” is neither a begin nor the end of a souring")
        if (request.subject == END) != self.souring:
            raise ConfigError(
                "no souring is declared" if request.subject else "a souring is declared already"
            )
        return self._end_souring(request.by) if request.subject else self._sour(hold, request.by)

    def _cool(self, hold: "Hold", order: CoolOrder, by: str, now: Instant) -> list[Notice]:
        """Begin a cooling, or take where it goes on."""
        if self.cooling is not None:
            self.cooling.moved(order, now)
            text = f"The paste cools {order.words()} from now on, said {by}; the clocks go on."
            return [spell(SpellKind.COOLING, begins=True, by=by, text=text)]
        said = self._end_souring(by)
        self.cooling, self.off = Cooling(self._settings, order, now, self._last_hot_ms), True
        self.alone = order.alone
        hold.drive.rest()
        for name in HEATING:
            hold.clear(name, "a cooling has been declared")
        relay = "no relay is switched" if order.alone else "the relay is off for good"
        text = f"Cooling {order.words()}, declared by {by}: {relay}."
        return [*said, spell(SpellKind.COOLING, begins=True, by=by, text=text)]

    def _sour(self, hold: "Hold", by: str) -> list[Notice]:
        said = []
        if self.cooling is not None:
            said = [self._over(hold, by, "The cooling ends with the souring; the relay stays off.")]
        self.souring, self._last_hot_ms = True, None
        text = (
            f"Souring, declared by {by}: enter its pH with `holdctl note --ph`; your authority decides by it."
        )
        return [*said, spell(SpellKind.SOURING, begins=True, by=by, text=text)]

    def _end_souring(self, by: str) -> list[Notice]:
        if not self.souring:
            return []
        self.souring = False
        return [spell(SpellKind.SOURING, begins=False, by=by, text=f"Souring ended by {by}.")]

    def _over(self, hold: "Hold", by: str, text: str) -> Notice:
        self.cooling = None
        for name in (SLOW, MISSED, NEVER, OUT, STILL):
            hold.clear(name, "the cooling is over")
        return spell(SpellKind.COOLING, begins=False, by=by, text=text)

    # With every reading ----------------------------------------------------------------------------------------

    def watched(self, hold: "Hold", reading: Reading, now: Instant) -> None:
        """Keep what the wiring shows of a relay that should be off."""
        for seen in hold.vigil.wiring(reading, 0, now):
            if seen.name in WATCHED:
                hold.condition(seen.name, seen.active, seen.text)

    def follow(self, hold: "Hold", values: Values, now: Instant) -> None:
        """Follow paste that is not heated."""
        if self.cooling is None:
            hold.drive.estimate = None  # nobody knows what a souring paste is like beside its probe
            return
        said, conditions = self.cooling.take(values, now)
        hold.drive.estimate = self.cooling.estimate
        hold.say(*said)
        for seen in conditions:
            hold.condition(seen.name, seen.active, seen.text)
        if self.cooling.done:
            text = "All paste is cold: the cooling is done."
            hold.say(spell(SpellKind.COOLING, begins=False, by="holdctl", text=text))
            hold.change(Cause.FINISH, "the paste is cold")
