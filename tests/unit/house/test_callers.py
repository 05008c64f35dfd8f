"""Every public name has a user outside the tests: what only tests call is no part of the program.

A public name is a function or class at the top of a module, or a method, without a leading underscore. It has a user
when code that runs in production reaches it: from statements at the top of modules, from the public surface in
``valuation/__init__.py``, from the table of commands, from what a decorator registers with a framework and from
templates, and on from there. A function is followed through imports; a method counts as reached when reached code asks
any object for an attribute of that name. Exempt by rule are the methods of a protocol, those of a class with a base
outside the project (the base calls them), and migrations (the library calls them). Fields are data and not looked at.

``WAITING`` holds names that are to be cut or to get a user; it may only shrink.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from textwrap import dedent

ROOT = Path(__file__).parents[3]

PLAIN_DECORATORS = {"property", "cached_property", "classmethod", "staticmethod", "dataclass", "contextmanager"}
"""Decorators that hand nothing to a framework."""

PLAIN_BASES = {"Protocol", "Enum", "StrEnum", "IntEnum", "Exception", "ValueError", "RuntimeError", "Generic"}
"""Bases outside the project that call no public method by its name."""

WAITING: dict[str, tuple[str, ...]] = {
    "sell: to be cut or to get a user with the decisions": (
        "PriceDistribution.expected_above", "PriceDistribution.shifted",
    ),
}  # fmt: skip

Place = tuple[str, str]
"""Module and name; of a method ``Class.method``."""


@dataclass
class Program:
    """Definitions by place, the names that each module imports, and what runs without being called."""

    bodies: dict[Place, list[ast.AST]] = field(default_factory=dict)
    lines: dict[Place, int] = field(default_factory=dict)
    imports: dict[str, dict[str, Place]] = field(default_factory=dict)
    roots: list[tuple[str, ast.AST]] = field(default_factory=list)
    exempt: set[Place] = field(default_factory=set)
    words: set[str] = field(default_factory=set)


def read_program(root: Path) -> Program:
    program = Program()
    files = sorted(path for top in ("valuation", "api") for path in (root / top).rglob("*.py"))
    trees = {".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__"): path for path in files}
    parsed = {module: ast.parse(path.read_text(encoding="utf-8")) for module, path in trees.items()}
    own = {node.name for tree in parsed.values() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)}
    for module, tree in parsed.items():
        program.imports[module] = dict(_imports(tree, module))
        for statement in tree.body:
            if _is_export(statement) and module != "valuation":
                continue  # a room's list of exports is no use; the public surface is
            if isinstance(statement, ast.ClassDef):
                _read_class(program, module, statement, own)
            elif isinstance(statement, ast.FunctionDef | ast.AsyncFunctionDef):
                _read_function(program, module, statement)
            else:
                program.roots.append((module, statement))
    for template in sorted((root / "api").rglob("*.html")):
        program.words |= set(re.findall(r"\w+", template.read_text(encoding="utf-8")))
    return program


def _read_function(program: Program, module: str, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
    place = (module, node.name)
    program.bodies[place], program.lines[place] = [node], node.lineno
    if _registered(node) or ".migrations" in module:
        program.exempt.add(place)


def _read_class(program: Program, module: str, node: ast.ClassDef, own: set[str]) -> None:
    place = (module, node.name)
    bases = {_last_word(base.value if isinstance(base, ast.Subscript) else base) for base in node.bases}
    called_by_base = "Protocol" in bases or bool(bases - own - PLAIN_BASES)
    body: list[ast.AST] = [*node.bases, *node.keywords, *node.decorator_list]
    for item in node.body:
        method = isinstance(item, ast.FunctionDef | ast.AsyncFunctionDef) and not item.name.startswith("_")
        if method and not called_by_base and not _registered(item):
            mine = (module, f"{node.name}.{item.name}")
            program.bodies[mine], program.lines[mine] = [item], item.lineno
        else:
            body.append(item)
    program.bodies[place], program.lines[place] = body, node.lineno
    if ".migrations" in module:
        program.exempt.add(place)


def reached(program: Program) -> set[Place]:
    """Places that code which runs in production gets to."""
    methods: dict[str, list[Place]] = {}
    for module, name in program.bodies:
        if "." in name:
            methods.setdefault(name.partition(".")[2], []).append((module, name))
    done: set[Place] = set()
    asked = set(program.words)
    todo = [*program.roots, *((place[0], node) for place in program.exempt for node in program.bodies[place])]
    done |= program.exempt
    while todo:
        module, node = todo.pop()
        for place, attribute in _references(program, module, node):
            if place is not None and place in program.bodies and place not in done:
                done.add(place)
                todo += [(place[0], part) for part in program.bodies[place]]
            asked.add(attribute)
        for name in asked & methods.keys():
            for place in methods[name]:
                if place not in done and (place[0], place[1].partition(".")[0]) in done:
                    done.add(place)
                    todo += [(place[0], part) for part in program.bodies[place]]
    return done


def _references(program: Program, module: str, node: ast.AST) -> Iterator[tuple[Place | None, str]]:
    """What a piece of code names: places, and attributes asked of any object."""
    for part in ast.walk(node):
        if isinstance(part, ast.Name):
            yield _resolved(program, module, part.id), ""
        elif isinstance(part, ast.Attribute):
            base = part.value.id if isinstance(part.value, ast.Name) else ""
            package = program.imports[module].get(base)
            yield (".".join(filter(None, package)), part.attr) if package else None, part.attr
        elif isinstance(part, ast.Constant) and isinstance(part.value, str):
            # "module:name" as a server loads it, and a type written as text.
            whole, _, name = part.value.partition(":")
            yield ((whole, name) if name else _resolved(program, module, part.value)), ""
        elif isinstance(part, ast.Dict) and module == "valuation":
            for key, value in zip(part.keys, part.values, strict=True):
                if isinstance(key, ast.Constant) and isinstance(value, ast.Constant):
                    home, _, inner = str(value.value).partition(":")
                    yield _exported(program, home, inner or str(key.value)), ""
        elif isinstance(part, ast.Tuple) and module == "valuation.cli.parser" and len(part.elts) == 2:
            names = [item.value for item in part.elts if isinstance(item, ast.Constant)]
            if len(names) == 2:
                yield (f"valuation.cli.{names[0]}", str(names[1])), ""


def _resolved(program: Program, module: str, name: str) -> Place | None:
    if (module, name) in program.bodies:
        return module, name
    place = program.imports[module].get(name)
    return _exported(program, *place) if place is not None else None


def _exported(program: Program, module: str, name: str) -> Place | None:
    """Where a name is defined that a module or a room hands out."""
    if (module, name) in program.bodies:
        return module, name
    inner = program.imports.get(module, {}).get(name)
    if inner is not None and inner != (module, name):
        return _exported(program, *inner)
    return next((place for place in program.bodies if place[1] == name and place[0].startswith(f"{module}.")), None)


def _imports(tree: ast.Module, module: str) -> Iterator[tuple[str, Place]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            for alias in node.names:
                yield alias.asname or alias.name, (node.module, alias.name)
        elif isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.asname or alias.name, (alias.name, "")


def _last_word(node: ast.expr) -> str:
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def _registered(node: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    called = [item.func if isinstance(item, ast.Call) else item for item in node.decorator_list]
    return bool({_last_word(one) for one in called} - PLAIN_DECORATORS)


def _is_export(statement: ast.stmt) -> bool:
    targets = statement.targets if isinstance(statement, ast.Assign) else []
    return any(isinstance(target, ast.Name) and target.id in ("_HOMES", "__all__") for target in targets)


def without_caller(root: Path) -> dict[Place, int]:
    """Public names of the program under ``root`` that nothing in production reaches, with their lines."""
    program = read_program(root)
    found = program.bodies.keys() - reached(program)
    return {
        (module, name): program.lines[module, name]
        for module, name in sorted(found)
        if not any(part.startswith("_") for part in name.split("."))
    }


def test_every_public_name_has_a_user() -> None:
    found = without_caller(ROOT)
    waiting = {name for names in WAITING.values() for name in names}
    new = [f"{module}: {name} (line {line})" for (module, name), line in found.items() if name not in waiting]
    assert not new, "only tests reach these; cut them or give them a user:\n" + "\n".join(new)
    stale = sorted(waiting - {name for _, name in found})
    assert not stale, "these are gone or have a user now; strike them from WAITING:\n" + "\n".join(stale)


PROGRAM = {
    "valuation/__init__.py": """
        _HOMES = {"shown": "valuation.room"}
        """,
    "valuation/room/__init__.py": """
        from valuation.room.inner import called, forgotten
        __all__ = ["called", "forgotten"]
        """,
    "valuation/room/inner.py": """
        from typing import Protocol
        def called(): return _within()
        def _within(): return reached_by_it()
        def reached_by_it(): return Thing().asked()
        def forgotten(): return forgotten_too()
        def forgotten_too(): return 1
        def shown(): return 2
        class Thing:
            def asked(self): return 3
            def never_asked(self): return 4
        class Shape(Protocol):
            def of_a_protocol(self): ...
        """,
    "api/app.py": """
        from valuation.room import called
        from fastapi import APIRouter
        router = APIRouter()
        @router.get("/")
        def route(): return called()
        """,
}


def test_what_is_reached_and_what_is_not(tmp_path: Path) -> None:
    for name, code in PROGRAM.items():
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(dedent(code), encoding="utf-8")
    assert [name for _, name in without_caller(tmp_path)] == [
        "Shape",
        "Thing.never_asked",
        "forgotten",
        "forgotten_too",
    ]
