"""What a price is made of."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.records.figure import Figure
from lagline.records.finding import Finding


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a price: ``group`` is "labour", "metal" or "used up"; minutes where it is somebody's time."""

    key: str
    group: str
    words: str
    money: Figure
    minutes: Figure | None = None


@dataclass(frozen=True, slots=True)
class Quote:
    """A price: lines, their sum, overhead on it, margin on both. ``shop`` is empty for a line to fill in by pen."""

    shop: str
    currency: str
    lines: tuple[Line, ...]
    minutes: Figure
    cost: Figure
    overhead: Figure
    margin: Figure
    price: Figure
    overhead_share: float
    margin_share: float
    findings: tuple[Finding, ...] = ()
