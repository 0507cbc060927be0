"""Chalking the lines: corners, centres and radii of every cut line, from the datum corner."""

from __future__ import annotations

import math
from string import ascii_uppercase

from lagline.cards import words
from lagline.records.geometry import Arc, Free, Line, Loop, Point
from lagline.records.plan import Method, Plan


def letter(n: int) -> str:
    """Return A to Z, then AA, AB and so on, for 0, 1, 2 ..."""
    return ascii_uppercase[n] if n < 26 else letter(n // 26 - 1) + ascii_uppercase[n % 26]


def place(p: Point, units: str) -> str:
    """Return a place as along and up from the datum, to 1/32 in or half a millimetre."""
    return f"{words.chalk(p[0], units)}, {words.chalk(p[1], units)}"


def loop_lines(loop: Loop, units: str, first: int) -> tuple[tuple[str, ...], int]:
    """Return a loop's corners with what joins each to the next, and the next free letter's number.

    A whole circle is its centre and radius; a free curve is said to come from its template.
    """
    only = loop.segments[0]
    if isinstance(only, Arc) and only.is_circle:
        return (f"circle {words.chalk(only.radius, units)} about {place(only.centre, units)}",), first
    out = []
    for n, s in enumerate(loop.segments):
        text = f"{letter(first + n)} {place(s.start, units)}"
        match s:
            case Line():
                pass
            case Arc():
                hollow = " hollow" if s.sweep < 0 else ""
                text += f", then{hollow} arc {words.chalk(s.radius, units)} about {place(s.centre, units)}"
            case Free():
                text += ", then by template"
        out.append(text)
    return tuple(out), first + len(loop.segments)


def mark_out(plan: Plan, plate: int) -> list[list[object]]:
    """Return for every part on a plate its name and its lines; drilled holes are left to the drill table."""
    drilled = {
        (round(c.centre[0], 2), round(c.centre[1], 2))
        for s in plan.steps
        if s.plate == plate and s.method is Method.DRILL
        for c in s.line
        if isinstance(c, Arc)
    }
    out: list[list[object]] = []
    for p in plan.layout.placed:
        if p.plate != plate:
            continue
        lines: list[str] = []
        n = 0
        for loop in p.move.outline(plan.blanks[p.part].cut).loops:
            only = loop.segments[0]
            if isinstance(only, Arc) and len(loop.segments) == 1:
                at = (round(only.centre[0], 2), round(only.centre[1], 2))
                if at in drilled and math.isclose(abs(only.sweep), 2 * math.pi, abs_tol=1e-6):
                    continue
            told, n = loop_lines(loop, plan.job.units, n)
            lines.extend(told)
        out.append([p.name(plan.blanks), lines])
    return out
