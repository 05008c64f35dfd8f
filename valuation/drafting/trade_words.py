"""Words of the trade beyond those of a schema, from ``trade_words.toml``, which says what each list is for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from valuation.text.toml import read_toml

_FILE: dict[str, Any] = read_toml(Path(__file__).with_name("trade_words.toml").read_text(encoding="utf-8"))

HEADERS: dict[str, list[str]] = _FILE["headers"]
WEAK_HEADERS: dict[str, list[str]] = _FILE["weak_headers"]
OUTCOMES: dict[str, list[str]] = _FILE["outcomes"]
LEVELS: dict[str, dict[str, list[str]]] = _FILE["levels"]
KINDS: dict[str, list[str]] = _FILE["kinds"]
MONEY_WORDS = frozenset(_FILE["within"]["money"])
ASKED = frozenset(_FILE["within"]["asked"])
PAID = frozenset(_FILE["within"]["paid"])
BID_FOR = frozenset(_FILE["within"]["bid_for"])
COUNT_WORDS = frozenset(_FILE["within"]["counts"])
MILE_WORDS = tuple(_FILE["within"]["miles"])
KILOMETRE_WORDS = tuple(_FILE["within"]["kilometres"])
RIGHT_HAND = frozenset(_FILE["whole"]["right_hand_drive"])
LEFT_OUT = frozenset(_FILE["whole"]["left_out"])
