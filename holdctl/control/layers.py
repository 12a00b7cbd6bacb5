"""A first, simple estimate of what no probe sees: the wall from the heater's energy balance, the paste in rings.

The paste is cut into rings of equal width that conduct to each other and, at the rim, to the wall through a film;
bottom and lid act on every ring as lumped exchanges. The paste probe pulls the rings along. Where a wall probe is
fitted it replaces the wall's balance. Another estimator may take this one's place: `Estimator` is the seam.
"""

import math
from typing import Protocol

from holdctl.control.cascade import Flow
from holdctl.control.steady import Profile, steady_profile
from holdctl.control.told import CONTACT_W_M2K, PLACE_RADIUS, Told
from holdctl.events import Estimate
from holdctl.settings import Place

_RINGS = 6
_PULL_S = 120.0
"""Time constant with which the probe corrects the rings."""
_MIXED_K = 1.5
"""A probe this far from its ring, twice running, has been stirred or moved: conduction can't do that."""

_PIECE_S, _LONGEST_S = 60.0, 43_200.0
"""A gap is crossed in pieces, and a longer one than this is not worth crossing."""


class Estimator(Protocol):
    """What control needs to know of the paste, whoever works it out."""

    def update(self, *, paste_c: float, wall_c: float | None, duty: float, dt_s: float) -> Estimate:
        """Take one reading (°C; `wall_c` None where no probe sits there) and the duty delivered since the last."""

    def flow(self) -> Flow:
        """Return how heat leaves the wall now."""


class LayerEstimator:
    """Rings of paste, one wall."""

    def __init__(self, model: Told, place: Place) -> None:
        self._model, self._place = model, place
        self._profile: Profile = steady_profile(model)
        self._rings: list[float] = []
        self._wall = math.nan
        self._off_twice = 0
        self._factored_for = 0.0
        self._factors: list[tuple[float, float, float, float, float]] = []
        self._upper: list[float] = []
        self._network()

    def _network(self) -> None:
        model, width = self._model, self._model.radius_m / _RINGS
        height = model.height_m
        area = [math.pi * width**2 * (2 * i + 1) for i in range(_RINGS)]
        self._heat = [a * height * model.rho_cp_j_m3k for a in area]
        self._between = [2 * math.pi * height * model.k_w_mk * (i + 1) for i in range(_RINGS - 1)]
        self._rim = 2 * math.pi * model.radius_m * height / (1 / CONTACT_W_M2K + width / 2 / model.k_w_mk)
        # Bottom: half the height conducts to a film; a fin-like lump, exact in steady state for a linear profile.
        self._bottom = [a / (1 / CONTACT_W_M2K + height / 2 / model.k_w_mk) for a in area]
        self._top = [a / (1 / model.top_w_m2k + height / 2 / model.k_w_mk) for a in area]
        self._at = min(_RINGS - 1, int(PLACE_RADIUS[self._place] * _RINGS))
        total = sum(self._heat)
        self._weights = [h / total for h in self._heat]
        self._below = sum(self._bottom)
        inside = model.k_w_mk / (width / 2)
        self._film = CONTACT_W_M2K / (CONTACT_W_M2K + inside)
        """Share of the wall in the temperature of the paste that touches it."""
        profile = self._profile
        self._corner = max(0.0, min(profile.core, profile.mid, profile.edge) - profile.coldest)
        """The lid's corner lies below all rings: its steady shortfall, as the geometry has it, always counts."""

    def update(self, *, paste_c: float, wall_c: float | None, duty: float, dt_s: float) -> Estimate:
        """Advance by `dt_s` with the duty delivered, then correct by the reading."""
        if not self._rings:
            self._rings = [paste_c] * _RINGS
            self._wall = paste_c if wall_c is None else wall_c
        passed = left = min(max(dt_s, 0.0), _LONGEST_S)
        while True:
            dt = min(left, _PIECE_S)
            self._wall = self._balance(duty, dt) if wall_c is None else wall_c
            if not self._model.stirred:
                self._conduct(dt)
            left -= dt
            if left <= 0:
                break
        if self._model.stirred:
            self._rings = [paste_c] * _RINGS
        else:
            self._correct(paste_c, passed)
        return self._estimate(paste_c)

    def flow(self) -> Flow:
        """Return how heat leaves the wall now: into the rim and the bottom of the paste, and to the room."""
        model = self._model
        if model.stirred:
            paste, to = model.wall_paste_w_k, self._rings[0]
        else:
            paste = self._rim + self._below
            below = sum([g * t for g, t in zip(self._bottom, self._rings, strict=True)])
            to = (self._rim * self._rings[-1] + below) / paste
        return Flow(paste, to, model.wall_loss_w_k, model.ambient_c, model.power_w)

    @property
    def profile(self) -> Profile:
        """The steady profile of the told geometry."""
        return self._profile

    def _balance(self, duty: float, dt: float) -> float:
        """Return the wall from heat in less heat out, °C; exact for neighbours that stand still meanwhile."""
        flow = self.flow()
        g = flow.paste_w_k + flow.room_w_k
        rest = (duty * flow.power_w + flow.paste_w_k * flow.paste_c + flow.room_w_k * flow.room_c) / g
        return rest + (self._wall - rest) * math.exp(-g * dt / self._model.wall_j_k)

    def _conduct(self, dt: float) -> None:
        """Backward Euler over the rings: a tridiagonal system (Thomas algorithm), stable for any step."""
        if dt <= 0:
            return
        if dt != self._factored_for:
            self._factor(dt)
        wall, room, value = self._wall, self._model.ambient_c, 0.0
        right = []
        for t, (store, heated, top, below, share) in zip(self._rings, self._factors, strict=True):
            value = (store * t + heated * wall + top * room + below * value) * share
            right.append(value)
        temp = 0.0
        for i in range(_RINGS - 1, -1, -1):
            temp = right[i] + self._upper[i] * temp
            right[i] = temp
        self._rings = right

    def _factor(self, dt: float) -> None:
        """Eliminate once for a step of `dt`: the matrix stays the same while the step does."""
        self._factored_for, self._factors, self._upper = dt, [], []
        below, upper = 0.0, 0.0
        for i in range(_RINGS):
            above = self._between[i] if i + 1 < _RINGS else 0.0
            heated = self._bottom[i] + (self._rim if i + 1 == _RINGS else 0.0)
            store, top = self._heat[i] / dt, self._top[i]
            share = 1.0 / (store + above + below + heated + top - below * upper)
            upper = above * share
            self._upper.append(upper)
            self._factors.append((store, heated, top, below, share))
            below = above

    def _correct(self, paste_c: float, dt: float) -> None:
        wrong = paste_c - self._rings[self._at]
        self._off_twice = self._off_twice + 1 if abs(wrong) > _MIXED_K else 0
        if self._off_twice >= 2:
            self._rings, self._off_twice = [paste_c] * _RINGS, 0
            return
        pull = 1.0 - math.exp(-dt / _PULL_S)
        self._rings = [
            t + wrong * pull * (1.0 - abs(i - self._at) / (2 * _RINGS)) for i, t in enumerate(self._rings)
        ]

    def _estimate(self, paste_c: float) -> Estimate:
        rings, wall = self._rings, self._wall
        rim = rings[-1] if self._model.stirred else rings[-1] + self._film * (wall - rings[-1])
        coldest = min(*rings, rim) - self._corner * max(0.0, wall - self._model.ambient_c)
        return Estimate(
            wall_c=wall,
            paste_c=paste_c,
            coldest_c=min(coldest, paste_c),
            hottest_c=max(*rings, rim, paste_c),
            mean_c=sum([w * t for w, t in zip(self._weights, rings, strict=True)]),
        )
