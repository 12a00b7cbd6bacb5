"""A test's findings for a terminal and for a program."""

from collections.abc import Iterator
from dataclasses import asdict, replace
from math import isfinite
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.control import told
from holdctl.control.findings import EVENT, Findings, Rated, Setup, evaluate
from holdctl.control.rules import Pid, Process, half_rule
from holdctl.control.tuning import inner_gains
from holdctl.errors import ConfigError
from holdctl.settings import Place, Settings

if TYPE_CHECKING:
    from rich.console import RenderableType

    from holdctl.control.evaluation import Trace
    from holdctl.record.columns import Columns
    from holdctl.record.query import Record
    from holdctl.record.rows import HoldRow

BIAS = {
    "relay": (
        "Known bias: the ultimate gain by the describing function is too low, by 10 to 18 % on one lag with a delay "
        "and by up to half on two with hysteresis and a probe's lag; one lag with a delay comes out a third to "
        "twice too slow. Two lags and a delay came back within 3 % in simulation; a fit about the setpoint holds "
        "near the swing's frequency only."
    ),
    "step": (
        "Known bias: a paste that still warms or cools looks like a response to the step; the fit holds about the "
        "setpoint only."
    ),
}
NOTHING_SAVED = "Nothing here has changed how holdctl controls: it keeps its own settings."


def evaluated(reader: "Record", hold: "HoldRow") -> Findings:
    """Return the findings of a test in the record. Raises ConfigError where that hold was none."""
    said = [event for event in reader.events(hold.id) if event.name == EVENT]
    if not said:
        raise ConfigError(f"Hold {hold.id} was no test: `holdctl holds` lists them, a test by its programme.")
    setup = msgspec.convert(said[0].detail, Setup)
    settings = msgspec.json.decode(hold.config_json, type=Settings)
    columns = reader.columns(hold.id)
    probe = next(p for p in settings.probe if p.channel == setup.channel)
    setup = replace(setup, ambient_c=_room_c(columns, settings), stepped_s=_stepped_s(columns, setup))
    own = None
    if probe.place is Place.WALL:
        gains, _ = inner_gains(told(settings), settings.warmer.cycle_s)
        own = Pid(gains.kc, gains.ti_s)
    return evaluate(trace_of(columns, setup, probe.offset_k), setup, own)


def _room_c(columns: "Columns", settings: Settings) -> float:
    """Return the mean of the room's own probe, else what is told."""
    import numpy as np

    for probe in settings.probe:
        if probe.place is Place.AIR and probe.channel <= columns.temps_c.shape[1]:
            return float(np.nanmean(columns.temps_c[:, probe.channel - 1])) + probe.offset_k
    return settings.room.ambient_c


def _stepped_s(columns: "Columns", setup: Setup) -> float | None:
    """Return when the duty rose over the one it settled at; None where it never did."""
    if setup.method != "step":
        return None
    asked = columns.duty > 0
    if not asked.any():
        return None
    raised = columns.duty > columns.duty[asked][0] + 1e-3
    return float(columns.t_s[raised][0]) if raised.any() else None


def trace_of(columns: "Columns", setup: Setup, offset_k: float = 0.0) -> "Trace":
    """Return what the probe read (plus its offset) and what the leases gave; readings that are missing are left out."""
    import numpy as np

    from holdctl.control.evaluation import Trace

    value = columns.temps_c[:, setup.channel - 1] + offset_k
    there = np.isfinite(value)
    t = columns.t_s
    step = np.diff(t, append=t[-1:] + setup.tick_s)
    # Across a gap a lease gives what it held and no more; the shares are per second from one valid reading to the next.
    given_s = np.concatenate([[0.0], np.cumsum(np.minimum(columns.lease_s, step))])[:-1][there]
    t, value = t[there], value[there]
    between = np.maximum(np.diff(t), 1e-9)
    return Trace(t, value, np.append(np.diff(given_s) / between, 0.0))


def plain(found: Findings) -> dict[str, Any]:
    """Return the findings for a program; None where the test does not say."""
    swing = found.swing
    return {
        "setup": asdict(found.setup),
        "cycle": None if swing is None else {**asdict(swing), "period_s": swing.period_s, "duty": swing.duty},
        "static_gain_k": found.static_gain_k,
        "ultimate_gain_per_k": found.ku,
        "ultimate_period_s": None if swing is None else swing.period_s,
        "fit": None
        if found.fit is None
        else {**asdict(found.fit), "good": found.fit.good, "local": found.local},
        "one_lag": None if found.one_lag is None else asdict(found.one_lag),
        "one_lag_by_ratio": None if found.ratio is None else asdict(found.ratio),
        "settings": [_rated(row) for row in found.rated],
        "notes": list(found.notes),
        "bias": BIAS[found.setup.method],
    }


def _rated(row: Rated) -> dict[str, Any]:
    def number(value: float) -> float | None:
        return value if isfinite(value) else None

    return {
        "rule": row.rule,
        "kc_per_k": row.pid.kc,
        "ti_s": row.pid.ti_s,
        "ms": number(row.margins.ms),
        "stable": row.margins.stable,
        "gain_margin": number(row.margins.gain_margin),
        "phase_margin_deg": number(row.margins.phase_margin_deg),
    }


def render(found: Findings) -> "RenderableType":
    """Return the findings as tables, 80 columns wide."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    facts = Table.grid(padding=(0, 2))
    for name, text in _facts(found):
        facts.add_row(name, text)
    parts: list[RenderableType] = [Text("What the test found", style="bold"), facts, Text("")]
    if found.rated:
        parts += [_settings_table(found), Text("")]
    parts += [Text(note) for note in found.notes]
    return Group(*parts, Text(BIAS[found.setup.method]), Text(NOTHING_SAVED))


def _facts(found: Findings) -> Iterator[tuple[str, str]]:
    swing = found.swing
    if swing is not None:
        yield "swing", f"{swing.low_c:.2f} to {swing.high_c:.2f} °C, {swing.cycles} equal cycles"
        yield "on / off", f"{swing.on_s:.0f} s / {swing.off_s:.0f} s, mean duty {swing.duty:.1%}"
        yield "ultimate period", f"{swing.period_s:.0f} s"
    if found.ku is not None:
        yield "ultimate gain", f"{found.ku:.3g} of full power per K (known to be too low)"
    if found.static_gain_k is not None:
        yield "static gain", f"{found.static_gain_k:.0f} K at full power, if paste and room have settled"
    process = found.process
    if process is not None and found.fit is not None:
        how = "about the setpoint" if found.local else "with the static gain"
        one = half_rule(process)
        yield f"fit, {how}", _in_words(process)
        yield "", f"it leaves {found.fit.rms_k:.3f} K rms of {found.fit.swing_k:.2f} K"
        yield "as one lag", _in_words(one)
        if process.lag_s > 5 * min(process.lags_s):
            yield "slope", f"{process.gain / process.lag_s:.4f} K/s at full power"
    if found.one_lag is not None:
        yield "from the cycle", _in_words(found.one_lag)
    if found.ratio is not None:
        yield "from on : off", _in_words(found.ratio)


def _in_words(process: Process) -> str:
    lags = " and ".join(f"{lag:.0f}" for lag in process.lags_s)
    return f"gain {process.gain:.0f} K, lag {lags} s, dead time {process.delay_s:.0f} s"


def _settings_table(found: Findings) -> "RenderableType":
    from rich import box
    from rich.table import Table

    title = f"PI settings, the relay's cycle of {found.setup.cycle_s:g} s counted"
    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD)
    table.add_column("rule", no_wrap=True)
    for name in ("gain, 1/K", "integral, s", "Ms", "gain ×", "phase"):
        table.add_column(name, justify="right", no_wrap=True)
    for row in found.rated:
        m = row.margins
        calm = m.stable
        table.add_row(
            row.rule,
            f"{row.pid.kc:.4f}",
            f"{row.pid.ti_s:.0f}",
            f"{m.ms:.2f}" if calm else "swings",
            f"{m.gain_margin:.1f}" if calm else "–",
            f"{m.phase_margin_deg:.0f}°" if calm else "–",
        )
    return table
