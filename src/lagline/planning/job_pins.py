"""Copies a job file pins down: part, plate, and where the left and bottom of the part lie from the datum corner."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TypeVar

from lagline.planning.fields import Fields, length, nearest, number, read_flag, read_text, shown
from lagline.records.geometry import Move
from lagline.records.job import Part, Pin, Plate

T = TypeVar("T")
MOST_PINS = 1000


def read_pins(
    tables: tuple[Fields, ...], parts: tuple[Part, ...], plates: tuple[Plate, ...], unit: str
) -> tuple[Pin, ...]:
    """Return the pins; findings go to the fields' list."""
    by_part, by_plate = {p.name.lower(): p for p in parts}, {p.name.lower(): p for p in plates}
    out = []
    for f in tables:
        before = len(f.findings)
        part = _one(f, "part", by_part)
        plate = _one(f, "plate", by_plate) if len(plates) != 1 or f.has("plate") else plates[0]
        place = length(unit, -100_000)
        left, bottom = (f.need(k, place, 0.0, "from the datum corner") for k in ("left", "bottom"))
        turn = f.take("turn", number(-360, 360, "degrees"), 0.0)
        over = f.take("turned_over", read_flag, False)
        f.done()
        if part is None or plate is None or len(f.findings) > before:
            continue
        out.append(Pin(part.name, plate.name, pinned(part, left, bottom, turn, turned_over=over)))
    return tuple(out)


def pinned(part: Part, left_mm: float, bottom_mm: float, turn_deg: float, *, turned_over: bool = False) -> Move:
    """Return the move that lays a part, turned, with its left and bottom there [mm]."""
    turned = Move(0.0, 0.0, math.radians(turn_deg % 360), turned_over)
    x0, y0, _, _ = turned.outline(part.outline).bounds()
    return Move(left_mm - x0, bottom_mm - y0, turned.turn, turned_over)


def _one(f: Fields, key: str, known: Mapping[str, T]) -> T | None:
    name = f.need(key, read_text, "", f"the name of a {key} of this job")
    found = known.get(name.lower())
    if name and found is None:
        f.refuse("name-unknown", key, f"{shown(name)} is no {key} of this job", nearest(name.lower(), known))
    return found
