"""Formulas of the trade, one physical topic per module, each registered with its range and source."""
