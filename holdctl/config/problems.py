"""Find everything that is wrong with a parsed TOML table, not only the first thing."""

import difflib
import enum
import re
import types
import typing
from typing import Any

import msgspec

from holdctl.food.codes import CODES

_PLAIN = {
    "float": "a number",
    "int": "a whole number",
    "str": "text in quotes",
    "bool": "true or false",
    "array": "a list",
    "object": "a table",
    "date": "a date as 2026-01-31",
}
_TYPE = re.compile(rf"\b({'|'.join(_PLAIN)})\b")


def problems(data: object, kind: Any, where: str = "") -> list[str]:
    """Return one sentence for each unknown key, missing key, wrong type and value out of range."""
    kind = _bare(kind)
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        if not isinstance(data, dict):
            return [f"{where}: this must be a table, [{where}]."]
        return _table(data, kind, where)
    inner = _entry(kind)
    if inner is not None and isinstance(data, list) and all(isinstance(item, dict) for item in data):
        found = [p for n, item in enumerate(data, start=1) for p in problems(item, inner, f"{where} {n}")]
        if found:
            return found
    return _value(data, kind, where)


def _table(data: dict[str, Any], kind: type[msgspec.Struct], where: str) -> list[str]:
    fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
    dot = f"{where}." if where else ""
    found = []
    for key in data:
        if key not in fields:
            near = difflib.get_close_matches(key, fields, n=1)
            hint = f"did you mean “{near[0]}”?" if near else f"known here: {', '.join(fields)}."
            found.append(f"{dot}{key}: unknown key; {hint}")
    for name, field in fields.items():
        if name in data:
            found += problems(data[name], field.type, f"{dot}{name}")
        elif field.required:
            found.append(_missing(f"{dot}{name}"))
    return found


def _missing(key: str) -> str:
    if key == "food_code":
        known = ", ".join(f"“{code.id}” ({code.name})" for code in CODES)
        return (
            f"food_code: missing. Choose one of {known}; your local authority decides which applies to you."
        )
    return f"{key}: missing."


def _value(data: object, kind: Any, where: str) -> list[str]:
    try:
        msgspec.convert(data, kind)
    except msgspec.ValidationError as error:
        choices = _choices(kind)
        if choices:
            return [
                f"{where}: write one of {', '.join(f'“{choice}”' for choice in choices)}; it is {data!r}."
            ]
        text = str(error).replace("`", "").split(" - at ")[0]
        text = _TYPE.sub(lambda match: _PLAIN[match[0]], text)
        return [f"{where}: {text[0].lower()}{text[1:]}; it is {data!r}."]
    return []


def _choices(kind: Any) -> list[str]:
    """Return what may be written where only certain words may."""
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return [str(member.value) for member in kind]
    return [str(arg) for arg in typing.get_args(kind)] if typing.get_origin(kind) is typing.Literal else []


def _bare(kind: Any) -> Any:
    """Return the type without `None`; constraints stay."""
    if isinstance(kind, types.UnionType) or typing.get_origin(kind) is typing.Union:
        rest = [arg for arg in typing.get_args(kind) if arg is not type(None)]
        return rest[0] if len(rest) == 1 else kind
    return kind


def _entry(kind: Any) -> Any:
    """Return the entry type of a `tuple[X, ...]` of tables, else None."""
    if typing.get_origin(kind) is typing.Annotated:
        kind = typing.get_args(kind)[0]
    args = typing.get_args(kind)
    if typing.get_origin(kind) is tuple and len(args) == 2 and args[1] is Ellipsis:
        return args[0]
    return None
