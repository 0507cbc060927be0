"""A line over a mesh, checked: as marked, shifted, and how the torch is held for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding
from lagline.records.plan import Setting
from lagline.records.setout import exact
from lagline.setouts.ask import Faults, Given
from lagline.trade import grating
from lagline.trade.grating import Line, Mesh

KIND = "grating line"
HABIT = "common practice, no source"
_EXPANDED = ("swd", "lwd", "strand")
_BARS = ("pitch", "bar")


@dataclass(frozen=True, slots=True)
class Cut:
    """One line over one mesh; lengths mm, angle from the long way or the bearing bars."""

    kind: str
    mesh: Mesh
    angle_deg: float
    offset_mm: float
    length_mm: float
    side: bool  # torch against the bars' side, bar by bar
    through: Figure  # thickness the arc goes through
    setting: Setting
    found: tuple[Finding, ...]
    now: Line
    best: Line
    tried: tuple[Line, ...]

    def lengthwise(self, x: Line) -> bool:
        """Whether a line runs along a bearing bar, so that it halves it."""
        long_run = grating.LONG_RUN * grating.usual_run(self.mesh, self.angle_deg)
        return self.kind == "bar" and x.in_bar_mm > long_run


def _wanted(given: Given, names: tuple[str, ...], others: tuple[str, ...], faults: Faults) -> None:
    kind = given.word("kind")
    for name in names:
        faults.unless(
            given.get(name) is not None, name, f"{kind} needs it", "measure it on the sheet", "setout-missing"
        )
    for name in others:
        faults.unless(given.get(name) is None, name, f"does not belong to {kind}", "leave it out, or the other kind")


def _mesh(given: Given, faults: Faults) -> tuple[Mesh, float, float]:
    """Return the mesh and how far apart its knuckles are along and across 0 deg [mm]."""
    show = given.show
    if given.word("kind") == "expanded":
        _wanted(given, _EXPANDED, _BARS, faults)
        faults.raise_if_any()
        swd, lwd, strand = (given[n] for n in _EXPANDED)
        faults.unless(
            lwd > swd, "lwd", f"the long way {show(lwd)} is not longer than the short way {show(swd)}", "swap them"
        )
        faults.unless(
            2 * strand < swd, "strand", f"strands {show(strand)} wide leave no hole in a short way of {show(swd)}",
            f"strand under {show(swd / 2)}, or a short way over {show(2 * strand)}", "grating-closed",
        )  # fmt: skip
        faults.raise_if_any()
        return grating.expanded(swd, lwd, strand), lwd, swd
    _wanted(given, _BARS, _EXPANDED, faults)
    faults.raise_if_any()
    pitch, bar, cross, rod = (given[n] for n in ("pitch", "bar", "cross_pitch", "rod"))
    for wide, apart, name in ((bar, pitch, "pitch"), (rod, cross, "cross_pitch")):
        faults.unless(
            wide < apart, name, f"{show(apart)} from middle to middle is no wider than the {show(wide)} bar itself",
            f"over {show(wide)}", "grating-closed",
        )  # fmt: skip
    faults.raise_if_any()
    return grating.bar_grating(pitch, bar, cross, rod), cross, pitch


def _strand(given: Given) -> Figure:
    """Return the thickness of a strand that the arc has to go through."""
    t = given["thickness"]
    if given.word("form") == "flattened":
        return exact(t, "mm", "given", "as typed")
    tilted = math.hypot(t, given["strand"])
    source = "a raised strand stands tilted: between its thickness and its diagonal (geometry)"
    return Figure(tilted, t, tilted, "mm", "grating.expanded", Basis.DRAWING, source)


def _torch(given: Given, angle_deg: float) -> tuple[bool, Figure, Setting, tuple[Finding, ...]]:
    """Return whether the torch works from the bars' side, what it goes through, and how it cuts that.

    Left to lagline, a bar is cut from above where this set cuts its depth at a pace a hand holds.
    """
    assert given.bench is not None
    bench = given.bench
    if given.word("kind") == "expanded":
        strand = _strand(given)
        return False, strand, *bench.setting(thickness_mm=strand.value)
    depth, way, square = given["thickness"], given.word("way"), math.sin(math.radians(angle_deg))
    if square < 1e-9:
        rod = exact(given["rod"], "mm", "given", "the line runs between bars: cross rods only")
        return False, rod, *bench.setting(thickness_mm=given["rod"])
    slant = given["bar"] / square
    above = bench.setting(thickness_mm=depth)
    fit = above[0].edge_ok and above[0].pace_mm_s.value >= bench.kit.operator.pace_low_mm_s
    if way == "above" or (way == "either" and (fit or slant >= depth)):
        return False, exact(depth, "mm", "given", "depth of the bar, from above"), *above
    through = exact(slant, "mm", "grating.crossings", "across the bar along the line (geometry)")
    return True, through, *bench.setting(thickness_mm=slant)


def plan(given: Given) -> Cut:
    """Return the line, as marked and shifted. Errors: LaglineError with what would work instead."""
    faults = Faults(KIND)
    mesh, along, across = _mesh(given, faults)
    lean, offset, run = given["angle"], given["offset"], given["length"]
    turn = math.radians(lean)
    repeat = across * abs(math.cos(turn)) + along * abs(math.sin(turn))
    step = grating.even_step(repeat, 25.4 / 16 if given.units == "in" else 1.0)
    bar = given.word("kind") == "bar"
    side, through, setting, found = _torch(given, lean)
    tried, best = grating.shifts(mesh, lean, offset, run, repeat, step, one_by_one=side, bearing=bar)
    now = grating.line_at(mesh, lean, offset, run, one_by_one=side)
    return Cut(given.word("kind"), mesh, lean, offset, run, side, through, setting, found, now, best, tried)


def times(c: Cut, x: Line, given: Given) -> tuple[float, float]:
    """Return seconds with the arc on, and of those in metal: along the whole line, or bar by bar from the side."""
    assert given.bench is not None
    v = c.setting.pace_mm_s.value
    if not c.side:
        return c.length_mm / v, x.metal_mm / v
    lengthwise = max(0.0, x.metal_mm - x.starts * c.through.value)
    metal = (x.starts * given["thickness"] + lengthwise) / v
    return metal + x.starts * given.bench.kit.bench.start_s.value, metal
