"""Which spellings are one word, and which known word is nearest."""

from valuation.text.spelling import counted, did_you_mean, header_key, level_key, nearest


def test_levels_agree_in_spite_of_case_spaces_underscores_and_hyphens():
    assert {level_key(text) for text in ("show-finish", "Show Finish", " SHOW_finish ", "show  finish")} == {
        "show finish"
    }


def test_characters_that_may_tell_levels_apart_stay():
    assert len({level_key(text) for text in ("A", "A-", "A+", "A++")}) == 4


def test_headers_agree_without_punctuation_and_percent_is_a_word():
    assert header_key("Buyer's Premium (%)") == header_key("buyers_premium_percent")


def test_nearest_gives_the_word_as_it_is_spelled():
    assert nearest("Show finixh", ["worn", "show-finish"]) == ["show-finish"]
    assert nearest("zebra", ["worn", "show-finish"]) == []


def test_did_you_mean_is_silent_when_nothing_is_close():
    assert did_you_mean("condishon", ["condition"]) == " Did you mean 'condition'?"
    assert did_you_mean("zebra", ["condition"]) == ""


def test_counted_takes_an_odd_plural():
    assert counted(2, "penny", "pence") == "2 pence"
