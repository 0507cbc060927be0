"""The groove drawn: its section with the passes, the side with ramps and torch; and the card that gauges it."""

from __future__ import annotations

import itertools
import math

from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.setouts.gouge_plan import Groove
from lagline.shapes.groove import Profile

WIDE = 100.0
TOO_DEEP_MM = 25.4 / 16
SHOULDER_MM = 22.0
BODY_MM = 46.0
_NUMBERED = 24
NUMBER_ROOM = 5.5  # two numbers of two figures side by side


def _section(g: Groove, given: Given) -> Drawing:
    """The section, its face at y 0, scaled to half the field; layers dashed, passes ticked off and numbered."""
    w, d = g.profile.width(g.depth_mm), g.depth_mm
    f = min(0.52 * WIDE / w, 34.0 / d)
    final = [(x * f, y * f) for x, y in g.profile.points(d)]
    half = WIDE / 2
    areas: list[Area] = []
    strokes: list[Stroke] = []
    if g.leg_mm:
        s, reach = math.sqrt(0.5), 0.62 * WIDE
        corner = (0.0, -g.leg_mm * s * f)
        out = [(sign * reach * s, corner[1] + reach * s) for sign in (-1, 1)]
        back = [(x + sign * 7, y - 7) for sign, (x, y) in zip((-1, 1), out, strict=True)]
        areas.append(Area("metal", (corner, out[0], back[0], (0.0, corner[1] - 14), back[1], out[1])))
        areas.append(Area("weld", ((-w * f / 2, 0.0), corner, (w * f / 2, 0.0))))
    else:
        bottom = -max(d * f + 5, min(g.thickness_mm * f, d * f + 22))
        areas.append(Area("metal", ((-half, bottom), (half, bottom), (half, 0), *reversed(final), (-half, 0))))
    areas.append(Area("waste", tuple(final)))
    layers = sorted({r.layer: r for r in g.runs}.items())
    for _, r in layers[:-1]:
        strokes.append(Stroke("hidden", _level(g.profile, r.depth_mm, f)))
    strokes.append(Stroke("cut", tuple(final)))
    texts = []
    for n, r in enumerate(g.runs, 1):
        x = r.offset_mm * f
        y = (_floor(g.profile, r.depth_mm, r.offset_mm) + r.deeper_mm / 2) * f
        texts.append(Text((x, y), str(n), size_mm=2.4))
    near = [math.dist(a.at, b.at) for a, b in itertools.combinations(texts, 2)]
    if len(texts) > _NUMBERED or min(near, default=WIDE) < NUMBER_ROOM:
        texts = []  # the dashed layers still show
    dims = [
        Dim((-w * f / 2, 0), (w * f / 2, 0), given.show(w), 7.0),
        Dim((half + 3, 0), (half + 3, -d * f), given.show(d), 0.0),
    ]
    return Drawing("section", tuple(areas), tuple(strokes), tuple(texts), tuple(dims))


def _floor(profile: Profile, depth_mm: float, x_mm: float) -> float:
    """Height of the groove's floor or flank at a distance from its middle, by its drawn line. [mm]"""
    points = profile.points(depth_mm, 48)
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if x0 <= x_mm <= x1 and x1 > x0:
            return y0 + (y1 - y0) * (x_mm - x0) / (x1 - x0)
    return -depth_mm


def _level(profile: Profile, depth_mm: float, f: float) -> tuple[Point, ...]:
    """The groove as it stands when it is so deep."""
    return tuple((x * f, y * f) for x, y in profile.points(depth_mm))


def _torch(at: Point, angle_deg: float, long: float) -> tuple[Stroke, ...]:
    """A torch whose tip is at a point, leaning back over what is already gouged, travel to the right."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))

    def p(along: float, across: float) -> Point:
        return (at[0] - along * c - across * s, at[1] + along * s - across * c)

    body = (p(1, 1.0), p(5, 2.6), p(long, 2.6), p(long, -2.6), p(5, -2.6), p(1, -1.0))
    return (Stroke("guide", body, True), Stroke("centre", (at, p(long + 4, 0))))


def _side(g: Groove, given: Given, top: float) -> Drawing:
    """The side: ramps, depth and the torch, not to scale; the face at y ``top``."""
    half, deep, ramp = WIDE / 2, 11.0, 11.0 * min(g.slope, 2.4)
    left = -half + (6 if g.ramps else 0)
    right = half - (6 if g.ramps == 2 else 0)
    a = (left + (ramp if g.ramps else 0), top - deep)
    b = (right - (ramp if g.ramps == 2 else 0), top - deep)
    line: tuple[Point, ...] = ((left, top), a, b, (right, top))
    metal = ((-half, top - deep - 9), (half, top - deep - 9), (half, top), *reversed(line), (-half, top))
    strokes = [Stroke("cut", line), Stroke("hidden", ((-half, top), (half, top)))]
    strike, work = (left + 3.0, top - 1.0), (a[0] + 0.62 * (b[0] - a[0]), top - deep + 1.0)
    strokes += _torch(work, g.angle_deg, 26.0)
    strokes += _torch(strike, 45.0, 20.0)
    strokes += [
        Stroke("edge", ((work[0] + 11, top + 6), (work[0] + 23, top + 6))),
        Stroke("edge", ((work[0] + 20, top + 7.6), (work[0] + 23, top + 6), (work[0] + 20, top + 4.4))),
    ]
    texts = (
        Text((strike[0] - 1, top + 19.5), "strike 45°"),
        Text((work[0] - 22, top + 9.5), f"gouge {g.angle_deg:g}°"),
        Text((work[0] + 17, top + 10.5), "push this way"),
        Text(((a[0] + b[0]) / 2, top - deep - 4.8), f"full depth {given.show(g.full_mm)}"),
    )
    dims = []
    if g.ramps:
        dims.append(Dim((left, top - deep - 9), (a[0], top - deep - 9), given.show(g.ramp_mm), -6.0))
    if g.ramps == 2:
        dims.append(Dim((b[0], top - deep - 9), (right, top - deep - 9), given.show(g.ramp_mm), -6.0))
    return Drawing("side", (Area("metal", metal),), tuple(strokes), texts, tuple(dims))


def picture(g: Groove, given: Given) -> Drawing:
    """Return section above and side below."""
    section = _section(g, given)
    low = min(y for a in section.areas for _, y in a.points)
    side = _side(g, given, low - 36.0)
    return Drawing(
        "Section with the passes, and the side",
        (*section.areas, *side.areas),
        (*section.strokes, *side.strokes),
        (*section.texts, *side.texts),
        (*section.dims, *side.dims),
    )


def _corner_card(g: Groove, given: Given) -> Drawing:
    """Card for a fillet's corner: a right angle with the corner's radius, seats on both plates when enough is out."""
    r, side = g.profile.radius_mm, 70.0
    arc = [(r - r * math.cos(a), r - r * math.sin(a)) for a in (math.pi / 2 * i / 24 for i in range(25))]
    outline = (*arc, (side, 0.0), (side, 20.0), (20.0, side), (0.0, side))
    return Drawing(
        "Corner gauge",
        (Area("paper", outline),),
        (Stroke("cut", outline, True),),
        (Text((30, 12), "seats on both plates: enough is out", size_mm=2.2),
         Text((24, 30), f"corner R {given.show(r)}", size_mm=2.4)),
        (),
        (f"Corner gauge, fillet leg {given.show(g.leg_mm)}", "Cut out of card or sheet; square corner on the plates"),
    )  # fmt: skip


def sheets(g: Groove, given: Given) -> tuple[Drawing, ...]:
    """Return the gauge card at full scale: wanted depth on one edge, too deep on the other, ramp at one end."""
    if g.leg_mm:
        return (_corner_card(g, given),)
    d, too = g.depth_mm, g.depth_mm + TOO_DEEP_MM
    half = g.profile.width(too) / 2 + SHOULDER_MM
    below = g.profile.points(d, 24)
    # a finger with room at its sides: only the groove's bottom can stop it
    finger = Profile(0.6 * g.profile.radius_mm, 0.5 * g.profile.flank_deg, 0.6 * g.profile.flat_mm)
    above = [(-x, BODY_MM - y) for x, y in finger.points(too, 24)]
    lean = BODY_MM / g.slope if g.ramps else 0.0
    outline = ((-half, 0.0), *below, (half, 0.0), (half + lean, BODY_MM), *above, (-half, BODY_MM))
    texts = [
        Text((0, 7), f"DEEP ENOUGH  {given.show(d)}", size_mm=2.6),
        Text((0, BODY_MM - 7), f"TOO DEEP  {given.show(too)}", 180.0, 2.6),
        Text((0, BODY_MM / 2), "shoulders sit on this edge, not on the other", size_mm=1.5),
    ]
    if g.ramps:
        texts.append(Text((half + lean / 2 - 3.5, BODY_MM / 2), f"ramp 1 in {g.slope:g}",
                          math.degrees(math.atan2(BODY_MM, lean)), 2.0))  # fmt: skip
    return (
        Drawing(
            "Depth gauge",
            (Area("paper", outline),),
            (Stroke("cut", outline, True),),
            tuple(texts),
            (),
            (f"Depth gauge {given.show(d)}, {given.show(g.profile.width(d))} wide at the face",
             "Cut out of card or sheet; sloped end on the ramp: the straight end lies level with the plate"),
        ),
    )  # fmt: skip
