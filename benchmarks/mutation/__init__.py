"""Mutation: whether the tests notice a small change of the figures."""
