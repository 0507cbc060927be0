"""Closed loops checked for crossings and nested: even depth is metal, odd depth is a hole in it."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import shapely
from shapely.geometry import Polygon

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Loop, Outline, Point
from lagline.shapes.arcs import FULL
from lagline.shapes.clean import Chain, at
from lagline.shapes.region import FLATTEN_MM

SMALLEST_MM2 = 0.1
THINNEST_MM = 0.5


def _place(polygon: Polygon) -> Point:
    x, y = re.findall(r"-?[\d.]+(?:e[-+]?\d+)?", shapely.is_valid_reason(polygon))[-2:]
    return (float(x), float(y))


def _loop(chain: Chain, prefix: str) -> Loop:
    """Return the loop, outer or hole, started at its lowest left corner; names follow from the prefix."""
    if len(chain) == 1 and isinstance(chain[0], Arc) and chain[0].is_circle:
        circle = chain[0]
        return Loop((Arc(circle.centre, circle.radius, 0.0, FULL),), (prefix if prefix[0] == "h" else "e1",))
    loop = Loop(chain, ("",) * len(chain))
    if (loop.area > 0) != (prefix == "e"):
        loop = loop.reversed()
    segments = loop.segments
    first = min(range(len(segments)), key=lambda i: tuple(round(c, 2) for c in segments[i].start[::-1]))
    segments = segments[first:] + segments[:first]
    one = len(segments) == 1 and prefix != "e"
    dot = "" if prefix == "e" else "."
    return Loop(segments, (prefix,) if one else tuple(f"{prefix}{dot}{i + 1}" for i in range(len(segments))))


def _order(polygon: Polygon) -> tuple[float, ...]:
    x0, y0, x1, y1 = polygon.bounds
    return (round((y0 + y1) / 2, 1), round((x0 + x1) / 2, 1), polygon.area)


def nest(chains: Sequence[Chain], where: str) -> tuple[tuple[Outline, ...], list[Finding]]:
    """Return outlines, largest first, and findings: crossings with their place, islands, loops drawn twice."""
    findings: list[Finding] = []
    sound: list[tuple[Chain, Polygon]] = []
    tiny = 0
    for chain in chains:
        pts = Loop(chain, ("",) * len(chain)).points(FLATTEN_MM)
        polygon = Polygon(pts) if len(pts) >= 3 else Polygon()
        if polygon.area < SMALLEST_MM2 and (polygon.is_valid or polygon.length < 4 * math.sqrt(SMALLEST_MM2)):
            tiny += 1
            continue
        if not polygon.is_valid:
            p = _place(polygon)
            message = f"an outline {polygon.length:.1f} mm round crosses or touches itself at {at(p)}; left out"
            findings.append(
                Finding("outline-crosses-itself", Severity.NO_GO, where, message, "an outline that does not")
            )
            continue
        if 2 * polygon.area / polygon.length < THINNEST_MM:
            message = (
                f"an outline {polygon.length / 2:.1f} mm long is only {2 * polygon.area / polygon.length:.2f} mm wide"
            )
            findings.append(Finding("outline-thin", Severity.CAUTION, where, message, "wider than the kerf"))
        sound.append((chain, polygon))
    if tiny:
        message = f"{tiny} closed line{'s' * (tiny > 1)} round no area removed"
        findings.append(Finding("no-area-removed", Severity.MENDED, where, message))
    sound.sort(key=lambda cp: (-round(cp[1].area, 1), _order(cp[1])))
    polygons = [p for _, p in sound]
    bad: set[int] = set()
    twice: set[int] = set()
    inside: list[list[int]] = [[] for _ in sound]
    pairs = shapely.STRtree(polygons).query(polygons, predicate="intersects").T if polygons else []
    for i, j in sorted((int(i), int(j)) for i, j in pairs if i < j):
        big, small = polygons[i], polygons[j]
        if i in twice or j in twice:
            continue
        if big.contains_properly(small):
            inside[j].append(i)
        elif (
            abs(big.area - small.area) <= 0.05 * big.length and big.exterior.hausdorff_distance(small.exterior) <= 0.05
        ):
            twice.add(j)
        elif not big.touches(small):
            p = shapely.get_coordinates(big.exterior.intersection(small.exterior))
            place = at((float(p[0][0]), float(p[0][1]))) if len(p) else "their edges"
            message = f"two outlines cross or share an edge at {place}; both left out"
            findings.append(Finding("outlines-cross", Severity.NO_GO, where, message, "outlines apart from each other"))
            bad |= {i, j}
    if twice:
        message = f"{len(twice)} outline{'s' * (len(twice) > 1)} drawn twice over, the double removed"
        findings.append(Finding("doubles-removed", Severity.MENDED, where, message))
    gone = bad | twice
    depth = [sum(i not in gone for i in above) for above in inside]
    holes: dict[int, list[int]] = {}
    islands = 0
    for j, above in enumerate(inside):
        if j in gone:
            continue
        if depth[j] % 2 == 0:
            holes.setdefault(j, [])
            islands += depth[j] > 0
        else:
            owner = max((i for i in above if i not in gone), key=lambda i: depth[i])
            holes.setdefault(owner, []).append(j)
    if islands:
        message = f"{islands} outline{'s' * (islands > 1)} inside the opening of another, taken as separate"
        allowed = "if the outermost line is a sheet border, delete it"
        findings.append(Finding("outline-in-opening", Severity.CAUTION, where, message, allowed))
    outlines = []
    for j in sorted(holes):
        inner = sorted(holes[j], key=lambda h: _order(polygons[h]))
        loops = tuple(_loop(sound[h][0], f"h{n}") for n, h in enumerate(inner, 1))
        outlines.append(Outline(_loop(sound[j][0], "e"), loops))
    return tuple(outlines), findings
