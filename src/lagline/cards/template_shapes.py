"""Which templates a plan needs: one sheet for each shape of edge, and the sheet each set-up takes."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from shapely.geometry import LineString

from lagline.cards import scene
from lagline.records.geometry import Point
from lagline.records.plan import Plan, Step, TemplateGuide
from lagline.shapes.region import chain_line

SAME_MM = 0.02  # edges nearer than this in every size are one template


@dataclass(frozen=True, slots=True)
class Template:
    """One template to make: its edge with the lower left at (0, 0) [mm], the set-ups that use it, and its name: the
    guide's id, with a letter where one id has several shapes."""

    guide: TemplateGuide
    edge: tuple[Point, ...]
    steps: tuple[Step, ...]
    turned: bool = False
    name: str = ""

    @property
    def size(self) -> tuple[float, float]:
        """Width and height [mm]."""
        return max(p[0] for p in self.edge), max(p[1] for p in self.edge)


@dataclass(frozen=True, slots=True)
class _Shape:
    """What two edges must share to be one template, whichever way they are turned or turned over."""

    rub: str
    closed: bool
    sizes: tuple[float, ...]  # lengths [mm]
    area_mm2: float

    def same(self, other: _Shape) -> bool:
        if (self.rub, self.closed) != (other.rub, other.closed):
            return False
        near = all(abs(a - b) <= SAME_MM for a, b in zip(self.sizes, other.sizes, strict=True))
        return near and abs(self.area_mm2 - other.area_mm2) <= SAME_MM * self.sizes[0]


def _shape(step: Step, guide: TemplateGuide) -> _Shape:
    ring = (*guide.edge, guide.edge[0])
    length = sum(math.dist(a, b) for a, b in itertools.pairwise(ring if guide.closed else guide.edge))
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(ring))
    # turned over, an open edge changes both its hand and the cup's side
    area = abs(twice) / 2 if guide.closed else twice / 2 * cup_side(guide, step)
    ends = 0.0 if guide.closed else math.dist(guide.edge[0], guide.edge[-1])
    return _Shape(guide.rub, guide.closed, (length, ends, guide.inset_mm.value), area)


def templates(plan: Plan) -> tuple[Template, ...]:
    """Return every distinct template in order of first use: one for each id and shape."""
    return scene.once(plan, "templates", None, lambda: _templates(plan))


def _templates(plan: Plan) -> tuple[Template, ...]:
    found: dict[str, list[tuple[_Shape, TemplateGuide, list[Step]]]] = {}
    for s in plan.steps:
        if isinstance(s.guide, TemplateGuide):
            shape, shapes = _shape(s, s.guide), found.setdefault(s.guide.id, [])
            for known, _, steps in shapes:
                if known.same(shape):
                    steps.append(s)
                    break
            else:
                shapes.append((shape, s.guide, [s]))
    out = []
    for ident, shapes in found.items():
        for i, (_, guide, steps) in enumerate(shapes):
            points = guide.edge
            if guide.closed and math.dist(points[0], points[-1]) > 1e-6:
                points = (*points, points[0])
            x0, y0 = min(p[0] for p in points), min(p[1] for p in points)
            edge = tuple((x - x0, y - y0) for x, y in points)
            name = ident if len(shapes) == 1 else f"{ident}, {_letter(i)}"
            out.append(Template(guide, edge, tuple(steps), name=name))
    return tuple(out)


def _letter(i: int) -> str:
    return (_letter(i // 26 - 1) if i >= 26 else "") + chr(ord("A") + i % 26)


def template_of(plan: Plan, step: Step) -> Template | None:
    """Return the template a set-up uses, None when it uses none."""

    def make() -> dict[int, Template]:
        return {s.number: t for t in templates(plan) for s in t.steps}

    return scene.once(plan, "template of", None, make).get(step.number)


def cup_side(guide: TemplateGuide, step: Step) -> int:
    """Return on which side of the edge, along its points, the cup rubs: 1 for the left, -1 for the right."""
    if guide.closed:
        ring = (*guide.edge, guide.edge[0])
        left = sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(ring)) > 0
        return 1 if left == (guide.rub == "inside") else -1
    # an open edge: the torch runs on the cup's side
    edge = LineString(guide.edge)
    ahead = edge.interpolate(0.5, normalized=True)
    behind = edge.interpolate(max(0.0, edge.length / 2 - 1.0))
    path = chain_line(step.path, 0.1)
    torch = path.interpolate(path.project(ahead))
    cross = (ahead.x - behind.x) * (torch.y - behind.y) - (ahead.y - behind.y) * (torch.x - behind.x)
    return 1 if cross > 0 else -1
