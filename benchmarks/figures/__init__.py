"""Figures that a change of structure must leave alone: recorded before, recorded after, compared."""
