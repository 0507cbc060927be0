"""The plan as DXF in millimetres, on layers named for what they are; the same plan gives the same bytes."""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING, Any

from lagline.cards import words
from lagline.records.geometry import Arc, Line, Move, Point, Segment
from lagline.records.plan import Method, Plan, Step, StraightGuide, TemplateGuide

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

# layer: colour index of the DXF reference
LAYERS = {"PLATE": 8, "PART": 7, "KERF_CENTRE": 2, "GUIDE": 4, "TEMPLATE": 4, "TEXT": 7, "DRILL": 3}
BETWEEN_MM = 100.0  # clear space between plates side by side
_FIXED_GUID = "{00000000-0000-0000-0000-000000000000}"
_FIXED_DAY = 2451545.0  # Julian date of 2000-01-01 12:00


def dxf(plan: Plan, plate_index: int | None = None) -> bytes:
    """Return one plate, or all side by side, as DXF: parts, kerf centres, guides, templates, drill centres, text.

    Arcs are arcs, full circles are circles, free curves are polylines at 0.01 mm. Layers: ``PLATE``, ``PART``,
    ``KERF_CENTRE``, ``GUIDE``, ``TEMPLATE``, ``TEXT``, ``DRILL``.
    """
    import ezdxf
    from ezdxf import units

    # fixed metadata is an option of the whole library: set for this file, then put back
    was = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        doc = ezdxf.new("R2010", setup=False, units=units.MM)
        for name, colour in LAYERS.items():
            doc.layers.add(name, color=colour)
        space = doc.modelspace()
        x = 0.0
        chosen = range(len(plan.job.plates)) if plate_index is None else [plate_index]
        for i in chosen:
            x0, _, x1, _ = plan.job.plates[i].outline.bounds()
            _plate(space, plan, i, Move(x - x0, 0.0))
            x += x1 - x0 + BETWEEN_MM
        doc.header["$FINGERPRINTGUID"] = doc.header["$VERSIONGUID"] = _FIXED_GUID
        for stamp in ("$TDCREATE", "$TDUCREATE", "$TDUPDATE", "$TDUUPDATE"):
            doc.header[stamp] = _FIXED_DAY
        # the library lists the entity classes in the order of a set: in this order first, every run the same
        for name in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(name)
        out = io.StringIO()
        doc.write(out)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = was
    return out.getvalue().encode("utf-8")


def _plate(space: Modelspace, plan: Plan, i: int, move: Move) -> None:
    plate = plan.job.plates[i]
    for loop in plate.outline.loops:
        _chain(space, loop.segments, move, "PLATE", closed=True)
    x0, y0, x1, y1 = plate.outline.bounds()
    tall = max(x1 - x0, y1 - y0) / 60
    _text(
        space, f"plate {plate.name}, {plate.stock.thickness_text} {plate.stock.metal}", (x0, y0 - 2 * tall), tall, move
    )
    for p in plan.layout.placed:
        if p.plate != i:
            continue
        cut = p.move.outline(plan.blanks[p.part].cut)
        for loop in cut.loops:
            _chain(space, loop.segments, move, "PART", closed=True)
        px0, py0, px1, py1 = cut.bounds()
        _text(space, p.name(plan.blanks), ((px0 + px1) / 2, (py0 + py1) / 2), tall, move)
    templates: set[str] = set()
    for s in plan.steps:
        if s.plate == i:
            _step(space, s, move, tall, templates)


def _step(space: Modelspace, s: Step, move: Move, tall: float, templates: set[str]) -> None:
    if s.method is Method.DRILL:
        c, r = words.centre(s), s.diameter_mm / 2
        space.add_circle(move.point(c), r, dxfattribs={"layer": "DRILL"})
        for dx, dy in ((1.3 * r, 0.0), (0.0, 1.3 * r)):
            a, b = (c[0] - dx, c[1] - dy), (c[0] + dx, c[1] + dy)
            space.add_line(move.point(a), move.point(b), dxfattribs={"layer": "DRILL"})
        _text(space, str(s.number), (c[0] + 1.4 * r, c[1] + 1.4 * r), 0.7 * tall, move)
        return
    _chain(space, s.path, move, "KERF_CENTRE", closed=False)
    _text(space, str(s.number), s.path[0].start, 0.7 * tall, move)
    g = s.guide
    if isinstance(g, StraightGuide):
        space.add_line(move.point(g.near[0]), move.point(g.near[1]), dxfattribs={"layer": "GUIDE"})
    elif isinstance(g, TemplateGuide):
        points = [move.point(p) for p in g.edge]
        space.add_lwpolyline(points, close=g.closed, dxfattribs={"layer": "TEMPLATE"})
        if g.id not in templates:
            templates.add(g.id)
            _text(space, f"template {g.id}", g.edge[0], 0.7 * tall, move)
    elif g is not None:
        space.add_point(move.point(g.pivot), dxfattribs={"layer": "GUIDE"})
        space.add_line(move.point(g.pivot), move.point(s.path[-1].end), dxfattribs={"layer": "GUIDE"})


def _text(space: Modelspace, text: str, at: Point, tall: float, move: Move) -> None:
    item: Any = space.add_text(text, height=tall, dxfattribs={"layer": "TEXT"})
    item.set_placement(move.point(at))


def _chain(space: Modelspace, segments: tuple[Segment, ...], move: Move, layer: str, *, closed: bool) -> None:
    """Write a chain as one polyline with bulges; a single full circle as a circle."""
    attributes = {"layer": layer}
    if len(segments) == 1 and isinstance(segments[0], Arc) and segments[0].is_circle:
        arc = segments[0]
        space.add_circle(move.point(arc.centre), arc.radius, dxfattribs=attributes)
        return
    vertices: list[tuple[float, float, float]] = []
    for s in segments:
        moved = move.segment(s)
        if isinstance(moved, Arc):
            # a bulge of one is half a turn; wider arcs go in two so that readers keep them exact
            n = 2 if abs(moved.sweep) > math.pi * 0.75 else 1
            bulge = math.tan(moved.sweep / n / 4)
            vertices.extend((*moved.at(moved.angle + moved.sweep * k / n), bulge) for k in range(n))
        elif isinstance(moved, Line):
            vertices.append((*moved.start, 0.0))
        else:
            vertices.extend((*p, 0.0) for p in moved.points()[:-1])
    if not closed:
        vertices.append((*move.point(segments[-1].end), 0.0))
    space.add_lwpolyline(vertices, format="xyb", close=closed, dxfattribs=attributes)
