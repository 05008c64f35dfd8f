"""Decisions: what is kept of the profit that somebody who knew the true prices would make."""
