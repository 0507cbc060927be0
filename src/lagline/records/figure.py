"""A number that can be asked "why": value, spread, formula or table, source, and whose it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum


class Basis(StrEnum):
    """Where a figure comes from."""

    COUPON = "your coupon"
    DEFAULT = "default with its spread"
    STANDARD = "standard or handbook"
    DRAWING = "your drawing or job"
    KIT = "your kit file"


@dataclass(frozen=True, slots=True)
class Figure:
    """A value with its spread and its origin.

    Parameters
    ----------
    value, low, high : best value and the limits it is expected to lie between [unit]
    unit : ``mm``, ``mm/s``, ``A``, ``deg``, ``s``, ``kg``, ``kPa`` ...
    formula : key in the formula register or the table's name, e.g. ``kerf.from-bore``
    basis : whose number it is
    source : the publication, "common practice, no source", or the file and field
    inputs : (name with unit, shown value) pairs that went in
    """

    value: float
    low: float
    high: float
    unit: str
    formula: str
    basis: Basis
    source: str
    inputs: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.value, self.low, self.high))):
            raise ValueError(f"{self.formula}: figure is not finite: {self.low} {self.value} {self.high}")
        slack = 1e-9 * max(1.0, abs(self.value))
        if not self.low - slack <= self.value <= self.high + slack:
            raise ValueError(f"{self.formula}: value {self.value} outside its spread {self.low} to {self.high}")

    @property
    def half_spread(self) -> float:
        """Half the distance from low to high [unit]."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, slots=True)
class Spread:
    """A kit value with its limits, and whether it is the built-in default."""

    value: float
    low: float
    high: float
    default: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"value {self.value} outside its spread {self.low} to {self.high}")

    @classmethod
    def exact(cls, value: float) -> Spread:
        """Return a spread of no width."""
        return cls(value, value, value)
