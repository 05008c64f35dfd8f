"""Text: numbers, money, dates, TOML, JSON and locale, read and written in one place for the whole house.

Readers raise ``ValueError`` whose message continues a sentence about the text ("is not a number"); the caller knows
file, row and column, and begins that sentence.
"""
