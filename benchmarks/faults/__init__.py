"""Faults met on purpose: what the service survives, measured over loopback alone."""
