"""What is known of a warmer when a night is planned: the model that is believed, and what is left open.

With what an earlier hold has identified it is that hold's model, as the next hold takes it over; else what is told of
the warmer, with what a plan supposes. Draws from what is left open are the same each time: a plan made twice says the
same.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from holdctl.control import Told
from holdctl.control.identify import START, Belief
from holdctl.control.kinds import most_loss_w_k
from holdctl.control.learning import Learning, from_event, second_night
from holdctl.control.model import Layout, ThermalModel
from holdctl.control.prior import AGAIN, prior
from holdctl.events import Identified
from holdctl.plan.supposed import supposed
from holdctl.settings import Place, Settings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

PAIRS = 10
"""So many pairs of warmers are drawn, each pair on both sides of what is believed."""
_SEED = 1
_SPREAD_SD = 2.0
"""No draw is further than this in one direction: beyond it a normal distribution of guesses means nothing."""


@dataclass(frozen=True, slots=True)
class KnownWarmer:
    """A warmer with its paste, as believed."""

    told: Told
    layout: Layout
    belief: Belief
    learnt: bool
    """Whether an earlier hold has identified it."""

    def model(self) -> ThermalModel:
        """Return the model that is believed."""
        return ThermalModel(self.told, self.belief.parameters, self.layout)

    def drawn(self, pairs: int = PAIRS) -> list[ThermalModel]:
        """Return other warmers that it may be as well."""
        import numpy as np

        names = [i for i, name in enumerate(self.belief.names) if name != START]
        root = np.linalg.cholesky(self.belief.covariance[np.ix_(names, names)])
        half = np.random.default_rng(_SEED).standard_normal((pairs, len(names) + 1))
        half = np.clip(
            half[:, :-1], -_SPREAD_SD, _SPREAD_SD
        )  # the last is not used; others would change without it
        found = []
        for row in np.vstack([half, -half]):
            moves = np.zeros(len(self.belief.names))
            moves[names] = root @ row
            parameters, _ = self.belief.moved(moves)
            most_w_k = max(most_loss_w_k(self.told.power_w), self.belief.parameters.loss_w_k)
            parameters = replace(parameters, loss_w_k=min(parameters.loss_w_k, most_w_k))
            found.append(ThermalModel(self.told, parameters, self.layout))
        return found


def known_warmer(settings: Settings, identified: Identified | None, paste_c: float) -> KnownWarmer:
    """Return the warmer of `settings` with paste put in at `paste_c`, °C; what can't be of it is not taken over."""
    about = supposed(settings)
    sees_wall = any(probe.place is Place.WALL for probe in settings.probe)
    fresh, layout = prior(about, paste_c, sees_wall=sees_wall)
    if identified is not None:
        try:
            again = second_night(from_event(identified), fresh, AGAIN)
        except ValueError:
            return KnownWarmer(about, layout, fresh, False)
        if Learning(about, layout, fresh, ()).plausible(again):
            return KnownWarmer(about, layout, again, True)
    return KnownWarmer(about, layout, fresh, False)
