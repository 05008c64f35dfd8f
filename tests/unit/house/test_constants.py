"""Every figure at the top of a module says what it is for or where it comes from: in a docstring, or in a comment.

A figure is a number, a tuple of numbers, arithmetic with one, or what a call makes of numbers alone. A docstring stands
below the constant, or below the last one of those that follow it without a blank line; a comment stands on its line or
on the line above.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]

NAME_SAYS_IT = {"_HALF_LOG_TWO_PI", "_ROOT_HALF", "_ROOT_TWO_PI"}
"""Numbers of mathematics that their names spell out."""


def is_figure(node: ast.expr) -> bool:
    """Whether a value is made of numbers, with one number at least written out."""
    match node:
        case ast.Constant(value=bool()):
            return False
        case ast.Constant(value=int() | float()):
            return True
        case ast.UnaryOp(operand=inner):
            return is_figure(inner)
        case ast.BinOp(left=left, right=right):
            return is_figure(left) or is_figure(right)
        case ast.Tuple(elts=items) | ast.List(elts=items):
            return any(map(is_figure, items))
        case ast.Call(args=items, keywords=named):
            return any(map(is_figure, [*items, *(one.value for one in named)]))
        case _:
            return False


def assigned(statement: ast.stmt) -> tuple[str, ast.expr] | None:
    """The names that a statement gives a value, and that value."""
    match statement:
        case ast.Assign(targets=[target], value=value) | ast.AnnAssign(target=target, value=ast.expr() as value):
            return ast.unparse(target).strip("()"), value
        case _:
            return None


def bare(source: str) -> Iterator[str]:
    """Constants with a figure that nothing beside them explains."""
    lines = ["", *source.splitlines()]
    body = ast.parse(source).body
    told = False
    for place in range(len(body) - 1, -1, -1):
        statement, after = body[place], body[place + 1] if place + 1 < len(body) else None
        one = assigned(statement)
        together = after is not None and assigned(after) is not None and after.lineno == (statement.end_lineno or 0) + 1
        below = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        commented = any("#" in line for line in lines[statement.lineno : (statement.end_lineno or 0) + 1])
        told = below or commented or lines[statement.lineno - 1].startswith("#") or (told and together)
        if one and is_figure(one[1]) and one[0] not in NAME_SAYS_IT and not told:
            yield one[0]


def test_every_figure_has_a_word_beside_it() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {name}"
        for top in ("valuation", "api")
        for path in sorted((ROOT / top).rglob("*.py"))
        for name in bare(path.read_text(encoding="utf-8"))
    ]
    assert not found, "say in a line what these are for or where they come from:\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("A = 1\n", ["A"]),
        ("A = 1\nB = 2.5\n", ["B", "A"]),
        ("A = 1\nB = 2\n'''Both.'''\n", []),
        ("A = 1\n\nB = 2\n'''B alone.'''\n", ["A"]),
        ("A, B = -1, 2**4\n", ["A, B"]),
        ("A: float = 0.5  # half\n", []),
        ("# By eye.\nA = 3\n", []),
        ("A = Three(1.0, 2.0)\n", ["A"]),
        ("A = 'text'\nB = True\nC = {'x': 1}\nD = E / F\n", []),
    ],
)
def test_the_search_itself(source: str, expected: list[str]) -> None:
    assert list(bare(source)) == expected
