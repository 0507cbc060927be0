"""An independent look at a finished layout: inside the plate, clear of each other, nothing lost.

Shares no code with the search: it starts from the records, moves every outline and measures with areas.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from lagline.planning.layout_check_kerf import SLACK_MM, Kerfs
from lagline.records.job import Plate
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import polygon


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one placed copy (index into ``Layout.placed``; -1 for the count of a part)."""

    placed: int
    message: str


def check_layout(layout: Layout, blanks: tuple[Blank, ...], plates: tuple[Plate, ...]) -> tuple[Fault, ...]:
    """Return every fault of a layout; empty when it holds.

    Holds means: same stock as the plate; a turn the part allows, mirrored only where it may be; the cut outline at
    least the plate's margin inside every edge of the plate; ``gap_mm`` clear between cut outlines; every copy
    placed once or counted as unplaced. Distances are measured to within ``SLACK_MM``, on outlines drawn with chords
    of 0.005 mm.
    """
    faults: list[Fault] = []
    outlines = [p.move.outline(blanks[p.part].cut) for p in layout.placed]
    areas = [polygon(o) for o in outlines]
    kerfs = Kerfs(layout, blanks, outlines, areas)
    for n, (p, area) in enumerate(zip(layout.placed, areas, strict=True)):
        part, plate = blanks[p.part].part, plates[p.plate]
        if part.stock.key != plate.stock.key:
            faults.append(Fault(n, f"{part.name} lies on metal it is not made of"))
        if p.move.mirror and not part.may_mirror:
            faults.append(Fault(n, f"{part.name} is mirrored and must not be"))
        if part.turns_deg and not any(_same_angle(p.move.turn, math.radians(t)) for t in part.turns_deg):
            faults.append(Fault(n, f"{part.name} is turned by an angle it does not allow"))
        if not _inside(area, plate):
            faults.append(Fault(n, f"{part.name} comes nearer than the margin to an edge of {plate.name}"))
    for index in sorted({p.plate for p in layout.placed}):
        here = [n for n, p in enumerate(layout.placed) if p.plate == index]
        tree = shapely.STRtree([areas[n] for n in here])
        first, second = tree.query([areas[n] for n in here], predicate="dwithin", distance=layout.gap_mm)
        for a, b in zip(first.tolist(), second.tolist(), strict=True):
            one, other = here[a], here[b]
            if a >= b or (one, other) in kerfs.pairs or not _too_near(areas[one], areas[other], layout.gap_mm):
                continue
            if not kerfs.meet(one, other):
                names = [blanks[layout.placed[k].part].part.name for k in (one, other)]
                faults.append(Fault(other, f"{names[1]} comes nearer than the gap to {names[0]}"))
    for one, other in layout.shared:
        if wrong := kerfs.wrong(one, other):
            inside = max(one, other) < len(layout.placed) and other >= 0
            name = blanks[layout.placed[other].part].part.name if inside else "a part"
            faults.append(Fault(other if inside else -1, f"{name} {wrong}"))
    left = dict(layout.unplaced)
    for k, blank in enumerate(blanks):
        copies = sorted(p.copy for p in layout.placed if p.part == k)
        if copies != list(range(1, len(copies) + 1)) or len(copies) + left.get(k, 0) != blank.part.quantity:
            faults.append(Fault(-1, f"{blank.part.name}: {len(copies)} placed, {left.get(k, 0)} left over"))
    return tuple(faults)


def _same_angle(a: float, b: float) -> bool:
    return abs(math.remainder(a - b, 2 * math.pi)) < 1e-9


def _inside(area: Polygon, plate: Plate) -> bool:
    metal = polygon(plate.outline)
    if plate.margin_mm <= SLACK_MM:
        return bool(metal.buffer(SLACK_MM, join_style="mitre").covers(area))
    return bool(metal.covers(area) and metal.boundary.distance(area) >= plate.margin_mm - SLACK_MM)


def _too_near(a: Polygon, b: Polygon, gap_mm: float) -> bool:
    if gap_mm > SLACK_MM:
        return bool(a.distance(b) < gap_mm - SLACK_MM)
    thin = [g.buffer(-SLACK_MM / 2, join_style="mitre") for g in (a, b)]
    return bool(thin[0].intersects(thin[1]))
