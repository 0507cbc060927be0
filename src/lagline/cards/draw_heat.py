"""The heat of a plate: lines of the highest temperatures, or of one moment, over the parts and kerfs.

On the screen one hue, a step lighter at every mark; on paper black lines, told apart by their dashes, with numbers. Of
the highest temperatures, bands beside cuts too narrow to be believed are left out: the table of bands says them.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from lagline.cards import scene, words
from lagline.cards.draw_plate import PAGE_MM, write_labels
from lagline.cards.isolines import over
from lagline.cards.labels import Labels
from lagline.cards.raster import Floats
from lagline.cards.svg import PAPER, SCREEN, Sheet, area_data, num
from lagline.cards.widths import text_width
from lagline.planning.heat import AIR_C, Frame, PlateHeat
from lagline.records.plan import Plan
from lagline.trade.heat_plate import Mark, marks

_DASHES = ("0.15 0.7", "1.3 0.7", "", "")  # in text heights, coolest first
_WIDTHS = (0.16, 0.1, 0.1, 0.2)
_LABELS = 5  # numbers on the lines of one mark at most
_LEAST_MM = 2.3  # text on paper


def heat_svg(plan: Plan, heat: PlateHeat, *, paper: bool, frame: Frame | None = None, wide_mm: float = 0.0) -> str:
    """Return one plate's highest temperatures as SVG, or those of a moment.

    Parameters: ``wide_mm`` is the width the picture will have on paper, 0 for the card's page.
    """
    plate = plan.job.plates[heat.plate]
    x0, y0, x1, y1 = plate.outline.bounds()
    w, h = x1 - x0, y1 - y0
    room = PAGE_MM[w > h]
    scale = max(w / (wide_mm or room[0]), 0.0 if wide_mm else h / room[1])
    u = max(_LEAST_MM * scale, max(w, h) / 90) if paper else max(w, h) / 48
    rise = heat.peak if frame is None else frame.rise
    levels = marks(heat.metal)
    drawn = [(m, area) for m in levels if not (area := _area(heat, rise, m, frame is None)).is_empty]
    lines = [_line_text(m, any(m is d for d, _ in drawn)) for m in levels]
    when = "Highest temperatures of the whole job" if frame is None else f"At {words.clock(frame.at_s)} of the job"
    foot = 1.7 * (len(lines) + 2.6) * u
    view = (x0 - 1.2 * u, y0 - foot, x1 + 1.2 * u, y1 + 1.2 * u)
    longest = max(text_width(t, u, bold=False) for t in (*lines, when)) + 6 * u
    view = (view[0], view[1], max(view[2], view[0] + longest), view[3])
    ink = PAPER if paper else SCREEN
    size = None
    if paper:
        k = 1 / scale
        size = ((view[2] - view[0]) * k, (view[3] - view[1]) * k)
    said, near = "; ".join(lines), words.tape(heat.believe_mm, plan.job.units)
    sheet = Sheet(view, ink, f"Heat of plate {plate.name}", f"{when}. {said}. Not believed within "
                  f"{near} of a cut.", size)  # fmt: skip
    outline = scene.plate_text(plan, heat.plate)
    sheet.path(outline, "steel", fill=ink.plate, fill_rule="evenodd", stroke="none")
    steel = scene.plate_area(plan, heat.plate)
    if not paper:
        for _, area in drawn:
            sheet.path(area_data(shapely.intersection(area, steel)), "hot", fill=ink.cut, fill_opacity="0.2",
                       fill_rule="evenodd")  # fmt: skip
    for i in scene.part_areas(plan, heat.plate):
        sheet.stroke(scene.part_text(plan, i), "part", ink.hatch if paper else ink.line, 0.05 * u)
    for s in plan.steps:
        if s.plate == heat.plate and s.path:
            sheet.stroke(scene.path_text(plan, s), "kerf", ink.hatch, scene.kerf_mm(plan, s) if paper else 0.08 * u,
                         stroke_opacity="0.45")  # fmt: skip
    labels = Labels(view, u / 4)
    rim = shapely.buffer(shapely.boundary(steel), heat.cell_mm)
    for n, (m, area) in enumerate(drawn):
        # a line along the plate's edge is the plate's end, not a temperature's
        line = shapely.line_merge(shapely.difference(shapely.boundary(area), rim))
        if paper:
            _draw_line(sheet, line, levels.index(m), u, ink.line)
        _numbers(labels, line, m, u, ink.text, heat.cell_mm, n)
    sheet.stroke(outline, "plate-edge", ink.line, 0.14 * u)
    ground = [(steel, ink.plate)]
    if frame is None:
        _hottest(sheet, labels, heat, u)
    write_labels(sheet, labels, ground)
    _legend(sheet, levels, drawn, lines, when, (x0, y0), u, paper, near)
    return sheet.finish()


def _area(heat: PlateHeat, rise: Floats, mark: Mark, peak: bool) -> BaseGeometry:
    """The area over a mark; of the highest temperatures without the bands narrower than is believed."""
    values = np.where(heat.solid, rise, 0.0)
    level = mark.temperature_c - AIR_C
    if not (values >= level).any():
        return shapely.MultiPolygon()
    area = over(values, level, heat.corner, heat.cell_mm, 0.25 * heat.cell_mm)
    if not peak:
        return area
    half = 0.75 * heat.believe_mm
    return shapely.simplify(shapely.buffer(shapely.buffer(area, -half), half, quad_segs=4), 0.2 * heat.cell_mm)


def _line_text(m: Mark, drawn: bool) -> str:
    text = f"{m.temperature_c:.0f} C: {m.word}"
    return text if drawn else f"{text}; only close to cuts, if at all"


def _draw_line(sheet: Sheet, line: BaseGeometry, k: int, u: float, colour: str) -> None:
    more = {}
    if _DASHES[k]:
        more = {"stroke_dasharray": " ".join(num(float(v) * u) for v in _DASHES[k].split()), "stroke_linecap": "round"}
    sheet.stroke(area_data(line), "isoline", colour, _WIDTHS[k] * u, **more)


def _numbers(labels: Labels, line: BaseGeometry, m: Mark, u: float, colour: str, cell_mm: float, n: int) -> None:
    """Write the temperature on the longest lines of a mark, where there is room."""
    text = f"{m.temperature_c:.0f}"
    rings = sorted(shapely.get_parts(line).tolist(), key=lambda r: -r.length)
    for ring in rings[:_LABELS]:
        if ring.length < max(12 * u, 6 * cell_mm):
            break
        for part in (0.13 + 0.2 * n, 0.4 + 0.2 * n, 0.65 + 0.2 * n, 0.9 + 0.2 * n):
            p = ring.interpolate(part % 1.0, normalized=True)
            spot = (p.x, p.y)
            if labels.fixed(text, spot, u, colour, "number", bold=True):
                break


def _hottest(sheet: Sheet, labels: Labels, heat: PlateHeat, u: float) -> None:
    """Mark the hottest place that is believed with a cross and its temperature."""
    x, y = heat.hottest_at
    for dx, dy in ((1, 1), (1, -1)):
        line = LineString(((x - 0.5 * u * dx, y - 0.5 * u * dy), (x + 0.5 * u * dx, y + 0.5 * u * dy)))
        sheet.polyline(list(line.coords), "hottest", sheet.ink.text, 0.16 * u)
    labels.put(f"hottest {heat.hottest_c:.0f}", (x, y), u, sheet.ink.text, "hottest", bold=True, reach=8, clear=0.6)


def _legend(
    sheet: Sheet, levels: tuple[Mark, ...], drawn: list[tuple[Mark, BaseGeometry]], lines: list[str], when: str,
    corner: tuple[float, float], u: float, paper: bool, near: str,
) -> None:  # fmt: skip
    ink = sheet.ink
    x, y = corner[0], corner[1] - 1.9 * u

    def write(text: str, left: float, bold: bool = False) -> None:
        sheet.text(text, (left + text_width(text, u, bold=bold) / 2, y), u, ink.text, "legend", bold)

    write(when, x, True)
    shown = [m for m, _ in drawn]
    for k, (m, text) in enumerate(zip(levels, lines, strict=True)):
        y -= 1.7 * u
        if m in shown:
            if not paper:  # the steps lie on each other, as in the picture
                box = ((x, y - 0.5 * u), (x + 4 * u, y - 0.5 * u), (x + 4 * u, y + 0.5 * u), (x, y + 0.5 * u))
                sheet.polygon(box, "key", ink.plate)
                for _ in range(shown.index(m) + 1):
                    sheet.polygon(box, "key", ink.cut, fill_opacity="0.2")
            else:
                _draw_line(sheet, LineString(((x, y), (x + 4 * u, y))), k, u, ink.line)
        write(text, x + 5 * u)
    y -= 1.7 * u
    write(f"Air {AIR_C:.0f} C. Not believed within {near} of a cut.", x)
