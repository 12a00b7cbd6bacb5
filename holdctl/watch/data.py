"""A frame as data, for `--json`: °C, seconds, UTC, names as in the record."""

from datetime import UTC, datetime
from typing import Any

import msgspec

from holdctl.watch.alarm_lines import urgency
from holdctl.watch.relay import state_words
from holdctl.watch.sentence import sentence
from holdctl.watch.snapshot import Snapshot
from holdctl.watch.words import Look


def frame_json(shot: Snapshot, look: Look | None = None) -> dict[str, Any]:
    """Return what the screen shows as JSON values; `look` shapes only the sentence."""
    said = sentence(shot, look or Look(units=shot.settings.units))
    sample = shot.sample
    estimate, food = shot.known_estimate, shot.food
    return {
        "sentence": said.text,
        "level": said.level,
        "hold": shot.hold.id,
        "heated": shot.heated,
        "warmer": shot.hold.warmer if shot.heated else None,
        "programme": shot.hold.programme,
        "test_rig": shot.hold.simulated,
        "pace": shot.hold.pace,
        "now_utc": _iso(shot.now_utc_ms),
        "started_utc": _iso(shot.hold.started_utc_ms),
        "ended": shot.ended,
        "daemon": shot.daemon,
        "state": shot.state.value,
        "state_words": state_words(shot),
        "phase": shot.phase.value,
        "step": shot.step_index,
        "steps": len(shot.settings.programme.step) if shot.heated else 0,
        "credit_s": shot.credit_ms / 1000,
        "left_s": None if shot.left_ms is None else shot.left_ms / 1000,
        "clock_runs": shot.left_ms is not None and sample is not None and shot.out_of_range() is None,
        "last_reading_s": shot.silent_s if sample else None,
        "stale": shot.stale,
        "paste_c": shot.paste_c,
        "setpoint_c": shot.setpoint_c,
        "wall_setpoint_c": sample.decision.wall_setpoint_c if sample else None,
        "duty": sample.decision.duty if sample and shot.heated else None,
        "relay": sample.reading.relay if sample and shot.heated else None,
        "probes": [
            {"channel": p.channel, "place": p.place.value, "name": p.name, **_reading(shot.reading(p))}
            for p in shot.settings.probe
        ],
        "estimated": None
        if estimate is None
        else {
            "wall_c": estimate.wall_c if shot.heated else None,
            "coldest_c": estimate.coldest_c,
            "mean_c": estimate.mean_c,
            "hottest_c": estimate.hottest_c,
            "wall_sd_k": estimate.wall_sd_k or None,
            "coldest_sd_k": estimate.coldest_sd_k or None,
            "mean_sd_k": estimate.mean_sd_k or None,
            "hottest_sd_k": estimate.hottest_sd_k or None,
        },
        "forecast": _forecast(shot),
        "advice": _advice(shot),
        "food": {
            "code": food.code.id,
            "limit_c": food.code.hot_holding_c,
            "rule": food.code.rule,
            "source": food.code.source,
            "coldest_known_c": food.coldest_known_c,
            "coming_up": food.coming_up,
            "allowances": [
                {
                    "kind": a.kind,
                    "used_s": a.used_s,
                    "limit_s": a.limit_s,
                    "left_s": a.left_s,
                    "advisory": a.advisory,
                    "source": a.source,
                    "text": a.text,
                }
                for a in food.allowances
            ],
            "below_now_s": food.below_now_s,
            "unrecorded_now_s": food.unrecorded_now_s,
            "below_s": food.below_s,
            "unrecorded_s": food.unrecorded_s,
            "zone_s": food.zone_s,
            "zone_unrecorded_s": food.zone_unrecorded_s,
        },
        "growth": msgspec.to_builtins(shot.growth),
        "bread": msgspec.to_builtins(shot.bread),
        "alarms": [
            {
                "name": a.name,
                "trip": a.trip,
                "since_utc": _iso(a.since_utc_ms),
                "priority": urgency(a),
                "acknowledged": a.acknowledged,
                "latched": a.latched,
                "over_utc": None if a.over_utc_ms is None else _iso(a.over_utc_ms),
                "shelved": a.shelved,
                "first_out": a.first_out,
                "chattering": a.chattering,
                "text": a.text,
            }
            for a in shot.alarms
        ],
        "shelved": sorted(shot.shelved),
        "events": [{"utc": _iso(e.utc_ms), "kind": e.kind, "text": e.text} for e in shot.lines],
    }


def _forecast(shot: Snapshot) -> dict[str, Any] | None:
    told = shot.forecast
    if told is None:
        return None
    forecast = told.forecast
    return {
        "told_utc": _iso(told.utc_ms),
        "in_range_utc": _times(told.utc_ms, forecast.band_ms),
        "step_done_utc": _times(told.utc_ms, forecast.end_ms),
        "coldest_c": forecast.coldest_c,
        "hottest_c": forecast.hottest_c,
        "stir_s": forecast.stir_ms / 1000,
        "stir_k": forecast.stir_k,
    }


def _times(told_utc_ms: int, ahead_ms: tuple[int, int, int] | None) -> dict[str, str] | None:
    if ahead_ms is None:
        return None
    return dict(zip(("early", "expected", "late"), (_iso(told_utc_ms + ms) for ms in ahead_ms), strict=True))


def _advice(shot: Snapshot) -> dict[str, Any] | None:
    told = shot.advice
    if told is None:
        return None
    return {
        "name": "stir-now",
        "told_utc": _iso(told.utc_ms),
        "text": told.text,
        "sooner_s": told.sooner_ms / 1000,
        "evener_k": told.evener_k,
    }


def _reading(value: float | str) -> dict[str, Any]:
    known = isinstance(value, float)
    return {"c": value if known else None, "fault": None if known else value}


def _iso(utc_ms: int) -> str:
    return (
        datetime.fromtimestamp(utc_ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    )
