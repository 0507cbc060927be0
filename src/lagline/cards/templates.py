"""Full-scale templates on paper: cut to tiles, each tile holding only its own lines, with bars to check the scale."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from lagline.cards import scene, words
from lagline.cards.template_shapes import Template, cup_side, template_of, templates
from lagline.cards.typeset import page, to_pdf
from lagline.cards.widths import fitted
from lagline.records.geometry import Point
from lagline.records.plan import Plan

EDGE_MM = 10.0  # margin no printer needs more of
OVERLAP_MM = 12.0
FOOT_MM = 26.0  # strip at the sheet's foot for the label
BAR_MM, BAR_IN_MM = 100.0, 101.6
CUP_OFF_MM = 6.0
MM_PT = 72 / 25.4


def laid_out(template: Template, frame: tuple[float, float]) -> Template:
    """Return the template as it lies on the paper: turned a quarter anticlockwise when that takes fewer sheets."""
    turned = Template(
        template.guide,
        tuple((template.size[1] - y, x) for x, y in template.edge),
        template.steps,
        not template.turned,
        template.name,
    )
    return turned if len(tiles(turned.size, frame)) < len(tiles(template.size, frame)) else template


def tiles(size: tuple[float, float], frame: tuple[float, float]) -> tuple[tuple[int, int, Point], ...]:
    """Return (row, column, lower left [mm]) of the sheets that cover a size, row 1 at the bottom.

    Neighbours share ``OVERLAP_MM``; the sheets lie centred on the template so no edge runs along a sheet's border.
    """
    counts, firsts, steps = [], [], []
    for s, f in zip(size, frame, strict=True):
        step = f - OVERLAP_MM
        n = max(1, math.ceil((s + 4.0 - OVERLAP_MM) / step))
        covered = n * step + OVERLAP_MM
        counts.append(n)
        firsts.append(-(covered - s) / 2)
        steps.append(step)
    return tuple(
        (r + 1, c + 1, (firsts[0] + c * steps[0], firsts[1] + r * steps[1]))
        for r in range(counts[1])
        for c in range(counts[0])
    )


def _pieces(line: LineString, at: Point, frame: tuple[float, float]) -> list[list[list[float]]]:
    """Return the parts of the edge on one sheet, in sheet millimetres, y down."""
    window = box(at[0], at[1], at[0] + frame[0], at[1] + frame[1])
    out = []
    for g in shapely.get_parts(shapely.line_merge(line.intersection(window))):
        if isinstance(g, LineString) and g.length > 1e-3:
            out.append([[round(x - at[0], 4), round(frame[1] - (y - at[1]), 4)] for x, y in g.coords])
    return out


def _area(edge: tuple[Point, ...]) -> BaseGeometry:
    """Return what a closed edge goes round; an edge that touches or crosses itself is mended first."""
    area: BaseGeometry = Polygon(edge)
    return area if area.is_valid else shapely.make_valid(area, method="structure")


def _inside(t: Template, at: Point, frame: tuple[float, float]) -> list[object] | None:
    """Return where on the sheet the word inside a closed template goes, the word, and its size [pt]."""
    if not t.guide.closed:
        return None
    seen = _area(t.edge).intersection(box(at[0], at[1], at[0] + frame[0], at[1] + frame[1]))
    seen = max((g for g in shapely.get_parts(seen) if isinstance(g, Polygon)), key=lambda g: g.area, default=Polygon())
    if seen.area < 400:
        return None
    spot = shapely.point_on_surface(seen)
    across = seen.intersection(LineString([(at[0], spot.y), (at[0] + frame[0], spot.y)]))
    word = t.name if t.guide.rub == "outside" else "opening"
    room = max((g.length for g in shapely.get_parts(across)), default=0.0) * MM_PT - 14
    return [spot.x - at[0], frame[1] - (spot.y - at[1]), word, fitted(word, room, 14, 7)]


def _cup(pieces: list[list[list[float]]], side: int) -> list[float] | None:
    """Return where on the sheet the word on the cup's side goes: off the middle of the longest piece of edge."""
    if not pieces:
        return None
    line = max((LineString(p) for p in pieces), key=lambda g: g.length)
    if line.length < 30:
        return None
    a, b = (line.interpolate(line.length / 2 + d) for d in (-1.0, 1.0))
    dx, dy = (b.x - a.x) / 2, (b.y - a.y) / 2
    # sheet millimetres run down, so left of travel is the other hand
    return [(a.x + b.x) / 2 + side * CUP_OFF_MM * dy, (a.y + b.y) / 2 - side * CUP_OFF_MM * dx]


def _words(plan: Plan, t: Template) -> list[str]:
    """Return the label's lines."""
    units, first = plan.job.units, t.steps[0]
    setting = plan.setting(first.setting)
    blank = plan.blanks[plan.layout.placed[first.placed].part]
    numbers = ", ".join(str(s.number) for s in t.steps[:8]) + (" ..." if len(t.steps) > 8 else "")
    cup, half = setting.cup_radius_mm.value, setting.kerf_mm.value / 2
    board = "inside the line" if t.guide.rub == "outside" else "outside the line"
    if not t.guide.closed:
        board = 'away from the word "cup"'
    name = "" if t.name.startswith(blank.part.name) else f": {blank.part.name}"
    return [
        f"Template {t.name}{name}, make 1, used {len(t.steps)} time{'s' * (len(t.steps) > 1)} (set-ups {numbers})",
        f"Made for cup radius {words.both(cup, units)} and half kerf {half:.1f} mm: edge "
        f"{abs(t.guide.inset_mm.value):.1f} mm from the cut line. The cup rubs the {t.guide.rub.upper()}; "
        f"the board lies {board}.",
        "Hold it down with magnets, screws in the drop, or clamps out of the cup's way. Board of wood, phenolic or "
        "thick aluminium, no thinner than the cup needs to rub.",
    ]


@dataclass(frozen=True, slots=True)
class Drawn:
    """The sheets as plain numbers and text, and the templates that could not be drawn."""

    sheets: tuple[dict[str, object], ...]
    lost: tuple[Template, ...]


def drawn(plan: Plan, paper: str) -> Drawn:
    """Return every template cut to sheets; one whose edge the geometry cannot handle is left out whole and told."""
    return scene.once(plan, "template sheets", paper, lambda: _drawn(plan, paper))


def _drawn(plan: Plan, paper: str) -> Drawn:
    sheets: list[dict[str, object]] = []
    lost: list[Template] = []
    for t in templates(plan):
        try:
            sheets.extend(_sheets(plan, t, _frame(paper)))
        except (shapely.errors.ShapelyError, ValueError):
            lost.append(t)
    return Drawn(tuple(sheets), tuple(lost))


def _frame(paper: str) -> tuple[float, float]:
    width, height = page(paper)
    return width - 2 * EDGE_MM, height - 2 * EDGE_MM - FOOT_MM


def _sheets(plan: Plan, template: Template, frame: tuple[float, float]) -> list[dict[str, object]]:
    t = laid_out(template, frame)
    line = LineString(t.edge)
    # a turned template keeps its hand, so the guide's own edge tells the side
    side = cup_side(t.guide, t.steps[0])
    here = tiles(t.size, frame)
    rows, columns = max(r for r, _, _ in here), max(c for _, c, _ in here)
    out: list[dict[str, object]] = []
    for r, c, at in here:
        pieces = _pieces(line, at, frame)
        where = f", row {r} of {rows} from the bottom, column {c} of {columns} from the left"
        out.append(
            {
                "name": t.name + (where if len(here) > 1 else ", one sheet"),
                "lines": pieces,
                "word": _inside(t, at, frame),
                "cup": _cup(pieces, side),
                "label": _words(plan, t),
                "joins": {"left": c > 1, "right": c < columns, "bottom": r > 1, "top": r < rows},
            }
        )
    return out


def template_data(plan: Plan, paper: str) -> dict[str, object] | None:
    """Return the sheets as plain numbers and text, None when the plan has no template to print."""
    width, height = page(paper)
    sheets = drawn(plan, paper).sheets
    if not sheets:
        return None
    return {
        "page": [width, height],
        "edge": EDGE_MM,
        "frame": list(_frame(paper)),
        "overlap": OVERLAP_MM,
        "bars": [BAR_MM, BAR_IN_MM],
        "job": plan.job.name,
        "mark": words.plan_mark(plan),
        "sheets": list(sheets),
    }


def pdf(plan: Plan, paper: str) -> bytes | None:
    """Return the templates at full scale as PDF, marked not to be scaled by the printer; None when there are none."""
    data = template_data(plan, paper)
    return None if data is None else unscaled(to_pdf("templates.typ", data))


def unscaled(raw: bytes) -> bytes:
    """Return the PDF with the viewer's print scaling set to none."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import ArrayObject, ByteStringObject, NameObject

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(raw)))
    writer.create_viewer_preferences().print_scaling = NameObject("/None")  # type: ignore[assignment]
    # a file id by chance would make every print differ
    fixed = ByteStringObject(b"lagline-template")
    writer._ID = ArrayObject([fixed, fixed])
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


__all__ = ["Template", "drawn", "laid_out", "pdf", "template_data", "template_of", "templates", "tiles"]
