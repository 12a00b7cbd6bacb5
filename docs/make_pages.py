"""Write the pages that are made from the tables the code runs on: `python docs/make_pages.py`.

A test holds the pages against what this makes, so they can't drift.
"""

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path

import msgspec

from holdctl import settings
from holdctl.config.unheated import UNTOLD
from holdctl.food.codes import AUTHORITY, CODES
from holdctl.food.rules import FoodCode
from holdctl.hold.disposition import Disposal
from holdctl.hold.states import TRANSITIONS, WORDS
from holdctl.safety import INTERLOCKS, Interlock
from holdctl.safety.alarm_states import (
    ALARM_TRANSITIONS,
    ALARM_WORDS,
    CHATTER,
    CHATTER_MS,
    FLOOD_BEGINS,
    FLOOD_ENDS,
    FLOOD_MS,
    LONGEST_SHELVE_MS,
    NEVER_HELD_BACK,
)

HERE = Path(__file__).parent
NOTE = "<!-- Made by docs/make_pages.py from the code; change it there. -->\n"


def states() -> str:
    """Return states.md: the table of states, its diagram, the interlocks."""
    rows = [
        f"| {state.value} | {WORDS[state]} | "
        + (", ".join(f"{c.value} → {s.value}" for c, s in exits.items()) or "–")
        + " |"
        for state, exits in TRANSITIONS.items()
    ]
    arrows = [
        f"    {a.value} --> {b.value}: {cause.value}"
        for a, exits in TRANSITIONS.items()
        for cause, b in exits.items()
    ]
    trips = [
        f"| `{row.name}` | {row.effect.value}{', latched' if row.latched else ''} | {row.priority.value} | {row.cause} "
        f"| {row.consequence} | {row.what_to_do} | {row.respond} | {_delays(row)} | {row.paste or '–'} |"
        for row in INTERLOCKS.values()
    ]
    return "\n".join(
        [
            "# States of a hold, and interlocks",
            NOTE,
            "The names are those of ISA-88 and stand in the record. What is not in this table changes nothing.\n",
            "| state | on a screen | what leads where |",
            "| --- | --- | --- |",
            *rows,
            "\n```mermaid\nstateDiagram-v2",
            *arrows,
            "```\n",
            "## Interlocks and alarms\n",
            "One table for code, screens and this page. A *trip* takes the relay off: the next lease is 0, whatever",
            "control would like. A latched one stays, also through restarts, until a person resets it by name, which",
            "is possible only once its cause is gone. *Limits power* keeps the heat down. *Alarm only* leaves the heat",
            "alone, because cutting it would spoil the food. `on`: so long must the condition last before the alarm is",
            "raised; `off`: so long must it be gone before it clears; deadband: how far back a value must come.\n",
            "Two rows may come of one cause: a probe that leaps over its limit, by more than its place can, raises",
            "`high-limit`, since a limit is judged by what is read alone, and `probe-out`, which says where to",
            "look first. Without a line there are no readings: beside `link-down` no `no-reading` is raised.\n",
            "| name | effect | priority | cause | consequence | what to do | within | on, off, deadband | the paste |",
            "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
            *trips,
            "",
        ]
    )


def _delays(row: Interlock) -> str:
    deadband = f", {row.deadband}" if row.deadband else ""
    return f"{row.on_delay_s:g} s, {row.off_delay_s:g} s{deadband}"


_ALARMS = """# Alarms
{note}
Which alarms there are, what each does to the heat, what to do and in what time: the one table in
[states.md](states.md). This page says how an alarm comes, is seen, is put aside and goes.

## States of one alarm

The names are those of ISA-18.2 / IEC 62682 (secondary sources). What is not in this table changes nothing. Each change
is an event of the record; its `detail` has the state reached and the priority.

| state | the alarm | what leads where |
| --- | --- | --- |
{states}

Two states of the standard have no use here and are left out. *Suppressed by design*: an alarm that makes no sense in
some state of the plant is not raised there at all, by what watches for it. *Out of service*: a warmer under repair has
no hold running, and so no alarms.

An alarm that is over before anybody saw it stays on the screen until somebody acknowledges it. A latched trip whose
cause is gone stays until it is reset by its name. Whoever resets, answers or shelves has seen it.

## What a person does

| command | what it does |
| --- | --- |
| `holdctl acknowledge [ALARM]` | says that it (or all) has been seen; changes nothing of the heat |
| `holdctl shelve ALARM --for 30m` | puts it aside: it is not told, and comes back by itself; `--end` takes it back |
| `holdctl reset ALARM` | takes off a latched trip once its cause is gone; `node-cutout` clears the node's own cut-out |
| `holdctl disposition ALARM WHAT` | enters what was done with the paste: {what} |

Each stands in the record twice, as a request (who, when, with what outcome) and as an event.

**Shelving** lasts at most, by priority: {shelves} (common practice, no source). It silences the message alone: a
shelved trip takes the heat away as ever, and the first line of the screen goes on saying so. Never shelved: {never}.

## Too many

**Flood.** More than {begins} alarms within {flood_min} min are a flood, until they are fewer than {ends} (ISA-18.2). It
is one alarm, `alarm-flood`, that names the first. While it lasts messages of single alarms are not told; an alarm of
high priority still is, once in each flood, and `relay-welded` always. All are in the record, with `held_back` in their
detail. What is shelved or chatters does not count.

**Chattering.** An alarm raised {chatter} times within {chatter_s} s chatters (ISA-18.2): that is said once, and its
messages are not told until it has been quiet for as long. A trip's effect follows each time.

**First.** The alarm that came first since none waited to be seen is marked FIRST: what follows is often its
consequence.

## The paste

An alarm that concerns the paste is a deviation: it carries a corrective action, and asks for a disposition. Words and
idea are those of HACCP (Codex CXC 1-1969; from memory). It can be entered during the hold, and after its end, also
while a later hold runs (`--hold N`). Until then it heads `holdctl review`. An alarm that comes again after its entry is
open again; entering anew corrects, and what was entered before stays in the record and in the review. Your local
authority decides what may be sold.

| alarm | corrective action |
| --- | --- |
{paste}
"""


def alarms() -> str:
    """Return alarms.md: the states of one alarm, and what is counted."""
    return _ALARMS.format(
        note=NOTE,
        states="\n".join(
            f"| {state.value} | {ALARM_WORDS[state]} | {', '.join(f'{m} → {s}' for m, s in exits.items())} |"
            for state, exits in ALARM_TRANSITIONS.items()
        ),
        what=", ".join(one.value for one in Disposal),
        shelves=", ".join(f"{p.value} {ms // 60_000} min" for p, ms in LONGEST_SHELVE_MS.items()),
        never=", ".join(f"`{name}`" for name in sorted(NEVER_HELD_BACK)),
        begins=FLOOD_BEGINS, ends=FLOOD_ENDS, flood_min=FLOOD_MS // 60_000,
        chatter=CHATTER, chatter_s=CHATTER_MS // 1000,
        paste="\n".join(f"| `{row.name}` | {row.paste} |" for row in INTERLOCKS.values() if row.paste),
    )  # fmt: skip


def settings_page() -> str:
    """Return settings.md: every key with type, default and meaning."""
    parts = [
        "# Settings: `holdctl.toml`",
        NOTE,
        "Looked for in the working directory, then in the user's configuration folder; `--config FILE` names another.",
        "`holdctl config` shows what is in force and where each value came from, `holdctl config --example` prints a",
        "commented file. Temperatures are in °C here, whatever the screens show. An unknown key is an error.\n",
    ]
    for kind, table in _tables():
        parts += [
            f"## {table}\n",
            f"{_first(inspect.getdoc(kind) or '')}\n",
            "| key | type | default | meaning |",
            "| --- | --- | --- | --- |",
        ]
        attributes = _attributes(kind)
        for field in msgspec.structs.fields(kind):
            if field.name == UNTOLD:
                continue
            annotation, meaning = attributes[field.name]
            said = _type(annotation) if annotation else ""
            parts.append(f"| `{field.encode_name}` | {said} | {_default(field)} | {meaning} |")
        parts.append("")
    parts += ["## Words that a key may take\n", "| word | meaning |", "| --- | --- |", *_words()]
    return "\n".join(parts) + "\n"


def _tables() -> list[tuple[type[msgspec.Struct], str]]:
    return [
        (settings.Settings, "At the top"),
        (settings.Port, "`[port]`"),
        (settings.Warmer, "`[warmer]`"),
        (settings.Vessel, "`[vessel]`"),
        (settings.Scald, "`[scald]`"),
        (settings.Room, "`[room]`"),
        (settings.Probe, "`[[probe]]`"),
        (settings.Notify, "`[notify]`"),
        (settings.Command, "`[[notify.command]]`"),
        (settings.Mail, "`[notify.mail]`"),
        (settings.Programme, "`[programme]`"),
        (settings.Step, "`[[programme.step]]`"),
        (settings.After, "`[programme.after]`"),
        (settings.Limits, "`[limits]`"),
        (settings.Control, "`[control]`"),
        (settings.RestartRule, "`[restart]`"),
        (settings.OwnCode, "`[own_code]`"),
        (settings.OwnCooling, "`[[own_code.cooling]]`"),
        (settings.OwnReheating, "`[own_code.reheating]`"),
        (settings.OwnHeating, "`[own_code.heating]`"),
        (settings.OwnTimeControl, "`[own_code.time_control]`"),
    ]


def _attributes(kind: type) -> dict[str, tuple[ast.expr | None, str]]:
    """Return annotation and docstring of each attribute."""
    body = ast.parse(inspect.getsource(kind)).body[0].body  # type: ignore[attr-defined]
    found: dict[str, tuple[ast.expr | None, str]] = {}
    name = ""
    for node in body:
        if isinstance(node, ast.AnnAssign):
            name = ast.unparse(node.target)
            found[name] = (node.annotation, "")
        elif isinstance(node, ast.Assign):
            name = ast.unparse(node.targets[0])
            found[name] = (None, "")
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and name:
            found[name] = (found[name][0], " ".join(str(node.value.value).split()))
    return found


_TYPES = {
    "Positive": "number above 0", "Celsius": "number, °C", "Seconds": "number, s", "Name": "text", "str": "text",
    "bool": "true/false", "date": "date", "float": "number", "int": "whole number", "Flour": "a flour", "Lid": "a lid",
    "Place": "a place", "Kind": "a kind", "Material": "a material", "tuple[Celsius, Celsius]": "[number, number], °C",
    "tuple[Text, ...]": "list of text", "Text": "text",
}  # fmt: skip


def _type(annotation: ast.expr) -> str:
    """Return an annotation in plain words."""
    if isinstance(annotation, ast.BinOp):  # X | None, or X | “these words”
        words = isinstance(annotation.right, ast.Subscript)
        return _type(annotation.left) + (f", or {_type(annotation.right)}" if words else "")
    if isinstance(annotation, ast.Subscript) and ast.unparse(annotation.value) == "Annotated":
        return _type(annotation.slice.elts[0])  # type: ignore[attr-defined]
    if isinstance(annotation, ast.Subscript) and ast.unparse(annotation.value) == "Literal":
        return " or ".join(f"`{choice.value}`" for choice in annotation.slice.elts)  # type: ignore[attr-defined]
    text = ast.unparse(annotation)
    return _TYPES.get(text, "tables" if text.startswith("tuple") else "table")


def _default(field: msgspec.structs.FieldInfo) -> str:
    if field.required:
        return "required"
    value = field.default
    if value is None or value == "":
        return "–"
    if value is msgspec.NODEFAULT or isinstance(value, msgspec.Struct):
        return "as below"
    if isinstance(value, tuple) and not value:
        return "–"
    if isinstance(value, tuple):
        return f"`[{', '.join(f'{v:g}' for v in value)}]`"
    return f"`{str(value).lower() if isinstance(value, bool) else value}`"


def _words() -> Iterator[str]:
    for kind in (settings.Kind, settings.Material, settings.Place, settings.Lid, settings.Flour):
        attributes = _attributes(kind)
        for member in kind:
            yield f"| {kind.__name__.lower()} `{member.value}` | {attributes[member.name][1]} |"


def _first(text: str) -> str:
    return " ".join(text.split())


_FOOD_CODES = """\
# Food codes
{note}
holdctl measures against the code named as `food_code` in `holdctl.toml`. It states which interval of the record broke
which rule; it gives no verdict on the food. **{authority}** There is no default: without `food_code` nothing starts.
How a rule is held against a record: [unsafe-windows.md](unsafe-windows.md).

| `food_code` | name | hot-holding limit | force |
| --- | --- | --- | --- |
{codes}
| `own` | a code of your own, in a table `[own_code]` ([settings.md](settings.md)) | as you write it | as you write it |

*Law* is binding text; a *recommendation* is an authority's advice, or a model code where nobody has adopted it; an
*advisory* is this project's own and says so. "From memory" means that the text was not read.

With `units = "F"` a code's own figure in °F counts where it is the stricter: 135 °F are 57.22 °C, so paste that a
screen shows at 134.8 °F is below "135 °F or above". The Food Code's 41, 70 and 165 °F are no stricter than its 5, 21
and 74 °C.

{each}
## A code of your own

What your authority has agreed with you goes into `holdctl.toml`, with its source, which is printed beside each finding.
Unknown keys are refused.

```toml
food_code = "own"

[own_code]
name = "Plan agreed with the authority"
source = "letter of 3 March 2026"
force = "law"                 # or "recommendation"
hot_holding_c = 60
cold_holding_c = 5
once_below_min = 30           # one single period below it, shorter than this

[[own_code.cooling]]
to_c = 21
within_min = 120
clock_from_c = 60             # the clock starts when the paste passes this

[own_code.reheating]
to_c = 75
dwell_s = 30
from_c = 5
within_min = 120
```

Nothing here says anything about spores: a hold at 65 °C does not kill them.
"""


def food_codes() -> str:
    """Return food-codes.md: each code with all its rules."""
    return _FOOD_CODES.format(
        note=NOTE,
        authority=AUTHORITY,
        codes="\n".join(
            f"| `{c.id}` | {c.name} | {c.hot_holding_c:g} °C{_own_f(c)} | {c.force} |" for c in CODES
        ),
        each="\n".join(_one_code(c) for c in CODES),
    )


def _own_f(code: FoodCode) -> str:
    return f" ({code.hot_holding_f:g} °F)" if code.hot_holding_f else ""


def _one_code(code: FoodCode) -> str:
    rows = [
        f"| {rule.name} | {rule.text}{' ' * bool(rule.remarks)}{rule.remarks} | {rule.source} | {rule.force} "
        f"| {rule.sureness} |"
        for rule in code.rules
    ]
    head = ["| rule | text | source | force | how sure |", "| --- | --- | --- | --- | --- |"]
    return "\n".join([f"## {code.name}\n", f"{code.remarks}\n", *head, *rows, ""])


PAGES = {"food-codes.md": food_codes, "alarms.md": alarms, "states.md": states, "settings.md": settings_page}

if __name__ == "__main__":
    for name, make in PAGES.items():
        (HERE / name).write_text(make(), "utf-8")
