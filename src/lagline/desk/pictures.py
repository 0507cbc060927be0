"""Pictures for the pages: drawn one at a time, kept, and the parts and set-ups of a plate made into links."""

from __future__ import annotations

import re
import threading
from collections import OrderedDict

from lagline.cards.draw import plate_svg, step_svg
from lagline.cards.draw_heat import heat_svg
from lagline.planning.heat import Frame, PlateHeat
from lagline.records.figure import Basis, Figure
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Layout, Plan, Timetable, Totals

MOST = 400
# the drawing code keeps the last plan's geometry in one place: two plans drawn at once would share it
_DRAWING = threading.RLock()
_drawn: OrderedDict[tuple[str, int], str] = OrderedDict()
_SMALL = re.compile(r"<text .*?</text>|<path class=\"ll-(?:patch|leader|travel|travel-head|tick|hatch)\".*?/>", re.S)
_PART = re.compile(r'<g class="ll-part" aria-label="([^"]*)">(.*?)</g>', re.S)
_ORDER = re.compile(r'<text class="ll-order"[^>]*>(\d+)[^<]*</text>')


def used_plates(plan: Plan) -> tuple[int, ...]:
    """Return the plates with parts on them; the first when nothing could be placed."""
    return tuple(sorted({p.plate for p in plan.layout.placed})) or (0,)


def draw_plate(plan: Plan, plate: int) -> str:
    """Return a plate on screen."""
    with _DRAWING:
        return plate_svg(plan, plate, paper=False)


def linked(svg: str, plan: Plan, plate: int, link: str) -> str:
    """Return a plate's picture with every part and order number a link to its first set-up; ``link`` goes before the
    number."""
    first: dict[int, int] = {}
    for s in plan.steps:
        for i in s.parts:
            first.setdefault(i, s.number)
    on_it = iter([i for i, p in enumerate(plan.layout.placed) if p.plate == plate])

    def part(m: re.Match[str]) -> str:
        i = next(on_it, -1)
        if i not in first:
            return m[0]
        return f'<a class="ll-part" href="{link}{first[i]}" aria-label="{m[1]}, set-up {first[i]}">{m[2]}</a>'

    svg = _PART.sub(part, svg)
    svg = _ORDER.sub(lambda m: f'<a class="ll-go" href="{link}{m[1]}" aria-label="set-up {m[1]}">{m[0]}</a>', svg)
    return svg.replace('role="img"', 'role="group"', 1)


def heat_picture(plan: Plan, heat: PlateHeat, frame: Frame | None = None) -> str:
    """Return a plate's highest temperatures on screen, or those of a moment."""
    with _DRAWING:
        return heat_svg(plan, heat, paper=False, frame=frame)


def small(svg: str) -> str:
    """Return a plate's picture without texts and hatching, for a card."""
    return _SMALL.sub("", svg)


def setup_picture(plan: Plan, fingerprint: str, number: int) -> str:
    """Return one set-up on screen; drawn once."""
    with _DRAWING:
        key = (fingerprint, number)
        if key not in _drawn:
            _drawn[key] = step_svg(plan, number, paper=False)
            while len(_drawn) > MOST:
                _drawn.popitem(last=False)
        _drawn.move_to_end(key)
        return _drawn[key]


def preview_pictures(job: Job, kit: Kit, blanks: tuple[Blank, ...], layout: Layout) -> dict[int, str]:
    """Return the plates as laid out, before a cut is set out."""
    none = Figure(0, 0, 0, "s", "none", Basis.DEFAULT, "not yet known")
    early = Plan(
        job, kit, blanks, (), layout, (), (), Timetable((), none, 0, 0, none, 0, ""), (), (),
        Totals(none, none, 0, 0, 0, 0, 0, 0), (), "",
    )  # fmt: skip
    return {i: draw_plate(early, i) for i in used_plates(early)}
