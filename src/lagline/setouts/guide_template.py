"""Templates: a shape's or a drawing's edge set in by what cup and kerf need, with what comes off it, told truly."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.setout import Column, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Field, Given, choice, length, maybe_text, shown_given
from lagline.setouts.guide_boards import Boards, boards_for
from lagline.setouts.guide_shape import outline_of
from lagline.setouts.guide_template_sheets import Numbered, numbered, picture, sheets
from lagline.setouts.guide_torch import CUP, KERF, Torch, torch_of
from lagline.shapes.named import SHAPES
from lagline.shapes.rolled import Mark
from lagline.trade import guide
from lagline.trade.guide import SOURCE

COMMON = "common practice, no source"
SHORT = {
    "outer corner": "run straight on",
    "outer radius": "freehand, or grind",
    "tongue": "straightedge or freehand",
    "inner corner": "file, saw or drill",
    "notch": "drill, saw or file",
}
REMEDY = {
    "outer corner": "run the torch straight on past it in the drop, stop, start anew along the other side; or accept "
    "the round",
    "outer radius": "it comes out rounder: cut it freehand outside the template and grind, or on the circle arm",
    "tongue": "too narrow for the template: cut it along a straightedge or freehand",
    "inner corner": "the kerf's own radius stays: file or saw it sharp, or drill the corner first",
    "notch": "the kerf does not reach it: drill, saw or file it",
}


def _run_on(m: Mark, r: float) -> float:
    """How far past the template's corner the torch runs straight on to reach the part's corner [mm]."""
    return round(r / math.tan(math.radians(m.angle_deg) / 2), 3)


def _marks_table(marks: tuple[Numbered, ...], t: Torch, origin: tuple[float, float]) -> Table:
    rows: list[tuple[float | str, ...]] = []
    for n in marks:
        m = n.mark
        on: float | str = _run_on(m, t.r) if m.kind == "outer corner" else ""
        across, up = (round(a - o, 3) for a, o in zip(m.at, origin, strict=True))
        rows.append((float(n.number), n.edge, m.kind, across, up, round(m.deep_mm, 3), on, SHORT[m.kind]))
    columns = (
        Column("mark", "mark"),
        Column("edge", "edge"),
        Column("what", "what"),
        Column("x_mm", "across", "mm"),
        Column("y_mm", "up", "mm"),
        Column("off_mm", "off by", "mm"),
        Column("run_on_mm", "run on", "mm"),
        Column("remedy", "what to do"),
    )
    note = "Across and up from the lower left of the drawn outline. Run on: past where the cup leaves the edge."
    return Table("marks", "Where the part is not the drawing", columns, tuple(rows), note)


def _holes_table(boards: Boards, origin: tuple[float, float]) -> Table:
    rows: list[tuple[float | str, ...]] = []
    for h in boards.holes:
        across, up = (round(c - o, 3) for c, o in zip(h.centre, origin, strict=True))
        how = f"own template {h.sheet}" if h.sheet else "drill" if h.way == "drill" else "opening in the board"
        rows.append((h.name, h.kind, round(h.size_mm, 3), across, up, how))
    columns = (
        Column("hole", "hole"),
        Column("kind", "kind"),
        Column("size_mm", "diameter or width", "mm"),
        Column("x_mm", "across", "mm"),
        Column("y_mm", "up", "mm"),
        Column("way", "how"),
    )
    return Table("holes", "The holes", columns, tuple(rows), "Across and up from the lower left of the drawn outline.")


def _findings(name: str, boards: Boards, marks: tuple[Numbered, ...], t: Torch, given: Given) -> tuple[Finding, ...]:
    where = f"{TEMPLATE.kind}, {name}"
    out = list(t.findings)
    kinds = [n.mark.kind for n in marks]
    for kind in ("tongue", "notch", "outer radius", "outer corner", "inner corner"):
        numbers = [str(n.number) for n in marks if n.mark.kind == kind]
        if not numbers:
            continue
        many = f"mark{'s' * (len(numbers) > 1)} {', '.join(numbers[:12])}{' ...' * (len(numbers) > 12)}"
        said = {
            "tongue": f"the part is narrower there than {given.show(2 * t.kept.value)} and the template leads nothing",
            "notch": f"narrower than the kerf, {given.show(t.k)}, or behind such a place",
            "outer radius": f"a radius under {given.show(t.kept.value)} comes out as {given.show(t.kept.value)}",
            "outer corner": f"sharp corners come out with a radius of {given.show(t.kept.value)} unless run off",
            "inner corner": f"inside corners keep the kerf's radius, {given.show(t.k / 2)}",
        }[kind]
        grave = Severity.NO_GO if kind == "notch" else Severity.CAUTION
        out.append(Finding(f"template-{kind.replace(' ', '-')}", grave, where, f"{many}: {said}", REMEDY[kind]))
    if "inner corner" in kinds:
        out.append(
            Finding(
                "reentrant",
                Severity.NOTE,
                where,
                "in structural work re-entrant corners are to have a radius of 1 in or more, but for connection "
                "material and beam copes (AWS D1.1:2015)",
                "draw the radius; local codes and the engineer decide",
            )
        )
    drilled = [h.name for h in boards.holes if h.way == "drill"]
    if drilled:
        message = f"{', '.join(drilled[:8])}{' ...' * (len(drilled) > 8)}: too small to cut by hand in this plate"
        out.append(Finding("template-drill", Severity.CAUTION, where, message, "prick the centre through, then drill"))
    xs, ys = zip(*boards.main.edge, strict=True)
    long, most = max(max(xs) - min(xs), max(ys) - min(ys)), t.kit.guides.template_max_mm
    if long > most:
        message = f"the template is {given.show(long)} long, the kit says {given.show(most)} can be handled"
        out.append(
            Finding("template-large", Severity.CAUTION, where, message, "cut the straights along a straightedge")
        )
    if not t.setting.edge_ok:
        out.append(
            Finding("guide-too-thick", Severity.NO_GO, where, "this set does not cut it", t.setting.weakest or "")
        )
    return tuple(out)


def _inset(t: Torch) -> Number:
    return Number("inset_mm", "from the cut line to the template's edge, all round", t.kept, main=True)


def _radius(key: str, words: str, value: float, t: Torch) -> Number:
    spread = t.kept.half_spread if key.startswith("outer") else t.kerf.half_spread / 2
    low = max(0.0, value - spread)
    return Number(key, words, Figure(value, low, value + spread, "mm", "guide.kept-side", t.kept.basis, SOURCE))


def _steps(boards: Boards, t: Torch, given: Given) -> tuple[str, ...]:
    d, inside = given.show(t.kept.value), boards.main.inside
    lies, rolls = ("outside", "inside of the opening") if inside else ("inside", "outside")
    out = [
        "Print the sheet at full scale, check its bar with a rule, and glue it on board, phenolic or thick aluminium.",
        "Cut the board to the heavy line and file the edge smooth: every dent is copied.",
        f"Scribe the cut line on the plate; lay the board {lies} it, {d} from it all round (a keep block does it), and "
        "hold it down out of the cup's way.",
        f"Roll the cup round dry first, on the {rolls}: it must touch all the way and clear every clamp.",
        "Start in the drop and run in; keep the torch upright and the cup on the edge, and run over the start.",
        "At each numbered mark do what the table says.",
    ]
    if any(h.way == "opening" for h in boards.holes):
        out.insert(4, "Cut the holes first, the cup inside the openings, then the outside.")
    return tuple(out)


def template(given: Given) -> SetOut:
    """Return the template of a shape or a drawing, with what comes off it."""
    t = torch_of(given, TEMPLATE.kind)
    name, outline, told = outline_of(given, TEMPLATE.kind)
    boards = boards_for(outline, t, given, TEMPLATE.kind)
    marks = numbered(boards, "outline")
    left, bottom, right, top = outline.bounds()
    xs, ys = zip(*boards.main.edge, strict=True)
    size = (("drawn", f"{right - left:.2f} x {top - bottom:.2f} mm"),)
    d, half = guide.kept_side(t.r, t.k), t.k / 2
    numbers = [
        _inset(t),
        _radius("outer_corner_radius_mm", "radius of the part where the template has a sharp outer corner", d, t),
        _radius("inner_corner_radius_mm", "radius of the part in a sharp inside corner", half, t),
        Number("template_length_mm", "opening, across" if boards.main.inside else "board, across",
               exact(max(xs) - min(xs), "mm", "guide.kept-side", SOURCE, size)),
        Number("template_height_mm", "opening, up" if boards.main.inside else "board, up",
               exact(max(ys) - min(ys), "mm", "guide.kept-side", SOURCE, size)),
        Number("places_marked", "places where the part is not the drawing",
               exact(float(len(marks)), "", "rolled", SOURCE)),
        Number("run_in_mm", "run-in, from the drop to the kerf's centre",
               exact(t.setting.lead_in_mm, "mm", "lead.length", COMMON, basis=Basis.DEFAULT)),
        Number("cup_radius_mm", "cup radius at the board's height", t.cup),
        Number("kerf_mm", "kerf", t.kerf),
    ]  # fmt: skip
    tables = []
    if marks:
        tables.append(_marks_table(marks, t, (left, bottom)))
    if boards.holes:
        tables.append(_holes_table(boards, (left, bottom)))
    what = "hole" if boards.main.inside else "part"
    return SetOut(
        TEMPLATE.kind,
        f"Template for a {name}, {given.show(right - left)} x {given.show(top - bottom)}, the {what} kept",
        shown_given(TEMPLATE, given),
        tuple(numbers),
        tuple(tables),
        _steps(boards, t, given),
        picture(boards, marks, t),
        sheets(name, boards, marks, t, given),
        (*told, *_findings(name, boards, marks, t, given)),
    )


TEMPLATE = Ask(
    "guide", "template", "Template of a shape or a drawing, at full scale, with what the cup can and cannot follow.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        choice("shape", "shape, when there is no drawing", *SHAPES),
        maybe_text("sizes", "its sizes, such as width=12 height=3-1/2"),
        Field("file", "drawing (DXF or SVG) instead of a shape", "file"),
        choice("keep", "what is kept: the part, or the plate round a hole of this shape", "part", "hole"),
        CUP,
        KERF,
    ),
    template, thickness="thickness",
    example=(("thickness", "3/8"), ("shape", "gusset"), ("sizes", 'leg_across=8" leg_up=10" snipe=1" nose=1/2"')),
)  # fmt: skip

ASKS = (TEMPLATE,)
