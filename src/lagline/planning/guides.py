"""Where the guide goes: straightedge with its clamps, circle arm with its pivot, template with its edge.

With R the cup's radius at guide height and k the kerf, the cup's edge rubs R - k/2 from the finished line on the kept
side and R + k/2 on the drop side; an arm is set to the radius of the kerf's centre; a template is the part inset by
R - k/2 (the hole outset by R - k/2).
"""

from __future__ import annotations

import math

import numpy as np

from lagline.planning.ground import Metal, Station
from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Arc, Free, Line, Loop, Point, Segment, chain_points
from lagline.records.kit import Guides, Kit
from lagline.records.plan import ArmGuide, Guide, Method, Setting, StraightGuide, TemplateGuide
from lagline.shapes.along import from_polar
from lagline.shapes.offset import parallel, shift
from lagline.trade import guide as trade

OVERHANG_MM = 40.0  # guide beyond each end of the line, so that the cup is led on and off it
RUN_OFF_MM = 20.0  # template carried on straight beyond each end of an open edge
MAGNET_MM = 10.0  # metal a magnet wants around its middle; common practice, no source
ON_METAL = 0.6  # share of a bar that must lie on metal to count as laid there


def guide_for(
    method: Method,
    line: tuple[Segment, ...],
    path: tuple[Segment, ...],
    name: str,
    station: Station,
    closed: bool = False,
) -> Guide:
    """Return the guide of one pass, None for a free hand or a template that closes up.

    Parameters
    ----------
    method : what leads the torch
    line, path : cut line and kerf centre, in travel order [mm, plate]
    name : the pass's name, part of a template's id
    station : the part at the bench
    closed : the pass goes all round
    """
    match method:
        case Method.STRAIGHTEDGE:
            only = line[0]
            assert isinstance(only, Line)
            return straight_guide(only, station.setting, station.kit, station.side, station.ground.metal)
        case Method.ARM:
            arc = next(s for s in path if isinstance(s, Arc))
            rim = line[0]
            assert isinstance(rim, Arc)
            return _arm(rim, arc, station)
        case Method.TEMPLATE:
            return _template(line, name, station, closed)
        case _:
            return None


def _weaker(*bases: Basis) -> Basis:
    return Basis.DEFAULT if Basis.DEFAULT in bases else bases[0]


def straight_guide(line: Line, setting: Setting, kit: Kit, waste_side: int, metal: Metal) -> StraightGuide:
    """Return the straightedge for a line on the metal there is, on the side that holds it best.

    Parameters
    ----------
    waste_side : 1 when the waste lies right of travel, -1 when left
    metal : what is left of the plate when this is cut
    """
    guides = kit.guides
    want = line.length + 2 * OVERHANG_MM
    length = next((s for s in guides.straightedges_mm if s >= want), guides.straightedges_mm[-1])
    shifts = max(0, math.ceil((line.length - 1e-6) / max(length - 2 * OVERHANG_MM, 1.0)) - 1)
    drawn = max(want, length) if not shifts else want
    magnet = guides.hold == "magnet" and setting.stock.metal == "steel"
    best: tuple[tuple[float, ...], StraightGuide] | None = None
    for side in ("kept", "drop"):
        offset = setting.offset_mm(side)
        across = line.heading_start - math.pi / 2 * (waste_side if side == "drop" else -waste_side)
        near = _near_edge(line, across, offset.value, drawn)
        clamps, hold, on_metal = _holds(near, across, guides, magnet, metal)
        rank = (float(hold != "no hold"), float(on_metal >= ON_METAL), float(side == guides.prefer), on_metal)
        far = from_polar(near.end, across, guides.width_mm), from_polar(near.start, across, guides.width_mm)
        ends = (near.start, near.end)
        guide = StraightGuide(side, offset, ends, (*ends, *far), clamps, hold, shifts)
        if best is None or rank > best[0]:
            best = (rank, guide)
    assert best is not None
    return best[1]


def _near_edge(line: Line, across: float, offset: float, length: float) -> Line:
    """The bar's edge that the cup rubs: that long, centred on the line, at that distance."""
    h = line.heading_start
    middle = from_polar(from_polar(line.start, h, line.length / 2), across, offset)
    return Line(from_polar(middle, h, -length / 2), from_polar(middle, h, length / 2))


def _holds(
    near: Line, across: float, guides: Guides, magnet: bool, metal: Metal
) -> tuple[tuple[Point, ...], str, float]:
    """The two points, as far apart as they can be, where the bar is held down; how; its share on metal."""
    n = max(9, int(near.length // 25))
    spine = from_polar(near.start, across, guides.width_mm / 2)
    spots = np.array([from_polar(spine, near.heading_start, near.length * i / n) for i in range(n + 1)])
    under = metal.under(spots)
    held = metal.under(spots, MAGNET_MM) if magnet else under & (metal.to_rim(spots) <= guides.clamp_reach_mm)
    found = [(float(x), float(y)) for x, y in spots[held]]
    if len(found) < 2 or math.dist(found[0], found[-1]) < near.length / 4:
        return tuple(found[:1]), "no hold", float(under.mean())
    return (found[0], found[-1]), "magnet" if magnet else "clamp", float(under.mean())


def _arm(rim: Arc, path: Arc, station: Station) -> ArmGuide:
    kerf, cup = station.setting.kerf_mm, station.setting.cup_radius_mm
    disc = path.radius > rim.radius  # else the waste lies inside the arc
    low, value, high = sorted(trade.arm(rim.radius, k, disc=disc) for k in (kerf.low, kerf.value, kerf.high))
    inputs = (("radius_mm", f"{rim.radius:.2f}"), ("kerf_mm", f"{kerf.value:.2f}"))
    arm = Figure(value, low, high, "mm", "guide.arm", kerf.basis, trade.SOURCE, inputs)
    to_cup = Figure(
        trade.arm_to_cup(value, cup.value),
        trade.arm_to_cup(low, cup.high),
        trade.arm_to_cup(high, cup.low),
        "mm",
        "guide.arm-to-cup",
        _weaker(cup.basis, kerf.basis),
        trade.SOURCE,
        (*inputs, ("cup_radius_mm", f"{cup.value:.2f}")),
    )
    in_drop = not station.ground.on_part(station.index, rim.centre)
    return ArmGuide(rim.centre, arm, to_cup, in_drop, "drop" if in_drop else "part")


def _template(line: tuple[Segment, ...], name: str, station: Station, closed: bool) -> TemplateGuide | None:
    inset = station.setting.offset_mm("kept")
    hole = station.label != "outline"
    rub = "inside" if hole else "outside"
    # closed templates of holes just alike are one; an open edge belongs to its own place
    where = (station.twin or station.label) if closed else f"{station.label}, {name}"
    ident = f"{station.blank.part.name}: {where}"
    amount = -station.side * inset.value
    if closed:
        loop = Loop(line, tuple(f"s{i}" for i in range(len(line))))
        try:
            chains = parallel(loop, (amount,) * len(line))
        except ValueError:
            return None
        edge = chain_points(tuple(s for c in chains for s in c), 0.005)
        return TemplateGuide(ident, inset, (*edge, edge[0]), True, rub)
    moved = _open_edge(line, amount)
    return None if moved is None else TemplateGuide(ident, inset, moved, False, rub)


def _open_edge(line: tuple[Segment, ...], amount: float) -> tuple[Point, ...] | None:
    chain = Free(chain_points(line, 0.005))
    moved = shift(chain, amount)
    if moved is None:
        return None
    pts = moved.points()
    before = from_polar(pts[0], chain.heading_start, -RUN_OFF_MM)
    after = from_polar(pts[-1], chain.heading_end, RUN_OFF_MM)
    return (before, *pts, after)
