"""What the layout says to the user: which parts found no place, why, and what would do."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from lagline.planning.layout_open import out_of_square, rims, ways_on
from lagline.planning.layout_shapes import Lie, lies
from lagline.planning.layout_units import SIDES
from lagline.records.finding import Finding, Severity
from lagline.records.job import Plate, Stock
from lagline.records.length import INCH_MM, show_length
from lagline.records.plan import Blank

FitsEmpty = Callable[[Blank, Plate], bool]


def metal(stock: Stock) -> str:
    """Return the stock as the shop says it: thickness as written, then the metal."""
    return f"{stock.thickness_text} {stock.metal}"


def named(names: list[str]) -> str:
    """Return names as a list in words."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def count_of(blank: Blank, count: int) -> str:
    """Return ``cheek plate`` when it is the only one, else ``2 of cheek plate``."""
    return blank.part.name if blank.part.quantity == 1 else f"{count} of {blank.part.name}"


def box_words(ways: tuple[Lie, ...]) -> str:
    """Return the size of the smallest box a part lies in."""
    small = min(ways, key=lambda k: (k.width * k.height, k.width))
    return f"{_at_least(max(small.width, small.height))} by {_at_least(min(small.width, small.height))}"


def _at_least(mm: float) -> str:
    # rounded up to the next 1/16: rounded down, the metal named would be too small
    step = float(INCH_MM) / 16
    up = math.ceil(mm / step - 1e-6) * step
    return f"{show_length(up, 'in')} ({show_length(mm, 'mm')})"


def why_left(blank: Blank, count: int, plates: tuple[Plate, ...], fits_empty: FitsEmpty, method: str) -> Finding:
    """Return the finding for copies that found no place."""
    part = blank.part
    ours = [p for p in plates if p.stock.key == part.stock.key]
    who = count_of(blank, count)
    if not ours:
        have = sorted({metal(p.stock) for p in plates})
        message = f"no plate of {metal(part.stock)} for {who}; on hand: {named(have) if have else 'no plate at all'}"
        return Finding(
            "layout-no-plate",
            Severity.NO_GO,
            part.name,
            message,
            f"add a plate or offcut of {metal(part.stock)}, or correct the thickness of part or plate",
        )
    ways = lies(0, blank)
    size = box_words(ways)
    if not any(ways_on(0, blank, p) for p in ours):
        say = f"none of the turns allowed for {who} brings its grain along that of {named([p.name for p in ours])}"
        return Finding("layout-grain", Severity.NO_GO, part.name, say, "allow a turn that does, or let the grain be")
    if not any(fits_empty(blank, p) for p in ours):
        hint = f"a plate with {size} clear inside its margin would do"
        if part.turns_deg:
            free = replace(blank, part=replace(part, turns_deg=()))
            turned = [p.name for p in ours if fits_empty(free, p)]
            if turned:
                hint = f"it fits on {named(turned)} when it may be turned to any angle; else {hint}"
        message = f"found no place for {who} on {named([p.name for p in ours])} even when empty: it needs {size}"
        if all(_all_margin(p) for p in ours):
            message = f"the margin leaves nothing of {named([p.name for p in ours])} for {who}"
            hint = "a smaller margin, or a larger plate"
        elif all(_smaller(p, ways) for p in ours):
            message = f"{part.name} is larger than every {metal(part.stock)} plate on hand: it needs {size}"
        return Finding("layout-too-large", Severity.NO_GO, part.name, message, hint)
    able = [p.name for p in ours if fits_empty(blank, p)]
    return Finding(
        "layout-no-room",
        Severity.NO_GO,
        part.name,
        f"no room left on {named(able)} for {who}",
        f"add a plate or offcut with {size} clear for each"
        + (", or ask for the dense layout" if method == "quick" else ""),
    )


def _all_margin(plate: Plate) -> bool:
    x0, y0, x1, y1 = plate.outline.bounds()
    return min(x1 - x0, y1 - y0) <= 2 * plate.margin_mm


def _smaller(plate: Plate, ways: tuple[Lie, ...]) -> bool:
    x0, y0, x1, y1 = plate.outline.bounds()
    w, h = x1 - x0 - 2 * plate.margin_mm, y1 - y0 - 2 * plate.margin_mm
    return all(k.width > w + 1e-3 or k.height > h + 1e-3 for k in ways)


def rims_unused(plates: tuple[Plate, ...]) -> tuple[Finding, ...]:
    """Return a note for each plate with factory edges that cannot be a part's edge."""
    out = []
    for plate in plates:
        used = {SIDES[r.side] for r in rims(plate)}
        idle = [s for s in plate.factory_edges if s not in used]
        if idle:
            why = (
                "its diagonals show it out of square" if out_of_square(plate) else "not straight along the datum edges"
            )
            say = f"{named(idle)}: no part's edge is laid on the plate's own: {why}"
            out.append(Finding("layout-factory-edge", Severity.NOTE, plate.name, say, "margin kept there"))
    return tuple(out)
