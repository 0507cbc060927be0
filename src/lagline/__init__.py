"""lagline: the bench planner for a hand-held plasma torch."""

__version__ = "0.1.0"
