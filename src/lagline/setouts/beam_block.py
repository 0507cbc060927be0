"""A blocked beam end: flange taken off beside the web over a length, one side or both."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, Text
from lagline.setouts.ask import Ask, Faults, Field, Given, choice, length, maybe_length, shown_given
from lagline.setouts.beam_common import (
    EDGE_RULES,
    HOT,
    SHEET_MOST_MM,
    able_findings,
    arc,
    corner_faults,
    corner_findings,
    corner_numbers,
    cut_passes,
    cuts_table,
    guide_numbers,
    lines_table,
    of,
    rules_table,
)
from lagline.trade.mass import mass_of_area

_FIELDS: tuple[Field, ...] = (
    length("flange_thickness", "flange thickness", least=2, most=150),
    length("flange_width", "flange width", least=20, most=600),
    length("web", "web thickness", least=2, most=100),
    length("depth", "depth of the beam", least=40, most=1500),
    length("block_length", "how far back from the end the flange comes off", least=3, most=3000),
    maybe_length("leave", "flange left standing beside the web; empty leaves the fillet", most=300),
    maybe_length("fillet", "fillet between flange and web, measured", 0.0, most=80),
    choice("sides", "both sides of the web, or one", "both", "one"),
    choice("at", "which flange", "top", "bottom", "both"),
    maybe_length("radius", "re-entrant radius", 12.7, most=100),
)


def block_outline(long: float, strip: float, radius: float) -> tuple[Point, ...]:
    """The cut line in the flange: end at x 0, flange's edge at y 0, web further down; end to edge [mm]."""
    return ((0.0, -strip), *arc((long - radius, radius - strip), radius, -90, 0), (long, 0.0))


def _plan(given: Given, long: float, strip: float) -> Drawing:
    b, tw, r = given["flange_width"], given["web"], given["radius"]
    reach = max(1.7 * long, 1.2 * b)
    line = block_outline(long, strip, r)
    other = tuple((x, -b - y) for x, y in line)
    both = given.word("sides") == "both"
    foot = other if both else ((0.0, -b),)
    areas = [Area("metal", (*line, (reach, 0.0), (reach, -b), *reversed(foot))), Area("waste", (*line, (0.0, 0.0)))]
    strokes = [Stroke("cut", line)]
    if both:
        areas.append(Area("waste", (*other, (0.0, -b))))
        strokes.append(Stroke("cut", other))
    for y in (-(b - tw) / 2, -(b + tw) / 2):
        strokes.append(Stroke("hidden", ((0.0, y), (reach, y))))
    u = reach / 300 * 10
    dims = (
        Dim((0.0, 0.0), (long, 0.0), given.show(long), 2.5 * u),
        Dim((0.0, -strip), (0.0, 0.0), given.show(strip), 2.5 * u),
        Dim((reach, -b), (reach, 0.0), given.show(b), -2.5 * u),
    )
    return Drawing("Flange from above", tuple(areas), tuple(strokes), (Text((reach * 0.8, -b / 2), "web under"),), dims)


def block(given: Given) -> SetOut:
    """Return the set-out of a blocked beam end."""
    where = "beam block"
    bench = given.bench
    assert bench is not None
    b, tw, tf, d, r = (given[k] for k in ("flange_width", "web", "flange_thickness", "depth", "radius"))
    long, fillet, typed = given["block_length"], given["fillet"], given.get("leave")
    leave = fillet if typed is None else typed
    faults = Faults(where)
    half = (b - tw) / 2
    if 2 * tf >= d or half <= 0:
        faults.add("", "these sizes make no beam", "depth over twice the flange thickness, flange wider than the web")
    strip = half - leave
    if strip <= 0:
        allowed = f"under {given.show(max(half, 0))}, the flange beside the web"
        faults.add("leave", f"with {given.show(leave)} left standing nothing comes off", allowed)
    elif r > min(strip, long) + 1e-9:
        faults.add(
            "radius", f"the corner's {given.show(r)} is larger than the block", f"up to {given.show(min(strip, long))}"
        )
    through = tf + max(fillet - leave, 0.0)
    cuts = cut_passes(given, (("flange across", 0.0, tf), ("along the web", 0.0, through)))
    s = cuts[0].setting
    corner_faults(r, s, given, faults)
    faults.raise_if_any()
    sides = (2 if given.word("sides") == "both" else 1) * (2 if given.word("at") == "both" else 1)
    numbers: list[Number] = [
        of("block_length_mm", "from the beam's end back to the block's end", long, "beam.cope-depth", main=True),
        of("strip_mm", "line in from the flange's edge", strip, "beam.cope-depth", main=True),
        of("from_web_mm", "flange left beside the web", leave, "beam.cope-depth"),
        Number("drop_kg", "each piece that comes off", mass_of_area(bench.stock.metal, strip * long, tf)),
        *corner_numbers(r, s),
        *guide_numbers(s),
    ]
    found = [*able_findings(cuts, given, where), *corner_findings(r, "cope_radius", given, where), HOT]
    if leave < fillet - 1e-6:
        message = f"flush cutting runs into the fillet: {given.show(through)} to go through instead of {given.show(tf)}"
        allowed = f"leave {given.show(fillet)} and grind, or cut slower there"
        found.append(Finding("block-fillet", Severity.CAUTION, where, message, allowed))
    at = "each" if given.word("at") == "both" else given.word("at")
    lines = (
        (f"{at} flange, outer face", "square across to the strip line", "beam's end", long),
        (f"{at} flange, outer face", "along", "flange's edge", strip),
        (f"{at} flange, both edges", "carried down", "beam's end", long),
        (f"{at} flange, inner face", "along", "web's face", leave),
        ("web", "witness line, stays on the part", "beam's end", long + 50.8),
    )
    sheets: tuple[Drawing, ...] = ()
    if max(long, strip) <= SHEET_MOST_MM:
        line = block_outline(long, strip, r)
        sheets = (
            Drawing(
                "Block template for the flange",
                areas=(Area("paper", (*line, (0.0, 0.0))),),
                strokes=(Stroke("cut", line), Stroke("edge", ((0.0, -strip), (0.0, 0.0), (long, 0.0)))),
                label=(
                    f"Block {given.show(long)} long, {given.show(strip)} wide, corner {given.show(r)}",
                    "upper edge on the flange's edge, left edge on the beam's end; turn it over for the other side",
                ),
            ),
        )
    return SetOut(
        where,
        f"Block {given.word('at')} flange, {given.word('sides')}: {given.show(long)} back, {given.show(strip)} in",
        shown_given(BLOCK, given),
        tuple(numbers),
        tables=(lines_table(lines), cuts_table(cuts), rules_table(("cope_radius", "cope_drill", *EDGE_RULES), given)),
        steps=(
            "Square a line across the flange at the block's length, carry it down the edges and in to the web.",
            "Gauge the strip line from the flange's edge, and check it against the web: flanges are rolled off centre.",
            f"{sides} piece{'s' if sides > 1 else ''} to take off: along the web first, from the end into the corner, "
            "then across from the edge.",
            "Cut with the flange uppermost, the drop blocked; grind flush with a stiff disc, no nick in the web.",
        ),
        picture=_plan(given, long, strip),
        sheets=sheets,
        findings=sort_findings(found),
    )


BLOCK = Ask(
    "beam", "block", "Blocked beam end: flange taken off beside the web over a length.",
    _FIELDS, block, thickness="flange_thickness",
    # the cradle's cross beam between two lapped cheek plates
    example=(
        ("flange_thickness", "1/2"), ("flange_width", "8"), ("web", "5/16"), ("depth", "9-15/16"),
        ("block_length", "6"), ("fillet", "1/2"),
    ),
)  # fmt: skip

ASKS = (BLOCK,)
