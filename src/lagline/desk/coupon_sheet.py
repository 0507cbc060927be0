"""The printed coupon from a coupon plan: where everything goes on the scrap, beats, order of work, form."""

from __future__ import annotations

from lagline.cards.coupon_card import card_data, sheets_pdf
from lagline.cards.coupon_picture import Scrap, scrap
from lagline.planning.coupon_plan import CouponPlan
from lagline.records.kit import Kit
from lagline.records.length import show_both
from lagline.trade.coupon_model import tip_of
from lagline.trade.kerf import kerf_of_tip


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


def third_words(plan: CouponPlan) -> tuple[str, ...]:
    """Return how the third cut is led after what the first two showed, the likeliest first."""
    told = []
    for t in sorted(plan.thirds, key=lambda t: -t.chance):
        told.append(f"Cut 3 after {t.first}, then {t.second}: {t.cut.seconds:.1f} s, {t.cut.beat_s:.2f} s/in.")
    return tuple(told)


def sheet_pdf(plan: CouponPlan, kit: Kit, units: str, paper: str) -> bytes:
    """Return the coupon's sheets as PDF at full scale; the same plan gives the same bytes."""
    title = f"Coupon: tip {plan.tip}, {plan.metal} {show_both(plan.thickness_mm, 32)}, {plan.current_a:g} A"
    told = tuple(f"{f.message}. {f.allowed}" for f in plan.findings)
    data = card_data(scrap_of(plan, kit, units), paper, title, kit.name, (*third_words(plan), *told))
    return sheets_pdf(data)
