"""``docs/texts.md`` holds every text that a user can read, as the source has it today."""

import pytest

from docs import texts


def test_the_page_is_what_the_source_says() -> None:
    assert texts.PAGE.read_text(encoding="utf-8") == texts.page_text(), "run python -m docs.texts"


def test_every_room_has_its_part() -> None:
    rooms = texts.texts_by_room()
    assert {f"valuation/{room}" for room in texts.ROOMS} <= rooms.keys()
    assert {"api", "api/pages", "api/routes", "api/templates"} <= rooms.keys()


def test_each_text_stands_once() -> None:
    lines = [line for line in texts.page_text().splitlines() if line.startswith("- ")]
    assert len(lines) == len(set(lines)) > 1500


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ('raise PlanError("No plan. " f"Write {what} first.")', ["No plan. Write {what} first."]),
        ("x = f\"{count} {'was' if count == 1 else 'were'} read\"", ["{count} {was | were} read"]),
        ('def f(a: "some name" = "by default") -> None:\n    """Not for users."""\n', ["by default"]),
        ('@router.get("/x")\ndef f():\n    """Seen on the page."""\n', ["Seen on the page."]),
        ('__all__ = ["Some", "Names"]\npattern = re.compile("two words")', []),
        ("part = two == 'words here'", []),
    ],
    ids=["message", "either", "default", "route", "names", "comparison"],
)
def test_what_counts_as_a_text_in_code(source: str, expected: list[str]) -> None:
    assert [text for text in texts.python_texts(source) if texts.is_text(text)] == expected


def test_what_counts_as_a_text_in_a_template() -> None:
    source = """{# a remark #}<p title="Read aloud">Sold {% if n %}for <b>{{ n }}</b>{% endif %} today.</p>
        {{ one("in it, too") }}"""
    found = [text for text in texts.jinja_texts(source) if texts.is_text(text)]
    assert found == ["in it, too", "Read aloud", "Sold [if n]for {n}[end] today."]


def test_what_counts_as_a_text_in_a_script_and_a_schema() -> None:
    assert list(texts.other_texts('say("No answer " +\n  "came."); // a remark "here"')) == ["No answer came."]
    assert list(texts.toml_texts('title = "Old trucks"\nname = "not shown"')) == ["Old trucks"]
