"""Characters that no page can show."""

from valuation.sheets.cleaning import clean_text, clean_tree, shorten
from valuation.sheets.letters import BOX, drawable_tree


def test_control_characters_and_turning_marks_go():
    text, removed = clean_text("a\0b\x07c\x1bd\x7fe\x9ff\u202eg\u2066h\ufeffi\ud800j")
    assert (text, removed) == ("abcdefghij", 9)


def test_line_breaks_and_tabs_stay_readable():
    assert clean_text("one\r\ntwo\rthree\u2028four\tfive") == ("one\ntwo\nthree\nfour five", 0)


def test_letters_of_every_script_stay():
    text = "Größe Ωμέγα Живаго שלום مرحبا नमस्ते สวัสดี 汉字 かな 한국어 മലയാളം 🚗"
    assert clean_text(text) == (text, 0)
    assert drawable_tree(text) == (text, set())


def test_a_whole_tree_is_cleaned():
    assert clean_tree({"a\0": ["b\0", 1, None, ("c\x01",)]}) == ({"a": ["b", 1, None, ["c"]]}, 3)


def test_what_no_font_has_becomes_a_box():
    tree, strange = drawable_tree({"a": ["x\U00013000", "\ue000"]})
    assert tree == {"a": [f"x{BOX}", BOX]}
    assert strange == {"\U00013000", "\ue000"}


def test_shortening_keeps_one_line():
    assert shorten("a\nb   c") == "a b c"
    assert len(shorten("x" * 5000)) == 90
