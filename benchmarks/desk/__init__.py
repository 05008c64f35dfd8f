"""Taps and seconds of an owner at the desk, and what its pages cost."""
