"""The coupon on paper: the scrap at full scale on one sheet or on tiles, then beats, order of work and a form."""

from __future__ import annotations

import math

from lagline.cards import words
from lagline.cards.coupon_picture import Scrap, picture, scrap, seconds_text
from lagline.cards.coupon_sketches import sketch
from lagline.cards.templates import BAR_IN_MM, BAR_MM, EDGE_MM, FOOT_MM, OVERLAP_MM, tiles, unscaled
from lagline.cards.typeset import page, to_pdf
from lagline.planning.coupon_plan import CouponPlan
from lagline.records.kit import Kit
from lagline.records.length import seconds_per_inch
from lagline.trade.coupon_model import tip_of
from lagline.trade.kerf import kerf_of_tip

Data = dict[str, object]

CAUTIONS = (
    "Fire: clear or shield all that burns 35 ft (10.7 m) round and below; a watch with an extinguisher stays at least "
    "half an hour after (29 CFR 1910.252; local rules first).",
    "Lens, ears, gloves, leathers on. Draught or extraction runs. Paint, zinc and grease are off the lines.",
    "Set off at the switch before a tip is touched. Work clamp on bright metal of the big piece.",
    "If it does not go through, stop: sparks and metal come back up at you. Then slower or with more current, never "
    "the same beat again.",
    "Strips come off hot and sharp: tongs, and quench or wait before you measure.",
)


def scrap_of(
    plan: CouponPlan, kit: Kit, units: str, kerf_mm: float | None = None, cup_radius_mm: float | None = None
) -> Scrap:
    """Return the scrap of a planned coupon; kerf and cup radius are the kit's unless something better is known."""
    kerf = kerf_mm or kerf_of_tip(tip_of(kit, plan.tip), plan.current_a).value
    return scrap(
        tuple(c.pace_mm_s for c in plan.cuts),
        plan.length_mm,
        kerf,
        cup_radius_mm or kit.torch.cup_radius_mm.value,
        square_side=kit.torch.square_side,
        units=units,
        arm_mm=plan.turn_mm / 2 if plan.turn_mm else None,
        pierce=plan.pierce,
        gouge=plan.gouge,
        guide_width_mm=kit.guides.width_mm,
        last_waits=len({t.cut.beat_s for t in plan.thirds}) > 1,
    )


def title_of(plan: CouponPlan, units: str) -> str:
    """Return what the coupon is of."""
    return f"Coupon: {words.both(plan.thickness_mm, units)} {plan.metal}, {plan.current_a:g} A"


def under_title(plan: CouponPlan, kit: Kit) -> str:
    """Return tip and bench in one line."""
    return f"tip {plan.tip}, {kit.name}"


def third_rows(plan: CouponPlan, units: str) -> tuple[tuple[str, str, str], ...]:
    """Return what the third cut waits for: words of cut 1, words of cut 2, and its seconds and beat."""
    rows: dict[tuple[str, str], list[str]] = {}
    for t in plan.thirds:
        rows.setdefault((t.first, beat_text(t.cut.pace_mm_s, t.cut.seconds, units)), []).append(t.second)
    return tuple((first, " or ".join(seconds), told) for (first, told), seconds in rows.items())


def beat_text(pace_mm_s: float, seconds: float, units: str) -> str:
    """Return seconds for the marked length and the beat, ``13.5 s, 2.25 s/in``."""
    beat = f"{seconds_per_inch(pace_mm_s):.2f} s/in" if units == "in" else f"{25 / pace_mm_s:.2f} s/25 mm"
    return f"{seconds_text(seconds)}, {beat}"


Row = tuple[str, str, str, tuple[str, ...]]  # sketch, name, hint, words to tick


_SIGNS = "+ bottom stands out, \N{MINUS SIGN}\N{NO-BREAK SPACE}bottom lies back"


def form_rows() -> tuple[Row, ...]:
    """Return the rows of the form: sketch, name, hint, and words to tick in place of a number."""
    return (
        ("time", "seconds", "mark to mark", ()),
        ("dross-none", "through?", "all the way", ("yes", "no")),
        ("kerf", "kerf, top", "calliper", ()),
        ("kerf", "kerf, bottom", "dross knocked off", ()),
        ("guide", "guide to near edge", "from the nick", ()),
        ("guide", "guide to far edge", "from the nick", ()),
        ("gap", "gap, right piece", _SIGNS, ()),
        ("gap", "gap, left piece", _SIGNS, ()),
        ("lag", "lag", "lines trail, at bottom", ()),
        ("dross-slow", "dross", "slow: thick, bubbly, flicks off", ("none", "slow", "fast")),
        ("dross-fast", "dross height", "fast: a thin hard bead", ()),
    )


def _no_less(mm: float, units: str) -> str:
    """Return a length rounded up, to an eighth of an inch or 5 mm."""
    step = 25.4 / 8 if units == "in" else 5.0
    return words.tape(math.ceil(mm / step - 1e-9) * step, units)


def work_order(coupon: Scrap) -> tuple[str, ...]:
    """Return what to do, in order, in plain words."""
    units, c = coupon.units, coupon.cuts[0]
    length = words.tape(abs(c.marks[1] - c.marks[0]), units)
    side = "right" if coupon.leftwards else "left"
    out = [
        f"Scrap at least {_no_less(coupon.width, units)} x {_no_less(coupon.height, units)}, flat and clean. Mark "
        f"out from the datum corner, or lay this sheet on it and punch through.",
    ]
    if coupon.gouge is not None:
        out.append("Gouge first, one pass, while the piece is whole. Time it.")
    out += [
        f"Cut 1: clamp the guide {words.both(c.y - c.guide_y, units)} from the line, on the lower piece. Start at the "
        f"{side} edge, watch on at the first mark, off at the second. Hold the beat, not the look of the cut.",
        "Stop where the line stops: the strip stays on. Before the guide moves, nick the steel along its edge twice.",
        f"From the nicks measure to the near and the far edge of the kerf. Then cuts 2 and 3 the same way, each "
        f"{length} at its own beat" + ("; cut 3 by the table." if coupon.last_waits else "."),
    ]
    if coupon.circle is not None:
        how = "clockwise" if coupon.circle.clockwise else "anticlockwise"
        out.append(
            f"Arm: {words.both(coupon.circle.arm, units)} pivot to tip, {how}. One turn gives disc and hole; asked for "
            f"is the circle, {words.both(2 * coupon.circle.arm, units)}."
        )
    if coupon.pierce is not None:
        out.append("Pierce once where marked, stop, and measure the crater at the top.")
    out += [
        "Look before you chip: dross none, slow or fast, and its height. Then saw or bend the strips off, chip clean.",
        "Square on the top face of both pieces: write the gap: plus where the bottom stands out, minus where "
        "it lies back.",
        "A cut that went wrong is worth writing too. What you did not measure stays empty.",
    ]
    return tuple(out)


def _beats(coupon: Scrap) -> list[list[str]]:
    out = []
    for c in coupon.cuts:
        inch, mm = seconds_per_inch(c.pace_mm_s), 25 / c.pace_mm_s
        first = f"cut {c.number}: {seconds_text(c.seconds)}"
        slow = (
            f"{inch:.2f} s/in, {60 / inch:.0f} in/min"
            if coupon.units == "in"
            else f"{mm:.2f} s/25 mm, {c.pace_mm_s:.1f} mm/s"
        )
        other = f"{c.pace_mm_s:.1f} mm/s" if coupon.units == "in" else f"{inch:.2f} s/in, {60 / inch:.0f} in/min"
        length = words.tape(abs(c.marks[1] - c.marks[0]), coupon.units)
        if coupon.last_waits and c is coupon.cuts[-1]:
            other = "or by the table"
        out.append([first, slow, f"for {length}; {other}"])
    return out


def _singles(coupon: Scrap) -> list[str]:
    out = ["date", "starts of the tip so far", "arc min so far", "air at the set"]
    if coupon.pierce is not None:
        out.append("crater, widest")
    if coupon.circle is not None:
        out += ["disc across", "hole across"]
    if coupon.gouge is not None:
        out += ["gouge width", "gouge depth", "gouge length", "gouge seconds"]
    return out


def _sheets(coupon: Scrap, frame: tuple[float, float]) -> list[Data]:
    """Return the picture on one sheet when it fits, else on tiles that overlap."""
    size = (coupon.width, coupon.height)
    if size[0] <= frame[0] and size[1] <= frame[1]:
        at = [(frame[0] - size[0]) / 2, (frame[1] - size[1]) / 2]
        return [{"svg": picture(coupon, paper=True), "at": at, "size": list(size), "name": "Full scale.", "joins": {}}]
    found = tiles(size, frame)
    rows, columns = max(r for r, _, _ in found), max(c for _, c, _ in found)
    out: list[Data] = []
    for r, c, (x, y) in found:
        view = (x, y, x + frame[0], y + frame[1])
        name = (
            f"Full scale, row {r} of {rows} from the bottom, column {c} of {columns} from the left. Neighbours overlap "
            f"by {OVERLAP_MM:g} mm: lay one on the other until the lines meet."
        )
        joins = {"left": c > 1, "right": c < columns, "bottom": r > 1, "top": r < rows}
        out.append({"svg": picture(coupon, paper=True, view=view), "at": [0.0, 0.0], "size": list(frame), "name": name,
                    "joins": joins})  # fmt: skip
    return out


def card_data(
    coupon: Scrap,
    paper: str,
    title: str,
    under: str,
    cautions: tuple[str, ...] = (),
    thirds: tuple[tuple[str, str, str], ...] = (),
) -> Data:
    """Return everything on the coupon's sheets as plain text and pictures."""
    width, height = page(paper)
    frame = (width - 2 * EDGE_MM, height - 2 * EDGE_MM - FOOT_MM)
    return {
        "page": [width, height],
        "edge": EDGE_MM,
        "frame": list(frame),
        "bars": [BAR_MM, BAR_IN_MM],
        "title": title,
        "under": under,
        "sheets": _sheets(coupon, frame),
        "cautions": [*CAUTIONS, *cautions],
        "work": list(work_order(coupon)),
        "beats": _beats(coupon),
        "thirds": [list(t) for t in thirds] if coupon.last_waits else [],
        "unit_word": "inches" if coupon.units == "in" else "millimetres",
        "rows": [{"svg": sketch(s, paper=True), "name": n, "hint": h, "choices": list(c)}
                 for s, n, h, c in form_rows()],
        "singles": (singles := _singles(coupon)),
        "across": math.ceil(len(singles) / 2),
    }  # fmt: skip


def pdf(
    plan: CouponPlan,
    kit: Kit,
    paper: str,
    units: str = "in",
    kerf_mm: float | None = None,
    cup_radius_mm: float | None = None,
) -> bytes:
    """Return a planned coupon as PDF: the scrap at full scale, then beats, order of work and the form.

    Kerf and cup radius [mm] are the kit's unless given. The same arguments give the same bytes.
    """
    made = scrap_of(plan, kit, units, kerf_mm, cup_radius_mm)
    told = tuple(f"{f.message}: {f.allowed}" if f.allowed else f.message for f in plan.findings)
    data = card_data(made, paper, title_of(plan, units), under_title(plan, kit), told, third_rows(plan, units))
    return sheets_pdf(data)


def sheets_pdf(data: Data) -> bytes:
    """Return the coupon's sheets as PDF, marked not to be scaled; the same data gives the same bytes."""
    return unscaled(to_pdf("coupon_card.typ", data))
