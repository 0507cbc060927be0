"""The printed coupon from a coupon plan: where everything goes on the scrap, beats, order of work, form."""

from __future__ import annotations

from lagline.cards.coupon_card import card_data, sheets_pdf
from lagline.cards.coupon_picture import Scrap, scrap
from lagline.planning.coupon_plan import CouponPlan
from lagline.records.kit import Kit
from lagline.records.length import show_both
from lagline.trade.coupon_model import tip_of
from lagline.trade.kerf import kerf_of_tip

MOST_THIRDS = 5


def scrap_of(plan: CouponPlan, kit: Kit, units: str) -> Scrap:
    """Return the scrap of a plan as it is marked out."""
    return scrap(
        tuple(c.pace_mm_s for c in plan.cuts),
        plan.length_mm,
        kerf_of_tip(tip_of(kit, plan.tip), plan.current_a).value,
        kit.torch.cup_radius_mm.value,
        square_side=kit.torch.square_side,
        units=units,
        arm_mm=plan.turn_mm / 2 or None,
        pierce=plan.pierce,
        gouge=plan.gouge,
        guide_width_mm=kit.guides.width_mm,
    )


def third_words(plan: CouponPlan) -> str:
    """Return how the third cut is led when the first two show something else than is likeliest, in one line."""
    printed = plan.cuts[-1].beat_s
    others = [t for t in sorted(plan.thirds, key=lambda t: -t.chance) if t.cut.beat_s != printed][:MOST_THIRDS]
    told = "; ".join(f"{t.first}, then {t.second}: {t.cut.seconds:.1f} s" for t in others)
    return f"Cut 3 goes by what hangs under cuts 1 and 2: as printed, but {told}." if told else ""


def sheet_pdf(plan: CouponPlan, kit: Kit, units: str, paper: str) -> bytes:
    """Return the coupon's sheets as PDF at full scale; the same plan gives the same bytes."""
    title = f"Coupon: tip {plan.tip}, {plan.metal} {show_both(plan.thickness_mm, 32)}, {plan.current_a:g} A"
    told = tuple(f"{f.message}. {f.allowed}" for f in plan.findings)
    data = card_data(
        scrap_of(plan, kit, units), paper, title, kit.name, tuple(w for w in (third_words(plan), *told) if w)
    )
    return sheets_pdf(data)
