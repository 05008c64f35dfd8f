"""Accuracy on open data: the same small tables, splits and scores for every method."""
