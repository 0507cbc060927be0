"""One set-up as the cutter sees it: this cut bold, its waste hatched heavy, its guide in place, earlier cuts open."""

from __future__ import annotations

import math

import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from lagline.cards import scene, words
from lagline.cards.draw_plate import Picture, datum, drill_mark, open_kerfs, write_labels
from lagline.cards.labels import Labels
from lagline.cards.svg import PAPER, SCREEN, Box, Sheet
from lagline.records.geometry import Point as Place
from lagline.records.plan import ArmGuide, Method, Plan, Step, StraightGuide, TemplateGuide
from lagline.shapes.region import chain_line, loop_polygon

ASPECT = 1.5
TEXTS_ACROSS = 25  # text heights across the picture: 11 points on a quarter page, 15 px on a phone


def _view(step: Step) -> Box:
    """Return the window: the cut, its pivot or template, enough of its guide, and room round it."""
    shapes: list[BaseGeometry] = [chain_line(step.line, 0.1)]
    if step.path:
        shapes.append(chain_line(step.path, 0.1))
    g = step.guide
    if isinstance(g, ArmGuide):
        shapes.append(Point(g.pivot))
    elif isinstance(g, TemplateGuide):
        shapes.append(LineString(g.edge))
    core = shapely.union_all(shapes)
    x0, y0, x1, y1 = core.bounds
    if step.method is Method.DRILL:
        m = max(3 * step.diameter_mm, 40.0)
        x0, y0, x1, y1 = x0 - m, y0 - m, x1 + m, y1 + m
    if isinstance(g, StraightGuide):
        # a bar much longer than the cut runs out of the picture; its clamps are then told in words
        far = 0.35 * max(x1 - x0, y1 - y0) + 10
        reach = box(x0 - far, y0 - far, x1 + far, y1 + far)
        seen = Polygon(g.bar).intersection(reach)
        for c in g.clamps:
            if reach.covers(Point(c)):
                seen = seen.union(Point(c))
        if not seen.is_empty:
            bx0, by0, bx1, by1 = seen.bounds
            x0, y0, x1, y1 = min(x0, bx0), min(y0, by0), max(x1, bx1), max(y1, by1)
    w, h = x1 - x0, y1 - y0
    w, h = w + 0.22 * max(w, h) + 16, h + 0.3 * max(w, h) + 16
    w, h = max(w, h * ASPECT), max(h, w / ASPECT)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    return cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2


def drop_band(plan: Plan, step: Step, width: float) -> BaseGeometry:
    """Return the strip of waste along this pass, on its drop side: hatched heavy."""
    if not step.path:
        return Polygon()
    cut = scene.cut_of(plan, step)
    inside = loop_polygon(cut.loop, scene.FLAT_MM)
    near = chain_line(step.line, scene.FLAT_MM).buffer(width, cap_style="flat")
    near = near.intersection(inside) if scene.is_inside(cut) else near - inside
    others = [a for i, a in scene.part_areas(plan, step.plate).items() if i != step.placed or scene.is_inside(cut)]
    near = near - shapely.union_all(others) if others else near
    return near.intersection(scene.plate_area(plan, step.plate))


def step_picture(plan: Plan, number: int, *, paper: bool) -> Picture:
    """Draw one set-up of the plan."""
    step = next(s for s in plan.steps if s.number == number)
    view = _view(step)
    width = view[2] - view[0]
    u = width / TEXTS_ACROSS
    ink = PAPER if paper else SCREEN
    window = box(*view)
    sheet = Sheet(view, ink, f"Set-up {number}: {step.title}", _described(plan, step))
    hair = 0.06 * u

    plate = plan.job.plates[step.plate]
    gone = scene.fallen(plan, step.plate, number)
    steel = scene.plate_area(plan, step.plate).intersection(window)
    areas = {i: a for i, a in scene.part_areas(plan, step.plate).items() if a.intersects(window)}
    band = drop_band(plan, step, 3.2 * u) - gone
    waste = scene.waste_area(plan, step.plate).intersection(window) - gone
    sheet.group("plate", plate.name)
    outline = "".join(sheet.path_data(loop.segments, close=True) for loop in plate.outline.loops)
    sheet.path(outline, "steel", fill=ink.plate, fill_rule="evenodd", stroke="none")
    sheet.stroke(sheet.area_data(scene.hatch(waste - band, 1.5 * u)), "hatch", ink.hatch, 0.05 * u)
    sheet.stroke(sheet.area_data(scene.hatch(band.intersection(window), 0.75 * u)), "drop", ink.hatch_bold, 0.1 * u)
    sheet.stroke(outline, "plate-edge", ink.line, 0.22 * u)
    sheet.end()
    for i in areas:
        placed = plan.layout.placed[i]
        cut = placed.move.outline(plan.blanks[placed.part].cut)
        data = "".join(sheet.path_data(loop.segments, close=True) for loop in cut.loops)
        face = ink.kept if i == step.placed else ink.part
        sheet.group("part", words.part_name(plan, i))
        sheet.path(data, "face", fill=face, fill_rule="evenodd", stroke=ink.line, stroke_width=f"{hair:.3f}")
        sheet.end()
    gone_here = gone.intersection(window)
    if not gone_here.is_empty:
        sheet.path(sheet.area_data(gone_here), "gone", fill=ink.void, stroke=ink.edge, stroke_width=f"{hair:.3f}")
    earlier = [s for s in plan.steps if s.plate == step.plate and s.number < number and s.path]
    earlier = [s for s in earlier if chain_line(s.path, 0.1).intersects(window)]
    open_kerfs(sheet, plan, earlier, 1.3 * hair)

    labels = Labels(view)
    clear: list[BaseGeometry] = [a.boundary for a in areas.values()]
    datum(sheet, u)
    _guide_bar(sheet, step, u, clear)
    k = scene.kerf_mm(plan, step)
    if step.path:
        sheet.stroke(
            sheet.path_data(step.path), "cut", ink.cut, max(k, 0.16 * u), stroke_linecap="round", data_kerf_mm=f"{k:g}"
        )
        clear.append(chain_line(step.path, 0.1).buffer(0.2 * u))
        _travel(sheet, step, u, clear)
        at = step.path[0].start
        sheet.dot(at, 0.45 * u, "start", fill=ink.cut, stroke=ink.ground, stroke_width=f"{0.1 * u:.3f}")
        clear.append(Point(at).buffer(0.5 * u))
    else:
        drill_mark(sheet, step, 1.4 * u, ink.cut)
        clear.append(Point(words.centre(step)).buffer(step.diameter_mm / 2))
    clamp_seen = window.buffer(-0.6 * u).covers(Point(step.clamp))
    if clamp_seen:
        x, y = step.clamp
        r = 0.5 * u
        sheet.polygon(((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)), "work-clamp", ink.line)
        clear.append(Point(step.clamp).buffer(r))
    labels.keep_clear(shapely.union_all(clear))
    _inset(sheet, labels, plan, step, u, shapely.union_all(clear))
    _put_labels(labels, plan, step, u, ink.text, ink.cut, ink.guide, (band.intersection(window), waste, gone), areas)
    if clamp_seen:
        labels.put("work clamp", step.clamp, 0.8 * u, ink.text, "clamp", must=False)
    if window.covers(Point(0, 0)):
        labels.put("datum", (0, 0), 0.9 * u, ink.text, "datum", bold=True, towards=-2.4, must=False)
    grounds = [(gone_here, ink.void), *((a, ink.kept if i == step.placed else ink.part) for i, a in areas.items())]
    write_labels(sheet, labels, [*grounds, (steel, ink.plate)])
    return Picture(sheet.finish(), tuple(labels.placed), tuple(labels.left_out))


def _described(plan: Plan, step: Step) -> str:
    units = plan.job.units
    bits = [words.guide(step, units), words.start(step) + f" at {words.place_both(words.start_point(step), units)}"]
    if step.path:
        bits += [f"Travel {words.direction(step)}", words.sides(step)]
    if falls := words.falls(step):
        bits.append(falls)
    return ". ".join(bits) + "."


def _guide_bar(sheet: Sheet, step: Step, u: float, clear: list[BaseGeometry]) -> None:
    """Draw what leads the torch, in its true place."""
    g, ink = step.guide, sheet.ink
    if isinstance(g, StraightGuide):
        sheet.polygon(
            g.bar, "guide-bar", ink.guide_face, fill_opacity="0.92", stroke=ink.guide, stroke_width=f"{0.08 * u:.3f}"
        )
        sheet.polyline(g.near, "guide-edge", ink.guide, 0.2 * u)
        for x, y in g.clamps:
            sheet.dot((x, y), 0.5 * u, "clamp-point", fill=ink.ground, stroke=ink.guide, stroke_width=f"{0.12 * u:.3f}")
            r = 0.35 * u
            data = f"M{sheet.xy((x - r, y))}L{sheet.xy((x + r, y))}M{sheet.xy((x, y - r))}L{sheet.xy((x, y + r))}"
            sheet.stroke(data, "clamp-point", ink.guide, 0.1 * u)
            clear.append(Point(x, y).buffer(0.55 * u))
        clear.append(LineString(g.near))
        a, b = _distance_line(step, g)
        sheet.polyline((a, b), "distance", ink.guide, 0.09 * u)
        length = math.dist(a, b)
        if length > 0.2 * u:
            head = min(0.5 * u, 0.4 * length)
            sheet.polygon(scene.arrow_head(a, b, head), "distance", ink.guide)
            sheet.polygon(scene.arrow_head(b, a, head), "distance", ink.guide)
        clear.append(LineString((a, b)).buffer(0.1 * u))
    elif isinstance(g, ArmGuide):
        at = _arm_end(step)
        sheet.polyline((g.pivot, at), "arm", ink.guide, 0.14 * u, stroke_dasharray=f"{0.8 * u:.2f} {0.3 * u:.2f}")
        sheet.dot(g.pivot, 0.42 * u, "pivot", fill=ink.ground, stroke=ink.guide, stroke_width=f"{0.12 * u:.3f}")
        sheet.dot(g.pivot, 0.14 * u, "pivot", fill=ink.guide)
        clear += [LineString((g.pivot, at)), Point(g.pivot).buffer(0.5 * u)]
    elif isinstance(g, TemplateGuide):
        points = (*g.edge, g.edge[0]) if g.closed else g.edge
        sheet.polyline(points, "template-edge", ink.guide, 0.18 * u, stroke_dasharray=f"{0.9 * u:.2f} {0.35 * u:.2f}")
        if g.rub == "outside" and g.closed:
            sheet.polygon(g.edge, "template", ink.guide_face, fill_opacity="0.35")
        clear.append(LineString(points))


def _arm_end(step: Step) -> Place:
    """Return the point on the arc where the arm is drawn: a third of the way round."""
    line = tuple(s for s in step.path[-1:]) or step.line
    return scene.point_along(line, 0.3 * sum(s.length for s in line))[0]


def _distance_line(step: Step, g: StraightGuide) -> tuple[Place, Place]:
    """Return the short line across from the cut line to the guide's near edge, two fifths along."""
    a = scene.point_along(step.line, 0.4 * sum(s.length for s in step.line))[0]
    near = LineString(g.near)
    b = near.interpolate(near.project(Point(a)))
    return a, (b.x, b.y)


def _travel(sheet: Sheet, step: Step, u: float, clear: list[BaseGeometry]) -> None:
    """Draw the travel arrow beside the line, on the side away from the guide if there is room."""
    middle, run = scene.longest_run(step.path)
    length = min(6 * u, 0.5 * run)
    side = -1 if step.kept_side == "right" else 1
    if isinstance(step.guide, StraightGuide) and step.guide.side == "kept":
        side = -side
    blocked = shapely.union_all(clear)
    chosen = scene.beside(step.path, middle, length, 1.1 * u * side)
    tries = [(o * side, m) for o in (1.1, -1.1, 1.9) for m in (0.0, 0.2, -0.2)]
    for off, shift in tries:
        line = scene.beside(step.path, middle + shift * run, length, off * u)
        if not blocked.intersects(LineString(line).buffer(0.35 * u)):
            chosen = line
            break
    sheet.polyline(chosen, "travel", sheet.ink.cut, 0.14 * u)
    head = min(1.0 * u, 0.6 * length)
    sheet.polygon(scene.arrow_head(chosen[-2], chosen[-1], head), "travel-head", sheet.ink.cut)
    clear.append(LineString(chosen).buffer(0.35 * u))


def _put_labels(
    labels: Labels,
    plan: Plan,
    step: Step,
    u: float,
    text: str,
    cut: str,
    guide: str,
    ground: tuple[BaseGeometry, BaseGeometry, BaseGeometry],
    areas: dict[int, Polygon],
) -> None:
    """Write the texts, most needed first: guide distance, start, keep and drop, then names."""
    units, g = plan.job.units, step.guide
    band, waste, gone = ground
    if isinstance(g, StraightGuide):
        a, b = _distance_line(step, g)
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        labels.put(words.guide_length(g.offset_mm.value, units)[0], middle, 1.35 * u, guide, "distance", bold=True)
        bar = polylabel(Polygon(g.bar).intersection(box(*labels.view)), 1.0) if len(g.bar) == 4 else None
        if bar is not None:
            labels.put("guide", (bar.x, bar.y), 0.9 * u, guide, "guide", on=True, reach=5, must=False)
    elif isinstance(g, ArmGuide):
        at = _arm_end(step)
        middle = ((at[0] + g.pivot[0]) / 2, (at[1] + g.pivot[1]) / 2)
        arm = words.guide_length(g.arm_mm.value, units)[0]
        labels.put(f"arm {arm}", middle, 1.35 * u, guide, "distance", bold=True)
        labels.put(f"pivot {words.place(g.pivot, units)}", g.pivot, 0.9 * u, guide, "pivot")
    elif isinstance(g, TemplateGuide):
        spot = polylabel(Polygon(g.edge), 1.0) if g.closed else Point(g.edge[len(g.edge) // 2])
        labels.put("template", (spot.x, spot.y), 1.1 * u, guide, "guide", on=True, bold=True)
    if step.method is Method.DRILL:
        c = words.centre(step)
        size = words.guide_length(step.diameter_mm, units)[0]
        labels.put(f"drill {size}", c, 1.35 * u, cut, "distance", bold=True, clear=1.0)
        labels.put(words.place(c, units), c, 1.0 * u, cut, "start", clear=1.0)
        return
    begin = words.start_point(step)
    labels.put(words.place(begin, units), begin, 0.95 * u, cut, "start", bold=True)
    window = box(*labels.view)
    taken = shapely.union_all([Polygon(g.bar)] if isinstance(g, StraightGuide) else [])
    labels.keep_clear(taken)
    drop = _touching(waste, band) if not band.is_empty else band
    if not drop.is_empty:
        _name(
            labels, "drop", band, drop - taken, shapely.union_all([*areas.values()]), 1.1 * u, text, "drop", must=True
        )
    for i in [step.placed, *(i for i in areas if i != step.placed)]:
        if i not in areas or areas[i].intersection(gone).area > 0.5 * areas[i].area:
            continue
        seen = areas[i].intersection(window) - gone
        name = words.part_name(plan, i)
        if i == step.placed:
            _name(labels, "keep", seen, seen - taken, waste, 1.05 * u, text, "name", must=True)
        else:
            _name(labels, name, seen, seen - taken, waste, 0.8 * u, text, "name", must=False)


def _touching(area: BaseGeometry, band: BaseGeometry) -> BaseGeometry:
    """Return the pieces of an area that a band lies in."""
    return shapely.union_all([p for p in shapely.get_parts(area) if p.intersects(band)])


def _name(
    labels: Labels,
    text: str,
    area: BaseGeometry,
    room: BaseGeometry,
    avoid: BaseGeometry,
    size: float,
    colour: str,
    kind: str,
    *,
    must: bool,
) -> None:
    """Write a name inside its area where there is room, else beside it with a leader from inside."""
    inner = room - labels.ink.buffer(0.3 * size) - shapely.union_all([box(*b) for b in labels.blocked])
    spot = scene.roomiest(inner, text)
    if spot is not None and labels.put(
        text, spot, size, colour, kind, on=True, bold=must, within=room, reach=0, must=False
    ):
        return
    home = scene.roomiest(room, "n") or scene.roomiest(area, "n")
    if home is None:
        return
    if must:
        labels.put(text, home, size, colour, kind, on=True, bold=True, avoid=avoid, reach=12)
    else:
        labels.put(text, home, size, colour, kind, on=True, within=room, reach=3, must=False)


def _inset(sheet: Sheet, labels: Labels, plan: Plan, step: Step, u: float, drawn: BaseGeometry) -> None:
    """Draw the plate small in the emptiest corner with the window marked, when the window shows a part of it."""
    px0, py0, px1, py1 = plan.job.plates[step.plate].outline.bounds()
    x0, y0, x1, y1 = sheet.view
    if (x1 - x0) * (y1 - y0) > 0.75 * (px1 - px0) * (py1 - py0):
        return
    scale = min(0.2 * (x1 - x0) / (px1 - px0), 0.2 * (y1 - y0) / (py1 - py0))
    w, h, m = (px1 - px0) * scale, (py1 - py0) * scale, 0.5 * u
    corners = [(x1 - w - m, y1 - h - m), (x0 + m, y1 - h - m), (x1 - w - m, y0 + m), (x0 + m, y0 + m)]

    def covered(c: Place) -> float:
        b = box(c[0] - m, c[1] - m, c[0] + w + m, c[1] + h + m)
        hit = drawn.intersection(b)
        return hit.length + hit.area

    cx, cy = min(corners, key=covered)
    if covered((cx, cy)) > 0.6 * (w + h):
        return
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
    return step_picture(plan, number, paper=paper).svg


__all__ = ["drop_band", "step_picture", "step_svg"]
