"""Strips that would bow hang on by bridges: the arc leaves them along one long edge, and they are cut last of all.

Glossary
--------
bridge : metal left standing across a kerf, as long along the kerf as its name says
side   : one long edge of a strip that must be bridged, and the pass that cuts it
gap    : where along that pass the arc is off [mm from the pass's start]: a bridge and half a kerf at either end
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from lagline.planning.bow_notes import camber_of, strip_of
from lagline.planning.bridge_hold import Hold, chosen_sides, sides_of
from lagline.planning.bridge_places import Gap, Side, places
from lagline.planning.cut_notes import merged
from lagline.planning.entries import start_aside
from lagline.planning.ground import Ground, Station
from lagline.planning.steps import work_clamp
from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Line, Point
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.length import show_length
from lagline.records.plan import Blank, Cut, Entry, Layout, Pass, Setting, Start
from lagline.shapes.along import from_polar
from lagline.shapes.region import polygon
from lagline.trade.bow import allowed_bow_mm, judged_bow_mm

WIDTH_MM = {"in": 15.875, "mm": 15.0}  # by the job's units; common practice, no source


@dataclass(frozen=True, slots=True)
class Wanted:
    """Bridges for one kind of part: their width [mm], and the bow that asks for them, None where the user does."""

    width_mm: float
    bow: Figure | None


def bridges_wanted(
    job: Job, blanks: tuple[Blank, ...], settings: tuple[Setting, ...]
) -> tuple[dict[int, Wanted], tuple[Finding, ...]]:
    """Return which kinds of part get bridges, by index, and what was asked for in vain.

    A part's own word goes before the job's; where neither says, strips whose bow, taken at the middle of the upper
    half of its spread, is more than allowed.
    """
    out: dict[int, Wanted] = {}
    findings: list[Finding] = []
    for index, blank in enumerate(blanks):
        part, sizes = blank.part, strip_of(blank)
        if sizes is None:
            if part.bridge_mm:
                message = "bridges are left along strips only: a long straight edge, more than six times the width"
                findings.append(Finding("bridge-unused", Severity.NOTE, part.name, message))
            continue
        if part.bridge_mm is not None:
            if part.bridge_mm > 0:
                out[index] = Wanted(part.bridge_mm, None)
        elif job.bridges:
            out[index] = Wanted(WIDTH_MM[job.units], None)
        elif job.bridges is None:
            camber = camber_of(blank, settings)
            if camber is not None and judged_bow_mm(camber) > allowed_bow_mm(part.tolerance_mm, sizes[1]):
                out[index] = Wanted(WIDTH_MM[job.units], camber)
    return out, tuple(findings)


def with_bridges(
    job: Job,
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    cuts: tuple[Cut, ...],
) -> tuple[tuple[Cut, ...], tuple[Finding, ...]]:
    """Return the cuts with bridges left along strips and a cut of role "bridge" for them at the end, and findings.

    Of a strip's long edges that are cut only as many are bridged as hold it to the metal under the work clamp, by
    itself or through other strips; a kerf shared by two strips is bridged for both at once. Each bridge cut waits for
    all other cuts of the strips it holds.
    """
    wanted, noticed = bridges_wanted(job, blanks, settings)
    findings = list(noticed)
    out = list(cuts)
    made: list[Cut] = []
    for plate_index in sorted({p.plate for p in layout.placed if p.part in wanted}):
        here = {i: p for i, p in enumerate(layout.placed) if p.plate == plate_index}
        widths = {i: wanted[p.part].width_mm for i, p in here.items() if p.part in wanted}
        never = {i for i, p in here.items() if blanks[p.part].part.bridge_mm == 0}
        outlines = {i: p.move.outline(blanks[p.part].cut) for i, p in here.items()}
        ground = Ground(
            polygon(job.plates[plate_index].outline, 0.02), {i: polygon(o, 0.02) for i, o in outlines.items()}
        )
        kerfs = {s.id: s.kerf_mm.value for s in settings}
        mine = [n for n, c in enumerate(cuts) if c.plate == plate_index]
        sides = sides_of(outlines, widths, cuts, mine, kerfs)
        hold = Hold(ground, work_clamp(plate_index, job.plates, blanks, layout), cuts, mine, kerfs)
        chosen, unheld = chosen_sides(sides, widths, never, hold)
        for i in unheld:
            findings.append(_in_vain(here[i].name(blanks), sides, i))
        by_line: dict[tuple[int, int], list[Side]] = {}
        for side in chosen:
            by_line.setdefault((side.cut, side.at), []).append(side)
        # later passes of a cut first: splitting one moves those behind it along
        for (n, at), line in sorted(by_line.items(), reverse=True):
            station = Station(
                line[0].strip, "", blanks[here[line[0].strip].part],
                next(s for s in settings if s.id == cuts[n].setting), kit, plate_index, ground,
            )  # fmt: skip
            on_line = [s for s in sides if (s.cut, s.at) == (n, at)]
            gaps = places(line, on_line, widths, hold.blocked(n, at, never))
            out[n], drilled = _interrupted(out[n], at, gaps, station, line)
            for i in dict.fromkeys(i for i, _ in drilled):
                spots = [p for j, p in drilled if j == i]
                findings.append(_drill_first(here[i].name(blanks), spots, station.setting))
            for cut in _bridge_cuts(cuts, n, at, gaps, on_line, widths):
                made.append(replace(cut, id=f"{job.plates[plate_index].name}-b{len(made) + 1}"))
    findings.extend(_told(made, wanted, blanks, layout, job.units))
    return (*out, *made), merged(findings)


def _interrupted(
    cut: Cut, at: int, gaps: tuple[Gap, ...], station: Station, sides: list[Side]
) -> tuple[Cut, list[tuple[int, Point]]]:
    """Return a cut whose pass is off over the gaps, and the places, with their strips, where no waste takes the start
    behind a bridge."""
    whole = cut.passes[at]
    way = whole.path[0]
    assert isinstance(way, Line)
    kerf = station.setting.kerf_mm.value
    ends = [*(g.begin for g in gaps), way.length]
    begins = [0.0, *(g.end for g in gaps)]
    made: list[Pass] = []
    drilled: list[tuple[int, Point]] = []
    for k, (a, b) in enumerate(zip(begins, ends, strict=True)):
        one = piece_of(whole, a, b)
        if k > 0:
            side = next((s for s in sides if s.lo <= a <= s.hi), sides[0])
            waste = station.side if side.kept else -station.side
            join = one.path[0].start
            entry = start_aside(join, way.heading_start, replace(station, index=side.strip), waste)
            if entry is None:
                entry = Entry(0, 0.0, Start.DRILLED, (join, join))
                drilled.append((side.strip, join))
            one = replace(one, start=entry.start, run_in=entry.run_in)
        left = round(gaps[k].end - gaps[k].begin - kerf, 6) if k < len(gaps) else 0.0
        made.append(replace(one, name=f"{whole.name}, {k + 1} of {len(ends)}", leaves_mm=left))
    entries = tuple(replace(e, pass_index=e.pass_index + (len(gaps) if e.pass_index > at else 0)) for e in cut.entries)
    passes = (*cut.passes[:at], *made, *cut.passes[at + 1 :])
    return replace(cut, passes=passes, entries=entries, frees="nothing", drop_kg=0.0), drilled


def piece_of(whole: Pass, a: float, b: float) -> Pass:
    """Return the stretch of a straight pass from a to b [mm along its path]; its guide stays the whole one's."""
    way, line = whole.path[0], whole.line[0]
    h = way.heading_start
    ahead = (line.start[0] - way.start[0]) * math.cos(h) + (line.start[1] - way.start[1]) * math.sin(h)
    lo, hi = max(a - ahead, 0.0), min(b - ahead, line.length)
    if a <= 0.0:
        lo = 0.0
    if b >= way.length:
        hi = line.length
    return replace(
        whole,
        path=(Line(from_polar(way.start, h, a), from_polar(way.start, h, b)),),
        line=(Line(from_polar(line.start, h, lo), from_polar(line.start, h, hi)),),
        start=whole.start if a <= 0.0 else None,
        run_in=whole.run_in if a <= 0.0 else (),
    )


def from_both_ends(n: int) -> tuple[int, ...]:
    """Return 0 to n-1 from the ends inwards, one end and then the other: heat is spread."""
    return tuple(k // 2 if k % 2 == 0 else n - 1 - k // 2 for k in range(n))


def _bridge_cuts(
    cuts: tuple[Cut, ...],
    n: int,
    at: int,
    gaps: tuple[Gap, ...],
    sides: list[Side],
    widths: dict[int, float],
) -> list[Cut]:
    """The bridges of one line, a cut for each run of them along one part; their names come later."""
    base, whole = cuts[n], cuts[n].passes[at]
    out: list[Cut] = []
    for run in _together(gaps, sides):
        touched = [s for s in sides if any(s.lo <= g.begin and g.end <= s.hi for g in run)]
        kept = tuple(dict.fromkeys(s.strip for s in touched if s.kept))
        across = tuple(dict.fromkeys(s.strip for s in touched if not s.kept and s.strip not in kept))
        strips = {s.strip for s in touched if s.strip in widths}
        passes = []
        for k, g in enumerate(run[i] for i in from_both_ends(len(run))):
            one = replace(piece_of(whole, g.begin, g.end), name=f"bridge {k + 1} of {len(run)}", start=None, run_in=())
            begin = one.path[0].start
            passes.append(one if k == 0 else replace(one, start=Start.KERF, run_in=(begin, begin)))
        begin = passes[0].path[0].start
        served = kept or across[:1]
        out.append(
            Cut(
                id=base.id,
                placed=served[0],
                plate=base.plate,
                role="bridge",
                loop=base.loop,
                setting=base.setting,
                kept_side=base.kept_side,
                passes=tuple(passes),
                entries=(Entry(0, 0.0, Start.KERF, (begin, begin), passes[-1].path[-1].end),),
                after=tuple(dict.fromkeys(c.id for c in cuts if c is base or strips & set(c.parts))),
                frees="nothing",
                drop_kg=0.0,
                serves=served if base.role == "rip" else (),
                across=tuple(i for i in across if i not in served),
            )
        )
    return out


def _together(gaps: tuple[Gap, ...], sides: list[Side]) -> list[tuple[Gap, ...]]:
    """Gaps next to each other that lie along one part."""
    runs: list[list[Gap]] = []
    for g in gaps:
        if runs and any(s.lo <= runs[-1][-1].begin and g.end <= s.hi for s in sides):
            runs[-1].append(g)
        else:
            runs.append([g])
    return [tuple(r) for r in runs]


def _drill_first(name: str, spots: list[Point], setting: Setting) -> Finding:
    places = "a place" if len(spots) == 1 else f"{len(spots)} places"
    return Finding(
        "start-drilled",
        Severity.CAUTION,
        name,
        f"behind bridges between two parts the arc begins again where no waste takes a start, at {places} that the "
        "set-ups name",
        f"drill through there first, no wider than the {setting.kerf_mm.value:.1f} mm kerf, lay the strip where it has "
        "waste beside it, or give it bridge = 0",
    )


def _in_vain(name: str, sides: Iterable[Side], strip: int) -> Finding:
    short = any(s.strip == strip for s in sides)
    return Finding(
        "bridge-none",
        Severity.CAUTION,
        name,
        "bridges are wanted and find no place: "
        + ("its edges are too short, or no metal beside it would hold it" if short else "no long edge of it is cut"),
        "cut its long edges straight after each other, from alternate ends; or lay it elsewhere",
    )


def _told(
    made: list[Cut], wanted: dict[int, Wanted], blanks: tuple[Blank, ...], layout: Layout, units: str
) -> list[Finding]:
    out = []
    for index, why in wanted.items():
        mine = [c for c in made if any(layout.placed[i].part == index for i in c.parts)]
        if not mine:
            continue
        part, sizes = blanks[index].part, strip_of(blanks[index])
        assert sizes is not None
        told = "as asked for"
        if why.bow is not None:
            low, value, high, judged, most = (
                show_length(v, units, 32)
                for v in (why.bow.low, why.bow.value, why.bow.high, judged_bow_mm(why.bow),
                          allowed_bow_mm(part.tolerance_mm, sizes[1]))
            )  # fmt: skip
            told = (
                f"one long edge cut may bow it {value} ({low} to {high}: a welding rule, unproven here), taken as "
                f"{judged}; {most} {'is its tolerance' if part.tolerance_mm else 'is taken as allowed'}"
            )
        n = sum(len(c.passes) for c in mine)
        width = show_length(why.width_mm, units, 16)
        out.append(
            Finding(
                "strip-bridges",
                Severity.NOTE,
                part.name,
                f"{told}: {n} bridge{'s' if n > 1 else ''} of {width} hold {'it' if part.quantity == 1 else 'them'}, "
                "cut last and cold",
                'bridges = false in the job or bridge = 0 for the part leaves none; bridge = "1/2" another width',
            )
        )
    return out
