"""The samples of one hold as numpy arrays, for figures and pictures."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.events import MAX_PROBES
from holdctl.record import codec

if TYPE_CHECKING:
    from numpy import bool_, float64, int64, str_
    from numpy.typing import NDArray

    Floats = NDArray[float64]


@dataclass(frozen=True, slots=True)
class Columns:
    """One entry per sample; temperatures in °C, times in s, NaN where there is no value."""

    seq: "NDArray[int64]"
    t_s: "Floats"
    """The hold's own time since its start."""
    host_s: "Floats"
    utc_s: "Floats"
    """Seconds since 1970-01-01 UTC."""
    up_ms: "NDArray[int64]"
    """The node's own clock, ms since its boot."""
    temps_c: "Floats"
    """One column per fitted channel, as the node reported them (no offset added); NaN for a fault."""
    faults: "NDArray[int64]"
    """One column per fitted channel: 0 none, 1 open, 2 short, 3 range."""
    relay: "NDArray[bool_]"
    cut_out: "NDArray[bool_]"
    lease_s: "Floats"
    state: "NDArray[str_]"
    phase: "NDArray[str_]"
    step: "NDArray[int64]"
    setpoint_c: "Floats"
    wall_setpoint_c: "Floats"
    duty: "Floats"
    wall_c: "Floats"
    paste_c: "Floats"
    coldest_c: "Floats"
    hottest_c: "Floats"
    mean_c: "Floats"
    wall_sd_k: "Floats"
    """One standard deviation of the estimate, K; NaN where none was given. So are the next three."""
    coldest_sd_k: "Floats"
    hottest_sd_k: "Floats"
    mean_sd_k: "Floats"
    credit_s: "Floats"


_DEVIATIONS = ("wall_sd_k", "coldest_sd_k", "hottest_sd_k", "mean_sd_k")
_ALWAYS = (
    "seq",
    "hold_ms",
    "host_off",
    "utc_off",
    "up_off",
    "flags",
    "lease_ms",
    "step",
    "duty",
    "credit_ms",
)


def columns(rows: Sequence[codec.Row], base: codec.Anchor) -> Columns:
    """Return rows of the table `samples` as arrays with units."""
    import numpy as np

    table = np.array(rows, dtype=float).reshape(len(rows), len(codec.COLUMNS))
    raw = dict(zip(codec.COLUMNS, table.T, strict=True))
    if not all(np.isfinite(raw[name]).all() for name in _ALWAYS):
        raise ValueError("a number is missing that is always there")
    flags = raw["flags"].astype(np.int64)
    faults = flags[:, None] >> (codec.FAULT_SHIFT + 2 * np.arange(MAX_PROBES)) & 3
    temps = table[:, codec.COLUMNS.index("t1") : codec.COLUMNS.index("t1") + MAX_PROBES] / 100
    wrong = (flags & codec.UNUSED != 0) | (flags & codec.NO_FEEDBACK == codec.NO_FEEDBACK)
    if wrong.any() or (np.isfinite(temps) & (faults > 0)).any():
        raise ValueError("flags that no row has")
    fitted = _fitted(np.isfinite(temps) | (faults > 0))
    host = raw["hold_ms"] + raw["host_off"]
    setpoint, wall_setpoint = np.nan_to_num(raw["setpoint"]), np.nan_to_num(raw["wall_setpoint"])
    paste = setpoint + raw["paste_off"]
    states, phases = np.array(codec.STATES, dtype=str), np.array(codec.PHASES, dtype=str)
    return Columns(
        seq=raw["seq"].astype(np.int64),
        t_s=raw["hold_ms"] / 1000,
        host_s=host / 1000,
        utc_s=(base.started_utc_ms + host + raw["utc_off"]) / 1000,
        up_ms=(raw["up_off"] + base.up + raw["hold_ms"]).astype(np.int64),
        temps_c=temps[:, :fitted],
        faults=faults[:, :fitted],
        relay=(flags & 1).astype(bool),
        cut_out=(flags & 2).astype(bool),
        lease_s=raw["lease_ms"] / 1000,
        state=states[flags >> codec.STATE_SHIFT & 7],
        phase=phases[flags >> codec.PHASE_SHIFT & 7],
        step=raw["step"].astype(np.int64),
        setpoint_c=raw["setpoint"] / 100,
        wall_setpoint_c=raw["wall_setpoint"] / 100,
        duty=raw["duty"] / 10_000,
        wall_c=(wall_setpoint + raw["wall_off"]) / 100,
        paste_c=paste / 100,
        coldest_c=(paste - raw["coldest_off"]) / 100,
        hottest_c=(paste + raw["hottest_off"]) / 100,
        mean_c=(paste + raw["mean_off"]) / 100,
        **_deviations(raw["sds"]),
        credit_s=raw["credit_ms"] / 1000,
    )


def _deviations(packed: "Floats") -> "dict[str, Floats]":
    """Return the four deviations, K; the packed integers have at most 45 bits, which a float holds exactly."""
    import numpy as np

    sds = np.nan_to_num(packed).astype(np.int64)
    bits = np.where(sds & 1, codec.WIDE, codec.NARROW)
    hundredths = [sds >> 1 + k * bits & (1 << bits) - 1 for k in range(len(_DEVIATIONS))]
    return {name: np.where(n > 0, n / 100, np.nan) for name, n in zip(_DEVIATIONS, hundredths, strict=True)}


def _fitted(present: Any) -> int:
    used = present.any(axis=0).nonzero()[0]
    return int(used[-1]) + 1 if len(used) else 0
