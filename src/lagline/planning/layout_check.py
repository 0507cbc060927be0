"""An independent look at a finished layout: inside the plate, clear of each other, nothing lost.

Shares no code with the search: it starts from the records, moves every outline and measures with areas.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from lagline.planning.layout_check_kerf import SLACK_MM, Kerfs
from lagline.planning.layout_check_rim import across_grain, inside, kept_out
from lagline.records.geometry import Move
from lagline.records.job import Part, Pin, Plate
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import polygon


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one placed copy (index into ``Layout.placed``; -1 for the count of a part)."""

    placed: int
    message: str


def check_layout(
    layout: Layout, blanks: tuple[Blank, ...], plates: tuple[Plate, ...], pins: tuple[Pin, ...] = ()
) -> tuple[Fault, ...]:
    """Return every fault of a layout; empty when it holds.

    Holds means: same stock as the plate; a turn the part allows, along the plate's grain, mirrored only where it may
    be; the cut outline at least the plate's margin inside every edge of the plate, but on a factory edge of it; off
    regions kept out; ``gap_mm`` clear between cut outlines, but where they share a kerf; every copy placed once or
    counted as unplaced. A copy that lies just where ``pins`` has one need keep neither turn, grain nor margin, nor the
    gap to another such, as long as it lies on the metal and a kerf away. Distances are measured to within
    ``SLACK_MM``, on outlines drawn with chords of 0.005 mm.
    """
    faults: list[Fault] = []
    outlines = [p.move.outline(blanks[p.part].cut) for p in layout.placed]
    areas = [polygon(o) for o in outlines]
    kerfs = Kerfs(layout, blanks, outlines, areas)
    given = {(p.part, p.plate, p.move) for p in pins}
    pinned = [(blanks[p.part].part.name, plates[p.plate].name, p.move) in given for p in layout.placed]
    for n, p in enumerate(layout.placed):
        blank, plate, move = blanks[p.part], plates[p.plate], p.move
        part = blank.part
        if part.stock.key != plate.stock.key:
            faults.append(Fault(n, f"{part.name} lies on metal it is not made of"))
        if move.mirror and not part.may_mirror:
            faults.append(Fault(n, f"{part.name} is mirrored and must not be"))
        if not pinned[n] and not _turn_allowed(move, part):
            faults.append(Fault(n, f"{part.name} is turned by an angle it does not allow"))
        if not pinned[n] and across_grain(blank, plate, move.turn, move.mirror):
            faults.append(Fault(n, f"{part.name} lies across the grain of {plate.name}"))
        if not inside(areas[n], outlines[n], blank, plate, pinned=pinned[n]):
            faults.append(Fault(n, f"{part.name} comes nearer than the margin to an edge of {plate.name}"))
        if kept_out(areas[n], plate):
            faults.append(Fault(n, f"{part.name} lies over a region of {plate.name} that is kept out"))
    for index in sorted({p.plate for p in layout.placed}):
        here = [n for n, p in enumerate(layout.placed) if p.plate == index]
        tree = shapely.STRtree([areas[n] for n in here])
        first, second = tree.query([areas[n] for n in here], predicate="dwithin", distance=layout.gap_mm)
        for a, b in zip(first.tolist(), second.tolist(), strict=True):
            one, other = here[a], here[b]
            if a >= b or (one, other) in kerfs.pairs:
                continue
            apart = min(layout.gap_mm, layout.kerf_mm) if pinned[one] and pinned[other] else layout.gap_mm
            if _too_near(areas[one], areas[other], apart) and not kerfs.meet(one, other):
                names = [blanks[layout.placed[k].part].part.name for k in (one, other)]
                faults.append(Fault(other, f"{names[1]} comes nearer than the gap to {names[0]}"))
    for one, other in layout.shared:
        if wrong := kerfs.wrong(one, other):
            known = 0 <= other < len(layout.placed)
            name = blanks[layout.placed[other].part].part.name if known else "a part"
            faults.append(Fault(other if known else -1, f"{name} {wrong}"))
    left = dict(layout.unplaced)
    for k, blank in enumerate(blanks):
        copies = sorted(p.copy for p in layout.placed if p.part == k)
        if copies != list(range(1, len(copies) + 1)) or len(copies) + left.get(k, 0) != blank.part.quantity:
            faults.append(Fault(-1, f"{blank.part.name}: {len(copies)} placed, {left.get(k, 0)} left over"))
    return tuple(faults)


def _turn_allowed(move: Move, part: Part) -> bool:
    return not part.turns_deg or any(_same_angle(move.turn, math.radians(t)) for t in part.turns_deg)


def _same_angle(a: float, b: float) -> bool:
    return abs(math.remainder(a - b, 2 * math.pi)) < 1e-9


def _too_near(a: Polygon, b: Polygon, gap_mm: float) -> bool:
    if gap_mm > SLACK_MM:
        return bool(a.distance(b) < gap_mm - SLACK_MM)
    thin = [g.buffer(-SLACK_MM / 2, join_style="mitre") for g in (a, b)]
    return bool(thin[0].intersects(thin[1]))
