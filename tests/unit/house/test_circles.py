"""No module needs itself in a roundabout way: imports form no circle, those inside functions and for types counted."""

import grimp
import networkx
import pytest


def circles(*packages: str, types: bool = False) -> list[list[str]]:
    """Groups of modules that import each other in a circle; imports for type checking alone count with ``types``."""
    first, *others = packages
    found = grimp.build_graph(first, *others, cache_dir=None, exclude_type_checking_imports=not types)
    graph = networkx.DiGraph(
        (module, imported) for module in found.modules for imported in found.find_modules_directly_imported_by(module)
    )
    return sorted(sorted(group) for group in networkx.strongly_connected_components(graph) if len(group) > 1)


def test_no_modules_need_each_other_in_a_circle() -> None:
    assert circles("valuation", "api", types=True) == []


@pytest.mark.parametrize(
    ("back", "expected", "types"),
    [
        ("def later():\n    from roundabout.one import x\n", [["roundabout.one", "roundabout.two"]], False),
        ("from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from roundabout.one import x\n", [], False),
        (
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from roundabout.one import x\n",
            [["roundabout.one", "roundabout.two"]],
            True,
        ),
    ],
    ids=["inside a function", "for type checking alone", "types counted"],
)
def test_the_search_itself(tmp_path, monkeypatch, back, expected, types) -> None:
    room = tmp_path / "roundabout"
    room.mkdir()
    for name, code in {"__init__": "", "one": "from roundabout.two import later\nx = 1\n", "two": back}.items():
        (room / f"{name}.py").write_text(code, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    assert circles("roundabout", types=types) == expected
