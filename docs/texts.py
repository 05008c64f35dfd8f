"""Every text that a user can read, gathered from the source into ``docs/texts.md``: ``python -m docs.texts``.

Sentences stand where they arise, beside the figures that they name; this page puts them one below the other, to be read
in one sitting and to be translated from. Nothing is listed by hand: a text is a string of two words or more, or of one
capitalised word, in the code of ``valuation`` and ``api``, their templates, the desk's script and the default schema.
Lone words in lower case, such as ``floor``, are not told from keys and left out.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "texts.md"
ROOMS = ("text", "schema", "comparables", "drafting", "regression", "evidence", "build", "paths", "sell", "ledger",
         "answers", "sheets", "cli")  # fmt: skip
HEAD = """# Texts

Every text that a user can read, room by room and each once, under the file that holds it. `{...}` is filled in,
`{a | b}` is one of the two, `[if ...]` begins what a page shows at times. `python -m docs.texts` writes this page from
the source; a test compares the two.
"""

_HOLE = re.compile(r"\{[^{}]*\}|\[(?:if|else|end)\b[^\[\]]*\]")
_WORD = r"(?:[\w’'-]*[A-Za-z][\w’'-]*)"
_TWO_WORDS = re.compile(rf"(?:{_WORD}|…)[,.:;!?)]*\s+\(?{_WORD}|{_WORD}[,.:;]?\s+…")
_ONE_WORD = re.compile(r"[A-Z][a-z]{2,}[.:?]?")
_CODE = re.compile(
    r"^\s*(?:SELECT|CREATE|INSERT|PRAGMA|BEGIN|ALTER|DROP|ROLLBACK|COMMIT|VACUUM|SET|LOCK|UPDATE|DELETE)\b"
    r"|[{;]\s*[a-z-]+:\s|^[a-z-]+: [a-z-]+$|^[A-Z ]+$|<input|-src |^use strict|\b(?:Arial|Georgia|Droid|Libertinus)\b"
)
_NO_TEXT_OF = {"compile", "cast", "fullmatch", "sub", "split", "findall", "search", "text", "execute", "getattr"}
_INLINE = {"a", "strong", "em", "span", "br", "code", "small", "b", "i", "abbr", "time"}
_READ_ALOUD = ("alt", "aria-label", "placeholder", "title", "content")


def is_text(text: str) -> bool:
    """Whether a string is something that people read: two words, or a label of one."""
    bare = _HOLE.sub("…", text).strip()
    return bool((_TWO_WORDS.search(bare) or _ONE_WORD.fullmatch(bare)) and not _CODE.search(text))


class _Strings(ast.NodeVisitor):
    """Strings of one module in their order, docstrings, annotations, patterns and names left out."""

    def __init__(self) -> None:
        self.found: list[str] = []

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str):
            self.found.append(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        self.found.append(_spelled(node))

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        parts = [*node.args[1 if name in _NO_TEXT_OF else 0 :], *node.keywords]
        for part in [node.func, *parts]:
            self.visit(part)

    def visit_Assign(self, node: ast.Assign) -> None:
        if not any(isinstance(target, ast.Name) and target.id == "__all__" for target in node.targets):
            self.visit(node.value)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value:
            self.visit(node.value)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        if any(_is_route(one) for one in node.decorator_list) and (said := ast.get_docstring(node)):
            self.found.append(said)
        for part in (*node.decorator_list, *filter(None, node.args.defaults), *node.body):
            self.visit(part)
        for part in filter(None, node.args.kw_defaults):
            self.visit(part)

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)

    def visit_Compare(self, node: ast.Compare) -> None:
        return

    def visit_Import(self, node: ast.Import) -> None:
        return


def _is_route(node: ast.expr) -> bool:
    """Whether a decorator makes a function part of the JSON service, whose page shows the docstring."""
    call = node.func if isinstance(node, ast.Call) else node
    return isinstance(call, ast.Attribute) and call.attr in ("get", "post", "put", "delete", "patch")


def _spelled(node: ast.expr) -> str:
    """An f-string as a reader sees it, with what is filled in between braces."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(_spelled(part) for part in node.values)
    if isinstance(node, ast.FormattedValue):
        return f"{{{_hole(node.value)}}}"
    return _hole(node)


def _hole(node: ast.expr) -> str:
    if isinstance(node, ast.IfExp):
        return f"{_hole(node.body)} | {_hole(node.orelse)}"
    if isinstance(node, ast.Constant | ast.JoinedStr):
        return re.sub(r"[{}]", "", _spelled(node))
    if isinstance(node, ast.Attribute):
        return node.attr
    return re.sub(r"[{}]", "", ast.unparse(node))


def python_texts(source: str) -> Iterator[str]:
    """Texts of a module."""
    strings = _Strings()
    strings.visit(ast.parse(source))
    yield from strings.found


class _Page(HTMLParser):
    """Texts between the tags of a page that begin and end a line, and those that are read aloud."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = [""]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        aloud = [value for name, value in attrs if name in _READ_ALOUD and value and tag != "meta"]
        if tag not in _INLINE:
            self.found += [*aloud, ""]
        elif aloud:
            self.found[-1:-1] = aloud
        self.found[-1] += " " if tag == "br" else ""

    def handle_endtag(self, tag: str) -> None:
        if tag not in _INLINE:
            self.found.append("")

    def handle_data(self, data: str) -> None:
        self.found[-1] += data


def jinja_texts(source: str) -> Iterator[str]:
    """Texts of a template: what stands between its tags, and strings inside its expressions."""
    from jinja2 import Environment

    held: list[str] = []
    bare, part = "", ""
    for _, kind, value in Environment(autoescape=True).lex(source):
        if kind == "data":
            bare += value
        elif kind in ("variable_begin", "block_begin"):
            part = ""
        elif kind in ("variable_end", "block_end"):
            held.append(f"{{{part.strip()}}}" if kind == "variable_end" else _tag(part.strip()))
            bare += f"\ue000{len(held) - 1}\ue001"
        elif kind != "comment":
            part += value
            if kind == "string":
                yield value[1:-1]
    page = _Page()
    page.feed(bare)
    for text in page.found:
        whole = re.sub("\ue000(\\d+)\ue001", lambda match: held[int(match[1])], text)
        yield re.sub(r"^(?:\[(?:end|else)\]\s*)+|(?:\s*\[if [^\]]*\])+$", "", " ".join(whole.split()))


def _tag(tag: str) -> str:
    word = tag.strip("-").split(maxsplit=1)
    if word[0] in ("if", "elif", "else"):
        return f"[{' '.join(word)}]".replace("elif", "else if")
    return "[end]" if word[0] == "endif" else " "


def other_texts(source: str) -> Iterator[str]:
    """Texts of a script or a typesetter's template: strings, and what stands in square brackets."""
    code = re.sub(r"(?m)(?<![:\"])//.*$", "", source)
    code = re.sub(r'"\s*\+\s*"', "", code)
    for match in re.finditer(r'"((?:[^"\\\n]|\\.)*)"|`([^`]*)`|\[([^\[\]#"]+)\]', code):
        yield next(group for group in match.groups() if group is not None)


def toml_texts(source: str) -> Iterator[str]:
    """Texts of a schema: its title, labels and meanings."""

    def inside(value: Any) -> Iterator[str]:
        for name, one in value.items() if isinstance(value, dict) else ():
            if isinstance(one, str) and name in ("title", "label", "meaning", "unit"):
                yield one
            for part in one if isinstance(one, list) else [one]:
                yield from inside(part)

    yield from inside(tomllib.loads(source))


READERS = {".py": python_texts, ".html": jinja_texts, ".typ": other_texts, ".js": other_texts, ".toml": toml_texts}


def room_of(file: Path) -> str:
    """The room that a file stands in, as the map names it."""
    top, *rest = file.relative_to(ROOT).parts
    return f"{top}/{rest[0]}" if len(rest) > 1 and (top == "api" or rest[0] in ROOMS) else top


def texts_by_room() -> dict[str, dict[str, list[str]]]:
    """Texts by room and file, each once."""
    order = ["valuation", *(f"valuation/{room}" for room in ROOMS), "api"]
    files = sorted(
        (path for top in ("valuation", "api") for path in (ROOT / top).rglob("*") if path.suffix in READERS),
        key=lambda path: (order.index(room) if (room := room_of(path)) in order else len(order), path),
    )
    seen: set[str] = set()
    rooms: dict[str, dict[str, list[str]]] = {}
    for file in files:
        if {"vendor", "migrations"} & {*file.parts} or file.name == "__init__.py":
            continue
        found = READERS[file.suffix](file.read_text(encoding="utf-8"))
        for line in (" ".join(line.split()) for text in found for line in _lines(text)):
            if is_text(line) and line not in seen:
                seen.add(line)
                rooms.setdefault(room_of(file), {}).setdefault(file.relative_to(ROOT).as_posix(), []).append(line)
    return rooms


def _lines(text: str) -> list[str]:
    """A text as one line, or line by line where it is a whole file to write."""
    return text.splitlines() if text.count("\n") > 4 else [text]


def page_text() -> str:
    """The page as it should stand."""
    lines = [HEAD]
    for room, files in texts_by_room().items():
        lines.append(f"## {room}\n")
        for file, texts in files.items():
            lines += [f"### {file}\n", *(f"- {text}" for text in texts), ""]
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    PAGE.write_text(page_text(), encoding="utf-8")
