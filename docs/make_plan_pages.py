"""Write the pages about bread files and kept plans from the types they are read with: `python docs/make_plan_pages.py`.

A test holds the pages against what this makes, so they can't drift.
"""

import ast
import inspect
import runpy
from pathlib import Path

import msgspec

from holdctl.plan import bread, plan

HERE = Path(__file__).parent
NOTE = "<!-- Made by docs/make_plan_pages.py from the code; change it there. -->\n"
_SHARED = runpy.run_path(str(HERE / "make_pages.py"))
_BREAD = {
    "At the top": bread.Bread,
    "`[[flour]]`": bread.FlourEntry,
    "`composition`": bread.Label100,
    "`[water]`": bread.Water,
    "`[[ingredient]]`": bread.IngredientEntry,
    "`[batch]`": bread.Batch,
    "`[scald]`": bread.ScaldEntry,
    "`[scale]`": bread.ScaleEntry,
    "`[kitchen]`": bread.Kitchen,
    "`[mixing]`": bread.Mixing,
    "`[cooling]`": bread.CoolingEntry,
    "`[dough]`": bread.DoughEntry,
}
_TYPES = {
    "Grams": "number, g", "Percent": "number, %", "Label": "number, g in 100 g", "Step": "number, g", "Name": "text",
    "Celsius": "number, °C", "float": "number", "int": "whole number", "bool": "true/false", "str": "text",
    "Flour": "a flour", "Material": "a material",
}  # fmt: skip


def bread_page() -> str:
    """Return bread.md: every key of `bread.toml` with type, default and meaning."""
    parts = [
        "# The bread file: `bread.toml`",
        NOTE,
        "`holdctl plan --example > bread.toml` prints a commented one. Masses in g, percentages of all flour, °C. An",
        "unknown key is an error that names the nearest known one. What the rules are and what they rest on:",
        "[plan.md](plan.md).\n",
    ]
    for title, kind in _BREAD.items():
        parts += _table(title, kind, "key")
    return "\n".join(parts)


def plan_page() -> str:
    """Return plan-file.md: every section of a kept plan."""
    parts = [
        "# A plan as kept, and as `--json` prints it",
        NOTE,
        f"Version {plan.VERSION} of the layout; another version is refused, never guessed at, and unknown keys are let",
        "through. Masses in g, temperatures in °C, times in s, percentages of all flour, moments in ms UTC. A section",
        "that nothing filled is null.\n",
    ]
    kinds = [
        k
        for _, k in inspect.getmembers(plan, inspect.isclass)
        if issubclass(k, plan.Part) and k is not plan.Part
    ]
    for kind in sorted(kinds, key=lambda k: (k is not plan.Plan, inspect.getsourcelines(k)[1])):
        parts += _table(kind.__name__, kind, "field")
    return "\n".join(parts)


def _table(title: str, kind: type[msgspec.Struct], word: str) -> list[str]:
    attributes = _SHARED["_attributes"](kind)
    rows = []
    for field in msgspec.structs.fields(kind):
        annotation, meaning = attributes[field.name]
        rows.append(f"| `{field.encode_name}` | {_type(annotation)} | {_default(field)} | {meaning} |")
    head = f"| {word} | type | default | meaning |"
    return [f"## {title}\n", _SHARED["_first"](inspect.getdoc(kind) or "") + "\n", head,
            "| --- | --- | --- | --- |", *rows, ""]  # fmt: skip


def _type(annotation: object) -> str:
    text = inspect.cleandoc(ast.unparse(annotation))  # type: ignore[arg-type]
    text = text.removesuffix(" | None")
    if text.startswith("Annotated[tuple"):
        return "tables"
    if text.startswith("Annotated["):
        text = text.removeprefix("Annotated[").split(",")[0]
    if text.startswith("Literal["):
        return text.removeprefix("Literal[").removesuffix("]").replace("'", "`").replace(", ", " or ")
    return _TYPES.get(text, f"`{text}`" if "[" in text else "table")


def _default(field: msgspec.structs.FieldInfo) -> str:
    if field.default_factory is not msgspec.NODEFAULT:
        return "–"
    return str(_SHARED["_default"](field))


PAGES = {"bread.md": bread_page, "plan-file.md": plan_page}

if __name__ == "__main__":
    for name, make in PAGES.items():
        (HERE / name).write_text(make(), "utf-8")
