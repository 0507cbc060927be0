"""Cuts across grating and expanded metal: where a line meets metal, how often the arc starts anew, where it runs best.

Glossary
--------
strips  : parallel bars without end, a spacing apart; the middle one runs through the origin
mesh    : two sets of strips; where they cross is a knuckle (the bond of expanded metal, bar and rod of bar grating)
offset  : how far a line lies from the origin, to the left of its own way
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.trade.register import Limit, formula

WANDER_MM = 25.4 / 16
LONG_RUN = 2.5
SAME_SHARE, SAME_PILOT = 0.05, 0.1  # what is not worth moving a line for: of the starts, of the time
_PARALLEL = 1e-9


@dataclass(frozen=True, slots=True)
class Strips:
    """Parallel strips: direction [deg], from middle to middle, width [mm]."""

    direction_deg: float
    spacing_mm: float
    width_mm: float


Mesh = tuple[Strips, Strips]


@formula(
    "grating.expanded",
    text="strands at +-atan(SWD/LWD), SWD cos(atan(SWD/LWD)) apart",
    gives="expanded metal as two sets of strips",
    source="geometry of diamonds, bond to bond (derived); strands taken as straight",
    limits=(
        Limit("swd_mm", 3, 150, "mm"),
        Limit("lwd_mm", 6, 400, "mm"),
        Limit("strand_mm", 0.5, 20, "mm", "less than half the short way, else nothing is open"),
    ),
)
def expanded(swd_mm: float, lwd_mm: float, strand_mm: float) -> Mesh:
    """Mesh of expanded metal: short and long way of the diamond, bond to bond, and strand width [mm].

    The long way lies along 0 deg, a bond at the origin.
    """
    lean = math.atan2(swd_mm, lwd_mm)
    apart = swd_mm * math.cos(lean)
    return Strips(math.degrees(lean), apart, strand_mm), Strips(-math.degrees(lean), apart, strand_mm)


def bar_grating(pitch_mm: float, bar_mm: float, cross_mm: float, rod_mm: float) -> Mesh:
    """Mesh of bar grating: bearing bars along 0 deg, cross rods square to them; pitches and widths [mm]."""
    return Strips(0.0, pitch_mm, bar_mm), Strips(90.0, cross_mm, rod_mm)


@formula(
    "grating.metal-share",
    text="1 - (1 - w1/p1) (1 - w2/p2)",
    gives="share of a mesh that is metal [-]",
    source="two sets of strips that cross (derived)",
    limits=(Limit("width_over_spacing", 0, 1, "-"),),
)
def metal_share(mesh: Mesh) -> float:
    """Share of a mesh's face that is metal; over all offsets the mean share of a line that lies on metal. [-]"""
    a, b = (s.width_mm / s.spacing_mm for s in mesh)
    return 1 - (1 - a) * (1 - b)


@dataclass(frozen=True, slots=True)
class Piece:
    """Metal on a line, from and to [mm]; ``knuckle`` when both sets of strips are in it."""

    start_mm: float
    end_mm: float
    knuckle: bool

    @property
    def long_mm(self) -> float:
        return self.end_mm - self.start_mm


def _on(s: Strips, angle_deg: float, offset_mm: float, length_mm: float) -> list[tuple[float, float]]:
    """Where a line meets one set of strips, from and to."""
    turn = math.radians(angle_deg - s.direction_deg)
    across, along, half = offset_mm * math.cos(turn), math.sin(turn), s.width_mm / 2
    if abs(along) < _PARALLEL:
        off = across - s.spacing_mm * round(across / s.spacing_mm)
        return [(0.0, length_mm)] if abs(off) <= half else []
    ends = sorted((across / s.spacing_mm, (across + length_mm * along) / s.spacing_mm))
    out = []
    for k in range(math.floor(ends[0] - 1), math.ceil(ends[1] + 1) + 1):
        middle, reach = (k * s.spacing_mm - across) / along, half / abs(along)
        a, b = max(0.0, middle - reach), min(length_mm, middle + reach)
        if b > a:
            out.append((a, b))
    return out


@formula(
    "grating.crossings",
    text="a set of strips is met |sin(line - strips)|/spacing times a length; pieces that touch are one",
    gives="pieces of metal on a line",
    source="geometry (derived)",
    limits=(Limit("length_mm", 1, 100000, "mm"),),
)
def crossings(mesh: Mesh, angle_deg: float, offset_mm: float, length_mm: float) -> tuple[Piece, ...]:
    """Pieces of metal on a line, in its order: mesh, line's angle [deg], offset and length [mm]."""
    marked = sorted((a, b, n) for n, s in enumerate(mesh) for a, b in _on(s, angle_deg, offset_mm, length_mm))
    out: list[tuple[float, float, set[int]]] = []
    for a, b, n in marked:
        if out and a <= out[-1][1] + 1e-9:
            first, last, sets = out[-1]
            out[-1] = (first, max(last, b), sets | {n})
        else:
            out.append((a, b, {n}))
    return tuple(Piece(a, b, len(sets) == 2) for a, b, sets in out)


@dataclass(frozen=True, slots=True)
class Line:
    """What a line at one offset has to cut. ``shift_mm`` is from where it was marked, to the left of its way;
    ``in_bar_mm`` is its longest run in one strip of the mesh's first set, the bearing bars of bar grating."""

    shift_mm: float
    starts: int
    knuckles: int
    metal_mm: float
    longest_mm: float
    in_bar_mm: float = 0.0


def line_at(
    mesh: Mesh, angle_deg: float, offset_mm: float, length_mm: float, shift_mm: float = 0.0, *, one_by_one: bool = False
) -> Line:
    """Return what a line shifted from its offset has to cut.

    ``one_by_one``: the arc cuts every bar of the first set by itself, from its side, so that along a rod each bar and
    each stretch of rod between bars is a start.
    """
    pieces = crossings(mesh, angle_deg, offset_mm + shift_mm, length_mm)
    bars = _on(mesh[0], angle_deg, offset_mm + shift_mm, length_mm)
    starts = len(pieces)
    if one_by_one:
        starts = sum(_starts_in(p, bars, LONG_RUN * usual_run(mesh, angle_deg)) for p in pieces)
    return Line(
        shift_mm,
        starts,
        sum(p.knuckle for p in pieces),
        math.fsum(p.long_mm for p in pieces),
        max((p.long_mm for p in pieces), default=0.0),
        max((b - a for a, b in bars), default=0.0),
    )


def _starts_in(piece: Piece, bars: list[tuple[float, float]], long_run_mm: float) -> int:
    """Starts in a piece of metal cut bar by bar: one for each bar and one for each stretch of rod beside it."""
    if piece.long_mm <= long_run_mm:
        return 1
    starts, at = 0, piece.start_mm
    for a, b in sorted(x for x in bars if x[1] > piece.start_mm and x[0] < piece.end_mm):
        starts += 1 + (a > at + 1e-9)
        at = b
    return starts + (at < piece.end_mm - 1e-9)


def usual_run(mesh: Mesh, angle_deg: float) -> float:
    """Length of metal where the line crosses the strips it meets most squarely. [mm]"""
    slants = [(abs(math.sin(math.radians(angle_deg - s.direction_deg))), s.width_mm) for s in mesh]
    along, width = max(slants)
    return width / along


@formula(
    "grating.best-shift",
    text="of even steps over one repeat, each with 1/16 in of wander: no bearing bar halved along its length, then "
    "fewest starts, then the least time in pilot; where one start in twenty or a tenth of the time is all that is "
    "gained, the least shift",
    gives="shift of the line [mm]",
    source="search over shifts (derived); wander of a guided line 1/32 to 1/16 in: common practice, no source",
    limits=(Limit("length_mm", 1, 100000, "mm"),),
)
def shifts(
    mesh: Mesh, angle_deg: float, offset_mm: float, length_mm: float, repeat_mm: float, step_mm: float,
    *, one_by_one: bool = False, bearing: bool = False,
) -> tuple[tuple[Line, ...], Line]:  # fmt: skip
    """Return lines at even shifts over a repeat [mm], and the one that costs least; staying wins where little is
    gained.

    ``bearing``: strips of the first set carry, a line along one is taken only where every other does the same.
    ``one_by_one`` as for :func:`line_at`.
    """
    long_run = LONG_RUN * usual_run(mesh, angle_deg)
    wander = min(WANDER_MM, repeat_mm / 16)
    reach = max(1, math.ceil(repeat_mm / 2 / step_mm - 1e-9))

    def at(shift_mm: float) -> Line:
        return line_at(mesh, angle_deg, offset_mm, length_mm, shift_mm, one_by_one=one_by_one)

    tried = [at(step_mm * i) for i in range(-reach, reach + 1)]
    cost: dict[Line, tuple[bool, int]] = {}
    for line in tried:
        near = (line, at(line.shift_mm - wander), at(line.shift_mm + wander))
        cost[line] = (bearing and max(x.in_bar_mm for x in near) > long_run, max(x.starts for x in near))
    halved, starts = min(cost.values())
    alike = [x for x in tried if cost[x][0] == halved and cost[x][1] <= starts + max(1, SAME_SHARE * starts)]
    if not one_by_one:  # bar by bar the pilot burns at starts alone
        most = max(x.metal_mm for x in alike)
        alike = [x for x in alike if x.metal_mm >= most - SAME_PILOT * length_mm]
    return tuple(tried), min(alike, key=lambda x: (abs(x.shift_mm), -x.shift_mm))


def even_step(repeat_mm: float, unit_mm: float, most: int = 24) -> float:
    """Return a step that a rule shows, the unit times a power of two; a repeat takes over half of ``most``. [mm]"""
    return unit_mm * 2.0 ** math.ceil(math.log2(repeat_mm / most / unit_mm) - 1e-9)
