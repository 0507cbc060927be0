"""The hole a branch needs in its header: a sheet to lay on it, points by the marks, bevel and true thickness."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Point
from lagline.records.plan import Setting
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, choice, length, maybe_length, shown_given
from lagline.setouts.pipe_cut import DENSE, FLATTEST_DEG, told
from lagline.setouts.pipe_fields import HOLLOW, MARKS, MOST_MM, PAPER, angle_faults, bore_faults
from lagline.setouts.pipe_saddle import CROTCH, angles, fit_faults
from lagline.setouts.pipe_sheet import check_words
from lagline.shapes.pipe_hole import HoleLine, hole_line
from lagline.shapes.pipe_joint import line_length
from lagline.shapes.pipe_ring import Floats
from lagline.trade.pipe_saddle import DERIVED, LEAST_ANGLE_DEG
from lagline.trade.register import out_of_range

SMALLEST_HOLE_MM = 12.0  # smaller is drilled; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class _Hole:
    """The hole at the marks and between; true thickness, setting and pace as the torch is held."""

    at: HoleLine
    line: HoleLine
    radius: float
    through: Floats
    heavy: Setting | None
    paces: tuple[float, ...]
    findings: tuple[Finding, ...]


def _work(given: Given) -> _Hole:
    header, branch, lean = given["header_diameter"] / 2, given["branch_diameter"] / 2, given["angle"]
    wall, offset = given.get("header_wall"), given["offset"]
    faults = Faults("pipe header-hole")
    angle_faults(faults, lean, LEAST_ANGLE_DEG, CROTCH)
    bore_faults(faults, given, "branch_wall", branch, "the branch")
    bore_faults(faults, given, "header_wall", header, "the header")
    faults.raise_if_any()
    set_on = given.word("contact") == "set-on"
    radius = (branch - (given.get("branch_wall") or 0.0) if set_on else branch) + given["clearance"]
    fit_faults(faults, given, header, branch, offset)
    bore = header - (wall or 0.0)
    faults.unless(
        bool(faults.found) or radius + abs(offset) <= bore + 1e-9,
        "header_wall",
        f"the hole reaches {given.show(radius + abs(offset))} from the header's middle and the bore only "
        f"{given.show(bore)}: the torch would run along inside the wall",
        f"a hole of {given.show(2 * max(bore - abs(offset), 0.0))} at most, a thinner header, or less offset",
    )
    faults.raise_if_any()
    turns = np.radians(np.asarray(angles(int(given.word("marks")))))
    at = hole_line(header, radius, math.radians(lean), offset, wall, turns)
    line = hole_line(header, radius, math.radians(lean), offset, wall, np.linspace(0, 2 * math.pi, DENSE + 1))
    fixed = given.word("torch") == "fixed"
    through = at.thickness if fixed else np.full_like(at.thickness, wall or 0.0)
    findings = [HOLLOW, *out_of_range("pipe.hole", "pipe header-hole", angle_deg=lean)]
    findings += _torch_findings(given, line, fixed=fixed)
    if 2 * radius < SMALLEST_HOLE_MM:
        findings.append(
            Finding("hole-small", Severity.CAUTION, "pipe header-hole",
                    f"a hole of {given.show(2 * radius)} is too small to cut clean by hand", "drill it")
        )  # fmt: skip
    heavy, paces = None, []
    if given.bench is not None and wall is not None:
        most = float(line.thickness.max()) if fixed else wall
        heavy, found = given.bench.setting(thickness_mm=round(most, 2))
        bench = replace(given.bench, current_a=heavy.current_a)
        findings += told(found)
        known: dict[float, float] = {}
        for t in through:
            key = round(float(t), 2)
            if key not in known:
                known[key] = bench.setting(thickness_mm=key)[0].pace_mm_s.value
            paces.append(known[key])
        if not bench.setting(thickness_mm=wall)[0].pierce_ok:
            findings.append(
                Finding("hole-pierce", Severity.CAUTION, "pipe header-hole",
                        f"this set may not pierce {given.show(wall)}", "drill a starting hole inside the line")
            )  # fmt: skip
    return _Hole(at, line, radius, through, heavy, tuple(paces), tuple(findings))


def _torch_findings(given: Given, line: HoleLine, *, fixed: bool) -> list[Finding]:
    wall, steep = given.get("header_wall"), float(line.lean_deg.max())
    if fixed and wall is not None and steep > FLATTEST_DEG:
        return [
            Finding("torch-too-flat", Severity.NO_GO, "pipe header-hole",
                    f"held along the branch the torch would lean {steep:.0f} deg off the header's wall, through "
                    f"{given.show(float(line.thickness.max()))} of metal",
                    "torch radial and grind to fit, or a smaller branch or offset")
        ]  # fmt: skip
    if not fixed and wall is not None and given.word("contact") == "set-in":
        foul = wall * float(np.abs(line.side).max()) / (given["header_diameter"] / 2)
        if foul > 0.8:
            return [
                Finding("hole-tight-inside", Severity.CAUTION, "pipe header-hole",
                        f"cut square to the header the hole is up to {given.show(foul)} tighter at the bore than at "
                        "the outside, and the branch will not go in",
                        "torch fixed (held along the branch), or grind the inside edge, or that much more clearance")
            ]  # fmt: skip
    return []


def _numbers(h: _Hole, given: Given) -> tuple[Number, ...]:
    def mm(key: str, words: str, value: float, formula: str = "pipe.hole", *, main: bool = False) -> Number:
        return Number(key, words, exact(value, "mm", formula, DERIVED), main)

    out = [
        mm("hole_along_mm", "hole, along the header", float(np.ptp(h.line.along)), main=True),
        mm("hole_around_mm", "hole, round the header's outside", float(np.ptp(h.line.around)), main=True),
        mm("hole_middle_along_mm", "middle of the hole from under the crossing of the axes, the way the branch leans",
           float(h.line.along.max() + h.line.along.min()) / 2),
        mm("hole_across_mm", "hole, straight across", float(np.ptp(h.line.side))),
        mm("hole_radius_mm", "radius of the hole seen along the branch", h.radius),
        mm("cut_length_mm", "length of the cut on the outside",
           line_length(h.line.along, h.line.around)),
    ]  # fmt: skip
    if given.get("header_wall") is not None:
        out.append(mm("true_thickness_most_mm", "most metal under the arc along the cut", float(h.through.max()),
                      "pipe.hole-thickness"))  # fmt: skip
    if h.heavy is not None:
        out += [
            Number("pace_slowest_mm_s", "pace where the cut is thickest", h.heavy.pace_mm_s, main=True),
            Number("kerf_mm", "kerf, all of it inside the line", h.heavy.kerf_mm),
        ]
    return tuple(out)


def _table(h: _Hole, given: Given) -> Table:
    wall = given.get("header_wall") is not None
    columns = (
        Column("mark", "mark"), Column("angle_deg", "round the branch", "deg"),
        Column("along_mm", "along the header", "mm"), Column("around_mm", "round the header", "mm"),
        *((Column("true_thickness_mm", "true thickness", "mm"),) if wall else ()),
        Column("bevel_deg", "branch off square to the wall", "deg"),
        *((Column("pace_mm_s", "pace", "mm/s"),) if h.paces else ()),
    )  # fmt: skip
    rows = []
    for i, a in enumerate(angles(int(given.word("marks")))):
        row = [i + 1, a, round(float(h.at.along[i]), 4) + 0.0, round(float(h.at.around[i]), 4) + 0.0]
        row += [round(float(h.through[i]), 4)] if wall else []
        row += [round(float(h.at.lean_deg[i]), 4)]
        row += [round(h.paces[i], 4)] if h.paces else []
        rows.append(tuple(row))
    note = "From the centre mark: along, + the way the branch leans; round, + to the left of that (looking down on it)."
    return Table("ordinates", "Points of the hole", columns, tuple(rows), note)


def _points(h: HoleLine, stretch: float) -> tuple[Point, ...]:
    return tuple((round(float(a), 4), round(float(b) * stretch, 4)) for a, b in zip(h.along, h.around, strict=True))


def _lean_words(lean_deg: float) -> str:
    return "top line" if lean_deg == 90 else "leans this way >" if lean_deg < 90 else "< leans this way"


def _corners(box: tuple[float, float, float, float]) -> tuple[Point, ...]:
    left, bottom, right, top = box
    return ((left, bottom), (right, bottom), (right, top), (left, top))


def _sheet(h: _Hole, given: Given, title: str) -> Drawing:
    """The hole as it lies on the header: along the header to the right, round it upwards."""
    stretch = 1 + given["paper_thickness"] / (given["header_diameter"] / 2)
    line, marks = _points(h.line, stretch)[:-1], _points(h.at, stretch)
    xs, ys = [p[0] for p in line], [p[1] for p in line]
    box = (min(*xs, 0.0) - 25, min(*ys, 0.0) - 25, max(*xs, 0.0) + 25, max(*ys, 0.0) + 25)
    mx, my = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    strokes = [Stroke("cut", line, True), Stroke("centre", ((box[0], 0.0), (box[2], 0.0))),
               Stroke("centre", ((0.0, box[1]), (0.0, box[3]))),
               Stroke("edge", _corners(box), True)]  # fmt: skip
    span = max(max(xs) - min(xs), max(ys) - min(ys))
    size = max(1.2, min(3.0, 0.36 * math.pi * span / len(marks) * 0.7))
    texts = [Text((mx, my + 0.12 * span), "WASTE"), Text((box[2] - 9, box[1] + 6), "keep")]
    texts.append(Text((box[0] + 22, box[3] - 5), _lean_words(given["angle"])))
    for i, p in enumerate(marks):
        ux, uy = p[0] - mx, p[1] - my
        d = math.hypot(ux, uy)
        ux, uy = ux / d, uy / d
        strokes.append(Stroke("mark", ((p[0] - 2 * ux, p[1] - 2 * uy), (p[0] + 4 * ux, p[1] + 4 * uy))))
        texts.append(Text((p[0] + 8 * ux, p[1] + 8 * uy), str(i + 1), 0, size))
    check = Dim((box[0], box[1]), (box[2], box[1]), check_words(box[2] - box[0], given), -8.0)
    label = (title, "centre lines on the header's top line and on the ring under the branch", "print outwards")
    return Drawing("Hole in the header", (Area("waste", line),), tuple(strokes), tuple(texts), (check,), label)


def _picture(h: _Hole, given: Given, title: str) -> Drawing:
    """The header from above with the hole in it, and its end with the branch's way through."""
    r, lean = given["header_diameter"] / 2, math.radians(given["angle"])
    top = tuple((float(a), float(b)) for a, b in zip(h.line.along, h.line.side, strict=True))[:-1]
    left, right = min(p[0] for p in top) - 0.6 * r, max(p[0] for p in top) + 0.6 * r
    mx = right + 1.7 * r
    ring = tuple((mx + r * math.cos(k * math.pi / 48), r * math.sin(k * math.pi / 48)) for k in range(96))
    bore: tuple[tuple[Point, ...], ...] = ()
    if (t := given.get("header_wall")) is not None:
        k = (r - t) / r
        bore = (tuple((mx + k * (x - mx), k * y) for x, y in ring),)
    sides = [mx - given["offset"] - h.radius, mx - given["offset"] + h.radius]
    low = [math.sqrt(max(r * r - (s - mx) ** 2, 0.0)) for s in sides]
    areas = (
        Area("metal", ((left, -r), (right, -r), (right, r), (left, r))), Area("waste", top), Area("metal", ring, bore),
    )  # fmt: skip
    strokes = (
        Stroke("centre", ((left - 0.2 * r, 0.0), (right + 0.2 * r, 0.0))), Stroke("cut", top, True),
        Stroke("centre", ((mx, -1.2 * r), (mx, 1.5 * r))),
        *(Stroke("cut", ((s, y), (s, 1.5 * r))) for s, y in zip(sides, low, strict=True)),
    )  # fmt: skip
    marks = [(float(h.at.along[i]), float(h.at.side[i])) for i in (0, len(h.at.along) // 4)]
    quarter = len(h.at.along) // 4 + 1
    cx = float(h.line.along.max() + h.line.along.min()) / 2
    texts = [
        Text((marks[0][0] + 0.3 * (cx - marks[0][0]), marks[0][1]), "1"),
        Text((cx, given["offset"] + 0.72 * h.radius), str(quarter)),
        Text(((left + right) / 2, -1.3 * r), "from above"),
        Text((mx, -1.45 * r), "along the header"),
    ]
    if abs(lean - math.pi / 2) > 1e-9:
        texts.append(
            Text(((left + right) / 2, 1.25 * r), "leans to the " + ("right" if lean < math.pi / 2 else "left"))
        )
    dims = (
        Dim((left, -r), (left, r), given.show(2 * r), 0.3 * r),
        Dim((sides[0], 1.5 * r), (sides[1], 1.5 * r), given.show(2 * h.radius), 0.15 * r),
    )
    return Drawing(title, areas, strokes, tuple(texts), dims)


def _steps(h: _Hole, given: Given) -> tuple[str, ...]:
    steps = [
        "Strike the header's top line, and a ring square round it where the axes cross; punch the crossing."
        + (f" The hole's middle is {given.show(abs(given['offset']))} off the top line." if given["offset"] else ""),
        "Lay the sheet on, print outwards, its centre lines on the top line and the ring; check the check length; "
        "punch the line at every mark, take the sheet off and draw it through. The waste is inside.",
        "Try the cut branch on the drawn line before you cut: the branch must cover the line evenly all round.",
        "Start inside the line: pierce rolling, or drill, at least a wall's thickness off it; run in to the line at a "
        "flat part and go round so that the header is on the torch's square side (anticlockwise with most torches).",
    ]
    if given.word("torch") == "radial":
        steps.append("Torch radial: square to the header's wall all the way, pointed at its middle.")
    else:
        steps.append("Torch fixed: hold it parallel to the branch all the way, as the branch will stand.")
    if h.heavy is not None:
        slow = int(np.argmax(h.through)) + 1
        steps.append(
            f"{h.heavy.current_a:g} A, tip {h.heavy.tip}. The arc goes through {given.show(float(h.through.max()))} at "
            f"mark {slow} and {given.show(float(h.through.min()))} where it is thinnest: keep the pace in the table."
        )
    steps.append("Hold the disc with a magnet or a wire so that it does not drop into the header; fish out all dross.")
    return tuple(steps)


def header_hole(given: Given) -> SetOut:
    """Return the hole in a header for a branch."""
    h = _work(given)
    show = given.show
    title = f"Hole in a {show(given['header_diameter'])} header for a {show(given['branch_diameter'])} branch"
    title += f" {given.word('contact').replace('-', ' ')}, {given['angle']:g} deg"
    return SetOut(
        "pipe header-hole", title, shown_given(HOLE, given), _numbers(h, given), (_table(h, given),), _steps(h, given),
        _picture(h, given, title), (_sheet(h, given, title),), h.findings,
    )  # fmt: skip


HOLE = Ask(
    "pipe", "header-hole", "Hole in a header for a branch: its line on the header's outside.",
    (
        length("header_diameter", "outside diameter of the header", least=10, most=MOST_MM),
        length("branch_diameter", "outside diameter of the branch; without its wall, of the hole", least=6,
               most=MOST_MM),
        angle("angle", "angle between the axes of branch and header", 90.0),
        maybe_length("offset", "branch axis beside the header's, + to the left of the way the branch leans", 0.0,
                     least=-MOST_MM, most=MOST_MM),
        choice("contact", "branch set on (hole as wide as its bore) or set in (hole as wide as its outside)", "set-on",
               "set-in"),
        maybe_length("branch_wall", "wall of the branch", least=0.3, most=100),
        maybe_length("header_wall", "wall of the header", least=0.3, most=100),
        maybe_length("clearance", "gap all round between hole and branch", 0.0, most=20),
        MARKS,
        choice("torch", "torch held along the branch (fixed), or square to the header (radial)", "fixed", "radial"),
        PAPER,
    ),
    header_hole, thickness="header_wall",
    example=(("header_diameter", "8-5/8"), ("branch_diameter", "4-1/2"), ("branch_wall", "0.237"),
             ("header_wall", "0.322")),
)  # fmt: skip

ASKS = (HOLE,)
