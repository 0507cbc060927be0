"""The whole register: every module of the trade loaded, so that no formula is missing from it."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

import lagline.trade
from lagline.trade import register

_WITHOUT = ("catalogue", "heat_kernel")  # the compiled loops hold no formula and are slow to load


def load() -> None:
    """Import every module of the trade."""
    for module in iter_modules(lagline.trade.__path__):
        if module.name not in _WITHOUT:
            import_module(f"lagline.trade.{module.name}")


def all_formulas() -> tuple[register.Formula, ...]:
    """Return every formula of the trade, by key."""
    load()
    return register.all_formulas()


def get(key: str) -> register.Formula:
    """Return the formula of that key; KeyError when there is none."""
    load()
    return register.get(key)
