"""Invented records for the food rules: piecewise straight, sampled once a second or as told."""

from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from holdctl.food.worst_case import Curve, curve

H = 3600.0


def straight(points: Sequence[tuple[float, float]], step_s: float = 1.0, spread_k: float = 0.0) -> Curve:
    """A record whose coldest paste goes straight between (hours, °C); the hottest is `spread_k` above."""
    hours, temps = zip(*points, strict=True)
    t = np.arange(0.0, hours[-1] * H + step_s / 2, step_s)
    low = np.interp(t, np.array(hours) * H, temps)
    return curve(t, low, low + spread_k)


def without(whole: Curve, start_h: float, end_h: float) -> Curve:
    """The same without the samples between two times."""
    keep = (whole.t_s <= start_h * H) | (whole.t_s >= end_h * H)
    return curve(whole.t_s[keep], whole.low_c[keep], whole.high_c[keep])


def newton(start_c: float, ambient_c: float, half_min: float, hours: float, step_s: float = 1.0) -> Curve:
    """A record that cools by Newton's law with a half-time in minutes."""
    t = np.arange(0.0, hours * H + step_s / 2, step_s)
    temp = ambient_c + (start_c - ambient_c) * 2.0 ** (-t / 60 / half_min)
    return curve(t, temp, temp)


def numbers(account: Any) -> list[float]:
    """Return all numbers of a struct, in order."""
    if isinstance(account, dict):
        account = list(account.values())
    if isinstance(account, list | tuple):
        return [number for one in account for number in numbers(one)]
    if isinstance(account, float | int):
        return [float(account)]
    return [] if account is None or isinstance(account, str) else numbers(msgspec.to_builtins(account))
