"""What control has to tell the baker: forecast, a stir's worth, what a second probe would see, a changed warmer."""

from collections.abc import Callable
from dataclasses import dataclass, field

import msgspec

from holdctl.control.approach import LOOPS
from holdctl.control.controller import Controller
from holdctl.control.forecast import advice, foresee
from holdctl.control.tuning import LoopMargins, margins_told
from holdctl.events import Forecast, Notice, NoticeKind, Phase
from holdctl.hold.deep_probe import deep_probe
from holdctl.hold.programme import Progress

FIRST_MS, ON_THE_WAY_MS, HOLDING_MS, SOON_MS = 150_000, 240_000, 720_000, 60_000
"""The first forecast, the next ones on the way and in the hold, and after a stir."""
_ADVISE_AGAIN_MS = 20 * 60_000
_MARGIN_K = 2.0
"""A ceiling that has to be kept this far away for want of a probe is worth a word."""
_CHANGED_SD, _CHANGED_AFTER_S = 3.5, 1200.0
"""What is identified this far from what was believed, after so long, is another warmer or another fill."""
_LOAD_DUTY, _LOAD_SHARE, _LOAD_S = 0.06, 0.5, 600.0
"""Heat that is missing or too much: in duty, as a share of the holding duty, and for how long."""

_PROMISE_MS, _SLOWER, _SLOWER_MS = 20 * 60_000, 1.25, 15 * 60_000


@dataclass(slots=True)
class Counsel:
    """Keeps what has been said, so that it is said once."""

    controller: Controller
    _due_ms: int = FIRST_MS
    _advised_ms: int = -_ADVISE_AGAIN_MS
    _stirs: int = 0
    _before: tuple[int, Forecast] | None = None
    """Time and content of the last forecast."""
    _answer_ms: int | None = None
    """When a stir was seen whose gain has still to be told."""
    _said: set[str] = field(default_factory=set)
    _load: float = 0.0
    _margins: str = ""
    _told_of: LoopMargins | None = None
    _looked: int = -1
    _promise: tuple[int, int, int] | None = None
    """How often hands had been in the paste, when a come-up's end was foretold, and its late bound, ms."""

    def task(self, now_ms: int, progress: Progress) -> Callable[[], Forecast] | None:
        """Return the forecast that is due, to be made anywhere."""
        if now_ms < self._due_ms:
            return None
        settled = progress.phase in (Phase.HOLD, Phase.HOT_HOLDING)
        self._due_ms = now_ms + (HOLDING_MS if settled else ON_THE_WAY_MS)
        left = progress.left_ms
        shot = self.controller.snapshot(None if left is None else left / 1000)
        return None if shot is None else lambda: foresee(shot)

    def told(self, forecast: Forecast, now_ms: int) -> list[Notice]:
        """Take a finished forecast and return what it says."""
        said = [Notice(NoticeKind.FORECAST, "forecast", _words(forecast), msgspec.structs.asdict(forecast))]
        at_work = self.controller.estimator.learning.paused
        if self._answer_ms is not None and self._before is not None and not at_work:
            said.append(_stirred(self._before, forecast, now_ms))
            self._answer_ms = None
        if self._answer_ms is None:  # a stir is measured against the forecast before it
            self._before = (now_ms, forecast)
        text = advice(forecast)
        if text and now_ms - self._advised_ms >= _ADVISE_AGAIN_MS:
            self._advised_ms = now_ms
            detail = {"stir_ms": forecast.stir_ms, "stir_k": round(forecast.stir_k, 2)}
            said.append(Notice(NoticeKind.ADVICE, "stir-now", text, detail))
        return said

    def slow(self, forecast: Forecast, now_ms: int) -> str:
        """Return why the come-up is too slow, empty where it is not.

        The first forecast after twenty minutes says when every part should be in range at the latest; a quarter of that
        time and a quarter of an hour more is too slow. A stir or an addition is a new start.
        """
        hands = self.controller.estimator.stirs + self.controller.estimator.additions
        band = forecast.band_ms
        if band is not None and band[1] <= 0:
            self._promise = None
            return ""
        if now_ms < _PROMISE_MS:
            return ""
        if self._promise is None or self._promise[0] != hands:
            self._promise = None if band is None else (hands, now_ms, band[2])
            return ""
        _, since_ms, late_ms = self._promise
        passed_ms = now_ms - since_ms
        if passed_ms <= _SLOWER * late_ms + _SLOWER_MS:
            return ""
        passed, late = passed_ms / 60_000, late_ms / 60_000
        return f"not every part is in range after {passed:.0f} min, foretold were {late:.0f} at most"

    def look(self, now_ms: int, duty: float, dt_s: float) -> list[Notice]:
        """Return what this moment gives reason to say."""
        return [
            *self._stir(now_ms),
            *self._loops(),
            *self._second_probe(),
            *self._deep_probe(),
            *self._changed(),
            *self._missing(duty, dt_s),
        ]

    def _stir(self, now_ms: int) -> list[Notice]:
        stirs = self.controller.estimator.stirs
        if stirs == self._stirs:
            return []
        self._stirs = stirs
        self._answer_ms = now_ms
        self._due_ms = now_ms + SOON_MS
        self._advised_ms = now_ms
        return [
            Notice(
                NoticeKind.INFO, "stir-seen", "A stir: all paste is taken to have one temperature from here."
            )
        ]

    def _loops(self) -> list[Notice]:
        margins = self.controller.margins
        if margins is None or margins is self._told_of:
            return []
        self._told_of = margins
        text, detail = margins_told(margins)
        if text == self._margins:
            return []
        self._margins = text
        return [Notice(NoticeKind.CONTROL, "loop-margins", text, detail)]

    def _second_probe(self) -> list[Notice]:
        margin = self.controller.margin_k
        if "second-probe" in self._said or self.controller.sees_wall or not self.controller.limited:
            return []
        if margin < _MARGIN_K:
            return []
        self._said.add("second-probe")
        text = (
            f"Power is held back: with no probe at the wall the paste there may be {margin:.0f} K hotter than "
            "estimated. A second probe on the heated wall would show it, and the come-up would be faster."
        )
        return [Notice(NoticeKind.ADVICE, "second-probe", text, {"margin_k": round(margin, 2)})]

    def _deep_probe(self) -> list[Notice]:
        """Say once in the hold, with a model of this warmer, how late its only probe sees a fault."""
        controller = self.controller
        if "deep-probe" in self._said or controller.leg is not LOOPS or not controller.estimator.learnt:
            return []
        self._said.add("deep-probe")
        found = deep_probe(controller)
        return [] if found is None else [found]

    def _changed(self) -> list[Notice]:
        learning = self.controller.estimator.learning
        changed = self.controller.estimator.changed
        if "warmer-changed" in self._said or changed == self._looked or learning.seconds < _CHANGED_AFTER_S:
            return []
        self._looked = changed
        found = [
            (name, off)
            for name, off in learning.moved().items()
            if name in _PLAIN and abs(off) >= _CHANGED_SD
        ]
        if not found:
            return []
        self._said.add("warmer-changed")
        name = max(found, key=lambda pair: abs(pair[1]))[0]
        by = 100.0 * (learning.belief.value(name) / learning.first.value(name) - 1.0)
        text = (
            f"{_PLAIN[name]} {abs(by):.0f} % {'more' if by > 0 else 'less'} than expected of this warmer and scald. "
            "If vessel, batch or lid are not the usual ones, put [vessel] and [scald] in holdctl.toml right."
        )
        return [
            Notice(NoticeKind.ADVICE, "warmer-changed", text, {"parameter": name, "percent": round(by, 1)})
        ]

    def _missing(self, duty: float, dt_s: float) -> list[Notice]:
        if self.controller.estimator.learning.paused:
            return []
        load = self.controller.estimator.filter.load
        self._load += (load - self._load) * min(1.0, dt_s / _LOAD_S)
        if abs(self._load) < max(_LOAD_DUTY, _LOAD_SHARE * duty):
            if abs(self._load) < _LOAD_DUTY / 2:
                self._said.discard("heat-balance")
            return []
        if "heat-balance" in self._said or not self.controller.estimator.learning.settled:
            return []
        self._said.add("heat-balance")
        watts = abs(self._load) * self.controller.power_w
        text = (
            f"The paste gets about {watts:.0f} W {'less' if self._load < 0 else 'more'} than this warmer gave before. "
            "Look at the lid, a draught, the mains, or whether the fill is another one."
        )
        return [
            Notice(
                NoticeKind.ADVICE,
                "heat-balance",
                text,
                {"watts": round(self._load * self.controller.power_w, 1)},
            )
        ]


_PLAIN = {
    "paste_j_m3k": "The paste takes up",
    "medium_j_k": "Water or air round the vessel takes up",
    "vessel_j_k": "The vessel takes up",
    "heater_j_k": "The heater takes up",
    "loss_w_k": "The warmer loses",
    "top_w_m2k": "The paste loses through its lid",
}
"""In words, each followed by “… % more than expected”."""


def _words(forecast: Forecast) -> str:
    if forecast.band_ms is None:
        return "not every part will be in range within a day"
    early, expected, late = (value / 3_600_000 for value in forecast.band_ms)
    return (
        f"every part in range in {expected:.1f} h ({early:.1f} to {late:.1f}); on the way coldest "
        f"{forecast.coldest_c:.1f}, hottest {forecast.hottest_c:.1f} °C"
    )


def _stirred(before: tuple[int, Forecast], now: Forecast, now_ms: int) -> Notice:
    then_ms, old = before
    if now.band_ms is None or old.band_ms is None:
        text, gain = "Stirred; when every part will be in range can't be said yet.", None
    else:
        gain = then_ms + old.band_ms[1] - now_ms - now.band_ms[1]
        minutes = gain / 60_000
        text = f"The stir brought {minutes:.0f} min." if minutes >= 1 else "The stir brought no time."
    return Notice(NoticeKind.ADVICE, "stirred", text, {"gain_ms": gain})
