"""Pieces worth keeping on the plate's picture: a faint dotted outline, and the clear size to chalk on each."""

from __future__ import annotations

import math

import shapely

from lagline.cards import words
from lagline.cards.labels import Labels
from lagline.cards.svg import Sheet, area_data, num
from lagline.records.length import INCH_MM
from lagline.records.rack import Offcut
from lagline.shapes.region import polygon

_SURE_MM = 0.1  # how nearly a rectangle is found, and no tape can tell


def at_most(mm: float, units: str) -> str:
    """Return a largest size, rounded down to the tape's mark before it."""
    step_mm = float(INCH_MM) / words.TAPE_DENOMINATOR if units == "in" else 1.0
    return words.tape(math.floor((mm + _SURE_MM) / step_mm) * step_mm, units)


def clear_size(rectangle_mm: tuple[float, float, float, float], units: str) -> str:
    """Return the size of a clear rectangle as it is chalked: along by up, never more than is there."""
    _, _, wide, high = rectangle_mm
    return f"{at_most(wide, units)} x {at_most(high, units)}"


def outline_kept(sheet: Sheet, kept: tuple[Offcut, ...], units: str, u: float) -> None:
    """Draw a dashed line a little inside the edge of every piece to keep."""
    for o in kept:
        inside = polygon(o.outline).buffer(-0.55 * u, join_style="mitre")
        sheet.group("kept", f"offcut to keep, {clear_size(o.rectangle_mm, units)} clear")
        dashes = f"{num(0.9 * u)} {num(0.45 * u)}"
        sheet.stroke(area_data(inside), "kept-edge", sheet.ink.guide, 0.09 * u, stroke_dasharray=dashes)
        sheet.end()


def label_kept(labels: Labels, kept: tuple[Offcut, ...], units: str, sizes: tuple[float, ...], colour: str) -> None:
    """Write the clear size on every piece where there is room, level or upright; the parts' own words come first."""
    for o in kept:
        size_text = clear_size(o.rectangle_mm, units)
        left, bottom, wide, high = o.rectangle_mm
        area = shapely.box(left, bottom, left + wide, bottom + high)
        tries = [(text, s, up) for text in (f"keep {size_text}", size_text) for s in sizes for up in (False, True)]
        for text, size, upright in tries:
            spot = labels.room(area, text, size, upright=upright)
            if spot and labels.fixed(text, spot, size, colour, "kept-word", upright=upright):
                break
