"""Every alarm that the code raises is a row of the table, and no text that a person reads says "safe"."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import holdctl
from holdctl.safety import INTERLOCKS

RAISING = {"trip": 1, "raise_now": 0, "condition": 0, "Condition": 0, "_sees": 0}
"""What takes an alarm's name, and where among what it is given (a trip has the hold first)."""


@cache
def trees() -> dict[str, ast.Module]:
    """Every module of the package, parsed by who asks and not by all who collect."""
    package = Path(holdctl.__file__).parent
    return {str(path): ast.parse(path.read_text("utf-8")) for path in package.rglob("*.py")}


def _calls(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def _names(tree: ast.Module) -> Iterator[str]:
    """Names of alarms in one module: given as text, or by a constant of the module."""
    constants = {
        target.id: node.value
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for call in _calls(tree):
        called = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
        kinds = [ast.unparse(arg) in ("NoticeKind.ALARM", "NoticeKind.TRIP") for arg in call.args]
        at = RAISING.get(called, kinds.index(True) + 1 if any(kinds) else None)
        if at is None or at >= len(call.args):
            continue
        name = call.args[at]
        name = constants.get(name.id, name) if isinstance(name, ast.Name) else name
        if isinstance(name, ast.Constant) and isinstance(name.value, str):
            yield name.value


def test_every_alarm_that_is_raised_by_name_has_a_row():
    raised = {name for tree in trees().values() for name in _names(tree)}
    assert raised >= {"other-host", "no-reading", "prompt-unanswered", "short-lease", "spool", "alarm-flood"}
    assert raised <= set(INTERLOCKS), raised - set(INTERLOCKS)


def _texts(tree: ast.Module) -> Iterator[str]:
    """Every string of a module that is no docstring."""
    bare = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in bare:
            yield node.value


def test_no_text_says_safe():
    found = [
        (name, text)
        for name, tree in trees().items()
        for text in _texts(tree)
        if re.search(r"\bsafe(ly|r|st)?\b", text, re.IGNORECASE)
    ]
    assert found == []
