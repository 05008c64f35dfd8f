"""Which word is which grade: by the schema, by the trade, by spelling, or only by asking."""

import pytest

from tests.unit.drafting.conftest import sales

PRICED = {"A": 60_000, "B": 40_000, "C": 25_000, "D": 12_000}


def levels(understanding, name: str) -> dict[str, str]:
    return {word.word: word.level for word in understanding.of(name).words}


def graded(words: list[str], rows: int = 24) -> dict[str, list[str]]:
    table = sales(rows, Condition=words)
    table["Price"] = [f"${PRICED[words[i % len(words)]] + 100 * i:,}" for i in range(rows)]
    return table


def test_words_of_the_schema_of_the_trade_misspelt_and_with_a_remark(read):
    words = ["project", "barn find", "basket case", "drvier", "driver, needs paint", "Show (best)"]
    found = read(sales(24, Condition=words)).of("condition").words
    assert [(word.level, word.how) for word in found] == [
        ("project", "schema"),
        ("project", "schema"),
        ("project", "trade"),
        ("driver", "spelling"),
        ("driver", "begins with"),
        ("show", "begins with"),
    ]


def test_german_words_of_the_trade_mean_what_they_say_whatever_the_prices_suggest(read):
    words = {"Wrack": "derelict", "restaurierungsbedürftig": "project", "läuft": "runner", "fahrbereit": "driver",
             "Schaustück": "show"}  # fmt: skip
    table = sales(25, Zustand=list(words))
    ended = {"verkauft": "sold", "Gebot zu niedrig": "bid_not_met", "angeboten": "asking"}
    table["Outcome"] = [list(ended)[i % 3] for i in range(25)]
    found = read(table)
    assert (levels(found, "condition"), levels(found, "outcome")) == (words, ended)


def test_a_word_that_nothing_places_is_asked_about_and_the_answer_counts(read):
    table = sales(24, Condition=["project", "driver", "show", "fettled"])
    [question] = [one for one in read(table).questions if one.key == "level/condition/fettled"]
    assert (question.rows, question.suggestion) == (6, "")
    assert [choice.value for choice in question.choices] == ["derelict", "project", "runner", "driver", "show"]
    told = read(table, {"level/condition/fettled": "driver"})
    assert levels(told, "condition")["fettled"] == "driver"
    assert not [one for one in told.questions if one.key.startswith("level/")]


def test_not_known_leaves_a_question_open(read):
    table = sales(24, Condition=["project", "driver", "show", "fettled"])
    told = read(table, {"level/condition/fettled": ""})
    assert levels(told, "condition")["fettled"] == ""
    assert [one.key for one in told.questions if one.key.startswith("level/")] == ["level/condition/fettled"]


def test_a_scale_of_the_owners_own_has_no_order_until_he_agrees_to_that_of_the_prices(read):
    table = graded(["B", "A", "D", "C"])
    first = read(table)
    assert first.of("condition").open_scale
    assert (first.of("condition").attribute.role, first.of("condition").attribute.levels) == ("nominal", ())
    [question] = [one for one in first.questions if one.key == "order/condition"]
    assert "D < C < B < A" in question.text
    told = read(table, {"order/condition": "rising"}).of("condition").attribute
    assert (told.role, told.level_names, told.direction) == ("ordinal", ("D", "C", "B", "A"), "up")
    other = read(table, {"order/condition": "falling"}).of("condition").attribute
    assert other.level_names == ("A", "B", "C", "D")
    for answer in ("unordered", ""):
        found = read(table, {"order/condition": answer})
        assert found.of("condition").open_scale
        assert ("order/condition" in {one.key for one in found.questions}) == (not answer)


def test_too_few_sales_suggest_no_order(read):
    found = read(graded(["B", "A", "D", "C"], rows=6))
    assert found.of("condition").open_scale
    assert "order/condition" not in {one.key for one in found.questions}


@pytest.mark.parametrize("words", [["1", "2", "3", "4"], ["alpha", "beta", "gamma"]])
def test_figures_and_strange_words_under_a_header_of_the_condition(read, words):
    found = read(sales(24, Condition=words)).of("condition")
    assert (found.part, found.open_scale) == ("trade", True)


def test_figures_keep_their_own_order_and_prices_tell_its_direction(read):
    rows = 24
    table = sales(rows, Condition=["2", "10", "1", "7"])
    for best, order in ((10, "1 < 2 < 7 < 10"), (1, "10 < 7 < 2 < 1")):
        worth = [abs(int(word) - (0 if best == 10 else 11)) for word in table["Condition"]]
        table["Price"] = [f"${5_000 * worth[i] + 90 * i:,}" for i in range(rows)]
        [question] = [one for one in read(table).questions if one.key == "order/condition"]
        assert order in question.text


def test_a_kind_without_an_order_is_not_asked_for_one(read):
    found = read(sales(24, Drivetrain=["V8", "I6", "I4"]))
    assert found.of("drivetrain").open_scale
    assert "order/drivetrain" not in {one.key for one in found.questions}


LADDER = {"project": 9_000, "driver": 30_000, "show": 60_000, "fettled": 17_000}


def laddered(fettled: int, rows: int = 32) -> dict[str, list[str]]:
    table = sales(rows, Condition=list(LADDER))
    worth = {**LADDER, "fettled": fettled}
    table["Price"] = [f"${worth[table['Condition'][i]] + 110 * (i % 7):,}" for i in range(rows)]
    return table


@pytest.mark.parametrize(
    ("price", "level"),
    [(17_000, "runner"), (28_000, "driver"), (58_000, "show"), (5_000, "derelict"), (10_500, "project")],
)
def test_prices_suggest_the_level_of_a_word_and_a_level_without_one_beside_it(read, price, level):
    [question] = [one for one in read(laddered(price)).questions if one.key == "level/condition/fettled"]
    assert question.suggestion == level


def test_a_suggested_level_is_not_taken_without_a_yes(read):
    table = laddered(17_000)
    assert levels(read(table), "condition")["fettled"] == ""
    assert levels(read(table, {"level/condition/fettled": "runner"}), "condition")["fettled"] == "runner"


def test_few_prices_suggest_no_level(read):
    [question] = [one for one in read(laddered(17_000, rows=8)).questions if one.key == "level/condition/fettled"]
    assert question.suggestion == ""
