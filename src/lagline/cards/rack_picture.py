"""An item of the rack to scale, with its sizes: outermost along and up, what is clear, where its openings lie."""

from __future__ import annotations

import shapely
from shapely.geometry import LineString

from lagline.cards import scene, words
from lagline.cards.kept_mark import clear_size
from lagline.cards.labels import Labels
from lagline.cards.svg import PAPER, SCREEN, Sheet, line_data, num, outline_data
from lagline.planning.offcuts import kept_rectangle
from lagline.records.rack import RackItem
from lagline.shapes.region import loop_polygon, polygon

_MOST_HOLES = 12  # beyond that a place for each would be no use


def item_svg(item: RackItem, *, paper: bool, units: str = "in") -> str:
    """Draw an item; on paper with its true size in millimetres."""
    x0, y0, x1, y1 = item.outline.bounds()
    wide, high = x1 - x0, y1 - y0
    u = max(wide, high, 60.0) / 26
    view = (x0 - 5.4 * u, y0 - 3.2 * u, x1 + 1.6 * u, y1 + 1.6 * u)
    ink = PAPER if paper else SCREEN
    metal = polygon(item.outline, scene.FLAT_MM)
    box = kept_rectangle(metal, 0.0)
    clear = clear_size(box, units)
    holes = [loop_polygon(h, scene.FLAT_MM) for h in item.outline.holes]
    said = f"{item.kind} {words.tape(wide, units)} by {words.tape(high, units)} outermost, {clear} clear"
    size = (view[2] - view[0], view[3] - view[1])
    sheet = Sheet(
        view, ink, f"{item.mark} on the rack",
        f"{said}, {item.stock.thickness_text} {item.stock.metal}, {len(holes)} openings.", size if paper else None,
    )  # fmt: skip
    outline = outline_data(item.outline)
    sheet.path(outline, "steel", fill=ink.plate, fill_rule="evenodd", stroke="none")
    left, bottom, w, h = box
    rest = metal.difference(shapely.box(left, bottom, left + w, bottom + h).buffer(0.01))
    if rest.area > 0.004 * metal.area:
        sheet.stroke(line_data(scene.hatch_lines(rest, 0.9 * u)), "hatch", ink.hatch, 0.05 * u)
        corners = ((left, bottom), (left + w, bottom), (left + w, bottom + h), (left, bottom + h), (left, bottom))
        sheet.polyline(corners, "clear", ink.guide, 0.09 * u, stroke_dasharray=f"{num(0.9 * u)} {num(0.45 * u)}")
    sheet.stroke(outline, "plate-edge", ink.line, 0.16 * u)

    labels = Labels(view, u / 4)
    labels.keep_clear(metal.boundary)
    labels.keep_clear(shapely.box(left, bottom, left + w, bottom + h).boundary)
    _sizes(sheet, labels, (wide, high), (x0, y0), u, units)
    area = shapely.box(left, bottom, left + w, bottom + h)
    for text, big in ((item.mark, 2.4), (f"{clear} clear", 1.1), (item.called, 0.9)):
        if text.strip():
            _inside(labels, text, area, big * u, ink.text, metal)
    for hole in holes[:_MOST_HOLES]:
        spot = hole.centroid
        where = f"{words.tape(spot.x - x0, units)}, {words.tape(spot.y - y0, units)}"
        labels.put(where, (spot.x, spot.y), 0.8 * u, ink.text, "opening", on=True, must=False, reach=5)
        arm = 0.5 * u
        sheet.polyline(((spot.x - arm, spot.y), (spot.x + arm, spot.y)), "tick", ink.line, 0.06 * u)
        sheet.polyline(((spot.x, spot.y - arm), (spot.x, spot.y + arm)), "tick", ink.line, 0.06 * u)
    for t in labels.placed:
        if t.leader:
            sheet.polyline(t.leader, "leader", t.colour, 0.07 * t.size)
        bx0, by0, bx1, by1 = t.box
        inner = 0.12 * t.size
        patch = ((bx0 + inner, by0 + inner), (bx1 - inner, by0 + inner), (bx1 - inner, by1 - inner),
                 (bx0 + inner, by1 - inner))  # fmt: skip
        ground = ink.plate if metal.contains(shapely.Point(t.middle)) else ink.ground
        sheet.polygon(patch, "patch", ground, fill_opacity="0.9")
        sheet.text(t.text, t.middle, t.size, t.colour, t.kind, t.bold, t.upright)
    return sheet.finish()


def _inside(
    labels: Labels, text: str, area: shapely.Geometry, size: float, colour: str, metal: shapely.Geometry
) -> None:
    """Write a text on the metal, level or upright, smaller where it must be."""
    for part in (1.0, 0.75, 0.55):
        for ground in (area, metal):
            for upright in (False, True):
                spot = labels.room(ground, text, part * size, upright=upright)
                if spot and labels.fixed(text, spot, part * size, colour, "name", bold=size > 0, upright=upright):
                    return


def _sizes(
    sheet: Sheet, labels: Labels, size: tuple[float, float], at: tuple[float, float], u: float, units: str
) -> None:
    """Write the outermost sizes below and at the left, each with its line."""
    ink, (wide, high), (x0, y0) = sheet.ink, size, at
    below, beside = y0 - 1.0 * u, x0 - 1.0 * u
    for line in (((x0, below), (x0 + wide, below)), ((beside, y0), (beside, y0 + high))):
        sheet.polyline(line, "tick", ink.line, 0.07 * u)
        labels.keep_clear(LineString(line))
        for end in line:
            across = (0.0, 0.35 * u) if line[0][1] == line[1][1] else (0.35 * u, 0.0)
            sheet.polyline(
                ((end[0] - across[0], end[1] - across[1]), (end[0] + across[0], end[1] + across[1])), "tick", ink.line,
                0.07 * u,
            )  # fmt: skip
    labels.fixed(words.tape(wide, units), (x0 + wide / 2, y0 - 2.2 * u), 1.1 * u, ink.text, "dimension", bold=True)
    labels.fixed(
        words.tape(high, units), (x0 - 2.3 * u, y0 + high / 2), 1.1 * u, ink.text, "dimension", bold=True, upright=True
    )
