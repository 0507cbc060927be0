"""Circle arm and trammel: pivot to tip and to cup for discs, holes, rings, arcs and corners; where to start."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.setout import Column, Number, SetOut, Table, exact
from lagline.setouts.ask import Ask, Faults, Field, Given, choice, length, maybe_length, shown_given
from lagline.setouts.guide_arm_picture import Shown, picture
from lagline.setouts.guide_torch import CUP, KERF, Torch, torch_of
from lagline.trade import arc_sizes, guide
from lagline.trade.edge_place import edge_figure
from lagline.trade.holes import minimum_hole
from lagline.trade.tolerance import method_tolerance

COMMON = "common practice, no source"
DERIVED = "geometry (derived)"
SMALL_MM = 50.8  # a pivot arm works down to about 1-1/2 to 2 in; common practice, no source
BEAM_MM = 50.0  # trammel beyond the tip's centre; common practice, no source
REST_MM = 25.4  # bar resting on either side of an opening, with its magnet; common practice, no source
BAR_WIDE_MM = 50.8  # no bar is wider: its corners come nearer to the cup than its ends
CLEAR_MM = 3.0  # bar to cup
CLAMP_MM = 25.4  # face that a clamp wants beside the cup; common practice, no source
BRIDGE_MM = 15.875  # left uncut, finished by hand; common practice, no source


@dataclass(frozen=True, slots=True)
class Circle:
    """One circle to cut: ``disc`` when the part lies inside it; its sweep [deg]."""

    name: str
    key: str  # before its numbers' keys, "" when it is the only one
    radius: float
    disc: bool
    sweep_deg: float = 360.0


@dataclass(frozen=True, slots=True)
class Arm:
    """A circle with the arm's settings [mm]: pivot to tip, to the cup's near edge, to where the arc is struck."""

    circle: Circle
    arm: Figure
    to_cup: Figure
    start: float
    run_in: float


def _arc_radius(given: Given, faults: Faults) -> tuple[float, float]:
    """Radius [mm] and angle [deg] of an arc from the two things given of it."""
    radius, chord, rise, angle = (given.get(n) for n in ("radius", "chord", "rise", "angle"))
    how = "chord and rise, chord and angle, or radius and angle"
    pair = (radius is not None, chord is not None, rise is not None, angle is not None)
    if pair == (False, True, True, False):
        assert chord is not None
        assert rise is not None
        return arc_sizes.radius_from_rise(chord, rise), arc_sizes.angle_from_rise(chord, rise)
    if pair == (False, True, False, True):
        assert chord is not None
        assert angle is not None
        return arc_sizes.radius_from_angle(chord, angle), angle
    if pair == (True, False, False, True):
        assert radius is not None
        assert angle is not None
        return radius, angle
    n = sum(pair)
    faults.add("", f"{n} size{'s' * (n != 1)} of the arc given, or two that do not say it", how, "arm-arc")
    return 0.0, 0.0


def _needed(given: Given, name: str, what: str, faults: Faults) -> float:
    value = given.get(name)
    if value is None:
        faults.add(name, f"a {what} needs its {name.replace('_', ' ')}", name.replace("_", " "), "setout-missing")
        return 0.0
    return value


def _circles(given: Given, faults: Faults) -> tuple[Circle, ...]:
    """The circles that were asked for."""
    what, disc = given.word("cut"), given.word("keep") == "inside"
    if what in ("disc", "hole"):
        return (Circle(what, "", _needed(given, "diameter", what, faults) / 2, what == "disc"),)
    if what == "ring":
        outer, inner = (_needed(given, n, what, faults) for n in ("diameter", "inside_diameter"))
        faults.unless(
            inner < outer or 0.0 in (inner, outer),
            "inside_diameter",
            f"{given.show(inner)} inside is no less than {given.show(outer)} outside",
            "smaller than the outside diameter",
        )
        hole, outside = Circle("hole", "hole_", inner / 2, False), Circle("outside", "outside_", outer / 2, True)
        return (hole, outside) if given.word("first") == "hole" else (outside, hole)
    if what == "arc":
        radius, angle = _arc_radius(given, faults)
        return (Circle("arc", "", radius, disc, angle),)
    corner = given.get("angle")
    corner = 90.0 if corner is None else corner
    faults.unless(corner < 175, "angle", f"{corner:g} deg is no corner", "the corner's own angle, under 175 deg")
    return (Circle("corner", "", _needed(given, "radius", what, faults), disc, 180.0 - min(corner, 174.0)),)


def _least_arm(t: Torch) -> float:
    """The least pivot to tip centre: what the kit's arm takes, and the pivot clear of the cup [mm]."""
    return max(t.kit.guides.arm_min_mm, t.r)


def _arm_of(c: Circle, t: Torch, given: Given, faults: Faults) -> Arm:
    low, value, high = sorted(guide.arm(c.radius, k, disc=c.disc) for k in (t.kerf.low, t.kerf.value, t.kerf.high))
    least = _least_arm(t)
    if value < least:
        smallest = given.show(least - (t.k / 2 if c.disc else -t.k / 2))
        why = "the pivot would be under the cup" if value <= t.r else "the kit's arm does not go so small"
        faults.add(
            "",
            f"a radius of {given.show(c.radius)} wants {given.show(value)} from pivot to tip: {why}",
            f"{smallest} radius or more by arm; below that a template (guide template), or drill it (hole verdict)",
            "arm-small",
        )
    inputs = (("radius_mm", f"{c.radius:.2f}"), ("kerf_mm", f"{t.k:.2f}"))
    arm = Figure(value, low, high, "mm", "guide.arm", t.kerf.basis, guide.SOURCE, inputs)
    to_cup = Figure(
        guide.arm_to_cup(value, t.r), guide.arm_to_cup(low, t.cup.high), guide.arm_to_cup(high, t.cup.low), "mm",
        "guide.arm-to-cup", Basis.DEFAULT if Basis.DEFAULT in (t.cup.basis, t.kerf.basis) else t.cup.basis,
        guide.SOURCE, (*inputs, ("cup_radius_mm", f"{t.r:.2f}")),
    )  # fmt: skip
    run = t.setting.lead_in_mm if c.disc else min(t.setting.lead_in_mm, max(value, 0.0))
    return Arm(c, arm, to_cup, value + run if c.disc else value - run, run)


def _numbers(a: Arm, given: Given) -> tuple[Number, ...]:
    c = a.circle
    of = f", {c.name}" if c.key else ""
    pin = given["pin"] / 2
    tape = Figure(a.to_cup.value - pin, a.to_cup.low - pin, a.to_cup.high - pin, "mm", "guide.arm-to-cup",
                  a.to_cup.basis, guide.SOURCE, (*a.to_cup.inputs, ("half the pin [mm]", f"{pin:.2f}")))  # fmt: skip
    reads = (
        "the tape reads this, pin to the cup's near edge" if pin else "the tape reads this, pivot to cup's near edge"
    )
    out = [
        Number(f"{c.key}arm_mm", f"pivot to tip's centre{of}", a.arm, main=True),
        Number(f"{c.key}tape_mm", f"{reads}{of}", tape, main=True),
        Number(f"{c.key}radius_mm", f"radius of the edge{of}", exact(c.radius, "mm", "guide.arm", DERIVED)),
        Number(f"{c.key}start_mm", f"pivot to where the arc is struck, in the drop{of}",
               exact(a.start, "mm", "lead.length", COMMON, basis=Basis.DEFAULT)),
        Number(f"{c.key}run_in_mm", f"run-in from there to the kerf's centre{of}",
               exact(a.run_in, "mm", "lead.length", COMMON, basis=Basis.DEFAULT)),
        Number(f"{c.key}cut_length_mm", f"length along the edge{of}",
               exact(arc_sizes.arc_length(c.radius, c.sweep_deg), "mm", "arc.length", DERIVED)),
    ]  # fmt: skip
    return tuple(out)


def _arc_numbers(c: Circle) -> tuple[Number, ...]:
    """Where the centre of an arc or a corner lies."""
    if c.name == "arc":
        chord, rise = arc_sizes.chord(c.radius, c.sweep_deg), arc_sizes.rise(c.radius, c.sweep_deg)
        return (
            Number("chord_mm", "chord", exact(chord, "mm", "arc.chord", DERIVED)),
            Number("rise_mm", "rise in the middle of the chord", exact(rise, "mm", "arc.rise", DERIVED)),
            Number("angle_deg", "angle of the arc", exact(c.sweep_deg, "deg", "arc.angle", DERIVED)),
            Number("centre_mm", "pivot from the chord's middle, square to it, away from the arc; below zero towards it",
                   exact(c.radius - rise, "mm", "arc.rise", DERIVED), main=True),
        )  # fmt: skip
    if c.name == "corner":
        half = math.radians(180.0 - c.sweep_deg) / 2
        return (
            Number("tangent_mm", "from the corner along each edge to where the arc begins",
                   exact(c.radius / math.tan(half), "mm", "arc.rise", DERIVED), main=True),
            Number("edge_mm", "pivot from each edge, square to it",
                   exact(c.radius, "mm", "guide.arm", DERIVED), main=True),
            Number("corner_mm", "pivot from the corner", exact(c.radius / math.sin(half), "mm", "arc.rise", DERIVED)),
        )  # fmt: skip
    return ()


def _beam(arms: tuple[Arm, ...], t: Torch) -> tuple[Number, ...]:
    most = max(a.arm.value for a in arms)
    if most <= t.kit.guides.arm_max_mm:
        return ()
    beam = exact(most + BEAM_MM, "mm", "guide.arm", COMMON, basis=Basis.DEFAULT)
    return (Number("beam_mm", "trammel beam, pivot to its far end, at least", beam),)


def bar_lengths(hole_radius_mm: float, to_cup_mm: float) -> tuple[float, float]:
    """Return the least and the greatest length [mm] of a bar across a hole that carries the pivot of a circle round it.

    Least: the hole and a rest on each side. Greatest: its corners clear of the cup's near edge, swept all round at
    ``to_cup_mm`` from the pivot; 0 where no bar of the greatest width is clear.
    """
    reach = (to_cup_mm - CLEAR_MM) ** 2 - (BAR_WIDE_MM / 2) ** 2
    return 2 * (hole_radius_mm + REST_MM), 2 * math.sqrt(reach) if reach > 0 and to_cup_mm > CLEAR_MM else 0.0


def _bar(arms: tuple[Arm, ...], given: Given, faults: Faults) -> tuple[float, float] | None:
    """The bar across a ring's hole, its least and greatest length, when the hole is cut first."""
    if len(arms) < 2 or arms[0].circle.disc:
        return None
    least, most = bar_lengths(arms[0].circle.radius, arms[1].to_cup.low)
    if least > most:
        message = (
            f"with the hole out the pivot wants a bar of {given.show(least)} or more to rest on the ring, and the "
            f"cup's near edge strikes every bar over {given.show(most)}"
        )
        allowed = "outside first, while the middle is there; or a pivot set up from below in the open hole"
        faults.add("first", message, allowed, "arm-bar")
    return least, most


def _bar_numbers(bar: tuple[float, float] | None, arms: tuple[Arm, ...]) -> tuple[Number, ...]:
    if bar is None:
        return ()
    cup = f"{arms[1].to_cup.low:.2f}"
    words = "bar across the hole for the outside's pivot"
    return (
        Number("bar_least_mm", f"{words}, at least",
               exact(bar[0], "mm", "guide.arm", COMMON, (("rest on each side [mm]", f"{REST_MM:g}"),)), main=True),
        Number("bar_most_mm", f"{words}, at most",
               exact(bar[1], "mm", "guide.arm-to-cup", DERIVED, (("cup's near edge, low [mm]", cup),)), main=True),
    )  # fmt: skip


def _table(arms: tuple[Arm, ...]) -> Table:
    rows: list[tuple[float | str, ...]] = [
        (a.circle.name, a.circle.radius, a.arm.value, a.to_cup.value, a.start, a.run_in) for a in arms
    ]
    columns = (
        Column("cut", "cut"),
        Column("radius_mm", "radius", "mm"),
        Column("arm_mm", "pivot to tip", "mm"),
        Column("to_cup_mm", "pivot to cup", "mm"),
        Column("start_mm", "pivot to start", "mm"),
        Column("run_in_mm", "run-in", "mm"),
    )
    note = ""
    if len(arms) > 1:
        note = "One punch mark leads both." if arms[0].circle.disc else "A bar carries the pivot of the outside."
    return Table("circles", "In the order of cutting", columns, tuple(rows), note)


def _findings(arms: tuple[Arm, ...], t: Torch, given: Given) -> tuple[Finding, ...]:
    where, out = ARM.kind, list(t.findings)
    guides = t.kit.guides
    for a in arms:
        c = a.circle
        if a.arm.value < SMALL_MM:
            message = f"an arm of {given.show(a.arm.value)} is near the least that works, about 1-1/2 to 2 in"
            out.append(Finding("arm-near-least", Severity.CAUTION, where, message, "try it dry; else a template"))
        least = minimum_hole(given["thickness"]).value
        if not c.disc and c.sweep_deg == 360 and 2 * c.radius < least:
            message = f"a hole of {given.show(2 * c.radius)} is under the least to cut by hand, {given.show(least)}"
            out.append(Finding("arm-hole-small", Severity.CAUTION, where, message, "drill it: see hole verdict"))
        if not c.disc and a.run_in < t.setting.lead_in_mm - 1e-9:
            message = f"the run-in is only {given.show(a.run_in)}, from the very centre"
            out.append(Finding("arm-run-in", Severity.CAUTION, where, message, given.show(t.setting.lead_in_mm)))
    if any(a.arm.value > guides.arm_max_mm for a in arms):
        beam = "the kit has no circle arm" if not guides.arm_max_mm else "longer than the kit's circle arm"
        out.append(Finding("arm-trammel", Severity.NOTE, where, f"{beam}: a trammel", "a stiff bar that does not sag"))
    if not t.setting.edge_ok:
        out.append(
            Finding("guide-too-thick", Severity.NO_GO, where, "this set does not cut it", t.setting.weakest or "")
        )
    return tuple(out)


def _begin(a: Arm, t: Torch, given: Given) -> str:
    strike = "Pierce" if t.setting.pierce_ok else "Drill a start hole, 1/8 to 3/16 in, and strike"
    if a.circle.sweep_deg < 360:
        return (
            "Start from the edge of the plate, the tip half over it, where the arc runs out; where there is no edge, "
            f"{strike[0].lower()}{strike[1:]} {given.show(a.start)} from the pivot, in the drop."
        )
    side = "outside" if a.circle.disc else "inside"
    return (
        f"{strike} {given.show(a.start)} from the pivot, {side} the line, in the drop; run in {given.show(a.run_in)} "
        "and swing round, over the start."
    )


def _foot(a: Arm, arms: tuple[Arm, ...], bar: tuple[float, float] | None, given: Given) -> tuple[str, ...]:
    """What the pivot stands on, and what keeps it there until the arc is out."""
    show, c = given.show, a.circle
    whole = c.sweep_deg == 360
    if not c.disc and whole:
        return (
            "The pivot stands on the drop: prop the drop from below, level, so that it cannot sink or tip before the "
            "arc ends. Lay no bar across the circle: the torch would run into it.",
            f"With nothing below to prop it, stop short: leave a bridge of {show(BRIDGE_MM)}, take the arm off and cut "
            "the bridge by hand.",
        )
    if not c.disc:
        return (
            "The pivot stands on the drop, held so that it cannot shift before the arc ends, or on a block beside the "
            "plate, packed up level with it. Nothing may lie across the line of the cut.",
        )
    if not whole:
        return ()
    if len(arms) < 2:
        return (
            "The pivot stands on the disc: hold it up from below, level, so that it cannot sink before the arc ends.",
        )
    if bar is not None:
        return (
            f"The hole has taken the centre away: lay a bar across it on the ring, {show(bar[0])} to {show(bar[1])} "
            f"long and no wider than {show(BAR_WIDE_MM)}, with a magnet or a tack at each end. Shorter it does not "
            "rest on the ring; longer the cup strikes it.",
            "Find the centre again from the scribed lines and punch the bar. The pivot is higher by the bar: keep the "
            "arm level and the tip at its height. Hold the ring up from below.",
        )
    hole = next(x for x in arms if not x.circle.disc)
    from_pivot = hole.arm.high + (hole.arm.value - hole.to_cup.low) + CLEAR_MM  # past the cup's far edge
    if c.radius - from_pivot >= CLAMP_MM:
        return (
            "Hold ring and middle up from below, level. Once the outside is through, clamp the ring down, no clamp "
            f"nearer to the pivot than {show(from_pivot)}: the cup passes there in the hole.",
        )
    return (
        f"The ring is too narrow for a clamp beside the cup: leave two bridges of {show(BRIDGE_MM)} in the outside, "
        "across from each other. They hold the ring in the plate until the hole is out; cut them last, by hand.",
    )


def _steps(arms: tuple[Arm, ...], bar: tuple[float, float] | None, t: Torch, given: Given) -> tuple[str, ...]:
    both = "both circles" if len(arms) > 1 else "the circle"
    out = [f"Scribe the centre lines, punch the centre, and scribe {both}."]
    last = arms[-1].circle
    if last.name == "corner":
        out = ["Scribe both edges and, from each, a line the radius in: where they cross, punch the pivot."]
    if last.name == "arc":
        out = ["Scribe the chord, its middle, and a line square to it; punch the pivot on that line."]
    if len(arms) > 1 and arms[0].circle.disc:
        out.append(
            "Outside first, while the middle is still there: one punch mark, in metal that nothing has loosened, leads "
            "both circles, and no bar has to carry the pivot."
        )
    for a in arms:
        head = f"For the {a.circle.name}: " if len(arms) > 1 else ""
        reads = given.show(a.to_cup.value - given["pin"] / 2)
        out.append(f"{head}{'s' if head else 'S'}et the arm so that the tape reads {reads} to the cup's near edge.")
        out += _foot(a, arms, bar, given)
        out.append(_begin(a, t, given))
    out += [
        "Swing it dry first, all the way: cup, lead and hand must clear.",
        "Keep the square side of the kerf on the part: with the usual swirl a disc clockwise, a hole anticlockwise, "
        "seen from above.",
    ]
    return tuple(out)


def arm(given: Given) -> SetOut:
    """Return the set-out of a cut on a circle arm or trammel."""
    t = torch_of(given, ARM.kind)
    faults = Faults(ARM.kind)
    circles = _circles(given, faults)
    faults.raise_if_any()
    arms = tuple(_arm_of(c, t, given, faults) for c in circles)
    faults.raise_if_any()
    for a in arms:
        faults.unless(
            given["pin"] / 2 < a.to_cup.value,
            "pin",
            f"a pin of {given.show(given['pin'])} does not go between pivot and cup",
            f"under {given.show(2 * a.to_cup.value)}",
        )
    bar = _bar(arms, given, faults)
    faults.raise_if_any()
    height = t.kit.guides.height_mm + t.setting.standoff_mm.value
    near = edge_figure(
        method_tolerance("guide", "circle arm"), t.kept, t.setting.bevel_good_deg, given["thickness"], height
    )
    numbers = [n for a in arms for n in _numbers(a, given)]
    numbers += _arc_numbers(circles[-1])
    numbers += _bar_numbers(bar, arms)
    numbers += [
        *_beam(arms, t),
        Number("least_arm_mm", "least pivot to tip's centre that works here",
               exact(_least_arm(t), "mm", "guide.arm", COMMON, basis=Basis.DEFAULT)),
        Number("radius_plus_minus_mm", "how near the radius comes out, plus or minus", near),
        Number("cup_radius_mm", "cup radius at the arm's height", t.cup),
        Number("kerf_mm", "kerf", t.kerf),
    ]  # fmt: skip
    what = given.word("cut")
    sizes = " and ".join(
        given.show(c.radius) + " radius" if c.sweep_deg < 360 else given.show(2 * c.radius)
        for c in sorted(circles, key=lambda c: -c.radius)
    )
    shown = tuple(
        Shown(a.circle.radius, a.circle.disc, a.circle.sweep_deg, a.arm.value, a.to_cup.value, a.start) for a in arms
    )
    return SetOut(
        ARM.kind,
        f"Circle arm: {what} {sizes}, through {given.show(given['thickness'])}",
        shown_given(ARM, given),
        tuple(numbers),
        (_table(arms),),
        _steps(arms, bar, t, given),
        picture(what, shown, t.r, t.k, None if bar is None else (math.fsum(bar) / 2, BAR_WIDE_MM), given),
        findings=_findings(arms, t, given),
    )


ARM = Ask(
    "guide", "arm", "Circle arm and trammel: pivot to tip and to cup for a disc, hole, ring, arc or corner.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        choice("cut", "what is cut", "disc", "hole", "ring", "arc", "corner"),
        maybe_length("diameter", "diameter of disc or hole; of a ring outside", least=1, most=20_000),
        maybe_length("inside_diameter", "inside diameter of a ring", least=1, most=20_000),
        maybe_length("radius", "radius of an arc or a corner", least=0.5, most=20_000),
        maybe_length("chord", "chord of an arc, instead of its radius", least=1, most=20_000),
        maybe_length("rise", "rise of an arc over its chord", least=0.5, most=20_000),
        Field("angle", "angle of an arc at its centre; of a corner its own, 90 when empty", "angle", False, None, (),
              1, 359, "deg"),
        choice("keep", "on which side of an arc or a corner's arc the part lies", "inside", "outside"),
        choice("first", "which circle of a ring is cut first", "outside", "hole"),
        CUP,
        KERF,
        maybe_length("pin", "diameter of the pivot's pin, when the tape starts at its side", 0.0, most=60),
    ),
    arm, thickness="thickness",
    example=(("thickness", "3/8"), ("cut", "ring"), ("diameter", "14"), ("inside_diameter", "9")),
)  # fmt: skip

ASKS = (ARM,)
