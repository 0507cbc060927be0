"""The groove that is wanted, checked, and the passes that open it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.settings import currents, tip_for
from lagline.records.coupon import Gouged
from lagline.records.figure import Basis, Figure
from lagline.setouts.ask import Faults, Given
from lagline.shapes.groove import Profile, profile_for
from lagline.trade import gouge, gouge_passes
from lagline.trade.gouge import IPM, Pass, Reading
from lagline.trade.gouge_passes import Run

PAST_END_MM = 50.8
BOTTOM_MM = 6.35
FILLET_CORNER_MM = 25.4 * 3 / 16
USUAL_PACE_MM_S = 30 * IPM
HABIT = "common practice, no source"
KIND = "gouge groove"
_ENDS = {"both": 2, "one": 1, "none": 0}


@dataclass(frozen=True, slots=True)
class Groove:
    """The groove wanted and how it is taken out; lengths mm, pace mm/s, current A, heat W."""

    kind: str
    thickness_mm: float
    depth_mm: float
    profile: Profile
    full_mm: float  # length at full depth
    ramps: int
    slope: float
    metal: str
    current_a: float
    angle_deg: float
    pace: Figure
    share: Figure
    power_w: float
    one: Pass
    runs: tuple[Run, ...]
    leg_mm: float = 0.0
    past_mm: float = 0.0

    @property
    def ramp_mm(self) -> float:
        """How long one ramp is along the plate."""
        return self.slope * self.depth_mm

    @property
    def whole_mm(self) -> float:
        """Length from where the first ramp leaves the face to where the last one meets it."""
        return self.full_mm + self.ramps * self.ramp_mm

    @property
    def volume_mm3(self) -> float:
        return self.profile.volume(self.depth_mm, self.full_mm, self.ramps, self.slope)


def _current(given: Given, faults: Faults) -> float:
    assert given.bench is not None
    kit, asked = given.bench.kit, given.bench.current_a
    top, bottom = max(currents(kit)), min(currents(kit))
    if asked is None:
        return top
    faults.unless(
        bottom <= asked <= top, "current", f"{asked:g} A is beyond this set and its tips", f"{bottom:g} to {top:g} A"
    )
    return min(max(asked, bottom), top)


def coupon_gouge(given: Given, current_a: float) -> Gouged | None:
    """Return the newest gouge of the book that the torch at this current [A] made in this metal."""
    assert given.bench is not None
    tip, metal = tip_for(given.bench.kit, current_a).name, given.bench.stock.metal
    mine = [g for g in given.bench.learned.gouges if (g.tip, g.metal) == (tip, metal)]
    return mine[-1] if mine and given.get("read_width") is None else None


def _reading(given: Given, current_a: float, faults: Faults) -> Reading | None:
    """Return the gouge that was typed, else the last a coupon of this tip and metal measured, else None."""
    names = ("read_width", "read_depth", "read_pace")
    values = [given.get(n) for n in names]
    if all(v is None for v in (*values, given.get("read_current"))):
        last = coupon_gouge(given, current_a)
        return None if last is None else Reading(last.width_mm, last.depth_mm, last.pace_mm_s, last.current_a)
    missing = [n.replace("_", " ") for n, v in zip(names, values, strict=True) if not v]
    if missing:
        faults.add(missing[0], "a measured gouge is told by its width, depth and pace", "all three, or none of them")
        return None
    w, d, v = (float(x or 0) for x in values)
    if d > w / 2:
        faults.add("read_depth", f"{given.show(d)} is deeper than half the width", f"up to {given.show(w / 2)}")
        return None
    return Reading(w, d, v * IPM, given.get("read_current") or current_a)


def _depth(given: Given, faults: Faults) -> tuple[float, float, float]:
    """Return depth, fillet leg and bottom radius [mm] of the groove wanted; 0 where they do not come into it."""
    t, depth, leg, radius = given["thickness"], given.get("depth"), given.get("leg"), given.get("radius")
    if given.word("kind") == "fillet":
        for name in ("depth", "width"):
            faults.unless(given.get(name) is None, name, "follows from the fillet's leg", "leave it out")
        if leg is None:
            faults.add("leg", "the leg of the fillet is needed", "leg of the weld to remove", "setout-missing")
            return 0.0, 0.0, 0.0
        r = min(radius or FILLET_CORNER_MM, leg)
        return leg / math.sqrt(2) - r * (math.sqrt(2) - 1), leg, r
    faults.unless(leg is None, "leg", "only a fillet has a leg", "kind fillet, or leave it out")
    if depth is None:
        faults.add("depth", "the depth of the groove is needed", f"up to under {given.show(t)}", "setout-missing")
        return 0.0, 0.0, 0.0
    faults.unless(depth > 0, "depth", f"{depth:g} is no depth", f"above 0, and less than {given.show(t)}")
    faults.unless(
        depth < t, "depth", f"{given.show(depth)} is through {given.show(t)} of metal: that is a cut, not a groove",
        "cut it, or gouge less than the thickness", "gouge-through",
    )  # fmt: skip
    return depth, 0.0, radius or BOTTOM_MM


def _slower(
    metal: str, heat_w: float, slowest_mm_s: float, lean_deg: float, one: Pass, most: Pass
) -> tuple[tuple[float, Pass], ...]:
    """Return the slower paces at which one layer less opens the groove, or two less, and so on, with their passes."""
    out = []
    shape, deep = gouge.shape_of(lean_deg), most.depth_mm
    for layers in range(math.ceil(deep / one.depth_mm - 1e-9) - 1, 0, -1):
        d = deep / layers
        w = d / shape
        if d > gouge.DEEPEST_PASS_MM or w > most.width_mm or gouge.heat_needed(metal, slowest_mm_s, w, d) > heat_w:
            break
        low, high = slowest_mm_s, gouge.FASTEST_MM_S
        for _ in range(55):
            middle = (low + high) / 2
            low, high = (middle, high) if gouge.heat_needed(metal, middle, w, d) < heat_w else (low, middle)
        out.append((low, Pass(w, d)))
    return tuple(out)


def _pace(
    given: Given, metal: str, heat_w: float, deepest_mm: float, widest_mm: float, profile: Profile
) -> tuple[Figure, Pass]:
    """Return the pace and its pass: as typed, else the usual one, as much faster as the groove asks for, or as much
    slower as saves passes."""
    assert given.bench is not None
    lean = given["angle"]

    def at(pace: float) -> Pass:
        return gouge.one_pass(metal, heat_w, pace, lean)

    typed = given.get("pace")
    if typed is not None:
        v = typed * IPM
        return Figure(v, v, v, "mm/s", "given", Basis.DRAWING, "as typed"), at(v)
    top = max(USUAL_PACE_MM_S, min(gouge.FASTEST_MM_S, given.bench.kit.operator.pace_high_mm_s))

    def fits(pace: float) -> bool:
        p = at(pace)
        return p.depth_mm <= min(gouge.DEEPEST_PASS_MM, deepest_mm) and p.width_mm <= widest_mm

    v = USUAL_PACE_MM_S
    if not fits(v):
        low, high = v, top
        for _ in range(50 if fits(top) else 0):
            middle = (low + high) / 2
            low, high = (low, middle) if fits(middle) else (middle, high)
        v = high
    one = at(v)
    slowest = max(gouge.SLOWEST_MM_S, given.bench.kit.operator.pace_low_mm_s)
    ways = [(v, one)]
    if v == USUAL_PACE_MM_S:
        ways += _slower(metal, heat_w, slowest, lean, one, Pass(widest_mm, deepest_mm))
    v, one = min(ways, key=lambda way: (len(gouge_passes.plan_passes(profile, deepest_mm, way[1], 1, 0, 2)), -way[0]))
    return Figure(
        v, gouge.SLOWEST_MM_S, max(v, gouge.FASTEST_MM_S), "mm/s", "gouge.pass", Basis.DEFAULT,
        f"20 to 50 in/min: {HABIT}",
    ), one  # fmt: skip


def _narrow(given: Given, groove_mm: float, name: str, one: Pass, narrowest: Pass, faults: Faults) -> None:
    ok = groove_mm >= one.width_mm * (1 - 1e-9)
    faults.unless(
        ok, name,
        f"{given.show(groove_mm)} across is narrower than one pass makes, {given.show(one.width_mm)}",
        f"{given.show(one.width_mm)} or more; {given.show(narrowest.width_mm)} at the least current, 50 in/min and "
        "25 degrees",
        "gouge-narrow",
    )  # fmt: skip


def plan(given: Given) -> Groove:
    """Return the groove and its passes. Errors: LaglineError with every fault and what would work instead."""
    assert given.bench is not None
    kit, metal, kind = given.bench.kit, given.bench.stock.metal, given.word("kind")
    faults = Faults(KIND)
    amps = _current(given, faults)
    reading = _reading(given, amps, faults)
    depth, leg, r = _depth(given, faults)
    faults.raise_if_any()
    share = gouge.share_figure(metal, kit.power, reading)
    faults.unless(
        share.value < 1, "read_width", f"the measured gouge wants {share.value:.1f} times what the arc has",
        "measure width, depth and pace again, and the current it was made with", "gouge-reading",
    )  # fmt: skip
    power = gouge.arc_power(kit.power, amps)
    width = given.get("width")
    faults.unless(width is None or width > 0, "width", "0 is no width", "above 0")
    faults.raise_if_any()
    face = width or (math.sqrt(2) * leg if leg else 2 * r)
    flank = given["flank"]
    profile = Profile(r, 45.0 if leg else flank) if width is None else profile_for(width, depth, r, flank)
    one_pace, one = _pace(given, metal, share.value * power, depth, face, profile)
    little = share.value * gouge.arc_power(kit.power, min(currents(kit)))
    narrowest = gouge.one_pass(metal, little, gouge.FASTEST_MM_S, gouge.STEEP_DEG)
    if width is not None:
        _narrow(given, width, "width", one, narrowest, faults)
    elif leg:
        _narrow(given, face, "leg", one, narrowest, faults)
    elif given.get("radius"):
        _narrow(given, 2 * r, "radius", one, narrowest, faults)
    faults.raise_if_any()
    slope, ramps = given["ramp"], _ENDS[given.word("ends")]
    past = given["past_ends"] if kind == "crack" else 0.0
    full = given["length"] + ramps * max(0.0, past - slope * depth)
    runs = gouge_passes.plan_passes(profile, depth, one, full, ramps, slope)
    return Groove(
        kind, given["thickness"], depth, profile, full, ramps, slope, metal, amps, given["angle"], one_pace, share,
        power, one, runs, leg, past,
    )  # fmt: skip
