"""Units that a drawing may be in."""

from __future__ import annotations

from lagline.records.errors import refuse

UNIT_MM: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1000.0,
    "in": 25.4,
    "ft": 304.8,
    "yd": 914.4,
    "mil": 0.0254,
    "micron": 0.001,
    "microinch": 2.54e-5,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
    "px": 25.4 / 96,
}
ASKED = ("mm", "cm", "m", "in", "ft", "px", "pt")


def unit_factor(unit: str, where: str) -> float:
    """Return the millimetres in a unit that was asked for; refuse others."""
    word = unit.strip().lower()
    if word not in ASKED:
        raise refuse("unit-unknown", where, f"{unit!r} is not a unit for a drawing", "one of " + ", ".join(ASKED))
    return UNIT_MM[word]
