"""What `lagline coupon` prints: coupons, what they taught, charts and plans, in shop words or as JSON."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lagline.book.coupons import KeptCoupon
    from lagline.desk.coupon_desk import Entered, Taught
    from lagline.planning.coupon_plan import CouponPlan
    from lagline.records.coupon import Coupon
    from lagline.records.figure import Figure
    from lagline.trade.tip_drift import TipDrift


def print_json(value: object) -> None:
    """Print a value as JSON."""
    print(json.dumps(value, indent=2, ensure_ascii=False))


def said(id_: str, message: str, as_json: bool, **values: object) -> None:
    """Print what was done to a coupon, as a line or as JSON."""
    if as_json:
        print_json({"id": id_} | values)
    else:
        print(f"{id_}: {message}")


def show_said(c: Coupon, as_json: bool) -> None:
    """Print what is set aside of a coupon and what stands."""
    from lagline.desk.coupon_json import said_dict
    from lagline.trade.set_aside import in_words

    if as_json:
        print_json(said_dict(c))
        return
    aside, stands = (", ".join(map(in_words, names)) for names in (c.set_aside, c.stands))
    print(f"{c.id}: set aside: {aside or 'nothing'}" + (f"; right as it stands: {stands}" if stands else ""))


def both(mm: float) -> str:
    """A measured length: decimal inches, as they are finer here than a fraction, and millimetres."""
    return f"{mm / 25.4:.3f} in ({mm:.2f} mm)"


def word(value: object) -> str:
    """Return a value that is no length as text."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def show_kept(k: KeptCoupon) -> None:
    """Print a coupon: what was measured, what was said of it, its faces, what was done."""
    from lagline.trade.face import faces_of
    from lagline.trade.face import said as face_said
    from lagline.trade.set_aside import in_words, measurements

    c = k.coupon
    print(f"{c.id}: {c.tip}, {c.metal} {both(c.thickness_mm)} at {c.current_a:g} A, {c.date}")
    for name, value in (("bench", c.bench), ("starts", c.starts), ("arc minutes", c.arc_min), ("note", c.note)):
        if value not in (None, ""):
            print(f"  {name}: {value:g}" if isinstance(value, int | float) else f"  {name}: {value}")
    for name, value in measurements(c):
        shown = both(value) if name.endswith("_mm") and isinstance(value, float) else word(value)
        said = "  (set aside)" if name in c.set_aside else "  (right as it stands)" if name in c.stands else ""
        print(f"  {in_words(name)}: {shown}{said}")
    for n, side, grade in faces_of(c):
        print(f"  cut {n} {side} face {face_said(grade)}")
    for act in k.acts:
        tail = " ".join(x for x in (in_words(act.about), f"({act.why})" if act.why else "") if x)
        print(f"  {act.at[:16].replace('T', ' ')} {act.what} {tail}".rstrip())


def show_entered(entered: Entered, as_json: bool) -> None:
    """Print a coupon's id and what was noticed about it."""
    from lagline.cli.report import show_findings
    from lagline.records.finding import finding_dict

    if as_json:
        found: list[dict[str, str]] = [finding_dict(f) for f in entered.findings]
        from lagline.desk.coupon_json import coupon_dict

        print_json(coupon_dict(entered.coupon) | {"findings": found})
        return
    print(f"kept as {entered.coupon.id}")
    show_findings(entered.findings)


def figure(f: Figure) -> str:
    """A figure in shop terms."""
    if f.unit == "mm":
        return f"{f.value / 25.4:.3f} in ({f.low / 25.4:.3f} to {f.high / 25.4:.3f}); {f.value:.2f} mm"
    if f.unit == "mm/s":
        k = 60 / 25.4
        return f"{f.value * k:.0f} in/min ({f.low * k:.0f} to {f.high * k:.0f}); {f.value:.1f} mm/s"
    return f"{f.value:.1f} ({f.low:.1f} to {f.high:.1f}) {f.unit}"


def width(f: Figure) -> float:
    """Width of a spread: as a factor for paces, which spread that way, else plain."""
    return math.log(f.high / f.low) if f.unit == "mm/s" and f.low > 0 else f.high - f.low


def show_taught(t: Taught) -> None:
    """Print each figure without coupons and with them."""
    from rich.console import Console
    from rich.table import Table

    b = t.belief
    print(f"{b.tip}, {b.metal}, shown at {both(t.thickness_mm)} and {t.current_a:g} A, from {', '.join(b.coupons)}")
    table = Table(box=None, pad_edge=False)
    for head in ("", "without coupons", "now", "spread left"):
        table.add_column(head, overflow="fold")
    for name, was, now in t.rows:
        left = f"{width(now) / width(was):.0%}" if width(was) else ""
        table.add_row(name, figure(was), figure(now), left)
    Console().print(table)


def show_drift(d: TipDrift) -> None:
    """Print the charts of one tip."""
    print(
        f"tip {d.tip}, {d.metal} {both(d.thickness_mm)}, {d.current_a:g} A: {len(d.coupons)} "
        f"{'coupon' if len(d.coupons) == 1 else 'coupons'} over {d.along}"
    )
    for name, c in d.charts:
        if not c.points:
            print(f"  {name}: not measured")
            continue
        values = " ".join(f"{p.value:.2f}" for p in c.points[-8:])
        word = "GOING" if c.signal is not None else "steady" if len(c.points) > 1 else "first coupon"
        print(f"  {name}: {values}; sum {c.sum:.1f} of {c.decision:g}: {word}")


def show_plan(made: CouponPlan, units: str) -> None:
    """Print what to cut."""
    from lagline.records.length import show_length, show_pace

    inches = f"{made.length_mm / 25.4:g} in" if units == "in" else show_length(made.length_mm, "mm")
    print(f"coupon: tip {made.tip}, {made.metal} {both(made.thickness_mm)} at {made.current_a:g} A")
    for c in made.cuts[:2]:
        print(f"  cut {c.number}: {inches} in {c.seconds:.1f} s, {show_pace(c.pace_mm_s, units)}: {c.teaches}")
    print("  cut 3, by what hangs under the first two:")
    for t in sorted(made.thirds, key=lambda t: -t.chance):
        print(f"    {t.first}, then {t.second}: {inches} in {t.cut.seconds:.1f} s, {show_pace(t.cut.pace_mm_s, units)}")
    if made.turn_mm:
        arm = show_length(made.turn_mm / 2, units, 32)
        print(f"  circle: arm {arm} pivot to tip; measure disc and hole")
    extra = [w for w, yes in (("one pierce, its crater across", made.pierce), ("one gouge", made.gouge)) if yes]
    if extra:
        print(f"  {', '.join(extra)}")
    print(f"  spread of the clean pace afterwards: about {made.left:.0%} of today's")
