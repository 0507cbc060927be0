"""What on a coupon cannot be true, and what is hardly so: swapped sides, inches typed as millimetres, a tip over its
current. Only the first is refused; of the second the user is asked, and the value kept as given.

What is usual is common practice without a source, taken wide: a doubt is a question, not a judgement.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.trade.kerf import band_by_current

INCH = 25.4
ASK = "kept as given; correct it if so"
CUP_RADIUS_MM = (5.0, 20.0)  # without a kit
SEVER_MM = 60.0
NATURAL_DEG = 15.0  # a face beyond this was cut with the torch leaning
SIDES_DEG = 2.0  # how much the square side may be the worse before it is asked
LAG_DEG = 60.0
LEAST_SHARE = 1 / 3  # of its tip's current: below, the arc of a torch is starved
PACE_MM_S = (0.8, 130.0)  # a hand; 2 to 300 in/min

Usual = tuple[float, float]


def impossible(coupon: Coupon, name: str, unit: str, kit: Kit | None) -> Iterator[Finding]:
    """Yield a refusal for everything on a coupon that cannot be true; of a thickness that is NaN nothing is said."""
    t = coupon.thickness_mm
    cup = 2 * (kit.torch.cup_radius_mm.high if kit is not None else CUP_RADIUS_MM[1])
    usual = _usual(coupon, kit)
    plate = 0.3 <= t <= 150
    if not plate and not math.isnan(t):
        hint = _other_unit(t, usual["thickness"], unit)
        yield _no(
            "thickness-bad", f"{name}: thickness", f"{_mm(t, unit)} is no plate for a hand torch{hint}", "0.3 to 150 mm"
        )
    for where, cut in _numbered(coupon, name):
        for field in ("kerf_top_mm", "kerf_bottom_mm"):
            kerf = getattr(cut, field)
            if kerf is not None and kerf >= cup:
                hint = _other_unit(kerf, usual["kerf"], unit)
                say = f"{_mm(kerf, unit)} is wider than the cup, {_mm(cup, unit)} across{hint}"
                yield _no("kerf-over-cup", f"{where}: {field[:-3]}", say, "well under the cup; measure the kerf again")
        if cut.guide_near_mm is not None and cut.guide_far_mm is not None and cut.guide_near_mm >= cut.guide_far_mm:
            say = f"near edge {_mm(cut.guide_near_mm, unit)} is not nearer than far edge {_mm(cut.guide_far_mm, unit)}"
            yield _no("guide-near-far", f"{where}: guide_near", say, "near below far; swapped?")
        for field in ("gap_right_mm", "gap_left_mm"):
            gap = getattr(cut, field)
            if plate and gap is not None and abs(gap) >= t * math.tan(math.radians(60)) + 1e-9:
                hint = _other_unit(abs(gap), usual["gap"], unit)
                say = f"{_mm(gap, unit)} over {_mm(t, unit)} of plate leans more than 60 degrees{hint}"
                yield _no("gap-too-large", f"{where}: {field[:-3]}", say, "the gap under a square at the bottom edge")
    if coupon.gouge_depth_mm is not None and coupon.gouge_depth_mm > t:
        say = f"{_mm(coupon.gouge_depth_mm, unit)} is deeper than the plate, {_mm(t, unit)}"
        yield _no("gouge-deep", f"{name}: gouge_depth", say, "up to the plate's thickness")


def doubts(coupon: Coupon, name: str, unit: str, kit: Kit | None) -> Iterator[Finding]:
    """Yield a caution for everything on a coupon that is hardly true, each with its question."""
    yield from _unit_doubts(coupon, name, unit, kit)
    yield from _kit_doubts(coupon, name, kit)
    for where, cut in _numbered(coupon, name):
        yield from _cut_doubts(cut, where, unit)
        yield from _side_doubts(cut, where, coupon.thickness_mm, kit.torch.square_side if kit is not None else "right")
    yield from _between_cuts(coupon, name)
    yield from _round_doubts(coupon, name, unit)


def _usual(coupon: Coupon, kit: Kit | None) -> dict[str, Usual]:
    """Wide limits of what is usual, by kind of measurement. [mm]"""
    t = coupon.thickness_mm
    low, high = band_by_current(coupon.current_a)
    cup = (kit.torch.cup_radius_mm.low, kit.torch.cup_radius_mm.high) if kit is not None else CUP_RADIUS_MM
    most = 2.0 * kit.power.rated_thickness_mm.high if kit is not None else SEVER_MM
    return {
        "thickness": (0.45, most),
        "length": (40.0, 2500.0),
        "kerf": (0.5 * low, 2.2 * high),
        "guide": (0.4 * cup[0], 2.0 * cup[1]),
        "gap": (0.0, t * math.tan(math.radians(NATURAL_DEG))),
        "lag": (0.0, t * math.tan(math.radians(LAG_DEG))),
        "disc": (15.0, 900.0),
        "crater": (0.8, 4 * t),
        "gouge": (0.5, 25.0),
        "dross": (0.0, 12.0),
    }


def _unit_doubts(coupon: Coupon, name: str, unit: str, kit: Kit | None) -> Iterator[Finding]:
    """Whether a value would be usual in the other unit and is not in this one."""
    usual = _usual(coupon, kit)
    values: list[tuple[str, str, float | None]] = [
        (f"{name}: thickness", "thickness", coupon.thickness_mm),
        (f"{name}: crater", "crater", coupon.crater_mm),
        *(
            (f"{name}: {f}", "disc", getattr(coupon, f"{f}_mm"))
            for f in ("disc_asked", "disc_got", "hole_asked", "hole_got")
        ),
        (f"{name}: gouge_width", "gouge", coupon.gouge_width_mm),
        (f"{name}: gouge_depth", "gouge", coupon.gouge_depth_mm or None),
    ]
    for where, cut in _numbered(coupon, name):
        values += [
            (f"{where}: length", "length", cut.length_mm),
            (f"{where}: kerf_top", "kerf", cut.kerf_top_mm),
            (f"{where}: kerf_bottom", "kerf", cut.kerf_bottom_mm),
            (f"{where}: guide_near", "guide", cut.guide_near_mm),
            (f"{where}: guide_far", "guide", cut.guide_far_mm),
            (f"{where}: gap_right", "gap", abs(cut.gap_right_mm) if cut.gap_right_mm is not None else None),
            (f"{where}: gap_left", "gap", abs(cut.gap_left_mm) if cut.gap_left_mm is not None else None),
            (f"{where}: lag", "lag", cut.lag_mm),
            (f"{where}: dross_height", "dross", cut.dross_height_mm),
        ]
    for where, kind, value in values:
        if value is None:
            continue
        low, high = usual[kind]
        if low <= value <= high:
            continue
        hint = _other_unit(value, (low, high), unit)
        if kind == "thickness":
            yield _ask(
                "thickness-unlike", where, f"{_mm(value, unit)} is unlike what a hand torch of this size cuts{hint}"
            )
        elif hint:
            yield _ask("inches-or-mm", where, f"{_mm(value, unit)} is unlikely{hint}")
        elif kind in ("kerf", "length", "guide"):
            say = f"{_mm(value, unit)} is unlikely, {_mm(low, unit)} to {_mm(high, unit)} is usual; read again?"
            yield _ask("value-unlikely", where, say)


def _other_unit(value: float, usual: Usual, unit: str) -> str:
    """What to add when the value is usual after a factor 25.4 and is not as given."""
    low, high = usual
    if low <= value <= high:
        return ""
    for factor, say in ((INCH, "inches typed as mm"), (1 / INCH, "mm typed as inches")):
        if max(low, 1e-6) <= value * factor <= high:
            return f"; {_mm(value * factor, unit)} would be usual: {say}?"
    return ""


def _kit_doubts(coupon: Coupon, name: str, kit: Kit | None) -> Iterator[Finding]:
    if kit is None:
        return
    amps = coupon.current_a
    tip = next((t for t in kit.torch.tips if t.name == coupon.tip), None)
    if tip is None:
        known = ", ".join(t.name for t in kit.torch.tips)
        say = f'"{coupon.tip}" is not a tip of {kit.name}: kept, but nothing is learned from it'
        yield Finding("tip-not-in-kit", Severity.CAUTION, f"{name}: tip", say, known)
    elif amps > tip.max_current_a:
        say = f"{amps:g} A is above the tip's {tip.max_current_a:g} A; was another tip fitted?"
        yield _ask("current-over-tip", f"{name}: current", say)
    elif amps < LEAST_SHARE * tip.max_current_a:
        say = f"{amps:g} A is under a third of the tip's {tip.max_current_a:g} A; digit missed, other tip fitted?"
        yield _ask("current-low", f"{name}: current", say)
    if amps > kit.power.rated_current_a:
        say = f"{amps:g} A is above the set's {kit.power.rated_current_a:g} A"
        yield _ask("current-over-set", f"{name}: current", say)


def _cut_doubts(cut: CouponCut, where: str, unit: str) -> Iterator[Finding]:
    pace = cut.pace_mm_s
    if pace is not None and not PACE_MM_S[0] <= pace <= PACE_MM_S[1]:
        say = f"{cut.length_mm:g} mm in {cut.seconds:g} s is {pace * 60 / INCH:.0f} in/min, no pace of a hand"
        yield _ask("pace-unlikely", f"{where}: seconds", f"{say}; length and time right?")
    top, bottom = cut.kerf_top_mm, cut.kerf_bottom_mm
    right, left = cut.gap_right_mm, cut.gap_left_mm
    if top is not None and bottom is not None and bottom > top:
        # gaps that open downwards allow a wide bottom: then both may well be right
        opens = right is not None and left is not None and right + left < 0
        if not opens:
            say = f"top {_mm(top, unit)} is narrower than bottom {_mm(bottom, unit)}; top and bottom swapped?"
            yield _ask("top-bottom-swapped", f"{where}: kerf_top", say)
    near, far = cut.guide_near_mm, cut.guide_far_mm
    if top is not None and near is not None and far is not None and abs(far - near - top) > max(0.6, 0.3 * top):
        say = f"the guide distances make a kerf of {_mm(far - near, unit)}, kerf_top says {_mm(top, unit)}"
        yield _ask("kerf-and-guide-differ", f"{where}: kerf_top", f"{say}; which was misread?")
    if cut.through is False and (bottom is not None or cut.lag_mm is not None):
        yield _ask("not-through", f"{where}: through", "the cut did not go through, yet its bottom was measured")
    if cut.through is False and cut.dross is Dross.NONE:
        say = "the cut did not go through, yet its dross is none: teaches no clean pace; which is it?"
        yield _ask("not-through-clean", f"{where}: dross", say)
    if (cut.seconds is None) != (cut.length_mm is None):
        have, lacks = ("seconds", "length") if cut.length_mm is None else ("length", "seconds")
        if cut.length_mm is None or cut.dross is not None:
            yield _ask("pace-half", f"{where}: {have}", f"{have} without {lacks}: teaches no pace; what was it?")
    if cut.dross is Dross.NONE and (cut.dross_height_mm or 0) > 0:
        yield _ask(
            "dross-none-high", f"{where}: dross", f"no dross, yet it is {_mm(cut.dross_height_mm or 0, unit)} high"
        )


def _side_doubts(cut: CouponCut, where: str, t: float, square: str) -> Iterator[Finding]:
    right, left = cut.gap_right_mm, cut.gap_left_mm
    for side, gap in (("right", right), ("left", left)):
        lean = math.degrees(math.atan2(abs(gap), t)) if gap is not None else 0.0
        if lean > NATURAL_DEG:
            say = f"the face leans {lean:.0f} degrees, more than an upright torch leaves; torch upright, square true?"
            yield _ask("bevel-large", f"{where}: gap_{side}", say)
    if right is None or left is None:
        return
    good, bad = (right, left) if square == "right" else (left, right)
    worse = math.degrees(math.atan2(abs(good), t)) - math.degrees(math.atan2(abs(bad), t))
    if worse > SIDES_DEG:
        other = "left" if square == "right" else "right"
        say = (
            f"the {square} side should be the squarer, yet it leans {worse:.1f} degrees more than the {other}; "
            "left and right of travel swapped, or cut the other way?"
        )
        yield _ask("sides-swapped", f"{where}: gap_{square}", say)


def _between_cuts(coupon: Coupon, name: str) -> Iterator[Finding]:
    """Dross and severance against the pace: slow dross on the faster of two cuts, a slower cut not through."""
    paced = [(p, n, c) for n, c in enumerate(coupon.cuts, 1) if (p := c.pace_mm_s) is not None]
    for (pa, na, a), (pb, nb, b) in itertools.permutations(paced, 2):
        if pa <= pb * 1.05:
            continue
        if a.dross is Dross.SLOW and b.dross is Dross.FAST:
            say = f"cut {na} was faster than cut {nb}, yet has the dross of a slow cut and cut {nb} that of a fast one"
            yield _ask("dross-against-pace", f"{name}: cut {na}: dross", f"{say}; times or words swapped?")
        if a.through is True and b.through is False:
            say = f"cut {nb} was slower than cut {na}, yet only cut {na} went through"
            yield _ask("through-against-pace", f"{name}: cut {nb}: through", f"{say}; times swapped?")


def _round_doubts(coupon: Coupon, name: str, unit: str) -> Iterator[Finding]:
    """A disc comes out smaller than the arm's circle by a kerf, a hole larger."""
    for what, sign in (("disc", -1), ("hole", 1)):
        asked, got = getattr(coupon, f"{what}_asked_mm"), getattr(coupon, f"{what}_got_mm")
        if (asked is None) != (got is None):
            yield Finding(
                "pair-half", Severity.NOTE, f"{name}: {what}", "one of asked and got alone says nothing", "give both"
            )
        if asked is None or got is None:
            continue
        more = sign * (got - asked)
        if more < -1.0 or more > 8.0:
            less = "smaller" if sign < 0 else "larger"
            say = f"asked {_mm(asked, unit)}, got {_mm(got, unit)}; a {what} comes out {less} by about a kerf"
            yield _ask("round-unlikely", f"{name}: {what}_got", f"{say}; asked is the circle the arm was set to")


def _numbered(coupon: Coupon, name: str) -> Iterator[tuple[str, CouponCut]]:
    return ((f"{name}: cut {n}", cut) for n, cut in enumerate(coupon.cuts, 1))


def _mm(mm: float, unit: str) -> str:
    return f"{mm:.2f} mm" if unit == "mm" else f"{mm / INCH:.3f} in ({mm:.2f} mm)"


def _no(code: str, where: str, message: str, allowed: str) -> Finding:
    return Finding(code, Severity.REFUSED, where, message, allowed)


def _ask(code: str, where: str, message: str) -> Finding:
    return Finding(code, Severity.CAUTION, where, message, ASK)
