"""Templates are found by the catalogue, and every German text says the same with the same figures."""

import datetime as dt
import gettext
import string

import pytest

from docs import catalogue
from valuation.text.language import DOMAIN, FOLDER, english, language, languages, retold, say, say_count, spoken

TRANSLATED = [name for name in languages() if name != "en"]


def holes(template: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(template) if name is not None}


def test_english_is_what_the_template_says():
    assert say("Pay no more than {most}.", most="13,700") == "Pay no more than 13,700."
    assert [say_count("{n} sale", "{n} sales", n) for n in (0, 1, 2)] == ["0 sales", "1 sale", "2 sales"]


def test_german_is_there_and_ends_with_its_block():
    assert "de" in languages()
    with spoken("de"):
        assert language() == "de"
        assert say("Good to know") == "Gut zu wissen"
        assert say("{n} more with --all.", n=1_300) == "1300 weitere mit --all."
    assert (language(), say("Good to know")) == ("en", "Good to know")


def test_a_day_of_a_kept_text_is_written_in_words_and_told_again_in_the_language_that_is_spoken():
    days = {"first": dt.date(2021, 3, 2), "last": dt.date(2026, 10, 9)}
    with spoken("de"):
        kept = english(
            "{what}: the table's sales run from {first} to {last}. Past that prices are taken to move on as "
            "they did, for half that span and two years at most, with a wider interval.",
            what="Date of sale 1 May 2027",
            **days,
        )
        again = retold(kept)
    assert "run from 2 March 2021 to 9 October 2026. " in kept
    for day in ("1. Mai 2027", "2. März 2021", "9. Oktober 2026"):
        assert day in again, again


def test_a_language_without_a_catalogue_is_named_with_those_that_have_one():
    with pytest.raises(ValueError, match="'tlh', only for en, de"), spoken("tlh"):
        pass


@pytest.mark.parametrize("name", TRANSLATED)
def test_the_catalogue_holds_what_the_source_says_and_no_more(name):
    source = {message.id for message in catalogue.source_catalogue() if message.id}
    held = {message.id for message in catalogue.read_catalogue(name) if message.id}
    assert source == held, "run python -m docs.catalogue"
    assert source


@pytest.mark.parametrize("name", TRANSLATED)
def test_every_text_is_translated_with_the_same_holes(name):
    for message in catalogue.read_catalogue(name):
        if not message.id:
            continue
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        strings = message.string if isinstance(message.string, tuple) else (message.string,)
        assert all(strings), f"no translation of {message.id!r}"
        assert not message.fuzzy, f"not sure of {message.id!r}"
        expected = set().union(*map(holes, ids))
        for text in strings:
            assert holes(text) == expected or (len(strings) > 1 and holes(text) == expected - {"n"}), text


@pytest.mark.parametrize("name", TRANSLATED)
def test_the_compiled_file_is_that_of_the_texts(name):
    compiled = gettext.translation(DOMAIN, FOLDER, [name])
    for message in catalogue.read_catalogue(name):
        if isinstance(message.id, tuple):
            one, many = message.id
            assert (compiled.ngettext(one, many, 1), compiled.ngettext(one, many, 2)) == message.string
        elif message.context:
            assert compiled.pgettext(message.context, message.id) == message.string
        elif message.id:
            assert compiled.gettext(message.id) == message.string


def test_templates_are_read_off_the_source_also_inside_each_other():
    found = list(
        catalogue.templates_in('say("a {b} " "c", b=say_count("one", "{n} many", n, x=say("in")))\nother("no")')
    )
    assert found == ["a {b} c", ("one", "{n} many"), "in"]


def test_a_template_that_is_no_literal_is_refused():
    with pytest.raises(ValueError, match="malformed"):
        list(catalogue.templates_in("say(f'{x}')"))
