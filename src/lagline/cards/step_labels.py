"""The texts on a set-up's picture, most needed first: guide distance, start, drop and keep, then names."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.cards import scene, words
from lagline.cards.draw_guide import arm_end, distance_line
from lagline.cards.labels import Labels
from lagline.cards.svg import Ink
from lagline.records.plan import ArmGuide, Method, Plan, Step, StraightGuide, TemplateGuide


@dataclass(frozen=True, slots=True)
class Ground:
    """What lies in the window when the step begins: parts by index, the heavy hatched strip, all waste, holes."""

    areas: dict[int, Polygon]
    band: BaseGeometry
    waste: BaseGeometry
    gone: BaseGeometry


def step_labels(labels: Labels, plan: Plan, step: Step, u: float, ink: Ink, ground: Ground) -> None:
    """Write the texts of one set-up; ``u`` is the picture's text height [mm]."""
    units = plan.job.units
    if step.method is Method.DRILL:
        c = words.centre(step)
        size = words.guide_length(step.diameter_mm, units)[0]
        labels.put(f"drill {size}", c, 1.35 * u, ink.cut, "distance", bold=True, clear=1.0)
        labels.put(words.place(c, units), c, 1.0 * u, ink.cut, "start", clear=1.0)
        return
    _guide(labels, step, u, ink, units)
    begin = words.start_point(step)
    labels.put(words.place(begin, units), begin, 0.95 * u, ink.cut, "start", bold=True)
    if step.bridge:
        labels.put("bridge, last", step.path[-1].end, 0.95 * u, ink.cut, "bridge", bold=True)
    elif step.leaves_mm:
        a, b = scene.bridge_left(plan, step)
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        labels.put(
            f"leave {words.tape(step.leaves_mm, units)}, cut last", middle, 0.95 * u, ink.cut, "bridge", bold=True
        )
    bar: BaseGeometry = Polygon(step.guide.bar) if isinstance(step.guide, StraightGuide) else Polygon()
    labels.keep_clear(bar)
    _sides(labels, plan, step, u, ink, ground)
    for i, area in ground.areas.items():
        if (i == step.placed and len(step.parts) == 1) or _fell(plan, i, ground.gone):
            continue
        name = words.part_name(plan, i)
        spot = labels.room(area, name, 0.8 * u)
        if spot is not None:
            labels.fixed(name, spot, 0.8 * u, ink.text, "name")


def _guide(labels: Labels, step: Step, u: float, ink: Ink, units: str) -> None:
    g = step.guide
    if isinstance(g, StraightGuide):
        a, b = distance_line(step, g)
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        labels.put(words.guide_length(g.offset_mm.value, units)[0], middle, 1.35 * u, ink.guide, "distance", bold=True)
        seen = shapely.clip_by_rect(Polygon(g.bar), *labels.view)
        spot = labels.room(seen, "guide", 0.9 * u) or labels.room(seen, "guide", 0.9 * u, upright=True)
        if spot is not None:
            labels.put("guide", spot, 0.9 * u, ink.guide, "guide", on=True, reach=0, must=False)
    elif isinstance(g, ArmGuide):
        at = arm_end(step)
        middle = ((at[0] + g.pivot[0]) / 2, (at[1] + g.pivot[1]) / 2)
        arm = words.guide_length(g.arm_mm.value, units)[0]
        labels.put(f"arm {arm}", middle, 1.35 * u, ink.guide, "distance", bold=True)
        labels.put(f"pivot {words.place(g.pivot, units)}", g.pivot, 0.9 * u, ink.guide, "pivot")
    elif isinstance(g, TemplateGuide):
        spot = None
        if g.closed and g.rub == "outside":
            spot = labels.room(Polygon(g.edge), "template", 1.1 * u)
        if spot is None or not labels.fixed("template", spot, 1.1 * u, ink.guide, "guide", bold=True):
            # beside its edge, where that runs most to the right: the word then stands off the opening
            edge = max(g.edge, key=lambda p: (p[0], p[1])) if g.closed else g.edge[len(g.edge) // 2]
            labels.put("template", edge, 1.1 * u, ink.guide, "guide", bold=True, towards=0.0)


def _sides(labels: Labels, plan: Plan, step: Step, u: float, ink: Ink, ground: Ground) -> None:
    """Write *drop* on the hatched strip's side and *keep* on the part."""
    if ground.band.area > 0:
        pieces = shapely.get_parts(ground.waste)
        waste = shapely.multipolygons(pieces[shapely.intersects(pieces, ground.band)])
        x0, y0, x1, y1 = ground.band.bounds
        near = tuple(
            shapely.clip_by_rect(waste, x0 - m, y0 - m, x1 + m, y1 + m) for m in (0.0, 3 * u)
        )  # on the hatched strip, else just off it
        _word(labels, "drop", ground.band, near, 1.1 * u, ink.text, "drop", waste)
    own = ground.areas.get(step.placed)
    if len(step.parts) == 1 and own is not None and not _fell(plan, step.placed, ground.gone):
        _word(labels, "keep", own, (own,), 1.05 * u, ink.text, "name", own)


def _fell(plan: Plan, placed: int, gone: BaseGeometry) -> bool:
    """True when the part is no longer there."""
    areas = scene.part_areas(plan, plan.layout.placed[placed].plate)
    at = scene.once(plan, "on part", placed, lambda: shapely.point_on_surface(areas[placed]))
    return bool(shapely.intersects(gone, at))


def _word(
    labels: Labels,
    text: str,
    area: BaseGeometry,
    rooms: tuple[BaseGeometry, ...],
    size: float,
    colour: str,
    kind: str,
    ground: BaseGeometry,
) -> None:
    """Write a word that must be there: on its ground where there is room, else beside it with a leader from inside."""
    for room in rooms:
        spot = labels.room(room, text, size)
        if spot is not None and labels.fixed(text, spot, size, colour, kind, bold=True):
            return
    home = labels.depth(area)
    if home is not None:
        labels.put(text, home, size, colour, kind, on=True, bold=True, ground=ground, reach=12)


__all__ = ["Ground", "step_labels"]
