"""Selling to simulated buyers of vehicles whose worth is known to the simulation alone."""
