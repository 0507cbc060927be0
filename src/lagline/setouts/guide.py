"""Straightedges: how far off the line the guide is clamped on either side, where it is held, what a lean does."""

from __future__ import annotations

import math

from lagline.planning.guides import OVERHANG_MM
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Point
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, length, maybe_length, shown_given
from lagline.setouts.guide_torch import CUP, KERF, ROUNDED, Torch, rounded, soft, torch_of
from lagline.trade import guide_bar, mark_out
from lagline.trade.edge_place import edge_figure
from lagline.trade.lag import lag_length
from lagline.trade.tolerance import method_tolerance, tilt_shift

TALL_MM = 6.4  # a guide over 1/4 in high rubs the cup's body; common practice, no source
DERIVED = "geometry (derived)"
COMMON = "common practice, no source"
BAR_MM = 16.0  # a guide as it is drawn


def circle(centre: Point, radius: float) -> tuple[Point, ...]:
    """Return a circle as points of a closed stroke."""
    return Arc(centre, radius, 0.0, 2 * math.pi).points(0.02)[:-1]


def half_width(t: Torch) -> float:
    """Half the width of a view: room beside the guide for the name of what it lies on [mm]."""
    return (t.drop.value + BAR_MM + 6) / 0.62


def view(
    x: float, kept: bool, t: Torch, shown: str, *, block: str = ""
) -> tuple[list[Area], list[Stroke], list[Text], list[Dim]]:
    """One way to clamp the guide, seen from above, its line at ``x``: kept part left of it, drop right.

    ``block``: the gauge block that sets the guide off, drawn with that name instead of the cup.
    """
    r, k, h, wide = t.r, t.k, 80.0, half_width(t)
    near = x - t.kept.value if kept else x + t.drop.value
    way = -1 if kept else 1
    far = near + way * BAR_MM
    a, b = sorted((near, x))
    areas = [
        Area("metal", ((x - wide, 0), (x, 0), (x, h), (x - wide, h))),
        Area("waste", ((x + k, 0), (x + wide, 0), (x + wide, h), (x + k, h))),
        Area("guide", ((near, -8), (far, -8), (far, h + 8), (near, h + 8))),
    ]
    strokes = [Stroke("cut", ((x, 0), (x, h)))]
    if block:
        ring = ((a, 14.0), (b, 14.0), (b, 44.0), (a, 44.0))
        areas.append(Area("paper", ring))
        strokes += [Stroke("edge", ring, closed=True), Stroke("mark", (((a + b) / 2, 30.0), ((a + b) / 2, h + 13)))]
        texts = [Text(((a + b) / 2, h + 22), block)]
    else:
        strokes += [Stroke("mark", circle((x + k / 2, h / 2), q), closed=True) for q in (r, 1.0)]
        texts = [Text((x, h + 22), f"guide on the {'kept part' if kept else 'drop'}")]
    texts.append(Text(((near + far) / 2, h - 16), "guide", 90.0))
    beyond = (far + x + way * wide) / 2  # the middle of what is free beside the guide
    texts.append(Text((beyond, 10), "part" if kept else "drop"))
    texts.append(Text((x - way * wide / 2, 10), "drop" if kept else "part"))
    return areas, strokes, texts, [Dim((a, -8), (b, -8), shown, -12.0)]


def _picture(t: Torch, given: Given) -> Drawing:
    a = view(0.0, True, t, given.show(t.kept.value))
    b = view(2 * half_width(t) + 32, False, t, given.show(t.drop.value))
    name = "From the line to the guide: kept left, drop right"
    return Drawing(name, (*a[0], *b[0]), (*a[1], *b[1]), (*a[2], *b[2]), (*a[3], *b[3]))


def _lean(t: Torch, given: Given) -> tuple[Number, ...]:
    height = given.get("guide_height")
    rub = (t.kit.guides.height_mm if height is None else height) + t.setting.standoff_mm.value
    thick, tilt = given["thickness"], given["tilt"]
    told = (("height of the rub over the plate [mm]", f"{rub:.2f}"), ("lean [deg]", f"{tilt:g}"))
    return (
        Number(
            "lean_at_top_mm",
            f"a lean of {tilt:g} deg moves the cut at the top by",
            exact(tilt_shift(rub, tilt), "mm", "tolerance.tilt", DERIVED, told),
        ),
        Number(
            "lean_through_plate_mm",
            "and at the bottom by this much more",
            exact(tilt_shift(thick, tilt), "mm", "tolerance.tilt", DERIVED, (("plate [mm]", f"{thick:.2f}"), told[1])),
        ),
    )


def _plus_minus(t: Torch, given: Given) -> Number:
    height = given.get("guide_height")
    rub = (t.kit.guides.height_mm if height is None else height) + t.setting.standoff_mm.value
    figure = edge_figure(
        method_tolerance("guide", "straightedge"), t.kept, t.setting.bevel_good_deg, given["thickness"], rub
    )
    return Number("edge_plus_minus_mm", "how near the edge comes to its line, plus or minus", figure)


def _run(t: Torch, given: Given) -> tuple[Number, ...]:
    s = t.setting
    lean = s.lead_angle_deg
    low, value, high = (lag_length(a, given["thickness"]) for a in (lean.low, lean.value, lean.high))
    off = Figure(value, low, high, "mm", "lag.length", lean.basis, lean.source, (("lag [deg]", f"{lean.value:g}"),))
    crater = exact(s.crater_radius_mm, "mm", "lead.crater", COMMON, basis=Basis.DEFAULT)
    return (
        Number(
            "run_in_mm",
            "run-in, where the cut cannot begin at an edge: pierce this far behind the line's start, in the drop",
            exact(s.lead_in_mm, "mm", "lead.length", COMMON, basis=Basis.DEFAULT),
        ),
        Number("crater_mm", "and keep the pierce's puddle, this radius, clear of the part", crater),
        Number("run_off_mm", "run-off: the bottom trails, carry on past the end by", off),
    )


def _chosen_bar(t: Torch, given: Given, cut_mm: float, faults: Faults) -> tuple[float, tuple[guide_bar.BarPlace, ...]]:
    """Return the straightedge and its places: the one typed, else the kit's shortest that does it in one place."""
    own = t.kit.guides.straightedges_mm
    need = guide_bar.bar_needed(cut_mm, OVERHANG_MM)
    bar = given.get("straightedge") or next((s for s in own if s >= need - 1e-6), own[-1])
    try:
        return bar, guide_bar.bar_places(cut_mm, bar, OVERHANG_MM)
    except ValueError:
        least = 2 * OVERHANG_MM + guide_bar.LEAST_USE_MM
        faults.add(
            "straightedge",
            f"{given.show(bar)} leads next to nothing when it runs over both ends by {soft(OVERHANG_MM, given)}",
            f"{given.show(least)} or longer; {given.show(need)} does this cut in one place",
        )
        return bar, ()


def _places_table(places: tuple[guide_bar.BarPlace, ...], given: Given) -> Table:
    rows: list[tuple[float | str, ...]] = [
        (
            float(n),
            p.cut_from_mm,
            p.cut_to_mm,
            p.bar_from_mm,
            p.bar_to_mm,
            ", ".join(soft(c, given) for c in p.clamps_mm),
        )
        for n, p in enumerate(places, 1)
    ]
    columns = (
        Column("place", "place"),
        Column("cut_from_mm", "leads from", "mm"),
        Column("cut_to_mm", "to", "mm"),
        Column("bar_from_mm", "bar from", "mm"),
        Column("bar_to_mm", "to", "mm"),
        Column("clamps_at", "clamps, from the bar's end"),
    )
    note = "Along the line from the start of the cut; below zero lies before it. Common practice, no source."
    return Table("bar_places", "Where the straightedge lies", columns, tuple(rows), note)


def _mark_out(t: Torch, given: Given, faults: Faults) -> tuple[tuple[Number, ...], tuple[Table, ...]]:
    sides = {"part_length": given.get("part_length"), "part_width": given.get("part_width")}
    missing = [n for n, v in sides.items() if v is None]
    if len(missing) == 2:
        return (), ()
    if missing:
        faults.add(missing[0], f"the {missing[0].replace('_', ' ')} is needed too", "both sides of the rectangle")
        return (), ()
    a, b = float(sides["part_length"] or 0), float(sides["part_width"] or 0)
    out = given["out_of_square"]
    if out >= min(a, b):
        faults.add("out_of_square", f"{given.show(out)} is as much as the side is long", "1/16 in, 1.5 mm or so")
        return (), ()
    apart = mark_out.diagonals_apart(min(a, b), max(a, b), out)
    numbers = (
        Number(
            "diagonal_mm",
            "both diagonals of the rectangle, corner to corner",
            exact(mark_out.diagonal(a, b), "mm", "mark-out.diagonal", DERIVED),
            main=True,
        ),
        Number(
            "diagonals_apart_mm",
            f"diagonals may differ by this when the short side may lean {given.show(out)}",
            exact(apart, "mm", "mark-out.diagonals-apart", DERIVED),
        ),
    )
    kept, drop = t.kept.value, t.drop.value
    rows = tuple((name, at, at - kept, at + drop) for name, at in (("length", a), ("width", b)))
    columns = (
        Column("line", "line"),
        Column("line_mm", "from its datum edge", "mm"),
        Column("guide_kept_mm", "guide on the part", "mm"),
        Column("guide_drop_mm", "guide on the drop", "mm"),
    )
    note = "Every distance from the datum edge itself, never from the line before: errors do not add up."
    return numbers, (Table("mark_out", "Marking out from the datum edges", columns, rows, note),)


def _notes(t: Torch, given: Given, places: int) -> tuple[Finding, ...]:
    where = STRAIGHT.kind
    out = list(t.findings)
    height = given.get("guide_height")
    height = t.kit.guides.height_mm if height is None else height
    if height > TALL_MM and given.get("cup_radius") is None:
        out.append(
            Finding(
                "guide-tall",
                Severity.CAUTION,
                where,
                f"a guide {given.show(height)} high rubs the cup's body, where its radius may be another",
                "measure the cup radius at the guide's height and give it (common practice, no source)",
            )
        )
    if places > 1:
        out.append(
            Finding(
                "guide-shifted",
                Severity.NOTE,
                where,
                f"the straightedge is moved along {places - 1} time{'s' * (places > 2)}; every restart leaves a mark",
                "stop where the drop is widest, restart 1/4 in back in the kerf",
            )
        )
    if not t.setting.edge_ok:
        out.append(
            Finding("guide-too-thick", Severity.NO_GO, where, "this set does not cut it", t.setting.weakest or "")
        )
    return tuple(out)


def _steps(t: Torch, given: Given, places: tuple[guide_bar.BarPlace, ...]) -> tuple[str, ...]:
    kept, drop = given.show(t.kept.value), given.show(t.drop.value)
    hold = "magnets" if t.kit.guides.hold == "magnet" else "clamps"
    out = [
        "Dress one straight datum edge and one square to it; measure everything from them, never in a chain.",
        "Scribe the line, half a punch mark left on the part, and chalk the drop.",
        f"Clamp the guide {kept} from the line on the part, or {drop} from it on the drop; measure at both ends of the "
        "cut.",
    ]
    if places:
        at = ", ".join(soft(c, given) for c in places[0].clamps_mm)
        out.append(
            f"Hold it with {len(places[0].clamps_mm)} {hold}, {at} from the guide's own end, on its far edge, out of "
            "the cup's way."
        )
    if len(places) > 1:
        on = ", ".join(given.show(p.cut_from_mm) for p in places[1:])
        out.append(f"Move it along when the cut has come to {on}: stop, shift, measure anew, restart 1/4 in back.")
    out += [
        f"Run the cup along it dry first: the cup must touch {soft(OVERHANG_MM, given)} before the start and past the "
        "end.",
        "Start with the tip half over the edge and wait for the arc to break through; where there is no edge, pierce "
        "in the drop and run in.",
        "Hold the torch upright against the guide to the end, and carry on until the bottom has parted.",
        "Cut a scrap first: what it measures beats every number here.",
    ]
    return tuple(out)


def straight(given: Given) -> SetOut:
    """Return the set-out of a straight cut along a guide."""
    t = torch_of(given, STRAIGHT.kind)
    faults = Faults(STRAIGHT.kind)
    cut = given.get("cut_length") or given.get("part_length")
    bar, places = _chosen_bar(t, given, cut, faults) if cut else (0.0, ())
    squared, tables = _mark_out(t, given, faults)
    faults.raise_if_any()
    numbers = [
        Number("offset_kept_mm", "line to guide, guide on the kept part", t.kept, main=True),
        Number("offset_drop_mm", "line to guide, guide on the drop", t.drop, main=True),
        Number("cup_radius_mm", "cup radius at guide height", t.cup),
        Number("kerf_mm", "kerf", t.kerf),
        _plus_minus(t, given),
        *_lean(t, given),
        *_run(t, given),
    ]
    rows = (("kept part", *rounded(t.kept.value)), ("drop", *rounded(t.drop.value)))
    own = [
        Table(
            "rounding",
            "What rounding costs",
            (Column("guide_on", "guide on the"), *ROUNDED),
            rows,
            "Set too far from the line, a guide on the part makes the part small, a guide on the drop makes it large.",
        )
    ]
    if cut:
        need = guide_bar.bar_needed(cut, OVERHANG_MM)
        numbers += [
            Number("straightedge_needed_mm", "straightedge that does it in one place",
                   exact(need, "mm", "guide.bar-needed", COMMON)),
            Number("straightedge_mm", "straightedge taken", exact(bar, "mm", "given", "kit file or as typed")),
            Number("clamps", "clamps in each place",
                   exact(float(len(places[0].clamps_mm)), "", "guide.clamps", COMMON)),
            Number("shifts", "times it is moved along", exact(float(len(places) - 1), "", "guide.bar-places", DERIVED)),
        ]  # fmt: skip
        own.append(_places_table(places, given))
    return SetOut(
        STRAIGHT.kind,
        f"Straight cut through {given.show(given['thickness'])}, along a guide",
        shown_given(STRAIGHT, given),
        (*numbers, *squared),
        (*own, *tables),
        _steps(t, given, places),
        _picture(t, given),
        findings=_notes(t, given, len(places)),
    )


STRAIGHT = Ask(
    "guide", "straight", "Straightedge: from the line to the guide, where it is held, and how to mark out.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        CUP,
        KERF,
        maybe_length("cut_length", "length of the cut, for clamps and shifts", least=5, most=20_000),
        maybe_length("straightedge", "straightedge to hand; empty takes the kit's", least=20, most=20_000),
        maybe_length("guide_height", "height of the guide; empty takes the kit's", most=100),
        angle("tilt", "how far the torch may lean off upright", 3.0, most=15),
        maybe_length("part_length", "length of a rectangle, to mark out", least=5, most=20_000),
        maybe_length("part_width", "width of the rectangle", least=5, most=20_000),
        maybe_length("out_of_square", "how far its short side may lean", 1.5875, most=50),
    ),
    straight, thickness="thickness",
    example=(("thickness", "3/8"), ("cut_length", "40"), ("part_length", "40"), ("part_width", "3")),
)  # fmt: skip

ASKS = (STRAIGHT,)
