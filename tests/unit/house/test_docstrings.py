"""Every public function or method with two or more arguments says in its docstring what each of them is (numpydoc).

A type alone is enough where the name says it all. Exempt are the routes and pages of the service: FastAPI fills in
their arguments from the request, and what a client sends is described by the models' fields and the OpenAPI document.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]

VERBS = {"get", "post", "put", "delete", "patch"}


def public_functions(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef, list[str]]]:
    """Name, definition and arguments of each public function and method, ``self`` and ``cls`` aside."""

    def inside(
        body: list[ast.stmt], path: str
    ) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef, list[str]]]:
        for node in body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                yield from inside(node.body, f"{path}{node.name}.")
            elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_"):
                one = node.args
                named = [*one.posonlyargs, *one.args, *filter(None, [one.vararg]), *one.kwonlyargs]
                names = [part.arg for part in (*named, *filter(None, [one.kwarg]))]
                marks = {mark.id for mark in node.decorator_list if isinstance(mark, ast.Name)}
                if "overload" not in marks:  # the definition that follows says it
                    yield path + node.name, node, names[1:] if path and "staticmethod" not in marks else names

    yield from inside(tree.body, "")


def is_route(node: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    return any(
        isinstance(mark, ast.Call) and isinstance(mark.func, ast.Attribute) and mark.func.attr in VERBS
        for mark in node.decorator_list
    )


def described(docstring: str) -> set[str]:
    """Arguments that stand under Parameters."""
    part = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-{3,}$|\Z)", docstring, re.DOTALL | re.MULTILINE)
    heads = re.findall(r"^([*\w][*\w, ]*?)(?: : .+)?$", part[1], re.MULTILINE) if part else []
    return {name.strip("* ") for head in heads for name in head.split(",")}


def missing(source: str) -> list[str]:
    return [
        name
        for name, node, arguments in public_functions(ast.parse(source))
        if len(arguments) > 1 and not is_route(node) and not set(arguments) <= described(ast.get_docstring(node) or "")
    ]


def test_arguments_are_described() -> None:
    files = sorted(path for top in ("valuation", "api") for path in (ROOT / top).rglob("*.py"))
    found = {file.relative_to(ROOT).as_posix(): missing(file.read_text(encoding="utf-8")) for file in files}
    assert not {file: names for file, names in found.items() if names}


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ('def f(a, b):\n    """Short."""\n', ["f"]),
        ('def f(a, b):\n    """Short.\n\n    Parameters\n    ----------\n    a : int\n    """\n', ["f"]),
        (
            'def f(a, *b):\n    """Short.\n\n    Parameters\n    ----------\n    a, *b : int\n        Both.\n    """\n',
            [],
        ),
        ('def f(a):\n    """Short."""\n', []),
        ('def _f(a, b):\n    """Short."""\n', []),
        ('@router.get("/x")\ndef f(a, b):\n    """Short."""\n', []),
        (
            'class A:\n    def f(self, a, b):\n        """Short."""\n    def g(self, a):\n        """Short."""\n',
            ["A.f"],
        ),
    ],
    ids=["nothing", "one of two", "both", "one argument", "private", "route", "method"],
)
def test_the_search_itself(source: str, expected: list[str]) -> None:
    assert missing(source) == expected
