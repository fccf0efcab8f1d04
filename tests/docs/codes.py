"""The kinds of finding and error there are, read from the program's own source."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2] / "ledger_tools"
ERROR, WARNING, NOTE = "error", "warning", "note"

_CODE_AT = {
    # Name of the function or method that says a finding: where its code stands, and how it weighs.
    "Finding": (1, None),
    "add": (1, None),
    "_finding": (2, None),
    "error": (1, ERROR),
    "warning": (1, WARNING),
    "echoed": (1, NOTE),
    "note": (1, NOTE),
    "needed": (2, ERROR),
    "choice": (2, ERROR),
}
_WITH_REMEDY = 4
"""Arguments of a call of `echoed` that brings a remedy, and so is a warning."""


def finding_codes(source: Path = SOURCE) -> dict[str, set[str]]:
    """Return each code of a finding in the source, with the severities it is said with."""
    codes: defaultdict[str, set[str]] = defaultdict(set)
    for tree in _trees(source):
        for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
            for code, severity in _said(call):
                codes[code].add(severity)
    return dict(codes)


def error_codes(source: Path = SOURCE) -> set[str]:
    """Return the codes of the errors that stop a command: `code = ...` in a class."""
    return {
        statement.value.value
        for tree in _trees(source)
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        for statement in node.body
        if isinstance(statement, ast.Assign)
        and [ast.unparse(target) for target in statement.targets] == ["code"]
        and isinstance(statement.value, ast.Constant)
        and isinstance(statement.value.value, str)
    }


def _trees(source: Path) -> Iterator[ast.Module]:
    for path in sorted(source.rglob("*.py")):
        yield ast.parse(path.read_text(encoding="utf-8"))


def _said(call: ast.Call) -> Iterator[tuple[str, str]]:
    name = ast.unparse(call.func).rpartition(".")[2]
    place, severity = _CODE_AT.get(name, (0, None))
    if not place or len(call.args) <= place:
        return
    if name == "echoed" and len(call.args) >= _WITH_REMEDY:
        severity = WARNING
    said = [severity] if severity else _severities(call)
    for code in _words(call.args[place]):
        yield from ((code, one) for one in said)


def _severities(call: ast.Call) -> list[str]:
    """Return the severities that stand anywhere in a call's arguments."""
    return [
        node.attr.lower()
        for argument in call.args
        for node in ast.walk(argument)
        if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "Severity"
    ]


def _words(argument: ast.expr) -> list[str]:
    """Return the codes an argument may be: a word, or one of two."""
    if isinstance(argument, ast.IfExp):
        return [*_words(argument.body), *_words(argument.orelse)]
    if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
        return [argument.value]
    return []
