"""Where the guide goes: straightedge with its clamps, circle arm with its pivot, template with its edge.

With R the cup's radius at guide height and k the kerf, the cup's edge rubs R - k/2 from the finished line on the kept
side and R + k/2 on the drop side; an arm is set to the radius of the kerf's centre; a template is the part inset by
R - k/2 (the hole outset by R - k/2).
"""

from __future__ import annotations

import math

from shapely.geometry import LineString, Polygon

from lagline.planning.ground import Station
from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Arc, Free, Line, Loop, Point, Segment, chain_points
from lagline.records.plan import ArmGuide, Guide, Method, StraightGuide, TemplateGuide
from lagline.shapes.along import from_polar
from lagline.shapes.offset import parallel, shift
from lagline.trade import guide as trade

OVERHANG_MM = 40.0  # guide beyond each end of the line, so that the cup is led on and off it
RUN_OFF_MM = 20.0  # template carried on straight beyond each end of an open edge
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
            return _straight(only, station)
        case Method.ARM:
            arc = next(s for s in path if isinstance(s, Arc))
            rim = line[0]
            assert isinstance(rim, Arc)
            return _arm(rim, arc, station)
        case Method.TEMPLATE:
            return _template(line, name, station, closed)
        case _:
            return None


def offset_figure(side: str, station: Station) -> Figure:
    """Distance from the finished cut line to the guide's near edge, on the "kept" or "drop" side [mm]."""
    cup, kerf = station.setting.cup_radius_mm, station.setting.kerf_mm
    rule, low, high = (
        (trade.kept_side, kerf.high, kerf.low) if side == "kept" else (trade.drop_side, kerf.low, kerf.high)
    )
    return Figure(
        rule(cup.value, kerf.value),
        rule(cup.low, low),
        rule(cup.high, high),
        "mm",
        f"guide.{side}-side",
        _weaker(cup.basis, kerf.basis),
        trade.SOURCE,
        (("cup_radius_mm", f"{cup.value:.2f}"), ("kerf_mm", f"{kerf.value:.2f}")),
    )


def _weaker(*bases: Basis) -> Basis:
    return Basis.DEFAULT if Basis.DEFAULT in bases else bases[0]


def _bar(line: Line, side: str, offset: float, length: float, station: Station) -> tuple[Line, Polygon]:
    """Near edge and outline of a bar of that length, centred on the line, at that distance on that side."""
    waste = station.side if side == "drop" else -station.side  # shift is positive to the right of travel
    h = line.heading_start
    mid = from_polar(line.start, h, line.length / 2)
    normal = h - math.pi / 2 * waste
    near = Line(
        from_polar(from_polar(mid, h, -length / 2), normal, offset),
        from_polar(from_polar(mid, h, length / 2), normal, offset),
    )
    width = station.kit.guides.width_mm
    far = (from_polar(near.end, normal, width), from_polar(near.start, normal, width))
    return near, Polygon((near.start, near.end, *far))


def _straight(line: Line, station: Station) -> StraightGuide:
    guides = station.kit.guides
    want = line.length + 2 * OVERHANG_MM
    length = next((s for s in guides.straightedges_mm if s >= want), guides.straightedges_mm[-1])
    shifts = max(0, math.ceil((line.length - 1e-6) / max(length - 2 * OVERHANG_MM, 1.0)) - 1)
    drawn = max(want, length) if not shifts else want
    best: tuple[tuple[float, ...], StraightGuide] | None = None
    for side in ("kept", "drop"):
        offset = offset_figure(side, station)
        near, bar = _bar(line, side, offset.value, drawn, station)
        on_metal = bar.intersection(station.ground.plate).area / bar.area
        clamps, hold = _clamps(near, bar, station)
        rank = (float(hold != "no hold"), float(on_metal >= ON_METAL), float(side == guides.prefer), on_metal)
        corners = [(float(x), float(y)) for x, y in bar.exterior.coords[:4]]
        guide = StraightGuide(
            side,
            offset,
            (near.start, near.end),
            (corners[0], corners[1], corners[2], corners[3]),
            clamps,
            hold,
            shifts,
        )
        if best is None or rank > best[0]:
            best = (rank, guide)
    assert best is not None
    return best[1]


def _clamps(near: Line, bar: Polygon, station: Station) -> tuple[tuple[Point, ...], str]:
    """The two points, as far apart as they can be, where the bar is held down, and how."""
    guides, ground = station.kit.guides, station.ground
    h = near.heading_start
    middle = from_polar(near.start, h, near.length / 2)
    centre = bar.centroid
    across = math.atan2(centre.y - middle[1], centre.x - middle[0])
    magnet = guides.hold == "magnet" and station.setting.stock.metal == "steel"
    spots = []
    n = max(9, int(near.length // 25))
    for i in range(n + 1):
        p = from_polar(from_polar(near.start, h, near.length * i / n), across, guides.width_mm / 2)
        if magnet:
            held = ground.on_metal(p, 10.0)
        else:
            held = ground.on_metal(p, 0.0) and ground.to_rim(p) <= guides.clamp_reach_mm
        if held:
            spots.append(p)
    if len(spots) < 2 or math.dist(spots[0], spots[-1]) < near.length / 4:
        return tuple(spots[:1]), "no hold"
    return (spots[0], spots[-1]), "magnet" if magnet else "clamp"


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
    return ArmGuide(rim.centre, arm, to_cup, not station.ground.on_part(station.index, rim.centre))


def _template(line: tuple[Segment, ...], name: str, station: Station, closed: bool) -> TemplateGuide | None:
    inset = offset_figure("kept", station)
    ident = f"{station.blank.part.name}: {name}"
    rub = "inside" if _is_hole(line, station) else "outside"
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


def _is_hole(line: tuple[Segment, ...], station: Station) -> bool:
    """Does this cut line belong to a hole of the part (its middle point lies on an inner ring)?"""
    middle = LineString(chain_points(line, 0.05)).interpolate(0.5, normalized=True)
    part = station.ground.outlines[station.index]
    return bool(part.exterior.distance(middle) > 0.5)
