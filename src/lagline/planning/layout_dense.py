"""Dense layout: a solver presses the parts together along each square-cornered plate, in a process of its own.

What comes back is treated as a proposal: every copy is laid down only where the exact test finds it clear, the
rest is laid the quick way (into windows, into what is left), and the better of this and the quick layout is kept.
A solver that crashes, hangs or is killed costs its time and nothing else.
"""

from __future__ import annotations

import json
import math
import os
import selectors
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

import shapely
from shapely.geometry import Polygon

from lagline.planning.layout_fill import Filling, Spot
from lagline.planning.layout_quick import lay, measure
from lagline.planning.layout_shapes import Lie, turned
from lagline.records.finding import Finding, Severity
from lagline.records.job import Plate
from lagline.shapes.region import pieces

WORKER: tuple[str, ...] = (sys.executable, "-m", "lagline.planning.dense_worker")
OVERTIME_S = 10.0  # after its seconds and half as much again, the worker is killed
ASIDE_MM = 0.03  # added round each part, so that rounding in the solver stays outside the gap
TRIM_MM = 0.02  # outlines are thinned by this for the solver
ROOMIER = 2e-4  # share by which the strip is made higher: the solver refuses an exact fit
FILL = 0.9  # share of a plate's area that is offered to the solver
Row = tuple[int, float, float, float]


class SolverFault(Exception):
    """The worker gave no usable answer; the message says how it ended."""


def press(
    task: dict[str, Any], progress: Callable[[float, str], None], cancelled: Callable[[], bool], text: str
) -> list[Row]:
    """Run the worker on a task and return part, angle [deg] and shift of each copy; SolverFault when it fails."""
    began, seconds = time.monotonic(), float(task["seconds"])
    limit = began + 1.5 * seconds + OVERTIME_S
    with tempfile.TemporaryFile() as given:
        given.write(json.dumps(task).encode())
        given.seek(0)
        worker = subprocess.Popen(WORKER, stdin=given, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    asked, buffer, answer = False, b"", None
    assert worker.stdout is not None
    try:
        with selectors.DefaultSelector() as ear:
            ear.register(worker.stdout, selectors.EVENT_READ)
            while True:
                now = time.monotonic()
                if now > limit:
                    raise SolverFault("it did not answer in time and was stopped")
                if not asked and cancelled():
                    asked, limit = True, min(limit, now + 2.0)
                    if os.name == "posix":
                        worker.send_signal(signal.SIGINT)
                progress(min(0.99, (now - began) / seconds), text)
                if not ear.select(0.1):
                    continue
                data = os.read(worker.stdout.fileno(), 1 << 16)
                if not data:
                    break
                *lines, buffer = (buffer + data).split(b"\n")
                for line in lines:
                    said = json.loads(line)
                    if "error" in said:
                        raise SolverFault(f"it stopped with: {said['error'][:200]}")
                    answer = said.get("placed", answer)
    except ValueError as fault:
        raise SolverFault("its answer could not be read") from fault
    finally:
        worker.kill()
        worker.wait()
        worker.stdout.close()
    if answer is None:
        raise SolverFault("it ended without an answer")
    try:
        return [(int(i), float(a), float(x), float(y)) for i, a, x, y in answer]
    except (TypeError, ValueError) as fault:
        raise SolverFault("its answer could not be read") from fault


def solver_shape(lie: Lie, gap_mm: float) -> Polygon:
    """Return the outside of a part with half the gap round it, thinned outwards, as the solver gets it."""
    grown = Polygon(lie.shape.exterior).buffer(gap_mm / 2 + ASIDE_MM + TRIM_MM, quad_segs=6)
    thin = shapely.simplify(grown, TRIM_MM)
    shape = pieces(thin)[0] if thin.is_valid else grown
    return Polygon(shape.exterior)


def strip_task(
    ways: dict[int, tuple[Lie, ...]], copies: list[int], filling: Filling, gap_mm: float, seconds: int, seed: int
) -> dict[str, Any]:
    """Return the task for one plate; each shape is the part's first lie."""
    x0, y0, x1, y1 = filling.limits
    breadth = (y1 - y0) if filling.long_axis == 0 else (x1 - x0)
    height = (breadth + gap_mm + 2 * (ASIDE_MM + TRIM_MM)) * (1 + ROOMIER)
    items = []
    for part, count in sorted(Counter(copies).items()):
        shape = solver_shape(ways[part][0], gap_mm)
        angles = [
            math.degrees(k.turn - ways[part][0].turn) % 360
            for k in ways[part]
            if not k.mirror and (k.height if filling.long_axis == 0 else k.width) <= breadth
        ]
        if not (angles and shape.is_valid and shape.area > 1.0):
            continue
        quarter = 0.0 if filling.long_axis == 0 else 270.0  # a tall plate is pressed lying down
        ring = [[round(x, 6), round(y, 6)] for x, y in shape.exterior.coords[:-1]]
        items.append(
            {"id": str(part), "shape": ring, "demand": count, "angles": sorted((a + quarter) % 360 for a in angles)}
        )
    return {"height": height, "seconds": seconds, "seed": seed, "items": items}


def proposals(
    rows: list[Row], ways: dict[int, tuple[Lie, ...]], filling: Filling, gap_mm: float, offered: Counter[int]
) -> list[Spot]:
    """Return the worker's places as spots on the plate, nearest the datum end first.

    The strip lies along the plate; for a tall plate it is turned a quarter, its lower edge along the plate's right.
    """
    x0, y0, x1, y1 = filling.limits
    aside, flat = gap_mm / 2 + ASIDE_MM + TRIM_MM, filling.long_axis == 0
    spots = []
    for part, angle, along, across in rows:
        if offered[part] <= 0 or not all(map(math.isfinite, (angle, along, across))):
            continue
        first = ways[part][0]
        wanted = math.radians(angle if flat else angle + 90)
        upright = [k for k in ways[part] if not k.mirror]
        off = [abs(math.remainder(k.turn - first.turn - wanted, 2 * math.pi)) for k in upright]
        lie = upright[off.index(min(off))]
        left, low, _, _ = turned(first.shape, lie.turn - first.turn, False).bounds
        x, y = (x0 - aside + along, y0 - aside + across) if flat else (x1 + aside - across, y0 - aside + along)
        spots.append(Spot(lie, _drawn_in(x + left, x0, x1 - lie.width), _drawn_in(y + low, y0, y1 - lie.height)))
    return sorted(spots, key=lambda s: (s.x, s.y, s.lie.part) if flat else (s.y, s.x, s.lie.part))


def _drawn_in(value: float, low: float, high: float) -> float:
    """Return the value brought between the limits when it is less than a millimetre outside them."""
    return min(max(value, low), high) if low - 1 < value < high + 1 else value


def nested(filling: Filling) -> set[int]:
    """Return which spots lie inside a window of another part."""
    solid = [Polygon(s.exterior) for s in filling.shapes[: len(filling.spots)]]
    return {
        n
        for n, s in enumerate(solid)
        if any(m != n and other.area > s.area and other.contains(s) for m, other in enumerate(solid))
    }


def dense(
    ways: dict[int, tuple[Lie, ...]],
    gap_mm: float,
    start: tuple[list[Filling], list[int]],
    *,
    seed: int,
    seconds: int,
    progress: Callable[[float, str], None],
    cancelled: Callable[[], bool],
) -> tuple[list[Filling], list[int], list[Finding]]:
    """Return the better of the quick layout ``start`` and one pressed by the solver, and what was noticed."""
    quick_fillings, quick_left = start
    area = {p: w[0].shape.area for p, w in ways.items()}
    pool = sorted([s.lie.part for f in quick_fillings for s in f.spots] + quick_left, key=lambda p: (-area[p], p))
    findings: list[Finding] = []
    fillings: list[Filling] = []
    total = len(quick_fillings)
    for n, old in enumerate(quick_fillings):
        new = Filling(old.index, old.plate, gap_mm, {})
        fillings.append(new)
        inner = nested(old)
        mine = [s.lie.part for k, s in enumerate(old.spots) if k not in inner]
        if not mine or cancelled():
            pass
        elif not old.plain:
            findings.append(
                _note(old.plate, "has other than four square corners and no openings", "laid out the quick way")
            )
            mine = []
        else:
            others = Counter(pool) - Counter(s.lie.part for s in old.spots)
            room = FILL * (old.limits[2] - old.limits[0]) * (old.limits[3] - old.limits[1])
            offered = _offer(mine, pool, others, area, room)
            task = strip_task(ways, offered, new, gap_mm, seconds, seed)
            text = f"pressing parts together on {old.plate.name}"

            def told(share: float, what: str, done: int = n) -> None:
                progress((done + share) / total, what)

            try:
                rows = press(task, told, cancelled, text) if task["items"] else []
            except (SolverFault, OSError) as fault:
                findings.append(_note(old.plate, f"the dense layout gave no answer: {fault}", "laid out the quick way"))
                rows = []
            counts = Counter(offered)
            for spot in proposals(rows, ways, new, gap_mm, counts):
                if counts[spot.lie.part] > 0 and new.clear(spot.lie, spot.x, spot.y):
                    new.put(spot)
                    counts[spot.lie.part] -= 1
            new.settle()
        if not new.spots:  # no answer: as the quick layout has it, as far as those copies are still to be laid
            counts = Counter(pool)
            for spot in old.spots:
                if counts[spot.lie.part] > 0:
                    new.put(spot)
                    counts[spot.lie.part] -= 1
        pool = sorted((Counter(pool) - Counter(s.lie.part for s in new.spots)).elements(), key=lambda p: (-area[p], p))
        pool = lay(ways, pool, [new], lambda _: None, lambda: False)
    if measure(fillings, pool, area) < measure(quick_fillings, quick_left, area):
        return fillings, pool, findings
    return quick_fillings, quick_left, findings


def _offer(mine: list[int], pool: list[int], others: Counter[int], area: dict[int, float], most: float) -> list[int]:
    """Return the plate's own copies still to be laid, then copies from other plates, in order, up to an area."""
    mine = list((Counter(mine) & Counter(pool)).elements())
    room = most - sum(area[p] for p in mine)
    for part in pool:
        if others[part] > 0 and area[part] <= room:
            mine.append(part)
            others[part] -= 1
            room -= area[part]
    return mine


def _note(plate: Plate, message: str, allowed: str) -> Finding:
    return Finding("layout-dense", Severity.NOTE, plate.name, message, allowed)
