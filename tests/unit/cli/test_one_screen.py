"""An answer and its weightiest notes fit on one screen; the rest stands behind ``--all``."""

import pytest

from valuation.cli.show import SCREEN, one_screen
from valuation.notes import Note

NOTES = [Note(f"n{i}", f"Note {i} " + "tells " * 30) for i in range(8)]


@pytest.mark.parametrize("lines", [2, 9, 14, 30])
def test_notes_fill_the_screen_and_the_rest_is_counted(capsys, lines):
    with one_screen(NOTES, "Next: go on.", all_of_them=False):
        print("line\n" * lines, end="")
    text = capsys.readouterr().out
    shown = text.count("  * ")
    assert text.count("\n") <= max(SCREEN, lines + 5)
    left = f"  {len(NOTES) - shown} more notes with --all.\n" if shown else "\nGood to know: 8 with --all.\n"
    assert text.endswith(f"{left}\nNext: go on.\n")
    assert (shown > 0) == (lines < 30)


def test_all_of_them_are_shown_when_asked_for(capsys):
    with one_screen(NOTES, all_of_them=True):
        print("answer")
    text = capsys.readouterr().out
    assert text.count("  * ") == len(NOTES)
    assert "--all" not in text
