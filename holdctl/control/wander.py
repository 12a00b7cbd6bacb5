"""Heat that is not quite what was ordered, in a fit: mains wander, and what that makes of readings is no parameter's.

The heat of each third of an hour may be off by a share that is like that of the next one. What such shares make of the
readings is the same error in many of them; as if each reading erred alone, a fit with some weakly told parameter (how
much of a box's heat the vessel's bottom gets) puts it down to that one, and is sure of it. With U the answers to the
shares, each as large as a standard deviation, weighted residuals have the covariance I + UUᵀ. Its inverse root makes
them independent again: I + U M Uᵀ, with M from the small matrix UᵀU (generalised least squares: Aitken, Proc. Roy.
Soc. Edinburgh 55 (1935) 42-48; the root by the eigenvalues of UᵀU, both from memory).
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

WANDER, UNSEEN, LIKE_S, SHARE_S = 0.01, 0.02, 3600.0, 1200.0
"""Standard deviation of the heat over what was ordered: of mains (half a percent of the voltage, from memory); where
no probe sees the wall, whose own errors come on top; for how long it stays alike, s; and the length of the stretches
with a share of their own, s."""


def shares(duty: "Floats", step_s: float) -> "Floats":
    """Return the duty of each stretch of `SHARE_S` alone: [stretch, step]."""
    import numpy as np

    size = max(1, round(SHARE_S / step_s))
    of = np.arange(len(duty)) // size
    alone: Floats = np.where(of[None, :] == np.arange(of[-1] + 1)[:, None], duty[None, :], 0.0)
    return alone


def whitener(answers: "Floats", wander: float = WANDER) -> "Callable[[Floats], Floats]":
    """Return what makes weighted residuals independent; `answers` are theirs to `shares`: [residual, stretch]."""
    import numpy as np

    at = np.arange(answers.shape[1]) * SHARE_S
    alike = wander**2 * np.exp(-np.abs(at[:, None] - at[None, :]) / LIKE_S)
    ways = answers @ np.linalg.cholesky(alike)
    values, vectors = np.linalg.eigh(ways.T @ ways)
    values = np.maximum(values, 1e-12)
    inner = (vectors * (((1.0 + values) ** -0.5 - 1.0) / values)) @ vectors.T
    return lambda residuals: residuals + ways @ (inner @ (ways.T @ residuals))
