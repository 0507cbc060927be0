"""The whole plate as marked-out steel: parts plain, waste hatched, kerfs at true width, order, datum dimensions."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from lagline.cards import scene, words
from lagline.cards.kept_mark import clear_size, label_kept, outline_kept
from lagline.cards.labels import Label, Labels
from lagline.cards.svg import PAPER, SCREEN, Sheet, area_data, line_data, num, xy
from lagline.cards.widths import text_width
from lagline.planning.pins_held import held
from lagline.records.geometry import Loop
from lagline.records.plan import Method, Plan, Step
from lagline.shapes.region import pieces

Line = tuple[tuple[float, float], ...]
_ROUND_ABOUT = np.array([(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1)], dtype=float)
LEAST_MM = 2.5  # 7 points, the least text on the page
PAGE_MM = {True: (257.0, 168.0), False: (188.0, 237.0)}  # room on the smaller of the two papers, lying and standing
KEEP_OUT, PIN_ROOM = "keep out", "M"  # what is written on a region; how wide a pin is
LEFT, BELOW, RIGHT, ABOVE = 11.0, 5.5, 4.2, 2.6  # room round the plate, in least text heights


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing, with what the checks need to know of it."""

    svg: str
    labels: tuple[Label, ...]
    left_out: tuple[str, ...]


def write_labels(sheet: Sheet, labels: Labels, grounds: list[tuple[BaseGeometry, str]]) -> None:
    """Draw leaders, then each text on a patch of the colour it stands on: the first of ``grounds`` under its middle."""
    for t in labels.placed:
        if t.leader:
            sheet.polyline(t.leader, "leader", t.colour, 0.07 * t.size)
    for t in labels.placed:
        x0, y0, x1, y1 = t.box
        m = 0.12 * t.size
        corners = ((x0 + m, y0 + m), (x1 - m, y0 + m), (x1 - m, y1 - m), (x0 + m, y1 - m))
        middle = Point(t.middle)
        patch = next((c for g, c in grounds if g.intersects(middle)), sheet.ink.ground)
        sheet.polygon(corners, "patch", patch, fill_opacity="0.9")
        sheet.text(t.text, t.middle, t.size, t.colour, t.kind, t.bold, t.upright)


def open_kerfs(sheet: Sheet, plan: Plan, steps: list[Step], hair: float) -> None:
    """Draw kerfs as two lips with the ground showing between, at true width."""
    kerfs = [(scene.path_text(plan, s), scene.kerf_mm(plan, s)) for s in steps if s.path]
    for data, k in kerfs:
        sheet.stroke(data, "lip", sheet.ink.edge, k + hair, stroke_linecap="round")
    for data, k in kerfs:
        sheet.stroke(data, "kerf", sheet.ink.ground, max(k - hair, 0.2 * k), stroke_linecap="round")


def datum(sheet: Sheet, size: float) -> None:
    """Mark the datum corner: the two edges struck heavy, and the corner filled."""
    ink = sheet.ink
    sheet.polyline(((2.4 * size, 0), (0, 0), (0, 2.4 * size)), "datum", ink.line, 0.22 * size, stroke_linecap="square")
    sheet.polygon(((0, 0), (0.9 * size, 0), (0, 0.9 * size)), "datum", ink.line)


def bridge_mark(sheet: Sheet, a: tuple[float, float], b: tuple[float, float], size: float, colour: str) -> None:
    """Draw a bridge from a to b along its kerf: a short bar across at either end, and metal between."""
    h = math.atan2(b[1] - a[1], b[0] - a[0])
    x, y = -math.sin(h) * size, math.cos(h) * size
    for p in (a, b):
        sheet.polyline(((p[0] - x, p[1] - y), (p[0] + x, p[1] + y)), "bridge", colour, 0.16 * size)


def drill_mark(sheet: Sheet, step: Step, size: float, colour: str) -> None:
    """Draw a hole to be drilled: its circle and a centre cross."""
    x, y = words.centre(step)
    r = step.diameter_mm / 2
    arm = max(1.35 * r, 0.5 * size)
    sheet.dot((x, y), r, "drill", fill=sheet.ink.ground, stroke=colour, stroke_width=f"{0.08 * size:.3f}")
    data = f"M{xy((x - arm, y))}L{xy((x + arm, y))}M{xy((x, y - arm))}L{xy((x, y + arm))}"
    sheet.stroke(data, "drill", colour, 0.07 * size)


def order_labels(steps: list[Step]) -> list[tuple[Step, str]]:
    """Return the first step of every cut with the step numbers of the cut: ``7-10``."""
    by_cut: dict[str, list[Step]] = {}
    for s in steps:
        by_cut.setdefault(s.cut, []).append(s)
    out = []
    for group in by_cut.values():
        first, last = group[0].number, group[-1].number
        if len(group) == 1:
            text = str(first)
        elif last - first == len(group) - 1:
            text = f"{first}-{last}"
        else:
            text = ",".join(str(s.number) for s in group)
        out.append((group[0], text))
    return out


def beside_clear(labels: Labels, line: Line, off: float) -> bool:
    """True when no ink lies within ``off`` [mm] of a line, looked at in rows of points along it."""
    a, b = np.asarray(line[:-1]), np.asarray(line[1:])
    n = max(2, math.ceil(float(np.hypot(*(b - a).T).max()) / off))
    t = (np.arange(n + 1) / n)[:, None, None]
    at = (a + t * (b - a)).reshape(-1, 1, 2) + off * _ROUND_ABOUT
    return labels.clear_of_ink(at.reshape(-1, 2))


def _travel(step: Step, u: float, labels: Labels) -> Line | None:
    """Return the line of a travel arrow beside the path, clear of other marks; None where there is no room."""
    middle, run = scene.longest_run(step.path)
    length = min(3.2 * u, 0.5 * run)
    if length < 1.2 * u:
        return None
    kept = -1 if step.kept_side == "right" else 1
    for off in (0.75, -0.75, 1.5):
        for shift in (0.0, 0.25, -0.25):
            line = scene.beside(step.path, middle + shift * run, length, off * u * kept)
            if beside_clear(labels, line, 0.3 * u):
                return line
    return None


def text_height(width: float, height: float, areas: list[float]) -> float:
    """Return the height of text on a plate [mm]: about 5 mm on a page, down to half of it when parts are small."""
    largest = max(width, height, 60.0)
    if not areas:
        return largest / 40
    typical = math.sqrt(sorted(areas)[len(areas) // 2])
    return min(largest / 40, max(largest / 85, typical / 9))


def least_text(width: float, height: float) -> float:
    """Return the text height on a plate that is 7 points on the card's page, with room for dimensions round it [mm]."""
    wide, tall = PAGE_MM[width > height]
    return max(
        LEAST_MM * width / (wide - (LEFT + RIGHT) * LEAST_MM), LEAST_MM * height / (tall - (BELOW + ABOVE) * LEAST_MM)
    )


def part_key(plan: Plan, placed: int) -> str:
    """Return the short name of a placed copy, for parts too small to carry their name: ``C2``."""
    p = plan.layout.placed[placed]
    letters = ""
    n = p.part + 1
    while n:
        n, rest = divmod(n - 1, 26)
        letters = chr(65 + rest) + letters
    return letters if plan.blanks[p.part].part.quantity == 1 else f"{letters}{p.copy}"


def _part_label(labels: Labels, name: str, key: str, area: Polygon, sizes: tuple[float, ...], colour: str) -> None:
    """Write a part's name on it, level or upright; its key where there is no room; the key beside it at last."""
    for upright in (False, True):
        for size in sizes:
            spot = labels.room(area, name, size, upright=upright)
            if spot and labels.fixed(name, spot, size, colour, "name", bold=True, upright=upright):
                return
    for size in sizes:
        spot = labels.room(area, key, size)
        if spot and labels.fixed(key, spot, size, colour, "name", bold=True):
            return
    labels.put(key, labels.depth(area) or area.centroid.coords[0], sizes[-1], colour, "name", on=True, bold=True,
               reach=12)  # fmt: skip


def _said_of(plan: Plan, plate: int, pinned: list[int], keep_out: tuple[Loop, ...]) -> str:
    """Return what the picture's description says of pins, regions and offcuts, nothing where there are none."""
    said = f" Pinned: {', '.join(words.part_name(plan, i) for i in pinned)}." if pinned else ""
    said += f" {len(keep_out)} regions to keep parts out of, cross-hatched." if keep_out else ""
    kept = ", ".join(clear_size(o.rectangle_mm, plan.job.units) for o in scene.kept_offcuts(plan, plate))
    return said + (f" To keep, dotted: {kept} clear." if kept else "")


def _region_label(labels: Labels, region: BaseGeometry, sizes: tuple[float, ...], colour: str) -> None:
    """Write "keep out" on a region, level or upright; beside it where there is no room."""
    for size in sizes:
        for upright in (False, True):
            spot = labels.room(region, KEEP_OUT, size, upright=upright)
            if spot and labels.fixed(KEEP_OUT, spot, size, colour, "keep-out-word", upright=upright):
                return
    labels.put(KEEP_OUT, labels.depth(region) or region.centroid.coords[0], sizes[-1], colour, "keep-out-word", on=True,
               reach=12)  # fmt: skip


def _pin_mark(sheet: Sheet, labels: Labels, area: Polygon, u: float) -> None:
    """Draw a pin stuck in a part that stays where it is, off texts and lines where there is room."""
    spot = labels.room(area, PIN_ROOM, 1.1 * u) or labels.depth(area)
    if spot is None:
        return
    x, y = spot[0], spot[1] - 0.65 * u  # the point; the head above it
    ink, head = sheet.ink, (x, y + 0.95 * u)
    sheet.group("pin", "pinned")
    sheet.polygon(((x, y), (x + 0.34 * u, y + 0.8 * u), (x - 0.34 * u, y + 0.8 * u)), "pin-point", ink.line)
    sheet.dot(head, 0.4 * u, "pin-head", fill=ink.line)
    sheet.dot(head, 0.16 * u, "pin-eye", fill=ink.part)
    sheet.end()
    labels.block((x - 0.45 * u, y - 0.05 * u, x + 0.45 * u, y + 1.4 * u))


def _ordinates(values: list[float], width: float, room: int) -> list[tuple[float, int]]:
    """Return each value with a row so that texts in a row stay clear of each other; values without room are left."""
    ends = [-math.inf] * room
    out = []
    for v in values:
        for row in range(room):
            if v - width / 2 >= ends[row]:
                out.append((v, row))
                ends[row] = v + width / 2
                break
    return out


def plate_picture(plan: Plan, plate_index: int, *, paper: bool) -> Picture:
    """Draw one plate of the plan."""
    plate, units = plan.job.plates[plate_index], plan.job.units
    x0, y0, x1, y1 = plate.outline.bounds()
    w, h = x1 - x0, y1 - y0
    long, high = words.taped(
        plate
    )  # a plate out of square measures less along its edges than across its outermost points
    areas = scene.part_areas(plan, plate_index)
    u = text_height(w, h, [a.area for a in areas.values()])
    least = max(0.8 * u, least_text(w, h))
    view = (x0 - LEFT * least, y0 - BELOW * least, x1 + RIGHT * least, y1 + ABOVE * least)
    steps = [s for s in plan.steps if s.plate == plate_index]
    names = ", ".join(words.part_name(plan, i) for i in areas) or "no parts"
    pinned = [i for i in held(plan.job, plan.blanks, plan.layout) if i in areas]
    size = (view[2] - view[0], view[3] - view[1])
    ink = PAPER if paper else SCREEN
    sheet = Sheet(
        view,
        ink,
        f"Plate {plate.name}: {plan.job.name}",
        f"{plate.kind} {words.tape(long, units)} by {words.tape(high, units)}, {plate.stock.thickness_text} "
        f"{plate.stock.metal}, seen from above, datum corner at the lower left. Parts: {names}. "
        f"Waste is hatched. {len(steps)} set-ups." + _said_of(plan, plate_index, pinned, plate.keep_out),
        size if paper else None,
    )
    hair = 0.05 * u
    steel = scene.plate_area(plan, plate_index)
    sheet.group("plate", plate.name)
    outline = scene.plate_text(plan, plate_index)
    sheet.path(outline, "steel", fill=ink.plate, fill_rule="evenodd", stroke="none")
    hatch = scene.hatch_lines(scene.waste_area(plan, plate_index), 1.1 * u)
    sheet.stroke(line_data(hatch), "hatch", ink.hatch, 0.05 * u)
    closed = scene.keep_out_area(plan, plate_index)
    closed_hatch = scene.hatch_lines(closed, 1.1 * u, -45.0)
    sheet.stroke(line_data(closed_hatch), "hatch", ink.hatch_bold, 0.05 * u)
    sheet.stroke(area_data(closed), "keep-out", ink.line, 0.12 * u, stroke_dasharray=f"{num(0.8 * u)} {num(0.5 * u)}")
    sheet.stroke(outline, "plate-edge", ink.line, 0.16 * u)
    sheet.end()
    for i in areas:
        sheet.group("part", words.part_name(plan, i))
        sheet.path(scene.part_text(plan, i), "face", fill=ink.part, fill_rule="evenodd", stroke=ink.line,
                   stroke_width=f"{hair:.3f}")  # fmt: skip
        sheet.end()
    open_kerfs(sheet, plan, [s for s in steps if not s.bridge], hair)
    for s in steps:
        if s.bridge:
            bridge_mark(sheet, s.path[0].start, s.path[-1].end, 0.6 * u, ink.cut)
    kept = scene.kept_offcuts(plan, plate_index)
    outline_kept(sheet, kept, units, u)

    labels = Labels(view, u / 4)
    for s in steps:
        if s.method is Method.DRILL:
            drill_mark(sheet, s, u, ink.cut)
            labels.keep_clear(Point(words.centre(s)).buffer(s.diameter_mm / 2))
        else:
            labels.keep_clear(Point(words.start_point(s)).buffer(0.3 * u, quad_segs=2))
    for s in steps:
        line = _travel(s, u, labels) if s.path else None
        if line is None:
            continue  # no room: the set-up's own picture shows it
        labels.keep_clear(LineString(line).buffer(0.3 * u, quad_segs=1))
        sheet.polyline(line, "travel", ink.cut, 0.09 * u)
        head = min(0.7 * u, 0.6 * math.dist(line[0], line[-1]))
        sheet.polygon(scene.arrow_head(line[-2], line[-1], head), "travel-head", ink.cut)
    datum(sheet, u)

    for s in steps:
        if s.path:
            labels.keep_clear(scene.path_line(plan, s))
    for area in areas.values():
        labels.keep_clear(area.boundary)
    # the first texts placed are the most needed: datum dimensions, parts, order
    along, up = (x1, x1) if "left" in plate.trim else (w, long), (y1, y1) if "bottom" in plate.trim else (h, high)
    _dimensions(sheet, labels, plan, areas, (along, up), least)
    labels.put("datum", (0.0, 0.0), 1.1 * least, ink.text, "datum", bold=True, towards=-2.6, clear=0.5)
    sizes = (*(f * u for f in (1.25, 1.0) if f * u > 1.05 * least), least)
    for region in pieces(closed):
        _region_label(labels, region, sizes, ink.text)
    for i, area in areas.items():
        _part_label(labels, words.part_name(plan, i), part_key(plan, i), area, sizes, ink.text)
    for i in pinned:
        _pin_mark(sheet, labels, areas[i], u)
    for s, text in order_labels(steps):
        p = words.start_point(s)
        if s.bridge:
            labels.put(f"{text} bridges, last" if "-" in text else f"{text} bridge, last", p, least, ink.cut, "order",
                       reach=5, clear=0.5)  # fmt: skip
            continue
        if s.method is not Method.DRILL:
            sheet.dot(p, 0.28 * u, "start", fill=ink.cut)
        away = None if not s.path else s.path[0].heading_start + math.pi
        labels.put(text, p, least, ink.cut, "order", towards=away, reach=3, clear=0.4, must=False)
    label_kept(labels, kept, units, sizes, ink.text)
    write_labels(sheet, labels, [*((a, ink.part) for a in areas.values()), (steel, ink.plate)])
    return Picture(sheet.finish(), tuple(labels.placed), tuple(labels.left_out))


def _dimensions(
    sheet: Sheet,
    labels: Labels,
    plan: Plan,
    areas: dict[int, Polygon],
    sizes: tuple[tuple[float, float], tuple[float, float]],
    s: float,
) -> None:
    """Write the distance of each part's lower left from the datum along the plate's edges, and the plate's size
    (``sizes``: where it is written, and what the tape reads, along and up)."""
    ink, units = sheet.ink, plan.job.units
    for axis, (total, read) in enumerate(sizes):
        values = sorted({round(a.bounds[axis], 1) for a in areas.values() if a.bounds[axis] > 0.5})
        values = [v for v in values if total - v > 4.4 * s]
        widest = max((text_width(words.tape(v, units), s) for v in (*values, total)), default=0) + 0.6 * s
        rows = _ordinates([*values], widest if axis == 0 else 1.5 * s, 2 if axis == 0 else 1)
        for v, row in [(total, 0), *rows]:
            if axis == 0:
                y = -2.1 * s - row * 2 * s
                done = labels.fixed(
                    words.tape(read if v == total else v, units), (v, y), s, ink.text, "dimension", bold=v == total
                )
                tick = ((v, -0.4 * s), (v, y + 0.7 * s))
            else:
                x = -1.1 * s - widest / 2
                done = labels.fixed(
                    words.tape(read if v == total else v, units), (x, v), s, ink.text, "dimension", bold=v == total
                )
                tick = ((-0.4 * s, v), (-1.1 * s, v))
            if done:
                sheet.polyline(tick, "tick", ink.line, 0.08 * s)


def plate_svg(plan: Plan, plate_index: int, *, paper: bool) -> str:
    """Return the plate as SVG; on paper with its true size in millimetres."""
    if not paper:
        return plate_picture(plan, plate_index, paper=False).svg
    # the card and the file show the same drawing
    return scene.once(plan, "plate svg", plate_index, lambda: plate_picture(plan, plate_index, paper=True).svg)
