"""How long a year is, in one place: two lengths in one house give two prices for the same wait."""

from __future__ import annotations

DAYS_PER_YEAR = 365.25
"""Mean length of a Julian year: deals and drifts run over several years, leap days among them."""

DAYS_PER_WEEK = 7.0
"""A float, since what is divided by it is."""

WEEKS_PER_YEAR = DAYS_PER_YEAR / DAYS_PER_WEEK
WEEKS_PER_MONTH = WEEKS_PER_YEAR / 12
"""Of a mean month."""
