"""Holes: whether to cut, drill, or cut under and ream, with what is set for it."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, choice, length, maybe_length, shown_given
from lagline.setouts.guide_torch import CUP, KERF, Torch, torch_of
from lagline.setouts.hole_circle import CIRCLE
from lagline.trade import guide, hole_choice, holes
from lagline.trade.edge_place import edge_figure
from lagline.trade.hole_choice import REAM_MM, HoleAsked, Verdict, Way
from lagline.trade.register import out_of_range
from lagline.trade.tolerance import method_tolerance

COMMON = "common practice, no source"
DERIVED = "geometry (derived)"


def _taper(t: Torch, thick: float) -> Figure:
    b = t.setting.bevel_good_deg
    low, value, high = (holes.taper_on_diameter(thick, abs(a)) for a in sorted((b.low, b.value, b.high), key=abs))
    return Figure(
        value, low, high, "mm", "holes.taper", b.basis, b.source, (("bevel of the face [deg]", f"{b.value:g}"),)
    )


def _plus_minus(t: Torch, thick: float) -> Figure:
    """What a hole on the circle arm keeps on its diameter, plus or minus [mm]."""
    height = t.kit.guides.height_mm + t.setting.standoff_mm.value
    edge = edge_figure(method_tolerance("guide", "circle arm"), t.kept, t.setting.bevel_good_deg, thick, height)
    return Figure(2 * edge.value, 2 * edge.low, 2 * edge.high, "mm", "tolerance.edge-place", edge.basis, edge.source,
                  edge.inputs)  # fmt: skip


def _final(given: Given, faults: Faults) -> float:
    """The size that drill or reamer makes: the hole's own, or the tap's drill."""
    d = given["diameter"]
    pitch = given.get("pitch")
    if pitch is not None and given.word("use") != "tapped":
        faults.add("pitch", "a pitch goes with a tapped hole only", "use tapped, or no pitch")
    if given.word("use") != "tapped" or pitch is None:
        return d
    if pitch >= d:
        faults.add(
            "pitch", f"a pitch of {given.show(pitch)} is no less than the thread", "1/13 for 13 to the inch, 1.5 mm"
        )
        return d
    return hole_choice.tap_drill(d, pitch)


def _leading(t: Torch, cut: float, given: Given) -> tuple[tuple[Number, ...], str]:
    """What leads the torch round a hole of that diameter: its numbers, and the step that says so."""
    arm = guide.arm(cut / 2, t.k, disc=False)
    low, value, high = sorted(guide.arm(cut / 2, k, disc=False) for k in (t.kerf.low, t.kerf.value, t.kerf.high))
    inputs = (("cut diameter [mm]", f"{cut:.2f}"), ("kerf [mm]", f"{t.k:.2f}"))
    run = min(t.setting.lead_in_mm, max(arm, 0.0))
    shared = (
        Number("run_in_mm", "run-in, from the drop to the kerf's centre",
               exact(run, "mm", "lead.length", COMMON, basis=Basis.DEFAULT)),
    )  # fmt: skip
    if arm >= max(t.kit.guides.arm_min_mm, t.r):
        figure = Figure(value, low, high, "mm", "guide.arm", t.kerf.basis, guide.SOURCE, inputs)
        to_cup = guide.arm_to_cup(arm, t.r)
        near = exact(to_cup, "mm", "guide.arm-to-cup", guide.SOURCE, inputs)
        return (
            Number("arm_mm", "circle arm, pivot to tip's centre", figure, main=True),
            Number("arm_to_cup_mm", "pivot to the cup's near edge, what the tape reads", near, main=True),
            *shared,
        ), f"Lead it with the circle arm: {given.show(to_cup)} from pivot to cup, the pivot on the "
        "drop, propped from below so that it cannot sink or tip before the arc ends (guide arm)."
    opening = exact(cut + 2 * t.kept.value, "mm", "guide.kept-side", guide.SOURCE, inputs)
    return (
        (
            Number("template_opening_mm", "opening of the template, the cup runs inside", opening, main=True),
            *shared,
        ),
        f"Too small for the arm: lead it with a template, opening {given.show(opening.value)} across (guide template).",
    )


def _drills(verdict: Verdict, size: float, given: Given) -> Table | None:
    rows: list[tuple[float | str, ...]] = []
    if verdict.way is Way.DRILL or (verdict.way is Way.ASK and not verdict.stuck):
        last = size - REAM_MM if given.word("use") == "fit" else size
        rows = [("drill", d) for d in hole_choice.drill_steps(last)]
    elif verdict.way is Way.REAM:
        under = hole_choice.cut_under(size)
        rows = [("cut by hand", under.value)]
        if given.word("use") == "fit":
            rows.append(("drill or bore", size - REAM_MM))
    if not rows:
        return None
    if given.word("use") == "fit":
        rows.append(("ream", size))
    elif verdict.way is Way.REAM:
        rows.append(("drill or ream", size))
    if given.word("use") == "tapped":
        rows.append(("tap", given["diameter"]))
    numbered = tuple((float(i), tool, round(float(mm), 3)) for i, (tool, mm) in enumerate(rows, 1))
    columns = (Column("order", "order"), Column("tool", "tool"), Column("size_mm", "diameter", "mm"))
    note = "Common practice, no source. A cut hole leads a plain drill astray: clamp it, or take a bridge reamer."
    return Table("tools", "What makes it, in order", columns, numbered, note)


def _ways(verdict: Verdict) -> tuple[Table, ...]:
    one = Table("verdict", "Verdict", (Column("way", "way"), Column("why", "why")), ((str(verdict.way), verdict.why),))
    rows = tuple((str(w), "yes" if ok else "no", why) for w, ok, why in verdict.ways)
    columns = (Column("way", "way"), Column("goes", "goes"), Column("why", "why"))
    return one, Table("ways", "Every way", columns, rows)


def _findings(verdict: Verdict, near: Figure, t: Torch, given: Given) -> tuple[Finding, ...]:
    where, d, thick = VERDICT.kind, given["diameter"], given["thickness"]
    torch_matters = verdict.way in (Way.CUT, Way.REAM)
    out = list(t.findings) if torch_matters else []
    least = holes.minimum_hole(thick)
    if verdict.way is Way.CUT and d < least.high:
        message = (
            f"{given.show(d)} is at the least a hand can cut here, {given.show(least.low)} to {given.show(least.high)}"
        )
        out.append(
            Finding("hole-at-least", Severity.CAUTION, where, message, "expect it oval and tapered; or drill it")
        )
    if given.word("use") == "bolt":
        out.append(holes.bolt_hole_caution(where))
    if given.word("work") == "structural" and given.word("use") == "clearance" and verdict.way is Way.CUT:
        message = "hand-guided cuts are accepted for holes other than bolt holes where a machine is not feasible"
        out.append(Finding("hole-structural", Severity.NOTE, where, message, "AISC FAQ 2.2.5; local codes decide"))
    if verdict.way in (Way.CUT, Way.REAM) and not t.setting.pierce_ok:
        message = "the plate is too thick to pierce: drill the start through first, 1/8 to 3/16 in, in the drop"
        out.append(Finding("hole-start", Severity.CAUTION, where, message))
    if verdict.way is Way.REAM and near.value > hole_choice.UNDER_MM[2]:
        message = f"the hole comes out within {given.show(near.value)} either way, more than it is cut under"
        out.append(
            Finding("hole-over", Severity.CAUTION, where, message, "measure cup and kerf, or cut one in scrap first")
        )
    if verdict.stuck:
        out.append(Finding("hole-stuck", Severity.NO_GO, where, "no way on this bench makes this hole", verdict.why))
    out += out_of_range("holes.choice", where, thickness_mm=thick, diameter_mm=d)
    return tuple(dict.fromkeys(out))


def _picture(verdict: Verdict, top: float, bottom: float, given: Given) -> Drawing:
    """The plate cut through the middle of the hole: straight where drilled, tapering where cut."""
    t, a, b = given["thickness"], top / 2, bottom / 2
    wide = a + max(1.2 * t, 0.8 * a, 12.0)
    rise = 0.25 * (t + a) + 4
    cut = verdict.way in (Way.CUT, Way.REAM)
    kind = "cut" if cut else "edge"
    dims = [
        Dim((-a, t), (a, t), f"{'top ' if cut else ''}{given.show(top)}", rise),
        Dim((-wide, 0.0), (-wide, t), given.show(t), rise),
    ]
    if cut:
        dims.append(Dim((b, 0.0), (-b, 0.0), f"bottom {given.show(bottom)}", rise))
    return Drawing(
        "The plate through the middle of the hole",
        (
            Area("metal", ((-wide, 0.0), (-b, 0.0), (-a, t), (-wide, t))),
            Area("metal", ((b, 0.0), (wide, 0.0), (wide, t), (a, t))),
        ),
        (
            Stroke(kind, ((-b, 0.0), (-a, t))),  # type: ignore[arg-type]
            Stroke(kind, ((b, 0.0), (a, t))),  # type: ignore[arg-type]
            Stroke("centre", ((0.0, -0.3 * t - 2), (0.0, 1.3 * t + 2))),
        ),
        (Text((0.0, -rise - 0.45 * (t + a)), str(verdict.way)),),
        tuple(dims),
    )


def _steps(verdict: Verdict, size: float, lead: str, t: Torch, given: Given) -> tuple[str, ...]:
    d = given.show(size)
    if verdict.way is Way.ASK:
        first = (
            "No drill here makes it, and a cut bolt hole wants approval: ask the engineer of record before cutting."
            if not verdict.stuck
            else "Nothing on this bench makes it: have it made elsewhere, or change the hole."
        )
        return (
            first,
            "If cutting is approved: 1000 uin or smoother, no gouge over 1/16 in; ground smooth under cycles.",
        )
    mark = "Scribe the centre lines and punch the centre deep; scribe the circle, and a proof circle a little larger."
    if verdict.way is Way.DRILL:
        return (
            mark,
            "Clamp the plate; drill in the order of the table, slowly and with oil, the last one square to the plate.",
            f"Check the hole with a rule or a plug: {d}.",
        )
    cut = given.show(hole_choice.cut_under(size).value) if verdict.way is Way.REAM else d
    strike = "Pierce" if t.setting.pierce_ok else "Drill a start, 1/8 to 3/16 in, and strike"
    out = [
        mark,
        f"Cut it {cut} across. {lead}",
        f"{strike} in the drop, run in to the line, go round anticlockwise seen from above, and over the start.",
    ]
    if verdict.way is Way.REAM:
        out.append(f"Let it cool, knock off the dross, and bring it to {d} with drill or reamer as the table says.")
    out.append("Measure top and bottom, across and along: it is round when both agree.")
    return tuple(out)


def verdict(given: Given) -> SetOut:
    """Return how a hole is best made, and what is set for it."""
    t = torch_of(given, VERDICT.kind)
    faults = Faults(VERDICT.kind)
    thick, d = given["thickness"], given["diameter"]
    size = _final(given, faults)
    faults.raise_if_any()
    taper, near = _taper(t, thick), _plus_minus(t, thick)
    found = hole_choice.choose(
        HoleAsked(
            size,
            thick,
            given.word("use"),
            given.word("work") == "structural",
            given.get("tolerance"),
            near.value,
            taper.value,
            t.setting.edge_ok,
            t.kit.guides.drill_max_mm,
            given.show,
        )
    )
    cut = hole_choice.cut_under(size).value if found.way is Way.REAM else size
    lead_numbers, lead = _leading(t, cut, given) if found.way in (Way.CUT, Way.REAM) else ((), "")
    numbers = [
        Number("least_by_hand_mm", "least hole to cut by hand in this plate", holes.minimum_hole(thick), main=True),
        Number("diameters_to_thickness", "diameter over thickness", exact(d / thick, "", "holes.minimum", DERIVED)),
        Number("taper_mm", "taper on the diameter of a cut hole, top wider as a rule", taper),
        Number("plus_minus_mm", "how near its diameter comes out, plus or minus", near),
        *lead_numbers,
    ]
    if found.way is Way.REAM:
        under = hole_choice.cut_under(size)
        numbers.append(Number("cut_diameter_mm", "diameter to cut, to be drilled or reamed", under, main=True))
    if size != d:
        numbers.append(
            Number("tap_drill_mm", "drill for the tap", exact(size, "mm", "holes.tap-drill", COMMON), main=True)
        )
    if found.way is Way.DRILL:
        steps = hole_choice.drill_steps(size)
        if len(steps) > 1:
            pilot = exact(steps[0], "mm", "holes.drill-steps", COMMON, basis=Basis.DEFAULT)
            numbers.append(Number("pilot_mm", "drill that goes first", pilot))
    tools = _drills(found, size, given)
    bottom = max(cut - taper.value, 0.2 * cut) if found.way in (Way.CUT, Way.REAM) else cut
    return SetOut(
        VERDICT.kind,
        f"Hole {given.show(d)} through {given.show(thick)}, {given.word('use')}: {found.way}",
        shown_given(VERDICT, given),
        tuple(numbers),
        (*_ways(found), *(() if tools is None else (tools,))),
        _steps(found, size, lead, t, given),
        _picture(found, cut, bottom, given),
        findings=_findings(found, near, t, given),
    )


VERDICT = Ask(
    "hole", "verdict", "One hole: cut by hand, drilled, cut under and reamed, or asked about first.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        length("diameter", "diameter of the hole; of a tapped one its thread's", least=0.5, most=5_000),
        choice("use", "what goes through it", "clearance", "bolt", "fit", "tapped"),
        choice("work", "under which rules", "shop", "structural"),
        maybe_length("tolerance", "plus or minus asked for on the diameter", least=0.01, most=50),
        maybe_length("pitch", "pitch of the thread, such as 1/13 or 1.5 mm", least=0.1, most=20),
        CUP,
        KERF,
    ),
    verdict, thickness="thickness", example=(("thickness", "3/8"), ("diameter", "15/16"), ("use", "bolt")),
)  # fmt: skip

ASKS = (VERDICT, CIRCLE)
