"""One sample to one row of scaled integers and back, without loss.

A night is 43 200 rows, so bytes count. SQLite stores an integer in as few bytes as its size needs, and 0
and 1 in none; so whatever runs along with another number is stored as its difference from it ("_off"
columns). Scales: temperatures 0.01 K, duty 1e-4, times ms. The anchor of a hold (its first row's counters)
makes the counters small too. A temperature of a `Reading` is a multiple of 0.01 °C and comes back bit for
bit (int / 100); estimates, their deviations, setpoints and duty come back rounded to their scale.
"""

import math
from dataclasses import dataclass

from holdctl.events import MAX_PROBES, Decision, Estimate, Instant, Phase, ProbeFault, Reading, State

Row = tuple[int | None, ...]

COLUMNS = (
    "seq", "hold_ms", "host_off", "utc_off", "n_off", "up_off", "ack_off", "t1", "t2", "t3", "t4", "age_ms",
    "left_ms", "bad", "flags", "lease_ms", "step", "setpoint", "wall_setpoint", "duty", "wall_off",
    "paste_off", "coldest_off", "hottest_off", "mean_off", "credit_ms", "sds",
)  # fmt: skip
"""In the order of the table, which only ever grows at its end."""

# Codes on disk: append only, never reorder. Three bits each.
STATES = (State.IDLE, State.RUNNING, State.HELD, State.COMPLETE, State.STOPPING, State.STOPPED,
          State.ABORTING, State.ABORTED)  # fmt: skip
PHASES = (Phase.NONE, Phase.HOLD, Phase.SETTLING, Phase.COME_UP, Phase.PROMPT, Phase.FALLING,
          Phase.HOT_HOLDING, Phase.COOLING)  # fmt: skip
FAULTS = (None, ProbeFault.OPEN, ProbeFault.SHORT, ProbeFault.RANGE)

# Layout of `flags`: relay 1 bit, cut-out 1, feedback 2 (0 none, 1 off, 2 on), state 3, phase 3, faults 4 × 2.
STATE_SHIFT, PHASE_SHIFT, FAULT_SHIFT = 4, 7, 10
UNUSED = -1 << FAULT_SHIFT + 2 * MAX_PROBES
"""Bits of `flags` that nothing sets."""
NO_FEEDBACK = 12
"""Both bits of the feedback: no such value."""
_FEEDBACK = {None: 0, False: 4, True: 8}
_FEEDBACK_BACK = (None, False, True, None)
_STATE_BITS = {state: code << STATE_SHIFT for code, state in enumerate(STATES)}
_PHASE_BITS = {phase: code << PHASE_SHIFT for code, phase in enumerate(PHASES)}
_FAULT_CODE = {fault: code for code, fault in enumerate(FAULTS)}

# Layout of `sds`: bit 0 says how wide (0: 7 bits each, up to 1.27 K; 1: 11 bits each), then wall, coldest, hottest,
# mean in 0.01 K, 0 for none. Narrow takes four bytes, wide six.
NARROW, WIDE = 7, 11
_WIDEST_K = 20.47

_PADDING: tuple[tuple[None, ...], ...] = tuple((None,) * (MAX_PROBES - k) for k in range(MAX_PROBES + 1))


@dataclass(frozen=True, slots=True)
class Anchor:
    """What the differences of one hold's rows are counted from."""

    first_seq: int
    started_utc_ms: int
    n: int = 0
    up: int = 0
    ack: int = 0


def anchor(seq: int, now: Instant, reading: Reading, first_seq: int, started_utc_ms: int) -> Anchor:
    """Return the anchor that makes this first row's own differences zero."""
    k = seq - first_seq
    return Anchor(first_seq, started_utc_ms, reading.n - k, reading.up_ms - now.hold_ms, reading.ack - k)


def encode(seq: int, now: Instant, reading: Reading, decision: Decision, base: Anchor) -> Row:
    """Return the row of one sample. A non-finite number becomes NULL, or the fault `range` for a probe."""
    k = seq - base.first_seq
    hold_ms, host_ms = now.hold_ms, now.host_ms
    flags = _STATE_BITS[decision.state] | _PHASE_BITS[decision.phase] | _FEEDBACK[reading.feedback]
    if reading.relay:
        flags |= 1
    if reading.cut:
        flags |= 2
    try:
        temps: tuple[int | None, ...] = tuple([round(t * 100) for t in reading.temps])  # type: ignore[arg-type]
        if len(temps) != MAX_PROBES:
            temps += _PADDING[len(temps)]
    except (TypeError, ValueError, OverflowError):
        temps, faults = _temps_with_faults(reading)
        flags |= faults
    return (
        seq, hold_ms, host_ms - hold_ms, now.utc_ms - base.started_utc_ms - host_ms,
        (reading.n - base.n - k + 32768 & 65535) - 32768, reading.up_ms - base.up - hold_ms,
        (reading.ack - base.ack - k + 32768 & 65535) - 32768,
        *temps, reading.age_ms, reading.left_ms, reading.bad, flags, decision.lease_ms, decision.step,
        *_decided(decision), decision.credit_ms, _deviations(decision.estimate),
    )  # fmt: skip


def _decided(decision: Decision) -> tuple[int | None, ...]:
    """Return setpoint, wall setpoint, duty and the five estimates' differences."""
    setpoint, wall_setpoint, est = decision.setpoint_c, decision.wall_setpoint_c, decision.estimate
    try:
        sp = None if setpoint is None else round(setpoint * 100)
        wsp = None if wall_setpoint is None else round(wall_setpoint * 100)
        duty = round(decision.duty * 10_000)
    except (ValueError, OverflowError):
        sp, wsp, duty = _centi(setpoint), _centi(wall_setpoint), 0
    if est is None:
        return sp, wsp, duty, None, None, None, None, None
    try:
        paste = round(est.paste_c * 100)
        return (
            sp, wsp, duty,
            round(est.wall_c * 100) - (wsp or 0), paste - (sp or 0),
            paste - round(est.coldest_c * 100), round(est.hottest_c * 100) - paste,
            round(est.mean_c * 100) - paste,
        )  # fmt: skip
    except (ValueError, OverflowError):
        return sp, wsp, duty, None, None, None, None, None


def _deviations(est: Estimate | None) -> int | None:
    """Return the four standard deviations packed into one integer; NULL where none was given."""
    if est is None:
        return None
    wall_k, coldest_k, hottest_k, mean_k = est.wall_sd_k, est.coldest_sd_k, est.hottest_sd_k, est.mean_sd_k
    wall, coldest = _centikelvin(wall_k), _centikelvin(coldest_k)
    hottest, mean = _centikelvin(hottest_k), _centikelvin(mean_k)
    wide = wall > 127 or coldest > 127 or hottest > 127 or mean > 127
    bits = WIDE if wide else NARROW
    return (((mean << bits | hottest) << bits | coldest) << bits | wall) << 1 | wide or None


def _centikelvin(sd_k: float) -> int:
    """Return a deviation in 0.01 K, 1 to 2047; 0 for one that was not given or is no number."""
    if 0 < sd_k < _WIDEST_K:
        return int(sd_k * 100 + 0.5) or 1
    return 2047 if _WIDEST_K <= sd_k < math.inf else 0


def _unpacked(sds: int) -> tuple[float, ...]:
    bits = WIDE if sds & 1 else NARROW
    return tuple([(sds >> 1 + bits * k & (1 << bits) - 1) / 100 for k in range(4)])


def whole(row: Row) -> Row:
    """Return a row of any format with all of today's columns, NULL where its format had none."""
    return (*row, *(None,) * (len(COLUMNS) - len(row)))


def _centi(value: float | None) -> int | None:
    return round(value * 100) if value is not None and math.isfinite(value) else None


def _temps_with_faults(reading: Reading) -> tuple[tuple[int | None, ...], int]:
    temps: list[int | None] = [None] * MAX_PROBES
    faults = 0
    for channel, value in enumerate(reading.temps):
        fault = value if isinstance(value, ProbeFault) else None if math.isfinite(value) else ProbeFault.RANGE
        if fault is None:
            temps[channel] = round(float(value) * 100)
        else:
            faults |= _FAULT_CODE[fault] << FAULT_SHIFT + 2 * channel
    return tuple(temps), faults


def decode(row: Row, base: Anchor) -> tuple[int, Instant, Reading, Decision]:
    """Return what `encode` was given (notices apart, which are events of their own).

    Raises ValueError for flags that no row can have. What else a damaged row says, only the chain can tell.
    """
    (seq, hold_ms, host_off, utc_off, n_off, up_off, ack_off, _t1, _t2, _t3, _t4, age_ms, left_ms, bad,
     flags, lease_ms, step, sp, wsp, duty, wall_off, paste_off, coldest_off, hottest_off, mean_off,
     credit_ms, sds) = _ints(row)  # fmt: skip
    if flags & UNUSED or flags & NO_FEEDBACK == NO_FEEDBACK:
        raise ValueError("flags that no row has")
    k = seq - base.first_seq
    host_ms = hold_ms + host_off
    reading = Reading(
        n=(n_off + base.n + k) & 65535,
        up_ms=up_off + base.up + hold_ms,
        temps=_temps((row[7], row[8], row[9], row[10]), flags >> FAULT_SHIFT),
        age_ms=age_ms,
        relay=bool(flags & 1),
        left_ms=left_ms,
        ack=(ack_off + base.ack + k) & 65535,
        bad=bad,
        cut=bool(flags & 2),
        feedback=_FEEDBACK_BACK[flags >> 2 & 3],
    )
    paste = sp + paste_off
    decision = Decision(
        lease_ms=lease_ms,
        state=STATES[flags >> STATE_SHIFT & 7],
        phase=PHASES[flags >> PHASE_SHIFT & 7],
        step=step,
        setpoint_c=None if row[17] is None else sp / 100,
        wall_setpoint_c=None if row[18] is None else wsp / 100,
        duty=duty / 10_000,
        estimate=None if row[21] is None else Estimate(
            (wsp + wall_off) / 100,
            paste / 100,
            (paste - coldest_off) / 100,
            (paste + hottest_off) / 100,
            (paste + mean_off) / 100,
            *_unpacked(sds),
        ),
        credit_ms=credit_ms,
    )  # fmt: skip
    return seq, Instant(hold_ms, host_ms, base.started_utc_ms + host_ms + utc_off), reading, decision


def _ints(row: Row) -> tuple[int, ...]:
    return tuple([value or 0 for value in row])


def _temps(raw: tuple[int | None, ...], faults: int) -> tuple[float | ProbeFault, ...]:
    temps: list[float | ProbeFault] = []
    for channel, value in enumerate(raw):
        fault = FAULTS[faults >> 2 * channel & 3]
        if fault is not None and value is not None:
            raise ValueError("a probe with a fault that reads a value")
        if fault is not None:
            temps.append(fault)
        elif value is not None:
            temps.append(value / 100)
        else:
            break
    return tuple(temps)
