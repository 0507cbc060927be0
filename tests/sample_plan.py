"""A small plan made by hand, so that pictures and cards can be tested without the chain.

One 600 x 400 x 10 mm plate: two cheek plates with a window and a drilled hole, a ring cut with the circle arm,
a gusset cut round a template. Kerf 1.6 mm, cup radius 11 mm.
"""

from __future__ import annotations

import itertools
import math

from shapely.geometry import Polygon

from lagline.records.figure import Basis, Figure, Spread
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Free, Line, Loop, Move, Outline, Point, Segment
from lagline.records.job import Edge, EdgeUse, Job, Part, Plate, Stock
from lagline.records.kit import Air, Bench, Guides, Kit, Operator, PowerSet, Tip, Torch
from lagline.records.plan import (
    ArmGuide,
    Blank,
    Clock,
    Cut,
    Entry,
    Guide,
    Layout,
    Method,
    Pass,
    Placed,
    Plan,
    PlateUse,
    Setting,
    Start,
    Step,
    StraightGuide,
    TemplateGuide,
    Timetable,
    Totals,
    Verdict,
)

KERF_MM, CUP_MM = 1.6, 11.0
STOCK = Stock("steel", "mild", 10.0, "10 mm")


def figure(value: float, spread: float, unit: str, key: str, source: str = "common practice, no source") -> Figure:
    return Figure(value, value - spread, value + spread, unit, key, Basis.DEFAULT, source, (("kerf mm", "1.6"),))


def kit() -> Kit:
    s = Spread
    return Kit(
        "slipway bench",
        "built in",
        PowerSet("65 A set", 65, 20, 0, ((65, 0.5), (50, 1.0)), 400, s(16, 14, 18, True), s(0.5, 0.4, 0.75, True)),
        Torch(
            True,
            s(CUP_MM, 10.8, 11.2),
            s(2, 1.5, 3),
            s(8, 5, 15),
            60,
            6.35,
            "right",
            (Tip("1.1", 1.1, 45), Tip("1.3", 1.3, 65)),
        ),
        Guides((600.0, 1200.0), 40, 6, "drop", "clamp", 150, 40, 300, True, 600, 25),
        Air(250, 100, 690, 860, 480, s(170, 150, 200), 1, 20),
        Operator(500, 6, 20, "right"),
        Bench(
            s(150, 90, 240),
            s(180, 120, 300),
            s(240, 120, 360),
            s(60, 40, 120),
            s(4, 2, 8),
            s(8, 5, 15),
            600,
            "USD",
            s(45, 40, 60),
            (("steel", 1.4),),
            9.0,
            s(300, 150, 600),
            0.15,
            "29 CFR 1910.133",
            2.0,
        ),
    )


def chain(*points: Point) -> tuple[Segment, ...]:
    return tuple(Line(a, b) for a, b in itertools.pairwise(points))


def rectangle(x: float, y: float, w: float, h: float, prefix: str = "") -> Loop:
    p = ((x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y))
    return Loop(chain(*p), tuple(prefix + n for n in ("bottom", "right", "top", "left")))


def circle(c: Point, r: float, name: str) -> Loop:
    return Loop((Arc(c, r, 0.0, 2 * math.pi),), (name,))


def blank(name: str, outline: Outline, quantity: int) -> Blank:
    edges = tuple(Edge(n, EdgeUse.FREE) for loop in outline.loops for n in loop.names)
    part = Part(name, outline, quantity, STOCK, edges, origin="tests/sample_plan.py")
    mass = outline.area * 10 * 7.85e-6
    return Blank(part, outline, outline, (), outline.area, figure(mass, 0.02 * mass, "kg", "mass.plate"))


def side_step(
    line: Line, offset: float, past: float, guide_offset: float, guide_side: str
) -> tuple[Line, StraightGuide]:
    """Kerf centre and guide of one straight side; the part is on the right of travel, the drop on the left."""
    h = line.heading_start
    ux, uy, nx, ny = math.cos(h), math.sin(h), -math.sin(h), math.cos(h)

    def at(p: Point, along: float, left: float) -> Point:
        return (p[0] + ux * along + nx * left, p[1] + uy * along + ny * left)

    path = Line(at(line.start, -past, offset), at(line.end, past, offset))
    sign = 1 if guide_side == "drop" else -1
    near = (at(line.start, -40, sign * guide_offset), at(line.end, 40, sign * guide_offset))
    far = (at(line.end, 40, sign * (guide_offset + 40)), at(line.start, -40, sign * (guide_offset + 40)))
    clamps = (at(line.start, -20, sign * (guide_offset + 20)), at(line.end, 20, sign * (guide_offset + 20)))
    o = figure(guide_offset, 0.4, "mm", "guide.offset")
    return path, StraightGuide(guide_side, o, near, (*near, *far), clamps, "clamp")


def sample_plan(units: str = "in") -> Plan:
    """Return the hand-made plan, lengths shown in ``units``."""
    k2 = KERF_MM / 2
    cheek = Outline(
        rectangle(0, 0, 200, 150), (rectangle(60, 90, 60, 40, "w-").reversed(), circle((160, 40), 6, "pin").reversed())
    )
    ring = Outline(circle((60, 60), 60, "rim"), (circle((60, 60), 30, "bore").reversed(),))
    gusset = Outline(
        Loop(
            (
                Line((0, 0), (120, 0)),
                Line((120, 0), (120, 30)),
                Arc((120, 120), 90, -math.pi / 2, -math.pi / 2),
                Line((30, 120), (0, 120)),
                Line((0, 120), (0, 0)),
            ),
            ("foot", "toe", "throat", "nose", "back"),
        )
    )
    blanks = (blank("cheek", cheek, 2), blank("flange ring", ring, 1), blank("gusset", gusset, 1))
    placed = (
        Placed(0, 1, 0, Move(30, 30)),
        Placed(0, 2, 0, Move(30, 220)),
        Placed(1, 1, 0, Move(290, 60)),
        Placed(2, 1, 0, Move(450, 60)),
    )
    d = "common practice, no source"
    setting = Setting(
        "steel 10",
        STOCK,
        0,
        10,
        60,
        "1.3",
        False,
        figure(2, 0.5, "mm", "torch.standoff"),
        figure(8, 3, "deg", "torch.lead"),
        figure(KERF_MM, 0.25, "mm", "kerf.from-bore"),
        figure(CUP_MM, 0.2, "mm", "torch.cup"),
        figure(CUP_MM - KERF_MM / 2, 0.24, "mm", "guide.kept-side"),
        figure(CUP_MM + KERF_MM / 2, 0.24, "mm", "guide.drop-side"),
        figure(10.5, 3.5, "mm/s", "pace.energy"),
        figure(2, 1, "deg", "bevel.good"),
        figure(5, 2, "deg", "bevel.bad"),
        True,
        True,
        "pierce: 10 mm of 8 mm rated for piercing",
        figure(18, 3, "mm", "hole.least", d),
        10,
        8,
    )

    steps: list[Step] = []
    cuts: list[Cut] = []

    def straight_cut(cut_id: str, at: int, role: str, loop: Loop, guide_offset: float, first: Point, name: str) -> None:
        passes: list[Pass] = []
        for i, line in enumerate(loop.segments):
            assert isinstance(line, Line)
            past = k2 if role == "outline" else -k2  # corners of a window are reached from inside
            path, guide = side_step(line, k2, past, guide_offset, "drop" if role == "outline" else "kept")
            start = (Start.EDGE if role == "outline" else Start.PIERCE) if i == 0 else Start.KERF
            full = (Line(first, path.start), path) if i == 0 else (path,)
            passes.append(Pass(loop.names[i], Method.STRAIGHTEDGE, (line,), (path,), False, guide))
            last = i == len(loop.segments) - 1
            frees = ("part" if role == "outline" else "drop") if last else "nothing"
            steps.append(
                Step(
                    len(steps) + 1, cut_id, i + 1, len(loop.segments), 0, at, f"{name}: {loop.names[i]}",
                    Method.STRAIGHTEDGE, start, (line,), full, guide, "right", "right",
                    math.degrees(path.heading_start), "steel 10", (585, 385), frees, 1.9 if last else 0.0,
                )
            )  # fmt: skip
        entry = Entry(0, 0.0, Start.EDGE, (first, passes[0].path[0].start))
        cuts.append(Cut(cut_id, at, 0, role, loop, "steel 10", "right", tuple(passes), (entry,), (), frees, 1.9))

    def single(cut_id: str, at: int, role: str, loop: Loop, path: tuple[Segment, ...], guide: Guide, method: Method,
               run_in: tuple[Point, ...], name: str, start: Start) -> None:  # fmt: skip
        frees = "part" if role == "outline" else "drop"
        passes = (Pass(name, method, loop.segments, path, True, guide),)
        full = (*chain(*run_in), *path)
        cuts.append(
            Cut(cut_id, at, 0, role, loop, "steel 10", "right", passes, (Entry(0, 0, start, run_in),), (), frees, 0.6)
        )
        steps.append(
            Step(len(steps) + 1, cut_id, 1, 1, 0, at, name, method, start, loop.segments, full, guide, "right",
                 "right", math.degrees(path[0].heading_start), "steel 10", (585, 385), frees, 0.6)
        )  # fmt: skip

    for i in (0, 1):
        m, tag = placed[i].move, f"cheek #{i + 1}"
        hole = m.loop(cheek.holes[1])
        cuts.append(Cut(f"A-{i + 1}-d1", i, 0, "drill", hole, "steel 10", "right", (), (), (), "nothing", 0, 12, 10))
        arc = hole.segments[0]
        assert isinstance(arc, Arc)
        steps.append(
            Step(len(steps) + 1, f"A-{i + 1}-d1", 1, 1, 0, i, f"{tag}: drill pin", Method.DRILL, Start.NONE, (arc,), (),
                 None, "right", "right", 0, "steel 10", (585, 385), "nothing", 0, 12)
        )  # fmt: skip
    for i in (0, 1):
        m, tag = placed[i].move, f"cheek #{i + 1}"
        window = m.loop(cheek.holes[0]).reversed()
        middle = (m.dx + 90, m.dy + 110)
        straight_cut(f"A-{i + 1}-w1", i, "window", window, CUP_MM - k2, middle, f"{tag} window")
    c = (350.0, 120.0)
    arm_in = Arc(c, 30 - k2, math.pi, 2 * math.pi)
    arm_out = Arc(c, 60 + k2, math.pi, -2 * math.pi)
    single("B-1-h1", 2, "hole", placed[2].move.loop(ring.holes[0]).reversed(), (arm_in,),
           ArmGuide(c, figure(30 - k2, 0.3, "mm", "arm.length"), figure(30 - k2 - CUP_MM, 0.5, "mm", "arm.cup"), True),
           Method.ARM, ((335.0, 120.0), arm_in.start), "flange ring: bore", Start.PIERCE)  # fmt: skip
    for i in (0, 1):
        m, tag = placed[i].move, f"cheek #{i + 1}"
        outer = m.loop(cheek.outer).reversed()
        first = (0.0, outer.segments[0].start[1] - k2)
        straight_cut(f"A-{i + 1}", i, "outline", outer, CUP_MM + k2, first, f"{tag} outline")
    single("B-1", 2, "outline", placed[2].move.loop(ring.outer).reversed(), (arm_out,),
           ArmGuide(c, figure(60 + k2, 0.3, "mm", "arm.length"), figure(60 + k2 - CUP_MM, 0.5, "mm", "arm.cup"), True),
           Method.ARM, ((275.0, 120.0), arm_out.start), "flange ring: rim", Start.PIERCE)  # fmt: skip
    g_loop = placed[3].move.loop(gusset.outer).reversed()
    g_poly = Polygon(g_loop.points(0.01))
    around = list(g_poly.buffer(k2, join_style="mitre").exterior.coords)
    if Polygon(around).exterior.is_ccw:
        around.reverse()
    inner = tuple(g_poly.buffer(-(CUP_MM - k2)).exterior.coords)
    s0 = max(range(len(around) - 1), key=lambda i: around[i][1] - around[i][0])
    around = around[s0:-1] + around[: s0 + 1]
    template = TemplateGuide("T1", figure(CUP_MM - k2, 0.4, "mm", "template.inset"), inner, True, "outside")
    single("C-1", 3, "outline", g_loop, (Free(tuple(around)),), template, Method.TEMPLATE,
           ((around[0][0] - 12, around[0][1] + 12), around[0]), "gusset: outline", Start.PIERCE)  # fmt: skip

    clocks: list[Clock] = []
    verdicts: list[Verdict] = []
    t = arc_total = rest_total = 0.0
    for s in steps:
        arc = sum(p.length for p in s.path) / 10.5
        rest = 60.0 if s.number == 9 else 0.0
        end = t + 150 + rest + arc
        clocks.append(Clock(s.number, t, 150, rest, 0, arc, end, min(0.2 + 0.03 * s.number, 0.95), 820, 700))
        t, arc_total, rest_total = end, arc_total + arc, rest_total + rest
        no_go = s.cut == "B-1-h1"
        tolerance = figure(1.2, 0.4, "mm", "tolerance.method")
        why = ("10 mm is beyond half the rated 16 mm: drill the start",) if no_go else ("set has room",)
        verdicts.append(
            Verdict(s.number, not no_go, "pierce" if no_go else "set", -0.25 if no_go else 0.3, tolerance, why)
        )
    findings = (
        Finding("fire-watch", Severity.CAUTION, "job", "keep a fire watch for at least half an hour after the last cut",
                "29 CFR 1910.252(a)(2)(iii); local rules first"),
        Finding("lens-shade", Severity.CAUTION, "60 A", "lens shade 8 or darker where the arc is seen",
                "29 CFR 1910.133"),
        Finding("pierce-limit", Severity.NO_GO, "flange ring: bore", "10 mm is more than this set pierces",
                "drill a 5 mm start hole"),
        Finding("gap-default", Severity.NOTE, "layout", "gap between parts from kerf and hand", ""),
    )  # fmt: skip
    parts_kg = sum(blanks[p.part].mass_kg.value for p in placed)
    plate = Plate("P1", "offcut", Outline(rectangle(0, 0, 600, 400, "edge-")), STOCK, 10, (721.1, 721.5), "H1")
    job = Job("slipway cradle", units, tuple(b.part for b in blanks), (plate,), notes="cut the cheeks as a pair")
    return Plan(
        job, kit(), blanks, (setting,), Layout(placed, (), 8, "quick"), tuple(cuts), tuple(steps),
        Timetable(tuple(clocks), figure(t, 0.3 * t, "s", "time.total"), arc_total, rest_total,
                  figure(0.2, 0.05, "1", "duty.share"), 9, "the set reaches its duty limit"),
        tuple(verdicts), (PlateUse(0, parts_kg, 1.3, 18.8 - parts_kg - 1.3, 0.4, (300, 200, 280, 190)),),
        Totals(figure(t / 60, 0.3 * t / 60, "min", "time.total"), figure(95, 30, "USD", "cost.total"), parts_kg,
               6, 5, arc_total / 60, 3200, len(steps)),
        findings, "0.1.0",
    )  # fmt: skip
