"""One set-up as the cutter sees it: this cut bold, its waste hatched heavy, its guide in place, earlier cuts open."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from lagline.cards import scene, words
from lagline.cards.draw_guide import draw_guide
from lagline.cards.draw_plate import Picture, beside_clear, bridge_mark, datum, drill_mark, open_kerfs, write_labels
from lagline.cards.labels import Labels
from lagline.cards.step_labels import Ground, step_labels
from lagline.cards.svg import PAPER, SCREEN, Box, Sheet, area_data, line_data
from lagline.cards.template_shapes import template_of
from lagline.records.geometry import Point as Place
from lagline.records.plan import ArmGuide, Plan, Step, StraightGuide, TemplateGuide
from lagline.shapes.region import chain_line

ASPECT = 1.5
NO_PICTURE = "The picture could not be drawn; the numbers stand."
TEXTS_ACROSS = 25  # text heights across the picture: 11 points on a quarter page, 15 px on a phone


def view_of(plan: Plan, step: Step) -> Box:
    """Return the window: the cut, its pivot or template, enough of its guide, and room round it."""
    bounds = [chain_line(step.line, 0.1).bounds]
    if step.path:
        bounds.append(scene.path_line(plan, step).bounds)
    g = step.guide
    if isinstance(g, ArmGuide):
        bounds.append((*g.pivot, *g.pivot))
    elif isinstance(g, TemplateGuide):
        bounds.append(LineString(g.edge).bounds)
    x0, y0 = (min(b[i] for b in bounds) for i in (0, 1))
    x1, y1 = (max(b[i] for b in bounds) for i in (2, 3))
    if not step.path:
        m = max(3 * step.diameter_mm, 40.0)
        x0, y0, x1, y1 = x0 - m, y0 - m, x1 + m, y1 + m
    if isinstance(g, StraightGuide):
        # a bar much longer than the cut runs out of the picture; its clamps are then told in words
        far = 0.35 * max(x1 - x0, y1 - y0) + 10
        reach = (x0 - far, y0 - far, x1 + far, y1 + far)
        seen = shapely.clip_by_rect(Polygon(g.bar), *reach)
        points = [*shapely.get_coordinates(seen).tolist(), *(c for c in g.clamps if scene.meets((*c, *c), reach))]
        x0, y0 = (min(v, *(p[i] for p in points)) if points else v for i, v in ((0, x0), (1, y0)))
        x1, y1 = (max(v, *(p[i] for p in points)) if points else v for i, v in ((0, x1), (1, y1)))
    w, h = x1 - x0, y1 - y0
    w, h = w + 0.22 * max(w, h) + 16, h + 0.3 * max(w, h) + 16
    w, h = max(w, h * ASPECT), max(h, w / ASPECT)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    return cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2


def drop_band(plan: Plan, step: Step, width: float) -> BaseGeometry:
    """Return the strip of waste along this pass, on its drop side: hatched heavy."""
    if not step.path:
        return Polygon()
    line = chain_line(step.line, scene.FLAT_MM)
    # round a loop, inside and outside say which side is which; an open line is taken on the hand away from the part
    away = width if step.kept_side == "right" else -width
    near = line.buffer(width) if words.goes_round(step) else line.buffer(away, single_sided=True)
    inside = scene.loop_area(plan, step)
    waste = scene.clipped(scene.waste_area(plan, step.plate), near.bounds)
    near = near.intersection(inside) if scene.is_inside(scene.cut_of(plan, step)) else near - inside
    return near.intersection(waste)


def step_picture(plan: Plan, number: int, *, paper: bool) -> Picture:
    """Draw one set-up of the plan."""
    step = scene.once(plan, "steps", None, lambda: {s.number: s for s in plan.steps})[number]
    view = view_of(plan, step)
    u = (view[2] - view[0]) / TEXTS_ACROSS
    ink = PAPER if paper else SCREEN
    window = box(*view)
    sheet = Sheet(view, ink, f"Set-up {number}: {step.title}", _described(plan, step))
    hair = 0.06 * u

    gone = scene.fallen(plan, step.plate, number, view)
    areas = {i: a for i, a in scene.part_areas(plan, step.plate).items() if scene.meets(a.bounds, view)}
    band = _less(scene.clipped(drop_band(plan, step, 3.2 * u), view), gone)
    waste = _less(scene.clipped(scene.waste_area(plan, step.plate), view), gone)
    _background(sheet, plan, step, u, waste, band)
    for i in areas:
        face = ink.kept if i in step.parts else ink.part
        sheet.group("part", words.part_name(plan, i))
        sheet.path(scene.part_text(plan, i), "face", fill=face, fill_rule="evenodd", stroke=ink.line,
                   stroke_width=f"{hair:.3f}")  # fmt: skip
        sheet.end()
    sheet.path(area_data(gone), "gone", fill=ink.void, stroke=ink.edge, stroke_width=f"{hair:.3f}")
    earlier = [s for s in plan.steps if s.number < number and s.plate == step.plate and s.path]
    open_kerfs(sheet, plan, [s for s in earlier if scene.meets(scene.path_line(plan, s).bounds, view)], 1.3 * hair)

    for a, b in scene.bridges_standing(plan, step.plate, number):
        if scene.meets((min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])), view):
            bridge_mark(sheet, a, b, max(scene.kerf_mm(plan, step), 0.6 * u), ink.line)

    labels = Labels(view)
    for a in areas.values():
        labels.keep_clear(shapely.clip_by_rect(a.boundary, *view))
    labels.keep_clear(gone)
    datum(sheet, u)
    draw_guide(sheet, labels, step, u)
    _cut(sheet, labels, plan, step, u)
    clamp_seen = window.buffer(-0.6 * u).covers(Point(step.clamp))
    if clamp_seen:
        x, y = step.clamp
        r = 0.5 * u
        sheet.polygon(((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)), "work-clamp", ink.line)
        labels.keep_clear(box(x - r, y - r, x + r, y + r))
    _inset(sheet, labels, plan, step, u)
    step_labels(labels, plan, step, u, ink, Ground(areas, band, waste, gone))
    if clamp_seen:
        labels.put("work clamp", step.clamp, 0.8 * u, ink.text, "clamp", must=False)
    if window.covers(Point(0, 0)):
        labels.put("datum", (0, 0), 0.9 * u, ink.text, "datum", bold=True, towards=-2.4, must=False)
    grounds = [(gone, ink.void), *((a, ink.kept if i in step.parts else ink.part) for i, a in areas.items())]
    write_labels(sheet, labels, [*grounds, (scene.plate_area(plan, step.plate), ink.plate)])
    return Picture(sheet.finish(), tuple(labels.placed), tuple(labels.left_out))


def _less(area: BaseGeometry, gone: BaseGeometry) -> BaseGeometry:
    return area if gone.is_empty else area - gone


def _background(sheet: Sheet, plan: Plan, step: Step, u: float, waste: BaseGeometry, band: BaseGeometry) -> None:
    """Draw the plate with its waste hatched, heavy along this cut."""
    ink, outline = sheet.ink, scene.plate_text(plan, step.plate)
    sheet.group("plate", plan.job.plates[step.plate].name)
    sheet.path(outline, "steel", fill=ink.plate, fill_rule="evenodd", stroke="none")
    light = scene.hatch_lines(waste - band, 1.5 * u)
    sheet.stroke(line_data(light), "hatch", ink.hatch, 0.05 * u)
    sheet.stroke(line_data(scene.hatch_lines(band, 0.75 * u)), "drop", ink.hatch_bold, 0.1 * u)
    sheet.stroke(outline, "plate-edge", ink.line, 0.22 * u)
    sheet.end()


def _cut(sheet: Sheet, labels: Labels, plan: Plan, step: Step, u: float) -> None:
    """Draw this cut with its start and its travel, or the hole to be drilled."""
    ink, k = sheet.ink, scene.kerf_mm(plan, step)
    if not step.path:
        drill_mark(sheet, step, 1.4 * u, ink.cut)
        labels.keep_clear(Point(words.centre(step)).buffer(step.diameter_mm / 2))
        return
    width = max(k, 0.16 * u)
    sheet.stroke(scene.path_text(plan, step), "cut", ink.cut, width, stroke_linecap="round", data_kerf_mm=f"{k:g}")
    labels.keep_clear(scene.path_line(plan, step), weight=4)
    at = step.path[0].start
    _travel(sheet, labels, step, u)
    if step.leaves_mm:
        bridge_mark(sheet, *scene.bridge_left(plan, step), max(k, 0.8 * u), ink.cut)
    sheet.dot(at, 0.45 * u, "start", fill=ink.cut, stroke=ink.ground, stroke_width=f"{0.1 * u:.3f}")
    labels.keep_clear(box(at[0] - 0.45 * u, at[1] - 0.45 * u, at[0] + 0.45 * u, at[1] + 0.45 * u))


def _described(plan: Plan, step: Step) -> str:
    units = plan.job.units
    sheet = template_of(plan, step)
    name = sheet.name if sheet else ""
    bits = [
        words.guide(step, units, name),
        words.start(step) + f" at {words.place_both(words.start_point(step), units)}",
    ]
    if step.path:
        bits += [f"Travel {words.direction(step)}", words.sides(step)]
    if said := words.besides(step, units):
        bits.append(said)
    if falls := words.falls(step):
        bits.append(falls)
    return ". ".join(bits) + "."


def _travel(sheet: Sheet, labels: Labels, step: Step, u: float) -> None:
    """Draw the travel arrow beside the line, on the side away from the guide if there is room."""
    middle, run = scene.longest_run(step.path)
    length = min(6 * u, 0.5 * run)
    side = -1 if step.kept_side == "right" else 1
    if isinstance(step.guide, StraightGuide) and step.guide.side == "kept":
        side = -side
    chosen = scene.beside(step.path, middle, length, 1.1 * u * side)
    tries = [(o * side, m) for o in (1.1, 1.9, -1.1, 2.6) for m in (0.0, 0.2, -0.2)]
    for off, shift in tries:
        line = scene.beside(step.path, middle + shift * run, length, off * u)
        if beside_clear(labels, line, 0.35 * u):
            chosen = line
            break
    sheet.polyline(chosen, "travel", sheet.ink.cut, 0.14 * u)
    head = min(1.0 * u, 0.6 * length)
    sheet.polygon(scene.arrow_head(chosen[-2], chosen[-1], head), "travel-head", sheet.ink.cut)
    labels.keep_clear(LineString(chosen).buffer(0.35 * u, quad_segs=1))


def _inset(sheet: Sheet, labels: Labels, plan: Plan, step: Step, u: float) -> None:
    """Draw the plate small in the emptiest corner with the window marked, when the window shows a part of it."""
    px0, py0, px1, py1 = plan.job.plates[step.plate].outline.bounds()
    x0, y0, x1, y1 = sheet.view
    if (x1 - x0) * (y1 - y0) > 0.75 * (px1 - px0) * (py1 - py0):
        return
    scale = min(0.2 * (x1 - x0) / (px1 - px0), 0.2 * (y1 - y0) / (py1 - py0))
    w, h, m = (px1 - px0) * scale, (py1 - py0) * scale, 0.5 * u
    corners = [(x1 - w - m, y1 - h - m), (x0 + m, y1 - h - m), (x1 - w - m, y0 + m), (x0 + m, y0 + m)]

    boxes = np.array([(x - m, y - m, x + w + m, y + h + m) for x, y in corners])
    length, area = labels.covered(boxes)
    ink_under = length + 0.3 * area / u
    best = int(np.argmin(ink_under))
    if ink_under[best] > 0.6 * (w + h):
        return
    cx, cy = corners[best]
    ink = sheet.ink
    b = (cx - m, cy - m, cx + w + m, cy + h + m)
    sheet.group("where", "where on the plate")
    ring = ((b[0], b[1]), (b[2], b[1]), (b[2], b[3]), (b[0], b[3]))
    sheet.polygon(ring, "where", ink.ground, stroke=ink.hatch, stroke_width=f"{0.06 * u:.3f}")

    def small(p: Place) -> Place:
        return cx + (p[0] - px0) * scale, cy + (p[1] - py0) * scale

    for loop in plan.job.plates[step.plate].outline.loops:
        sheet.polygon([small(p) for p in loop.points(1.0)], "where", "none", stroke=ink.line,
                      stroke_width=f"{0.1 * u:.3f}")  # fmt: skip
    sx0, sy0, sx1, sy1 = max(x0, px0), max(y0, py0), min(x1, px1), min(y1, py1)
    corners_here = [small(p) for p in ((sx0, sy0), (sx1, sy0), (sx1, sy1), (sx0, sy1))]
    sheet.polygon(corners_here, "where", ink.cut, fill_opacity="0.55")
    d = small((px0, py0))
    r = 0.7 * u
    sheet.polygon((d, (d[0] + r, d[1]), (d[0], d[1] + r)), "where", ink.line)
    sheet.end()
    labels.block(b)


def step_svg(plan: Plan, number: int, *, paper: bool) -> str:
    """Return one set-up as SVG."""
    try:
        return step_picture(plan, number, paper=paper).svg
    except shapely.errors.ShapelyError:
        step = next(s for s in plan.steps if s.number == number)
        return no_picture(f"Set-up {number}: {step.title}", paper=paper)


def no_picture(title: str, *, paper: bool) -> str:
    """Return a sheet that says its picture could not be drawn: the card's numbers still stand."""
    ink = PAPER if paper else SCREEN
    sheet = Sheet((0.0, 0.0, 150.0, 100.0), ink, title, NO_PICTURE)
    sheet.text("picture could not be drawn:", (75.0, 54.0), 6.0, ink.text, "name", True, False)
    sheet.text("go by the numbers and the marked line", (75.0, 44.0), 6.0, ink.text, "name", True, False)
    return sheet.finish()


__all__ = ["drop_band", "no_picture", "step_picture", "step_svg", "view_of"]
