"""Things are made once, kept while they are among the newest, and made by one thread at a time."""

import threading

import pytest

from valuation.answers.shelf import Shelf


def test_a_thing_is_made_once_and_the_oldest_is_forgotten():
    shelf, made = Shelf(2), []
    for key in ("a", "b", "a", "c", "b"):
        shelf.get(key, lambda key=key: made.append(key) or key)
    assert made == ["a", "b", "c", "b"], "a was asked for since b, so b went first"
    assert shelf.find("a") is None
    assert (shelf.find("c"), shelf.find("b")) == ("c", "b")


def test_what_is_kept_anew_takes_the_place_of_the_old():
    shelf = Shelf(2)
    shelf.keep("a", 1)
    shelf.keep("a", 2)
    assert shelf.find("a") == 2


def test_what_cannot_be_made_is_asked_for_again():
    shelf = Shelf(2)
    with pytest.raises(ZeroDivisionError):
        shelf.get("a", lambda: 1 // 0)
    assert shelf.get("a", lambda: 5) == 5


def test_two_threads_make_a_thing_once():
    shelf, made, begun = Shelf(2), [], threading.Barrier(8)

    def make():
        made.append(1)
        return object()

    def ask(found):
        begun.wait()
        found.append(shelf.get("model", make))

    found = []
    threads = [threading.Thread(target=ask, args=(found,)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 1
    assert len(set(map(id, found))) == 1
