"""A weld joint: areas, weld metal, passes, what each half is cut to, and how it stands to published details."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.setout import Column, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Faults, Field, Given, choice, length, maybe_length, number, shown_given
from lagline.setouts.bevel import SQUARE_FIRST, USUAL, is_square_first, passes
from lagline.setouts.bevel_able import CLEAN, able_finding, one_pass
from lagline.setouts.joint_check import SHOP, check
from lagline.setouts.joint_picture import section
from lagline.trade import bevel_edge, weld_joint
from lagline.trade.bevel_edge import Prep
from lagline.trade.weld_joint import DOUBLE, SHARED, Joint

GEOMETRY = "geometry (derived)"
WIDEST_GAP_MM = 25.4
USUAL_CAP_MM = 1.5875
USUAL_DEG = {"v": 60.0, "x": 60.0, "single-bevel": 45.0, "k": 45.0, "square": 0.0}
ANGLES = {True: (10.0, 120.0), False: (5.0, 60.0)}  # shared by both plates, or one plate's own

_FIELDS: tuple[Field, ...] = (
    length("thickness", "plate thickness", least=1, most=150),
    choice("kind", "x is a double V, k a double bevel", "v", "single-bevel", "x", "k", "square"),
    number("angle", "groove angle: between both plates of v and x, one plate's bevel of the others", "deg", most=180),
    maybe_length("land", "land (root face)", 0.0),
    length("gap", "gap at the root", least=0),
    maybe_length("depth", "x and k: depth of the first groove; empty takes half of what the land leaves"),
    number("second_angle", "x and k: groove angle on the second face; empty takes the first's", "deg", most=180),
    choice("place", "butt, or T and corner", "butt", "tee"),
    choice("process", "smaw is stick, wire gas metal arc or flux-cored", "smaw", "wire", "tig"),
    choice("code", "published details to check against", "aws", "iso", "none"),
    maybe_length("weld_length", "length of the weld"),
    maybe_length("cap", "height of the cap (reinforcement) on each face that is welded", USUAL_CAP_MM, most=6),
    number("pass_area", "section one pass leaves; empty takes the process's own", "mm2", least=2, most=200),
    choice(
        "land_by",
        "how the lands are made: ground after one cut, or edges cut square first; usual: v and single-bevel are "
        "ground, x and k cut square first",
        USUAL,
        "grind",
        SQUARE_FIRST,
    ),
)


def _joint(given: Given, faults: Faults) -> Joint | None:
    kind, t, land, gap = given.word("kind"), given["thickness"], given["land"], given["gap"]
    angle = given.get("angle")
    second, depth = given.get("second_angle"), given.get("depth")
    least, most = ANGLES[kind in SHARED]
    if kind == "square":
        faults.unless(angle in (None, 0.0), "angle", "a square joint has no groove angle", "none; or kind v")
    else:
        for name, a in (("angle", angle), ("second_angle", second)):
            if a is not None and not least <= a <= most:
                usual = f"{least:g} to {most:g} deg, {USUAL_DEG[kind]:g} usual; with none it is kind square"
                faults.add(name, f"{a:g} deg is no groove angle for a {kind}", usual)
        if land >= t - 1e-9:
            message = f"a land of {given.show(land)} leaves no groove in {given.show(t)}"
            faults.add("land", message, f"under {given.show(t)}, 0 to 1/8 in usual; or kind square")
    if gap > WIDEST_GAP_MM + 1e-9:
        allowed = f"{given.show(WIDEST_GAP_MM)} at most; lay a strip in, or build the edges up first"
        faults.add("gap", f"a gap of {given.show(gap)} is no joint to weld", allowed)
    if kind not in DOUBLE:
        for name, value in (("depth", depth), ("second_angle", second)):
            faults.unless(value is None, name, f"a {kind} is prepared from one face", "kind x or k, or leave it out")
    elif depth is not None and not 0 < depth < t - land:
        allowed = f"above 0, under {given.show(max(t - land, 0))}"
        faults.add("depth", f"{given.show(depth)} leaves no groove on the second face", allowed)
    if given.word("place") == "tee":
        allowed = "single-bevel, k or square"
        faults.unless(kind not in SHARED, "kind", f"a {kind} has two bevelled plates, a T joint one", allowed)
    if faults.found:
        return None
    return weld_joint.joint(kind, t, gap, land, USUAL_DEG[kind] if angle is None else angle, depth, second)


def half_prep(j: Joint) -> Prep:
    """Return the bevelled edge of one plate (both plates of a shared groove are alike)."""
    half = 0.5 if j.kind in SHARED else 1.0
    at = "both" if j.second_mm else "bottom"
    return bevel_edge.prep(j.thickness_mm, j.land_mm, at, j.angle_deg * half, j.depth_mm, j.second_deg * half)


def asked_as(given: Given, edge: Prep, *, second_face: bool = False) -> str:
    """Return how the half is asked for as a set-out of its own; with ``second_face`` as it lies turned over."""
    square_first = is_square_first(given, edge.second_mm > 0)
    if second_face:
        if not square_first:
            return "the first face's, its second bevel"
        turned = replace(
            edge, angle_deg=edge.second_deg, depth_mm=edge.second_mm, second_mm=edge.depth_mm, second_deg=edge.angle_deg
        )
        if abs(turned.depth_mm - edge.depth_mm) < 1e-6 and abs(turned.angle_deg - edge.angle_deg) < 1e-9:
            return "the first face's, plate turned over"
        edge = turned
    text = f"bevel cut --thickness {_bare(given, edge.thickness_mm)} --angle {edge.angle_deg:g}"
    if edge.land_mm > 0:
        text += f" --land {_bare(given, edge.land_mm)}"
    if edge.second_mm:
        text += f" --land-at both --depth {_bare(given, edge.depth_mm)}"
        if abs(edge.second_deg - edge.angle_deg) > 1e-9:
            text += f" --second-angle {edge.second_deg:g}"
    by = given.word("land_by")
    text += f" --land-by {by}" if by != USUAL else ""
    return text + _units(given)


def _square_as(given: Given, j: Joint) -> str:
    return f"guide straight --thickness {_bare(given, j.thickness_mm)}{_units(given)}"


def _units(given: Given) -> str:
    return " --units mm" if given.units == "mm" else ""


def _bare(given: Given, mm: float) -> str:
    """A length as it can be typed again without loss: a shop fraction when it is one, else in the unit's decimals."""
    shown = given.show(mm).removeprefix("~").removesuffix('"').removesuffix(" mm")
    if given.units == "mm":
        return f"{mm:.6g}"
    whole, _, part = shown.rpartition("-")
    top, _, bottom = part.partition("/")
    value = float(whole or 0) + (float(top) / float(bottom) if bottom else float(top))
    return shown if abs(value * 25.4 - mm) < 1e-6 else f"{mm / 25.4:.6g}"


def _halves(given: Given, j: Joint, where: str) -> tuple[Table, list[Finding]]:
    bench = given.bench
    assert bench is not None
    columns = (
        Column("half", "plate"), Column("tilt_deg", "tilt", "deg"), Column("land_mm", "land", "mm"),
        Column("set_in_mm", "line in from root", "mm"), Column("through_mm", "through", "mm"),
        Column("current_a", "current", "A"), Column("pace_mm_s", "pace", "mm/s"), Column("able", "this set"),
        Column("ask", "full set-out"),
    )  # fmt: skip
    rows: list[tuple[float | str, ...]] = []
    found: list[Finding] = []
    if j.kind != "square":
        edge = half_prep(j)
        square_first = is_square_first(given, edge.second_mm > 0)
        name = "both plates" if j.kind in SHARED else "bevelled plate"
        for c in passes(given, edge, square_first):
            line, what, second = bevel_edge.set_in(edge), name, c.name.startswith("second")
            if second:
                line = edge.second_mm * math.tan(math.radians(edge.second_deg))
            if not c.tilt_deg:
                line, what = 0.0, f"{name}, square first"
            elif edge.second_mm:
                what = f"{name}, {c.name.removesuffix(' bevel')} face"
            s = c.setting
            asked = asked_as(given, edge, second_face=second) if c.tilt_deg else _square_as(given, j)
            land = edge.land_mm if c.tilt_deg else j.thickness_mm
            rows.append(
                (what, c.tilt_deg, round(land, 3), round(line, 3), round(c.through_mm, 3), s.current_a,
                 round(s.pace_mm_s.value, 3), c.able, asked)
            )  # fmt: skip
            if c.able != CLEAN:
                found.append(able_finding(given, c, where, edge, square_first))
    if j.kind not in SHARED:
        plate = "both plates" if j.kind == "square" else "square plate"
        if j.kind == "square" or given.word("place") == "butt":
            c = one_pass("square cut", bench, 0.0, j.thickness_mm)
            s, able = c.setting, c.able
            said = able_finding(given, c, where, bevel_edge.prep(j.thickness_mm, 0.0, "bottom", 0.0), True)
            if able != CLEAN and said not in found:
                found.append(said)
            rows.append(
                (plate, 0.0, j.thickness_mm, 0.0, j.thickness_mm, s.current_a, round(s.pace_mm_s.value, 3), able,
                 _square_as(given, j))
            )  # fmt: skip
    return Table("halves", "What each plate is cut to", columns, tuple(rows), "Lines from the root, gap not in."), found


def _numbers(given: Given, j: Joint) -> list[Number]:
    assert given.bench is not None
    metal = given.bench.stock.metal
    tee = given.word("place") == "tee"
    inputs = (
        ("thickness_mm", f"{j.thickness_mm:g}"), ("gap_mm", f"{j.gap_mm:g}"), ("land_mm", f"{j.land_mm:g}"),
        ("groove_deg", f"{j.angle_deg:g}"),
    )  # fmt: skip

    def of(key: str, words: str, value: float, unit: str, formula: str, main: bool = False) -> Number:
        return Number(key, words, exact(value, unit, formula, GEOMETRY, inputs), main)

    groove = weld_joint.groove_area(j)
    out = [of("groove_mm2", "groove, flush with both faces", groove, "mm2", "joint.groove-area", True)]
    if j.kind != "square":
        out.append(of("width_mm", "width of the groove at the first face", j.first_width_mm, "mm", "joint.width"))
    if j.second_mm:
        out.append(of("depth_mm", "depth of the first groove", j.depth_mm, "mm", "joint.groove-area"))
        out.append(of("second_depth_mm", "depth of the second groove", j.second_mm, "mm", "joint.groove-area"))
        out.append(of("second_width_mm", "width at the second face", j.second_width_mm, "mm", "joint.width"))
    caps = (j.first_width_mm, *((j.second_width_mm,) if j.second_mm else ()))
    cap = math.fsum(weld_joint.cap_area(w, given["cap"]) for w in caps)
    if tee:
        leg = weld_joint.tee_fillet(j.thickness_mm)
        cap = weld_joint.fillet_area(leg) * len(caps)
        out.append(of("fillet_mm", "fillet on top of the groove, each face welded", leg, "mm", "joint.tee-fillet"))
    out.append(of("cap_mm2", "caps or fillets beyond the faces", cap, "mm2", "joint.cap-area"))
    per_m = weld_joint.metal_per_metre(groove, metal)
    whole = weld_joint.metal_per_metre(groove + cap, metal)
    out.append(Number("metal_kg_m", "weld metal, groove alone", per_m, main=True))
    out.append(Number("metal_with_cap_kg_m", "weld metal, caps or fillets too", whole))
    long = given.get("weld_length")
    if long:
        m = long / 1000
        kg = Figure(whole.value * m, whole.low * m, whole.high * m, "kg", whole.formula, whole.basis, whole.source,
                    (*whole.inputs, ("length_m", f"{m:g}")))  # fmt: skip
        out.append(Number("metal_kg", "weld metal for the length, caps or fillets too", kg, main=True))
    typed = given.get("pass_area")
    one = (
        weld_joint.deposit(given.word("process"))
        if typed is None
        else Figure(typed, typed, typed, "mm2", "given", Basis.DRAWING, "as typed")
    )
    runs = weld_joint.passes(groove + cap, one, 2 if j.second_mm else 1)
    out.append(Number("passes", "passes, caps or fillets too", runs, main=True))
    out.append(Number("pass_mm2", "section that one pass leaves", one))
    return out


def _cautions(given: Given, j: Joint, where: str) -> list[Finding]:
    out = []
    most = min(2 * j.thickness_mm, 19.05)
    if j.gap_mm > most + 1e-9:
        message = f"a gap of {given.show(j.gap_mm)} is wide for {given.show(j.thickness_mm)}"
        allowed = (
            f"under {given.show(most)}, twice the thinner plate or 3/4 in, may be built up (AWS D1.1, from memory); "
            "wider needs the engineer"
        )
        out.append(Finding("gap-wide", Severity.CAUTION, where, message, allowed))
    if j.kind == "square" and j.thickness_mm > 6.35 + 1e-9:
        message = f"a square joint in {given.show(j.thickness_mm)} does not melt through from its faces"
        allowed = "to about 1/8 in from one face, 1/4 in from both (common practice, no source); else kind v or x"
        out.append(Finding("square-thick", Severity.CAUTION, where, message, allowed))
    if given.word("process") == "wire" and given.word("code") == "aws":
        message = (
            "short-circuiting gas metal arc is not prequalified (AWS D1.1:2015 notes to the figures, note a, seen)"
        )
        out.append(Finding("short-arc", Severity.NOTE, where, message, "spray, globular or pulsed; or qualify it"))
    return out


def _steps(given: Given, j: Joint) -> tuple[str, ...]:
    steps = []
    if j.kind != "square":
        steps.append(
            "Cut the halves by the table, row by row; grind oxide and nitrided skin off faces and lands to bright "
            "metal."
        )
    gap = f"a gap of {given.show(j.gap_mm)}, set with spacers" if j.gap_mm else "no gap"
    steps.append(f"Fit up with {gap}; measure gap and angle at both ends and the middle, then tack.")
    if j.second_mm:
        steps.append("Weld in turn from either face, so that it does not fold to one side.")
    steps.append("Backgouge to sound metal before the second side, unless there is a backing bar.")
    return tuple(steps)


def joint(given: Given) -> SetOut:
    """Return the set-out of a weld joint."""
    where = "bevel joint"
    faults = Faults(where)
    j = _joint(given, faults)
    faults.raise_if_any()
    assert j is not None
    place = given.word("place")
    halves, able = _halves(given, j, where)
    tables, checked = check(j, given, place, where)
    name = SHOP[j.kind]
    size = "" if j.kind == "square" else f", {j.angle_deg:g} deg, land {given.show(j.land_mm)}"
    return SetOut(
        where,
        f"{name[0].upper()}{name[1:]} {place} joint in {given.show(j.thickness_mm)}{size}, gap {given.show(j.gap_mm)}",
        shown_given(JOINT, given),
        tuple(_numbers(given, j)),
        tables=(halves, *tables),
        steps=_steps(given, j),
        picture=section(j, given["cap"], place == "tee", given),
        findings=sort_findings([*able, *checked, *_cautions(given, j, where)]),
    )


JOINT = Ask(
    "bevel", "joint", "Weld joint: groove area, weld metal, passes, what each half is cut to, published details.",
    _FIELDS, joint, thickness="thickness",
    # gusset to cheek plate of the slipway cradle, full penetration from both sides
    example=(
        ("thickness", "1/2"), ("kind", "single-bevel"), ("angle", "45"), ("land", "1/16"), ("gap", "1/8"),
        ("place", "tee"), ("weld_length", "14"),
    ),
)  # fmt: skip

ASKS = (JOINT,)
