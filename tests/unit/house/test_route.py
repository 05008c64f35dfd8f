"""The route of an estimate that DEVELOPERS.md draws: its files are there, a dozen at most, and none looks back."""

import re
from pathlib import Path

import grimp

ROOT = Path(__file__).parents[3]


def drawn() -> list[list[str]]:
    """Modules of each step, in the order drawn."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    picture = text.partition("The route of an estimate, file by file")[2].split("```")[1]
    steps: list[list[str]] = []
    for line in picture.strip().splitlines():
        if re.match(r"\s*\d+ ", line):
            steps.append([])
        steps[-1] += re.findall(r"[\w/]+\.py", line)
    return steps


def module(file: str) -> str:
    inside = file if file.startswith("api/") else f"valuation/{file}"
    assert (ROOT / inside).is_file(), inside
    return inside.removesuffix(".py").replace("/", ".")


def test_the_route_has_a_dozen_steps_at_most_and_every_file_is_there():
    steps = [[module(file) for file in step] for step in drawn()]
    assert 8 <= len(steps) <= 12
    assert all(steps)
    assert steps[-2] == ["valuation.answers.estimate"]


def test_no_room_on_the_route_asks_a_later_one():
    steps = [[module(file) for file in step] for step in drawn()]
    graph = grimp.build_graph("valuation", "api", cache_dir=None)
    for at, step in enumerate(steps):
        for one in step:
            room = one.split(".")[1]
            later = [other for after in steps[at + 1 :] for other in after if other.split(".")[1] != room]
            assert not set(later) & set(graph.find_modules_directly_imported_by(one)), one


def test_every_face_shows_the_answer_that_the_route_ends_in():
    *_, (answer,), faces = [[module(file) for file in step] for step in drawn()]
    graph = grimp.build_graph("valuation", "api", cache_dir=None)
    for face in faces:
        assert graph.find_shortest_chain(importer=face, imported=answer), face
