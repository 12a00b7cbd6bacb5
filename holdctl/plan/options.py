"""A bread from the command line: the same table as `bread.toml` has, so that the same rules judge it."""

import re
from collections.abc import Sequence
from typing import Any

from holdctl.errors import ConfigError

_AMOUNT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(g|kg|%)?")


def amount(option: str, text: str) -> dict[str, float]:
    """Return `{"grams": …}` of `660`, `660g` or `1.2kg`, `{"percent": …}` of `66%`. Raises ConfigError."""
    found = _AMOUNT.fullmatch(text.strip())
    if found is None:
        raise ConfigError(f"{option}: write grams as 660 or a share of the flour as 66%; it is “{text}”.")
    value = float(found[1].replace(",", "."))
    if found[2] == "%":
        return {"percent": value}
    return {"grams": 1000 * value if found[2] == "kg" else value}


def flour(text: str) -> dict[str, Any]:
    """Return a flour of `white-wheat=800`. Raises ConfigError."""
    return _named("--flour", text, "white-wheat=800 or whole-rye=20%")


def ingredient(text: str) -> dict[str, Any]:
    """Return an ingredient of `honey=20` or, with the water in it, `honey=20@18`. Raises ConfigError."""
    rest, at, moisture = text.partition("@")
    entry = _named("--with", rest, "honey=20, or honey=20@18 with its water in %")
    if at:
        entry["moisture"] = plain("--with", moisture)
    return entry


def _named(option: str, text: str, example: str) -> dict[str, Any]:
    name, sign, much = text.rpartition("=")
    if not sign or not name.strip():
        raise ConfigError(f"{option}: write it as {example}; it is “{text}”.")
    return {"name": name.strip(), **amount(option, much)}


def plain(option: str, text: str) -> float:
    """Return a number, written with point or comma. Raises ConfigError."""
    try:
        return float(text.strip().rstrip("%").replace(",", "."))
    except ValueError:
        raise ConfigError(f"{option}: “{text}” is not a number.") from None


def table(
    flours: Sequence[str], water: str | None, hydration: float | None, others: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    """Return the table of a bread. Raises ConfigError where flour or water is missing."""
    if not flours or (water is None and hydration is None):
        raise ConfigError(
            "What bread? Give a file (`holdctl plan --example > bread.toml` writes one), or at least --flour and "
            "--water, as in `holdctl plan --flour white-wheat=1000 --water 660 --salt 18`."
        )
    wet: dict[str, float] = {} if water is None else amount("--water", water)
    if hydration is not None:
        wet["hydration"] = hydration
    return {"flour": [flour(text) for text in flours], "water": wet, "ingredient": list(others)}


def scald_only(data: dict[str, Any], names: Sequence[str]) -> None:
    """Let only these flours into the scald, `whole-rye` or with parts `whole-rye=2`. Raises ConfigError."""
    entries = {entry.get("name"): entry for entry in data.get("flour", []) if isinstance(entry, dict)}
    for entry in entries.values():
        entry.pop("in_scald", None)
    for text in names:
        name, _, parts = text.partition("=")
        if name not in entries:
            known = ", ".join(map(str, entries)) or "none"
            raise ConfigError(f"--scald-of: there is no flour “{name}” in the formula; there is {known}.")
        entries[name]["in_scald"] = plain("--scald-of", parts) if parts else 1.0


def change(data: dict[str, Any], key: str, values: dict[str, Any]) -> None:
    """Put what was given on the command line over the file's table; in [batch] one size goes for another."""
    given = {name: value for name, value in values.items() if value is not None}
    inner = data.setdefault(key, {})
    if not given or not isinstance(inner, dict):  # a wrong table is told by who checks it
        return
    if key == "batch" and given.keys() - {"pieces"}:
        for name in ("total_g", "flour_g", "piece_g"):
            inner.pop(name, None)
    inner.update(given)
