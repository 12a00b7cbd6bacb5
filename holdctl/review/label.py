"""The label of one hold's paste for the fridge: what it is, when it was made and cooled, how it keeps.

A use by stands on it only where a cooling was recorded and no rule of the code was broken, or where a person has
entered what was done with the paste; else the label says why there is none. It is a guide, never a verdict.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from typing import TYPE_CHECKING

import msgspec

from holdctl.errors import ConfigError
from holdctl.food.codes import AUTHORITY
from holdctl.food.findings import Verdict
from holdctl.food.rules import ColdHolding
from holdctl.food.storage import GUIDE, Stored, cooled_to, date_rule, storage_limit, use_by
from holdctl.hold.disposition import WINDOW, Disposal
from holdctl.paste import USUAL_RATIO
from holdctl.review.cooled import CoolingAccount, cooling_accounts
from holdctl.review.food import food_account
from holdctl.review.words import local_of

if TYPE_CHECKING:
    from holdctl.review.dispositions import Deviation, Entry
    from holdctl.review.night import Night


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the user gives for a label."""

    name: str = ""
    batch: str = ""
    bakery: str = ""
    made_utc_ms: float | None = None
    """When the paste was made, where it was before the record."""


class Label(msgspec.Struct, frozen=True, kw_only=True):
    """What stands on it."""

    hold: int
    simulated: bool
    name: str
    batch: str
    bakery: str
    flour: str | None
    """None: the settings do not tell."""
    ratio: float | None
    """Water : flour by mass."""
    usual: bool
    """Whether the ratio is the flour's usual one, not told."""
    made_utc: str
    made_from: str
    """Where that is from, in words."""
    cooled_utc: str | None
    cooled_to: str
    cooling: Verdict | None
    """None: no cooling was declared."""
    cooling_words: str
    cooling_source: str
    keep: str
    keep_source: str
    keep_force: str
    keep_sureness: str
    code: str
    code_limit: str | None
    """The code's own cold holding with force, source and sureness; None where it has none."""
    use_by: str | None
    """The last day, ISO 8601, of the local calendar; None: the label gives none."""
    why: str
    """Why there is no use by, or what has to be said of it."""
    days: int
    date_source: str
    date_force: str
    date_sureness: str
    stored: tuple[Stored, ...]
    guide: str = GUIDE
    authority: str = AUTHORITY


def label_of(night: "Night", asked: Asked, zone: tzinfo) -> Label:
    """Return the label of a hold; the days are those of `zone`. Raises ConfigError where a given time can't be."""
    code, scald = night.code, night.settings.scald
    told = "scald" not in night.settings.untold
    coolings = cooling_accounts(night)
    last = coolings[-1] if coolings else None
    made_ms, made_from = _made(night, asked)
    day, why = _use_by(night, last, made_ms, zone)
    limit, rule, to = storage_limit(code), date_rule(code), cooled_to(code)
    cold_s = last.cold_s if last else None
    own = code.of(ColdHolding)
    return Label(
        hold=night.hold.id, simulated=night.hold.simulated,
        name=asked.name or (f"{_capital(scald.flour.value.replace('-', ' '))} scald" if told else "Scald"),
        batch=asked.batch, bakery=asked.bakery, flour=scald.flour.value if told else None,
        ratio=(scald.ratio or USUAL_RATIO[scald.flour]) if told else None, usual=told and scald.ratio is None,
        made_utc=_iso(made_ms), made_from=made_from,
        cooled_utc=None if cold_s is None else _iso(night.hold.started_utc_ms + 1000 * cold_s), cooled_to=to.words,
        cooling=last.verdict if last else None, cooling_words=_cooling_words(last),
        cooling_source=last.source if last else to.source, keep=limit.words, keep_source=limit.source,
        keep_force=limit.force, keep_sureness=limit.sureness, code=code.name,
        code_limit=_own_words(own[0]) if own else None, use_by=day.isoformat() if day else None, why=why,
        days=rule.days, date_source=rule.source, date_force=rule.force, date_sureness=rule.sureness,
        stored=night.stored,
    )  # fmt: skip


def _made(night: "Night", asked: Asked) -> tuple[float, str]:
    """Return when the paste was made, UTC ms, and where that is from: the earliest that is known."""
    started = night.hold.started_utc_ms
    if asked.made_utc_ms is not None:
        if asked.made_utc_ms > started:
            raise ConfigError(
                "--made must not be later than the record's begin: the paste was there by then."
            )
        return asked.made_utc_ms, "as you say"
    mixes = [one.value.mix_s for one in night.declared.measured if one.value.mix_s is not None]
    if mixes and mixes[-1] < 0:
        return started + 1000 * mixes[-1], "by your note of the mix"
    if "programme" in night.settings.untold:
        return started, "when its record began; say --made if it was made earlier"
    return started, "when its hold began"


def _use_by(
    night: "Night", last: CoolingAccount | None, made_ms: float, zone: tzinfo
) -> tuple[date | None, str]:
    """Return the last day, or None, and why or what has to be said of it."""
    thrown = [
        entry for one in night.deviations for entry in one.entries[-1:] if entry.what == Disposal.DISCARDED
    ]
    if thrown:
        return None, f"Entered as DISCARDED: {_entered(thrown[-1])}."
    broken, window = _broken(night), _window(night)
    if last is None:
        none = "No cooling is recorded (`holdctl cool`): nothing shows how this paste became cold."
        return None, f"{broken} {none}".strip()
    if night.hold.state is None:
        return None, f"{broken} The cooling still runs.".strip()
    if broken and (window is None or window.open or not window.entries):
        ask = f"holdctl disposition unsafe-window used|reworked|discarded --hold {night.hold.id}"
        return None, f"{broken} Discard it, or enter what was done: `{ask}`."
    if last.cold_s is None and not broken:
        return None, f"The record does not show all paste at {cooled_to(night.code).words} or below."
    timed = night.timeline().timed
    if timed is not None and not broken:
        return (
            None,
            f"Time alone controls it, as declared; chilling does not end that: {timed.text} ({timed.source}).",
        )
    untold = _untold(last)
    if untold and not broken:
        return None, f"{untold} Ask your authority, or discard it."
    day = use_by(made_ms, date_rule(night.code).days, zone)
    if broken and window is not None:
        entry = window.entries[-1]
        return day, f"{broken} {untold} Entered as {entry.what}: {_entered(entry)}.".replace("  ", " ")
    return day, last.why and f"Of the cooling: {last.why}."


def _untold(last: CoolingAccount) -> str:
    """Return why it can't be told whether a cooling kept a code's times; empty where it can, or there are none."""
    said = [s.observed for s in last.stages if s.verdict is Verdict.CANNOT_TELL]
    return f"That the cooling kept its rule is not shown: {'; '.join(said)} ({last.source})." if said else ""


def _broken(night: "Night") -> str:
    """Return which rules the paste broke, the cooling's first; empty where none."""
    found = [f for f in food_account(night).findings if f.verdict is Verdict.BROKEN and f.force != "advisory"]
    found.sort(key=lambda f: f.rule != "cooling")
    said = [f"{_capital(f.rule.replace('-', ' '))} BROKE its rule: {f.observed} ({f.source})." for f in found]
    warm = [one for one in night.stored if one.over_k]
    said += [f"Storage: {warm[-1].words}."] if warm else []
    return " ".join(said)


def _window(night: "Night") -> "Deviation | None":
    return next((one for one in night.deviations if one.alarm == WINDOW), None)


def _entered(entry: "Entry") -> str:
    note = f", {entry.note}" if entry.note else ""
    return f"{entry.by}, {local_of(entry.entered_utc)}{note}"


def _cooling_words(last: CoolingAccount | None) -> str:
    if last is None:
        return "none recorded"
    if last.verdict is Verdict.MET:
        return "rule met"
    if last.verdict is Verdict.BROKEN:
        return "rule BROKEN"
    return f"can't be told: {last.why or 'see the review'}"


def _own_words(rule: ColdHolding) -> str:
    limit = f"{rule.limit_c:g} °C" + (f" ({rule.limit_f:g} °F)" if rule.limit_f is not None else "")
    return f"{limit} or below ({rule.force}; {rule.source}; sureness {rule.sureness.split(':')[0]})"


def _iso(utc_ms: float) -> str:
    return datetime.fromtimestamp(utc_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
