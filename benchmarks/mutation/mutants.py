"""Mutants of a module: its text with one operator, comparison, number or answer changed."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Mult,
}  # fmt: skip
COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
}  # fmt: skip
TURNED = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "floor": "ceil", "ceil": "floor"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of one module.

    Attributes
    ----------
    line : int
    before, after : str
        The piece of text that was changed, and what stands in its place.
    text : str
        The whole module.
    """

    line: int
    before: str
    after: str
    text: str


def mutants(text: str) -> list[Mutant]:
    """Every mutant of a module in the order of its text."""
    found = []
    for node in _arithmetic(ast.parse(text)):
        for changed in _changes(node):
            found.append(_applied(text, node, changed))
    return [one for one in found if one.before != one.after]


def _arithmetic(node: ast.AST) -> Iterator[ast.AST]:
    """The nodes of code that computes: no words, no messages of refusals, no annotations, no imports."""
    if isinstance(node, ast.JoinedStr | ast.Raise | ast.Import | ast.ImportFrom):
        return
    yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "bases"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _arithmetic(child)


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    changed = copy.deepcopy(node)
    if isinstance(changed, ast.BinOp) and type(changed.op) in OPERATORS:
        changed.op = OPERATORS[type(changed.op)]()
        yield changed
    elif isinstance(changed, ast.Compare) and type(changed.ops[0]) in COMPARISONS:
        changed.ops[0] = COMPARISONS[type(changed.ops[0])]()
        yield changed
    elif isinstance(changed, ast.Constant) and type(changed.value) in (int, float):
        changed.value = changed.value + 1 if isinstance(changed.value, int) else changed.value * 1.5 + 0.01
        yield changed
    elif isinstance(changed, ast.Return) and changed.value is not None:
        yield ast.Return(ast.Constant(None))
    elif isinstance(changed, ast.BoolOp):
        changed.op = ast.And() if isinstance(changed.op, ast.Or) else ast.Or()
        yield changed
    elif isinstance(changed, ast.Name | ast.Attribute):
        name = changed.id if isinstance(changed, ast.Name) else changed.attr
        if name in TURNED:
            if isinstance(changed, ast.Name):
                changed.id = TURNED[name]
            else:
                changed.attr = TURNED[name]
            yield changed
    elif isinstance(changed, ast.UnaryOp) and isinstance(changed.op, ast.USub):
        yield changed.operand


def _applied(text: str, node: ast.AST, changed: ast.AST) -> Mutant:
    before = ast.get_source_segment(text, node) or ""
    after = ast.unparse(ast.fix_missing_locations(changed))
    lines = text.splitlines(keepends=True)
    start, end = node.lineno - 1, node.end_lineno - 1  # type: ignore[attr-defined]
    head = "".join(lines[:start]) + lines[start].encode()[: node.col_offset].decode()  # type: ignore[attr-defined]
    tail = lines[end].encode()[node.end_col_offset :].decode() + "".join(lines[end + 1 :])  # type: ignore[attr-defined]
    put = after if isinstance(node, ast.Return | ast.Name | ast.Attribute) else f"({after})"
    return Mutant(start + 1, " ".join(before.split()), " ".join(after.split()), head + put + tail)
