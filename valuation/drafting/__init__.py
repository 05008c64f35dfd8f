"""Drafting: from a table as its owner keeps it to a schema that says what it means."""
