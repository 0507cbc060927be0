"""From placed parts to cuts: which loop, which way round, led by what, and what must be drilled instead.

A loop is travelled so that the part lies on the torch's square side. The kerf's centre runs half a kerf into the
waste; at outside corners each pass runs on straight into the waste so that the corner comes out sharp, at inside
corners the passes meet and the kerf leaves its own radius.
"""

from __future__ import annotations

import math
from dataclasses import replace

from shapely.geometry import Polygon

from lagline.planning.cut_notes import bevels_left, guide_notes, lost_detail, merged, sliver
from lagline.planning.entries import find_entries
from lagline.planning.ground import Ground, Station
from lagline.planning.guides import guide_for
from lagline.planning.passes import split_into_passes
from lagline.planning.rips import Traced, from_kerfs, rest_of, rips_of
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Line, Loop
from lagline.records.job import Plate
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Cut, Entry, Layout, Method, Pass, Setting, Start
from lagline.shapes.offset import parallel
from lagline.shapes.region import loop_polygon, polygon

SLOT_KERFS = 1.5  # a slot narrower than this many kerfs has no room for two cuts


def make_cuts(
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    layout: Layout,
    settings: tuple[Setting, ...],
    kit: Kit,
    *,
    share: bool = True,
) -> tuple[tuple[Cut, ...], tuple[Finding, ...]]:
    """Return the cuts of every placed part and what was noticed on the way.

    Parameters
    ----------
    blanks, plates, layout, settings, kit : results of the stages before; ``settings`` holds the square setting of
        every stock placed
    share : let one clamped straightedge serve edges of several parts; without it every part is cut by itself, which
        is only right where none shares a kerf

    Returns
    -------
    Cuts plate by plate in placement order, holes before the outline, and findings: holes to drill, holes too small,
    slots narrower than the kerf, inside corners, no room to start, guides without a hold.
    """
    cuts: list[Cut] = []
    findings: list[Finding] = []
    for plate_index, plate in enumerate(plates):
        here = [(i, p) for i, p in enumerate(layout.placed) if p.plate == plate_index]
        outlines = {i: polygon(p.move.outline(blanks[p.part].cut), 0.02) for i, p in here}
        ground = Ground(polygon(plate.outline, 0.02), outlines)
        solids = {i: Polygon(o.exterior) for i, o in outlines.items()}
        done: dict[int, tuple[str, ...]] = {}
        traced: dict[int, Traced] = {}
        # a part lying in another's window is cut first, while the window's drop still holds it: small before large
        for i, placed in sorted(here, key=lambda e: (solids[e[0]].area, e[0])):
            blank = blanks[placed.part]
            setting = square_setting(settings, blank)
            name = placed.name(blanks)
            station = Station(i, name, blank, setting, kit, plate_index, ground)
            inner = tuple(j for j in done if solids[i].contains(solids[j]))
            loops = placed.move.outline(blank.cut).loops
            ident = f"{plate.name}-{i + 1}"
            made, noticed = _holes_of(ident, station, loops[1:], {j: done[j] for j in inner}, solids)
            cuts.extend(made)
            findings.extend(noticed)
            inside = any(j != i and o.contains(solids[i]) for j, o in solids.items())
            outline, noticed = _trace(ident, station, loops[0], tuple(c.id for c in made), inside=inside)
            findings.extend(noticed)
            if outline is None:
                done[i] = tuple(c.id for c in made)
            elif inside:
                whole, noticed = _closed(ident, outline.passes, outline.travel, station, outline.holes, "outline")
                cuts.extend(whole)
                findings.extend(noticed)
                done[i] = tuple(c.id for c in (*made, *whole))
            else:
                traced[i] = outline
        rips, taken = rips_of(traced, plate_index) if share else ((), {})
        cuts.extend(rips)
        for i, outline in sorted(traced.items()):
            made, noticed = _rest(outline, taken.get(i, frozenset()))
            cuts.extend(made)
            findings.extend(noticed)
    for i in dict.fromkeys(p.part for p in layout.placed):
        kerf = square_setting(settings, blanks[i]).kerf_mm.value
        findings.extend((*lost_detail(blanks[i], kerf), *sliver(blanks[i], kerf), *bevels_left(blanks[i])))
    cuts.sort(key=lambda c: (c.plate, c.placed))
    begun, lost = from_kerfs(tuple(cuts), {s.id: s.kerf_mm.value for s in settings})
    findings.extend(_drill_first(c, layout.placed[c.placed].name(blanks), settings) for c in lost)
    return begun, merged(findings)


def square_setting(settings: tuple[Setting, ...], blank: Blank) -> Setting:
    """Return the square-cut setting for a blank's stock."""
    return next(s for s in settings if s.bevel_deg == 0 and s.stock.key == blank.part.stock.key)


Made = tuple[list[Cut], list[Finding]]


def _holes_of(
    ident: str,
    station: Station,
    holes: tuple[Loop, ...],
    nested: dict[int, tuple[str, ...]],
    solids: dict[int, Polygon],
) -> Made:
    cuts: list[Cut] = []
    findings: list[Finding] = []
    for n, hole in enumerate(holes, 1):
        region = loop_polygon(hole, 0.02)
        inner = tuple(j for j in nested if region.contains(solids[j]))
        first = tuple(c for j in inner for c in nested[j])
        ground = station.ground.after(inner, station.setting.kerf_mm.value)
        here = replace(station, ground=ground, label=f"hole {n}", twin=f"hole {_twin(hole, holes)}")
        made, noticed = _hole(f"{ident}-h{n}", f"{station.name}, hole {n}", hole, here, first)
        gone = station.mass_kg(sum(Polygon(station.ground.outlines[j]).area for j in inner))
        made = [replace(c, drop_kg=max(0.0, c.drop_kg - gone)) if c.frees == "drop" else c for c in made]
        cuts.extend(made)
        findings.extend(noticed)
    return cuts, findings


def _trace(
    ident: str, station: Station, loop: Loop, holes: tuple[str, ...], *, inside: bool
) -> tuple[Traced | None, list[Finding]]:
    travel = station.travel(loop)
    try:
        passes = split_into_passes(travel, station)
    except ValueError:
        return None, [_closes_up(station.name, station)]
    return Traced(ident, station, travel, passes, holes, inside), guide_notes(station.name, passes, station)


def _rest(outline: Traced, taken: frozenset[int]) -> Made:
    """What is cut of an outline by itself: all of it, or the chains between edges cut with a neighbour's."""
    station = outline.station
    if not taken:
        return _closed(outline.ident, outline.passes, outline.travel, station, outline.holes, "outline")

    def find(chain: tuple[Pass, ...]) -> tuple[Entry, ...]:
        return tuple(e for e in find_entries(chain[:1], station) if e.at_mm == 0.0)

    return rest_of(outline, taken, find), []


def _twin(hole: Loop, holes: tuple[Loop, ...]) -> int:
    """The first hole (from 1) that is the same as this one but for its place: edges of the same kinds and lengths in
    the same turn."""

    def edges(loop: Loop) -> tuple[tuple[str, float, float], ...]:
        pairs = zip(loop.segments, loop.turns(), strict=True)
        return tuple((type(s).__name__, round(s.length, 2), round(t, 3)) for s, t in pairs)

    return next(n for n, other in enumerate(holes, 1) if edges(other) == edges(hole))


def _hole(ident: str, name: str, hole: Loop, station: Station, first: tuple[str, ...]) -> Made:
    """A hole is drilled, cut between drilled ends (a narrow slot), or cut as a loop."""
    smallest = station.setting.min_hole_mm.value
    rim = hole.segments[0]
    if isinstance(rim, Arc) and rim.is_circle:
        if 2 * rim.radius < smallest:
            small = f"under the smallest hole a hand torch makes here ({smallest:.1f} mm)"
            return _drilled(ident, name, hole, rim, station, first, small)
        room = station.setting.crater_radius_mm + station.setting.kerf_mm.value / 2
        as_drawn = any(abs(s.radius - rim.radius) < 1e-6 for s in _finished_rims(station.blank))  # nothing to grind
        if rim.radius < room and 2 * rim.radius <= station.kit.guides.drill_max_mm and as_drawn:
            small = (
                f"so small that a pierce's crater ({station.setting.crater_radius_mm:.1f} mm radius) may touch its edge"
            )
            return _drilled(ident, name, hole, rim, station, first, small)
    ends = _slot_ends(hole)
    if ends is not None and 2 * ends[0].radius < smallest:
        return _slot(ident, name, hole, ends, station, first)
    if loop_polygon(hole).buffer(-smallest / 2 + 0.01).is_empty:
        return [], [
            Finding(
                "hole-too-small",
                Severity.NO_GO,
                name,
                f"no room for a torch: a {smallest:.1f} mm circle does not fit in this hole",
                "drill and file it, or make it larger",
            )
        ]
    return _loop(ident, name, hole, station, first, "window" if len(hole.segments) > 1 else "hole")


def _finished_rims(blank: Blank) -> list[Arc]:
    return [s for h in blank.finished.holes for s in h.segments if isinstance(s, Arc)]


def _drilled(ident: str, name: str, hole: Loop, rim: Arc, station: Station, first: tuple[str, ...], small: str) -> Made:
    d, limit = 2 * rim.radius, station.kit.guides.drill_max_mm
    why = f"{d:.1f} mm is {small}"
    if d <= limit:
        note = Finding("drill-it", Severity.NOTE, name, f"do not cut this, drill it: {why}")
    else:
        note = Finding("hole-too-small", Severity.NO_GO, name, why, f"and the drills to hand go to {limit:g} mm")
    return [_drill(ident, hole, rim, station, first)], [note]


def _drill(ident: str, loop: Loop, arc: Arc, station: Station, first: tuple[str, ...]) -> Cut:
    return Cut(
        id=ident,
        placed=station.index,
        plate=station.plate_index,
        role="drill",
        loop=loop,
        setting=station.setting.id,
        kept_side=station.kept,
        passes=(Pass("drill", Method.DRILL, (arc,), (), True, None),),
        entries=(Entry(0, 0.0, Start.NONE, (arc.centre,)),),
        after=first,
        frees="nothing",
        drop_kg=0.0,
        diameter_mm=2 * arc.radius,
        drill_depth_mm=station.setting.stock.thickness_mm,
    )


def _slot_ends(hole: Loop) -> tuple[Arc, Arc] | None:
    """The two round ends of a slot, None when the loop is not one."""
    arcs = [s for s in hole.segments if isinstance(s, Arc) and abs(abs(s.sweep) - math.pi) < 1e-3]
    lines = [s for s in hole.segments if isinstance(s, Line)]
    if len(hole.segments) == 4 and len(arcs) == len(lines) == 2 and abs(arcs[0].radius - arcs[1].radius) < 0.05:
        return arcs[0], arcs[1]
    return None


def _slot(ident: str, name: str, hole: Loop, ends: tuple[Arc, Arc], station: Station, first: tuple[str, ...]) -> Made:
    """A slot too narrow to pierce in: drill both ends, then two straight cuts between the holes."""
    width, least, most = 2 * ends[0].radius, SLOT_KERFS * station.setting.kerf_mm.high, station.kit.guides.drill_max_mm
    if not least <= width <= most:
        return [], [
            Finding(
                "slot-too-narrow",
                Severity.NO_GO,
                name,
                f"slot {width:.1f} mm wide: too narrow to pierce in, and its ends cannot be drilled and joined",
                f"{least:.1f} to {most:g} mm by drilled ends, from {station.setting.min_hole_mm.value:.1f} mm by arc",
            )
        ]
    drills = [_drill(f"{ident}{c}", _circle(e), e, station, first) for c, e in zip("ab", ends, strict=True)]
    travel = station.travel(hole)
    paths = parallel(travel, (station.side * station.setting.kerf_mm.value / 2,) * len(travel.segments))
    passes = tuple(
        Pass(n, Method.STRAIGHTEDGE, (s,), p, False, guide_for(Method.STRAIGHTEDGE, (s,), p, n, station))
        for s, n, p in zip(travel.segments, travel.names, paths, strict=True)
        if isinstance(s, Line)
    )
    cut = Cut(
        id=ident,
        placed=station.index,
        plate=station.plate_index,
        role="slot",
        loop=travel,
        setting=station.setting.id,
        kept_side=station.kept,
        passes=passes,
        entries=tuple(Entry(i, 0.0, Start.DRILLED, (p.path[0].start,)) for i, p in enumerate(passes)),
        after=(*first, *(d.id for d in drills)),
        frees="drop",
        drop_kg=station.mass_kg(loop_polygon(hole).area),
    )
    message = f"drill both ends {width:.1f} mm, then make two guided cuts between the holes"
    return [*drills, cut], [Finding("slot-drilled-ends", Severity.NOTE, name, message)]


def _circle(arc: Arc) -> Loop:
    return Loop((Arc(arc.centre, arc.radius, 0.0, -2 * math.pi),), ("rim",))


def _loop(ident: str, name: str, loop: Loop, station: Station, first: tuple[str, ...], role: str) -> Made:
    travel = station.travel(loop)
    try:
        passes = split_into_passes(travel, station)
    except ValueError:
        return [], [_closes_up(name, station)]
    made, noticed = _closed(ident, passes, travel, station, first, role, name)
    return made, [*guide_notes(name, passes, station), *noticed]


def _closed(
    ident: str,
    passes: tuple[Pass, ...],
    travel: Loop,
    station: Station,
    first: tuple[str, ...],
    role: str,
    name: str = "",
) -> Made:
    """One loop, cut all round, with its ways to begin."""
    findings = []
    entries = find_entries(passes, station)
    if not entries:
        findings.append(no_start(name or station.name, station.setting))
        entries = (Entry(0, 0.0, Start.DRILLED, (passes[0].path[0].start,)),)
    return [
        Cut(
            id=ident,
            placed=station.index,
            plate=station.plate_index,
            role=role,
            loop=travel,
            setting=station.setting.id,
            kept_side=station.kept,
            passes=passes,
            entries=entries,
            after=first,
            frees="part" if role == "outline" else "drop",
            drop_kg=station.mass_kg(station.blank.area_mm2 if role == "outline" else loop_polygon(travel).area),
        )
    ], findings


def _closes_up(name: str, station: Station) -> Finding:
    message = f"the opening is narrower than the {station.setting.kerf_mm.value:.2f} mm kerf"
    return Finding("narrower-than-kerf", Severity.NO_GO, name, message)


def _drill_first(cut: Cut, name: str, settings: tuple[Setting, ...]) -> Finding:
    kerf = next(s for s in settings if s.id == cut.setting).kerf_mm.value
    return Finding(
        "start-drilled",
        Severity.CAUTION,
        name,
        "a cut begins between two parts, where neither waste nor an open kerf takes a start: its set-up says where",
        f"drill through there first, no wider than the {kerf:.1f} mm kerf, or lay these parts further apart",
    )


def no_start(name: str, setting: Setting) -> Finding:
    """What is said where no waste takes a start."""
    return Finding(
        "no-room-to-start",
        Severity.NO_GO,
        name,
        f"no waste beside the line takes a start: run-in {setting.lead_in_mm:.1f} mm, crater radius "
        f"{setting.crater_radius_mm:.1f} mm",
        "give the parts a larger gap, move this part, or drill a start hole on the line's waste side",
    )
