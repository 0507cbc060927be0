"""What leads the torch, drawn in its true place: bar, circle arm or template, with its distance shown."""

from __future__ import annotations

import math

from shapely.geometry import LineString, Point, Polygon, box

from lagline.cards import scene
from lagline.cards.labels import Labels
from lagline.cards.svg import Sheet, xy
from lagline.records.geometry import Point as Place
from lagline.records.plan import ArmGuide, Step, StraightGuide, TemplateGuide


def draw_guide(sheet: Sheet, labels: Labels, step: Step, u: float) -> None:
    """Draw the guide of a step and keep texts off its lines; ``u`` is the picture's text height [mm]."""
    match step.guide:
        case StraightGuide() as g:
            _bar(sheet, labels, step, g, u)
        case ArmGuide() as g:
            ink, at = sheet.ink, arm_end(step)
            dashes = f"{0.8 * u:.2f} {0.3 * u:.2f}"
            sheet.polyline((g.pivot, at), "arm", ink.guide, 0.14 * u, stroke_dasharray=dashes)
            sheet.dot(g.pivot, 0.42 * u, "pivot", fill=ink.ground, stroke=ink.guide, stroke_width=f"{0.12 * u:.3f}")
            sheet.dot(g.pivot, 0.14 * u, "pivot", fill=ink.guide)
            labels.keep_clear(LineString((g.pivot, at)))
            labels.keep_clear(_square(g.pivot, 0.5 * u))
        case TemplateGuide() as g:
            points = (*g.edge, g.edge[0]) if g.closed else g.edge
            dashes = f"{0.9 * u:.2f} {0.35 * u:.2f}"
            sheet.polyline(points, "template-edge", sheet.ink.guide, 0.18 * u, stroke_dasharray=dashes)
            if g.rub == "outside" and g.closed:
                sheet.polygon(g.edge, "template", sheet.ink.guide_face, fill_opacity="0.35")
            labels.keep_clear(LineString(points))


def _bar(sheet: Sheet, labels: Labels, step: Step, g: StraightGuide, u: float) -> None:
    ink = sheet.ink
    sheet.polygon(
        g.bar, "guide-bar", ink.guide_face, fill_opacity="0.92", stroke=ink.guide, stroke_width=f"{0.08 * u:.3f}"
    )
    sheet.polyline(g.near, "guide-edge", ink.guide, 0.2 * u)
    for x, y in g.clamps:
        sheet.dot((x, y), 0.5 * u, "clamp-point", fill=ink.ground, stroke=ink.guide, stroke_width=f"{0.12 * u:.3f}")
        r = 0.35 * u
        data = f"M{xy((x - r, y))}L{xy((x + r, y))}M{xy((x, y - r))}L{xy((x, y + r))}"
        sheet.stroke(data, "clamp-point", ink.guide, 0.1 * u)
        labels.keep_clear(_square((x, y), 0.5 * u))
    labels.keep_clear(LineString(g.near))
    a, b = distance_line(step, g)
    sheet.polyline((a, b), "distance", ink.guide, 0.09 * u)
    length = math.dist(a, b)
    if length > 0.2 * u:
        head = min(0.5 * u, 0.4 * length)
        sheet.polygon(scene.arrow_head(a, b, head), "distance", ink.guide)
        sheet.polygon(scene.arrow_head(b, a, head), "distance", ink.guide)
    labels.keep_clear(LineString((a, b)), weight=3)


def _square(at: Place, r: float) -> Polygon:
    return box(at[0] - r, at[1] - r, at[0] + r, at[1] + r)


def arm_end(step: Step) -> Place:
    """Return the point on the arc where the arm is drawn: a third of the way round."""
    line = step.path[-1:] or step.line
    return scene.point_along(line, 0.3 * sum(s.length for s in line))[0]


def distance_line(step: Step, g: StraightGuide) -> tuple[Place, Place]:
    """Return the short line across from the cut line to the guide's near edge, two fifths along."""
    a = scene.point_along(step.line, 0.4 * sum(s.length for s in step.line))[0]
    near = LineString(g.near)
    b = near.interpolate(near.project(Point(a)))
    return a, (b.x, b.y)
