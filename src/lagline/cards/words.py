"""Shop words for directions, starts, guides and places; the card and the pages say the same thing."""

from __future__ import annotations

import base64
import hashlib
import math

from lagline.records.figure import Figure
from lagline.records.finding import Finding
from lagline.records.geometry import Arc, Line, Point, Segment, chain_points
from lagline.records.job import Plate, Stock
from lagline.records.length import seconds_per_inch, show_length
from lagline.records.plan import ArmGuide, Guide, Method, Plan, Setting, Start, Step, StraightGuide, TemplateGuide

GUIDE_DENOMINATOR = 64  # a guide is set with a rule and a gauge block, everything else with a tape
TAPE_DENOMINATOR = 16
CHALK_DENOMINATOR = 32


def half_mm(mm: float) -> str:
    """Return millimetres to the nearest half, ``12.5 mm``."""
    return f"{math.floor(abs(mm) * 2 + 0.5) / 2 * (1 if mm >= 0 else -1):g} mm"


def guide_length(mm: float, units: str) -> tuple[str, str]:
    """Return a guide distance in the job's units and in the other, inches to 1/64 and millimetres to 0.5."""
    inches = show_length(mm, "in", GUIDE_DENOMINATOR)
    return (inches, half_mm(mm)) if units == "in" else (half_mm(mm), inches)


def both(mm: float, units: str, denominator: int = GUIDE_DENOMINATOR) -> str:
    """Return a length in the job's units with the other in brackets."""
    inches = show_length(mm, "in", denominator)
    return f"{inches} ({half_mm(mm)})" if units == "in" else f"{half_mm(mm)} ({inches})"


def tape(mm: float, units: str) -> str:
    """Return a length off the tape: sixteenths of an inch, or whole millimetres."""
    return show_length(mm, units, TAPE_DENOMINATOR, mark_over_mm=math.inf, decimals=0)


def at_least(mm: float, units: str) -> str:
    """Return a smallest size, rounded up to the tape's next mark."""
    step_mm = 25.4 / TAPE_DENOMINATOR if units == "in" else 1.0
    return tape(math.ceil(mm / step_mm - 1e-6) * step_mm, units)


def chalk(mm: float, units: str) -> str:
    """Return a length to be marked out: inches to 1/32, or millimetres to the half; ``~`` when rounding moved it by
    more than 1/64 in."""
    if units == "in":
        return show_length(mm, "in", CHALK_DENOMINATOR)
    return half_mm(mm)


def stock_name(stock: Stock, units: str) -> str:
    """Return thickness and metal, ``3/8 in steel``."""
    if units == "in":
        return f"{show_length(stock.thickness_mm, 'in', GUIDE_DENOMINATOR).rstrip(chr(34))} in {stock.metal}"
    return f"{show_length(stock.thickness_mm, 'mm')} {stock.metal}"


def setting_name(setting: Setting, units: str) -> str:
    """Return what a setting cuts: ``3/8 in steel, square`` or ``3/8 in steel, bevel 30°``."""
    bevel = f"bevel {setting.bevel_deg:g}°" if setting.bevel_deg > 0 else "square"
    return f"{stock_name(setting.stock, units)}, {bevel}"


def taped(plate: Plate) -> tuple[float, float]:
    """Return the plate's width and height as a tape reads them [mm]: along its edges when it has four, however far out
    of square; else across its outermost points."""
    x0, y0, x1, y1 = plate.outline.bounds()
    sides = plate.outline.outer.segments
    if len(sides) == 4 and is_straight(sides):
        corners = [s.start for s in sides]
        first = min(range(4), key=lambda i: math.dist(corners[i], (x0, y0)))
        return sides[first].length, sides[first - 1].length  # counter-clockwise: out along the datum edge, back down
    return x1 - x0, y1 - y0


def trimmed(plate: Plate, units: str) -> str:
    """Return what is trimmed off a plate first, empty when nothing is."""
    return f"{tape(plate.trim_mm, units)} trimmed off {' and '.join(plate.trim)} first" if plate.trim else ""


def place(p: Point, units: str) -> str:
    """Return a place as along and up from the datum corner."""
    return f"{tape(p[0], units)}, {tape(p[1], units)}"


def place_both(p: Point, units: str) -> str:
    """Return a place from the datum corner in the job's units, the other in brackets."""
    other = "mm" if units == "in" else "in"
    return f"{place(p, units)} ({place(p, other)})"


def signed_area(path: tuple[Segment, ...]) -> float:
    """Return the area the closed path goes round [mm2], anticlockwise positive."""
    pts = chain_points(path, 0.05)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(pts, (*pts[1:], pts[0]), strict=True)) / 2


def goes_round(step: Step) -> bool:
    """True when the cut line of the step closes on itself."""
    return bool(step.line) and math.dist(step.line[0].start, step.line[-1].end) < 0.01


def turning(step: Step) -> float:
    """Return how far the travel turns along the cut line, left positive [rad]: a full turn for a loop."""
    return sum(s.sweep for s in step.line if isinstance(s, Arc))


def direction(step: Step) -> str:
    """Return which way the torch goes, seen from above, said from the datum."""
    if step.method is Method.DRILL:
        return "straight down"
    if goes_round(step):
        return "clockwise" if signed_area(step.path) < 0 else "anticlockwise"
    if abs(turn := turning(step)) > 0.2:
        return "clockwise along the curve" if turn < 0 else "anticlockwise along the curve"
    heading = round(step.heading_deg) % 360
    square = {
        0: "along the datum edge, away from the corner",
        90: "square to the datum edge, away from it",
        180: "along the datum edge, back to the corner",
        270: "square to the datum edge, towards it",
    }
    if heading in square:
        return square[heading]
    tilt = min(heading % 180, 180 - heading % 180)
    return f"{'away from' if 0 < heading < 180 else 'towards'} the datum edge, {tilt} deg to it"


_STARTS = {
    Start.EDGE: "Edge start: half the tip over the edge, wait for sparks below, move off",
    Start.PIERCE: "Pierce in the drop: lean 30-45 deg, sparks to the scrap, roll upright when through",
    Start.DRILLED: "Start in a drilled hole: tip over the hole's edge, wait for sparks below, move off",
    Start.KERF: "Start from the end of the last kerf",
    Start.NONE: "Punch the centre, then drill",
}


IN_KERF = "Start in the open kerf, at the bridge: no pierce"


def besides(step: Step, units: str) -> str:
    """Return what is to be known of a step besides: that it makes the datum edge, leaves a bridge, or cuts one when all
    else is cut; empty for most."""
    if not step.parts:
        return "Strike this line end to end and cut it first: all measures are from it"
    if step.bridge:
        return "Bridge: cut last, once the strip is cold"
    if step.leaves_mm:
        return f"Leave {tape(step.leaves_mm, units)} standing at the end: a bridge, cut last"
    return ""


def start(step: Step) -> str:
    """Return how the arc is brought in."""
    if step.bridge:
        return IN_KERF
    return _STARTS[step.start]


_STARTS_SHORT = {
    Start.EDGE: "Edge start: half the tip over the edge, wait for sparks below",
    Start.PIERCE: "Pierce in the drop: lean 30-45°, sparks to scrap, then roll upright",
    Start.DRILLED: "Start in the drilled hole: tip over its edge, wait for sparks below",
}


def start_short(step: Step) -> str:
    """Return how the arc is brought in, in one line."""
    if step.bridge:
        return IN_KERF
    return _STARTS_SHORT.get(step.start, _STARTS[step.start])


def start_point(step: Step) -> Point:
    """Return where the arc is struck, or the centre to be drilled [mm]."""
    if step.method is Method.DRILL:
        return centre(step)
    return step.path[0].start


def centre(step: Step) -> Point:
    """Return the middle of the step's line [mm]: the arc's centre for a round hole."""
    first = step.line[0]
    if isinstance(first, Arc):
        return first.centre
    pts = chain_points(step.line, 0.1)
    xs, ys = [p[0] for p in pts], [p[1] for p in pts]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def guide_short(step: Step, units: str, sheet: str = "") -> str:
    """Return what the guide's key number does not say: where it goes, and how it is held; ``sheet`` is the name of the
    template's own sheet where its id has several."""
    g = step.guide
    if step.held:
        return _stays(g)
    if isinstance(g, StraightGuide):
        text = _hold(g)
        if g.hold == "no hold":
            text += f": {NO_HOLD}"
        elif g.clamps:
            text += " at " + " and ".join(place(c, units) for c in g.clamps)
        return text + (f". Move it along {_times(g.shifts)}" if g.shifts else "")
    if isinstance(g, ArmGuide):
        text = f"Pivot {_foot(g)} at {place(g.pivot, units)}; near edge of cup at "
        text += both(g.to_cup_edge_mm.value, units)
        if step.start is not Start.KERF:
            text += f". {RUN_IN[0].upper()}{RUN_IN[1:]}"
        return _foot_first(g, units) + text
    if isinstance(g, TemplateGuide):
        return f"Template {sheet or g.id} {'on the part' if g.rub == 'outside' else 'over the hole'}; cup rubs {g.rub}"
    return "Freehand to the line"


def _stays(g: Guide) -> str:
    along = isinstance(g, StraightGuide) and g.shifts
    return "The guide stays on its line, moved along as it runs out" if along else "The guide stays where it is"


NO_HOLD = "no clamp or magnet reaches: weight it down, or tack it to the waste"
RUN_IN = "run in with the arm slack to its stop, then swing"


def _foot_of(g: ArmGuide) -> str:
    return getattr(g, "foot", "drop" if g.pivot_in_drop else "part")


def _foot(g: ArmGuide) -> str:
    """Return what the pivot stands on."""
    return {"part": "on the part", "plate": "on the plate", "drop": "in the drop", "opening": "on a bar"}[_foot_of(g)]


BAR_CLEAR_MM = 6.0  # an end of the bar that carries a pivot, to the cup that passes it


def _foot_first(g: ArmGuide, units: str) -> str:
    """Return what has to be done before the pivot is set, with its full stop; empty when nothing."""
    foot = _foot_of(g)
    if foot == "drop":
        return "Hold the drop up until the cut is done. "
    if foot != "opening":
        return ""
    reach = g.to_cup_edge_mm.low - BAR_CLEAR_MM
    if reach < 1:
        return "The centre has dropped out: block a bar up in the opening and mark the centre on it. "
    return (
        "The centre has dropped out: lay a bar across, or block it up in the opening, reaching no further than "
        f"{both(reach, units)} from the centre, where the cup passes; mark the centre on it. "
    )


def _hold(g: StraightGuide) -> str:
    verb = {"magnet": "Stick", "clamp": "Clamp"}.get(g.hold, "Lay")
    return f"{verb} the guide on the {'kept' if g.side == 'kept' else 'drop'} side"


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"


def guide(step: Step, units: str, sheet: str = "") -> str:
    """Return the one sentence that sets the guide; ``sheet`` as for :func:`guide_short`."""
    g = step.guide
    if step.held:
        return _stays(g)
    if step.method is Method.DRILL:
        return f"Drill {both(step.diameter_mm, units)} at {place_both(centre(step), units)} from the datum corner"
    if isinstance(g, StraightGuide):
        text = _hold(g)
        text += f", {both(g.offset_mm.value, units)} from the line" if g.offset_mm.value >= 0.25 else ", on the line"
        if g.hold == "no hold":
            text += f"; {NO_HOLD}"
        return text + (f"; move it along {_times(g.shifts)}" if g.shifts else "")
    if isinstance(g, ArmGuide):
        text = (
            f"{_foot_first(g, units)}Set the circle arm to {both(g.arm_mm.value, units)} from pivot to tip centre "
            f"({both(g.to_cup_edge_mm.value, units)} to the near edge of the cup), "
            f"pivot {_foot(g)} at {place_both(g.pivot, units)}"
        )
        return text + (f"; {RUN_IN}" if step.start is not Start.KERF else "")
    if isinstance(g, TemplateGuide):
        side = "on the part" if g.rub == "outside" else "with its opening over the hole"
        return (
            f"Fix template {sheet or g.id} {side}, its edge {both(abs(g.inset_mm.value), units)} from the line; "
            f"the cup rubs the {g.rub}"
        )
    return "Freehand to the line"


def key_length(step: Step) -> tuple[str, float] | None:
    """Return the one length to set, with its name: guide to line, arm or template edge [mm]; None when freehand."""
    g = step.guide
    if step.method is Method.DRILL:
        return "drill", step.diameter_mm
    if isinstance(g, StraightGuide):
        return "guide to line", g.offset_mm.value
    if isinstance(g, ArmGuide):
        return "arm, pivot to tip", g.arm_mm.value
    if isinstance(g, TemplateGuide):
        return "template edge to line", abs(g.inset_mm.value)
    return None


def sides(step: Step) -> str:
    """Return where the part lies in travel, and whether the square side is on it."""
    if step.across:
        return f"Parts on both sides of the cut; square side on the {step.square_side} of travel"
    kept = "plate" if not step.parts else "part"
    text = f"{kept.capitalize()}{'s' if len(step.parts) > 1 else ''} on the {step.kept_side} of travel"
    if step.kept_side == step.square_side:
        return text + f"; square side on the {kept}"
    return text + "; SQUARE SIDE ON THE DROP"


def sides_short(step: Step) -> str:
    """Return the same in half a line."""
    if step.across:
        return f"parts on both sides, square side on the {step.square_side}"
    square = "square side on it" if step.kept_side == step.square_side else "SQUARE SIDE ON THE DROP"
    return f"{'part' if step.parts else 'plate'} on the {step.kept_side}, {square}"


def tip_height(setting: Setting, units: str) -> str:
    """Return drag or standoff."""
    if setting.drag:
        return "drag the cup on the plate"
    low, high = setting.standoff_mm.low, setting.standoff_mm.high
    if units == "in":
        a, b = (show_length(v, "in", 32, mark_over_mm=math.inf).rstrip('"') for v in (low, high))
        return f'standoff {a} to {b}" ({low:.1f}-{high:.1f} mm)'
    return f"standoff {low:.1f}-{high:.1f} mm"


def beat(pace: Figure) -> tuple[str, str]:
    """Return seconds per inch, and in/min with its spread."""
    lo, hi = (60 / seconds_per_inch(v) for v in (pace.low, pace.high))
    return f"{seconds_per_inch(pace.value):.1f} s/in", f"{60 / seconds_per_inch(pace.value):.0f} ({lo:.0f}-{hi:.0f})"


def beat_mm(pace: Figure) -> tuple[str, str]:
    """Return seconds per 25 mm, and mm/s with its spread."""
    return f"{25 / pace.value:.1f} s/25 mm", f"{pace.value:.1f} ({pace.low:.1f}-{pace.high:.1f})"


def clock(seconds: float) -> str:
    """Return a time as ``45 s`` or ``3 min 20 s``."""
    s = round(seconds)
    if s < 100:
        return f"{s} s"
    return f"{s // 60} min {s % 60} s" if s % 60 and s < 600 else f"{round(s / 60)} min"


def falls(step: Step) -> str:
    """Return what drops at the end of the cut and how heavy it is; empty when nothing does."""
    if step.frees == "nothing":
        return ""
    kg = step.drop_kg
    mass = f"{kg:.1f} kg ({kg / 0.45359237:.1f} lb)" if kg >= 0.1 else "under 0.1 kg"
    return f"The {step.frees} falls, {mass}: feet clear" + (", block it up" if kg >= 10 else "")


def plan_mark(plan: Plan) -> str:
    """Return six letters and figures that tell this plan from any other: where parts lie, what is cut how, in order.

    A card, a template and a page with the same mark belong together.
    """
    said = hashlib.sha256(repr((plan.layout.placed, plan.settings, plan.steps)).encode()).digest()
    letters = base64.b32encode(said).decode()[:6]
    return f"{letters[:3]}-{letters[3:]}"


def from_coupons(plan: Plan) -> tuple[Finding, ...]:
    """Return what the plan says of the coupons behind its figures."""
    return tuple(f for f in plan.findings if f.code in ("from-coupons", "cup-from-coupons"))


def part_name(plan: Plan, placed: int) -> str:
    """Return the name of a placed copy, and of what is no part's: the plate."""
    if placed < 0:
        return "the plate"
    return plan.layout.placed[placed].name(plan.blanks)


def turn_word(turn_rad: float, mirror: bool) -> str:
    """Return how a part is turned on the plate."""
    deg = round(math.degrees(turn_rad)) % 360
    text = "as drawn" if deg == 0 else f"{deg}° anticlockwise"
    return text + (", turned over" if mirror else "")


def longest(path: tuple[Segment, ...]) -> Segment:
    """Return the longest segment of a path."""
    return max(path, key=lambda s: s.length)


def is_straight(path: tuple[Segment, ...]) -> bool:
    """True when every segment of the path is a line."""
    return all(isinstance(s, Line) for s in path)
