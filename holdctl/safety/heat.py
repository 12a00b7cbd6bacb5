"""Heat against orders: a relay that does not open, a heater that does not heat, a loss that was not there.

What is judged is heat in units of full power, from a model's residual: how much more comes than was ordered (negative:
less), with its deviation. The limits follow from what else explains it. More heat than ordered can come from a loss
that is gone (a lid put on), and that is at most what the hold needs; less can come from a weak mains and from what the
model does not know of the heater, which goes with the duty. Only what is beyond both, and many deviations from nothing,
is a fault. The cause of a deficit is named only when the readings tell them apart: one in proportion to the duty is the
heater's, one that does not care about the duty is a loss.

Deviations are the model's own: they count what its parameters leave open, and the probes' noise as it is.
"""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace

STRONG = 0.25
"""So much more than ordered a strong mains gives where a weak one has been learnt (±10 % of 230 V is allowed by
EN 50160, ±20 % of power; from memory)."""
SIGMAS, SIGMAS_MISSING = 6.0, 4.5
"""Deviations beyond which heat is sure; a warning that it is missing asks for less."""
FLOOR = 0.03
"""Less than this share of full power is never a relay or a heater."""
MISSING, FLOOR_MISSING, FLOOR_HELD = 0.3, 0.015, 0.1
"""A third of the ordered heat is missing, or more (and so much of full power, or of what the hold needs) …"""
MOST_LOSS = 6.0
"""A lid off loses a few times what the hold needs, not more: what asks for more is no heat."""
NOTHING, LEAST_DUTY = 0.75, 0.1
"""… and with three quarters of it no heat comes; less duty than this shows nothing of a heater."""
NEVER, SIGMAS_NEVER = 0.9, 8.0
"""By what was believed at the begin, before a reading: a heater that is far weaker looks like three quarters, and a
begin that is far off like all of it, but less surely."""
STRONG_DUTY = 0.5
"""What a model that is not identified yet can tell is only whether so much power makes no heat at all."""
SEEN, SEEN_UNSURE = 2, 8
"""Looks running, fifteen seconds apart: with a model that has been identified, and without."""
PLAIN, PLAIN_ELSE = 12.0, 25.0
"""Deviations beyond which heat that has been told is taken for true, and any other."""
MOST_HEAT = 1.5
"""More than the heater can give, with some error of the model: no relay and no heater explains it."""
TOUCHED_HEAT, TOUCHED_K = 3.0, 0.05
"""So much beyond that, and so far from the model within the shortest look: the paste must have been touched."""
RECENT_LOOKS = 60
"""Heat that comes back after it was missing is not without orders: the lid is on again. Fifteen minutes."""
AS_LIKELY = 4.0
"""Nobody knows when it began: of the moments that explain the readings as well, but for so much in χ², all have to show
heat without orders, and missing heat has to be likelier than not."""
KNOWN_S, KNOWN_MISSING_S = 300.0, 600.0
"""A moment is judged where the course had been followed for so long before: a wrong begin looks like heat, too. Missing
heat can wait for longer than heat without orders."""
LASTS_S = 180.0
"""Heat has to be missing for so long: a stir that a probe at the wall sees moves heat as well, but does not go on."""
TELLING = 3.0
"""A look tells whether heat is still missing where that would be so many of its deviations."""
_APART = 16.0
"""Difference in χ² at which one explanation is named and the other is not (four deviations)."""


@dataclass(frozen=True, slots=True)
class Look:
    """What one look back has shown; all heats in units of full power."""

    window_s: int
    heat: float
    """More (or less) than was ordered, in the whole."""
    sigmas: float
    """How many of the model's deviations the change in the look's own window is from nothing."""
    duty: float
    """Delivered on average."""
    share: float | None
    """Share of the delivered heat that is missing, if it goes with the duty."""
    favour: float
    """How much better that explains the readings than a constant deficit, in χ²."""
    change: float = 0.0
    """Of `heat`, what has come since the window's begin."""
    off_k: float = 0.0
    """How far a probe has left the model's own course within the shortest time, K."""
    known_s: float = math.inf
    """How long the course had been followed before."""


def _as_likely(looks: "list[Look]") -> "list[Look]":
    """Return the looks that explain the readings as well as the best of them does, or nearly."""
    best = max((one.sigmas**2 for one in looks), default=0.0)
    return [one for one in looks if one.sigmas**2 > best - AS_LIKELY]


def _possible(look: Look, hold_duty: float) -> Look:
    """Return the look with the deviations that the most of a change explains which there can be.

    Less cannot come than a dead heater and a loss as large again take away. A young onset, that asks for more, explains
    the noise of some readings and hardly anything of theirs with so much.
    """
    most, asked = look.duty + hold_duty, -look.change
    if asked <= most or not look.sigmas:
        return look
    explained = most * (2.0 * asked - most) / asked**2
    return replace(look, sigmas=look.sigmas * math.sqrt(explained))


def _least(look: Look, hold_duty: float) -> float:
    """Return how much heat has to be missing, in units of full power."""
    return MISSING * max(look.duty, hold_duty / 2.0) + min(FLOOR_MISSING, FLOOR_HELD * hold_duty)


def _lacks(look: Look, hold_duty: float) -> bool:
    """Whether a look shows heat missing: in the whole and since its begin, or in one of them and then surely."""
    least, most = _least(look, hold_duty), look.duty + MOST_LOSS * hold_duty
    both = -max(look.heat, look.change) > least
    either = -min(look.heat, look.change) > least and -look.change > least / 2.0
    return -look.change <= most and (both or (either and look.sigmas < -SIGMAS))


def _lacking(sure: "list[Look]", hold_duty: float) -> "list[Look]":
    """Return those of the likely looks that show heat missing, where that is likelier than not; else none.

    Each moment is as likely as it explains the readings.
    """
    likely = _as_likely(sure)
    best = max((one.sigmas**2 for one in likely), default=0.0)

    def weight(looks: "list[Look]") -> float:
        return sum(math.exp((one.sigmas**2 - best) / 2.0) for one in looks)

    lacking = [one for one in likely if _lacks(one, hold_duty)]
    return lacking if weight(lacking) > weight(likely) / 2.0 else []


def _can_add(look: Look) -> float:
    """Return what a relay that does not open adds at most to what was ordered: while all is ordered, nothing."""
    return (1.0 - look.duty) * (1.0 + STRONG)


def _surest(looks: Sequence[Look]) -> Look:
    return max(looks, key=lambda one: abs(one.sigmas))


def _touched(top: Look) -> bool:
    """Whether the surest look, that no heat explains, is a hand in the paste."""
    return abs(top.change) > TOUCHED_HEAT and top.off_k > TOUCHED_K and abs(top.sigmas) > SIGMAS


def _youngest(able: "list[Look]", heat: float) -> Look | None:
    """Return the youngest look that would see so much heat with enough of its deviations to tell."""
    telling = [one for one in able if abs(one.change) * TELLING < heat * abs(one.sigmas)]
    return min(telling, key=lambda one: one.window_s, default=None)


@dataclass(frozen=True, slots=True)
class Finding:
    """What stands: text for each, empty where it does not."""

    unordered: str = ""
    nothing: str = ""
    missing: str = ""
    plain: bool = False
    """Heat that came or went is beyond doubt, and has been judged: the model may take it for true."""
    touched: bool = False
    """What is seen is no heat at all: somebody has moved the paste."""


class HeatBalance:
    """Judges one look after the other; keeps what has been named until the heat is back."""

    def __init__(self, power_w: float) -> None:
        self._power_w = power_w
        self._hot = self._cold = self._none = self._never = 0
        self._waits = False
        """Whether heat is missing that has not lasted yet: until it is told, none of it is taken for true."""
        self._named = ""
        self._told = Finding()
        self._lack: Look | None = None
        """The last that was told of missing heat."""
        self._surplus: Look | None = None
        """The last that was told of heat without orders."""
        self._usual = 0.0
        """More heat than ordered was usual before: a loss that the model takes for larger than it is."""
        self._recent: deque[float] = deque(maxlen=RECENT_LOOKS)

    @property
    def suspects(self) -> bool:
        """Whether a look has shown something, told or not yet."""
        return self._waits or max(self._hot, self._cold, self._none) > 0

    def forget(self) -> None:
        """Nothing can be said, and nothing of before counts: after a gap, a stir, or while a probe is out."""
        self._hot = self._cold = self._none = 0
        self._waits = False

    def at_first(self, looks: Sequence[Look]) -> str:
        """Take looks by what was believed at the begin: a heater that never heats teaches each fit to need none."""
        best = _surest(looks) if looks else Look(0, 0.0, 0.0, 0.0, None, 0.0)
        strong = best.sigmas < -SIGMAS_NEVER and best.duty >= STRONG_DUTY
        dead = strong and -best.heat >= NEVER * best.duty
        self._never = self._never + 1 if dead else 0
        return "power is asked for and no heat comes" if self._never >= SEEN_UNSURE else ""

    def look(self, looks: Sequence[Look], hold_duty: float, *, learnt: bool) -> Finding:
        """Take the looks of one moment; `hold_duty` is what the paste needs now to keep its temperature.

        `learnt`: the model has been identified.
        """
        if not looks:
            return Finding()
        able = [
            one for one in looks if abs(one.change) <= MOST_HEAT and (not learnt or one.known_s >= KNOWN_S)
        ]
        best, top = _surest(able) if able else None, _surest(looks)
        seen = SEEN if learnt else SEEN_UNSURE
        stands = max(self._hot, self._cold, self._none) >= seen
        if not stands and (best is None or best.sigmas**2 <= top.sigmas**2 - AS_LIKELY):
            self.forget()
            return Finding(touched=_touched(top))
        if best is None:
            return replace(self._told, plain=False)
        if learnt:
            able = [_possible(one, hold_duty) for one in able]
            best = _surest(able)
        sigmas = best.sigmas
        self._waits = False
        hot = None
        if learnt and self._hot >= seen:
            hot = self._still_too_much(able, hold_duty)
        elif learnt and sigmas > 0:
            hot = self._too_much(able, hold_duty)
        cold = None
        if learnt and self._cold >= seen:
            cold = self._still_too_little(able, hold_duty)
        elif learnt and sigmas < 0:
            cold = self._too_little(able, hold_duty)
        self._lack, self._surplus = cold, hot
        self._recent.append(min(best.heat if abs(sigmas) > SIGMAS else 0.0, looks[0].heat - looks[0].change))
        self._hot = self._hot + 1 if hot else 0
        self._cold = self._cold + 1 if cold else 0
        self._none = self._none + 1 if self._nothing_comes(cold, best, learnt=learnt) else 0
        self._named = "" if cold is None else self._named or self._cause(cold)
        self._told = Finding(
            self._unordered(hot) if hot and self._hot >= seen else "",
            "power is asked for and no heat comes" if self._none >= seen else "",
            self._missing(cold) if cold and self._cold >= seen else "",
            plain=learnt and abs(sigmas) > self._beyond_doubt(seen),
        )
        return self._told

    def _beyond_doubt(self, seen: int) -> float:
        """Return the deviations from which on the model takes heat for true: not before it has been judged."""
        if max(self._hot, self._cold) >= seen:
            return PLAIN
        return math.inf if self.suspects else PLAIN_ELSE

    def _too_much(self, able: list[Look], hold_duty: float) -> Look | None:
        """Return the oldest of the surest looks, if all of them show more heat than anything but a relay explains."""
        most = self._most(hold_duty)
        likely = _as_likely([one for one in able if one.sigmas > SIGMAS])
        found = [one for one in likely if one.heat > most and _can_add(one) > most and not self._mains(one)]
        if not found or len(found) < len(likely):
            return None
        self._surplus = max(found, key=lambda one: one.window_s)
        return self._surplus if self._still_too_much(able, hold_duty) else None

    def _most(self, hold_duty: float) -> float:
        """Return how much heat comes without orders at most where a loss is gone."""
        missed = max(0.0, -min(self._recent, default=0.0))
        return missed + hold_duty + FLOOR

    def _still_too_much(self, able: list[Look], hold_duty: float) -> Look | None:
        """Return the youngest look that can tell, where half of what is told at first has come since; else the last."""
        most = self._most(hold_duty)
        told = _youngest(able, most)
        if told is None:
            return self._surplus
        return told if told.heat > most / 2.0 else None

    def _too_little(self, able: list[Look], hold_duty: float) -> Look | None:
        """Return the look with the least of the missing heat, of those that explain the readings best."""
        sure = [one for one in able if one.sigmas < -SIGMAS_MISSING]
        self._waits = bool(_lacking(sure, hold_duty))
        lacking = _lacking([one for one in sure if one.known_s >= KNOWN_MISSING_S], hold_duty)
        if not any(one.window_s >= LASTS_S for one in lacking):
            return None
        told = max(lacking, key=lambda one: one.heat)
        self._usual, self._lack = max(0.0, told.heat - told.change), told
        return told if self._still_too_little(able, hold_duty) else None

    def _still_too_little(self, able: list[Look], hold_duty: float) -> Look | None:
        """Return the youngest look that can tell, where half of what is told at first is missing since; else the last.

        What was missing an hour ago and has come back since is not missing now.
        """
        for one in sorted(able, key=lambda one: one.window_s):
            least = _least(one, hold_duty)
            if abs(one.change) * TELLING < least * abs(one.sigmas):
                return one if self._usual - one.heat > least / 2.0 else None
        return self._lack

    def _mains(self, look: Look) -> bool:
        """Whether a strong mains explains the heat not worse than a relay does."""
        return look.share is not None and -look.share <= STRONG and look.favour > -_APART

    def _nothing_comes(self, cold: Look | None, best: Look, *, learnt: bool) -> bool:
        if self._none >= (SEEN if learnt else SEEN_UNSURE):
            best = cold or best
            return -best.heat > best.duty / 2
        if not learnt:
            return best.duty >= STRONG_DUTY and -best.heat >= NOTHING * best.duty
        return (
            cold is not None
            and cold.duty >= LEAST_DUTY
            and -cold.heat >= NOTHING * cold.duty
            and cold.favour > -_APART
        )

    def _cause(self, look: Look) -> str:
        if look.favour > _APART and look.share is not None:
            return "heater"
        return "loss" if look.favour < -_APART else ""

    def _unordered(self, look: Look) -> str:
        return f"about {look.heat * self._power_w:.0f} W more than ordered heat the paste"

    def _missing(self, look: Look) -> str:
        lack = self._usual - look.heat
        watts = lack * self._power_w
        if self._named == "heater":
            share = min(1.0, max(0.0, lack / look.duty if look.duty > LEAST_DUTY else look.share or 0.0))
            return f"the heater gives {100 * share:.0f} % less than ordered"
        if self._named == "loss":
            return f"the warmer loses about {watts:.0f} W more than usual, whatever the heater gives: lid, draught?"
        return f"the warmer loses more heat than it gets, by about {watts:.0f} W: lid? heater?"
