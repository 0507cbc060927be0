"""The settings stage: current, tip, pace, height and limits for every stock and every bevel on it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from lagline.planning import learned as coupons
from lagline.planning.settings_notes import current_findings, kerf_note, pace_findings, thickness_findings, weakest
from lagline.records.coupon import Learned
from lagline.records.errors import refuse
from lagline.records.figure import Figure
from lagline.records.finding import Finding, sort_findings
from lagline.records.job import Stock
from lagline.records.kit import Kit, Tip
from lagline.records.plan import Blank, Setting
from lagline.trade import bevel, guide, holes, kerf, lead, pace, severance
from lagline.trade.coupon_predict import Sight
from lagline.trade.kit_values import drag_standoff, kit_figure
from lagline.trade.register import out_of_range

CURRENT_STEP_A = 5.0
PIERCE_STRETCH = 1.2


def choose_settings(
    blanks: tuple[Blank, ...], kit: Kit, current_a: float | None, learned: Learned = Learned()
) -> tuple[tuple[Setting, ...], tuple[Finding, ...]]:
    """Choose how each stock is cut, square and at each bevel asked for.

    The square setting of a stock comes first, bevels after it by angle. ``current_a`` [A] is the user's wish or
    None. Nothing is refused for being too thick: the setting says ``edge_ok`` False and a finding says why.
    ``learned`` is what coupons say: a setting whose tip and metal they reach takes its figures from them, the cup
    radius is everybody's, and without coupons nothing changes. Refuses a kit without tips and a current that is
    no current.
    """
    if not kit.torch.tips:
        raise refuse("kit-no-tips", kit.origin, "the kit has no tip, so no current can be chosen", "one tip or more")
    if current_a is not None and not (math.isfinite(current_a) and current_a > 0):
        raise refuse("current-bad", "job, current", f"{current_a} A is not a cutting current", "above 0 A")
    settings: list[Setting] = []
    findings: list[Finding] = []
    stocks = _stocks(blanks)
    names = _names(stocks)
    known = coupons.sights(kit, learned)
    for stock in stocks:
        for angle in _angles(blanks, stock):
            name = names[stock.key] + (f"-bevel{angle:g}" if angle else "")
            setting, found = _one(name, stock, angle, kit, current_a, known)
            settings.append(setting)
            place = place_of(stock, angle)
            if setting.cup_radius_mm.formula == "coupon.cup" and setting.kerf_mm.formula != "coupon.kerf":
                found = (*found, coupons.cup_note(name, kit, setting))
            findings.extend(replace(f, where=place) if f.where == name else f for f in found)
    return tuple(settings), sort_findings(findings)


def setting_of(
    stock: Stock, bevel_deg: float, kit: Kit, current_a: float | None, learned: Learned = Learned()
) -> tuple[Setting, tuple[Finding, ...]]:
    """Choose how one stock is cut leaning by a bevel [deg], without a job; see :func:`choose_settings`."""
    if not kit.torch.tips:
        raise refuse("kit-no-tips", kit.origin, "the kit has no tip, so no current can be chosen", "one tip or more")
    if current_a is not None and not (math.isfinite(current_a) and current_a > 0):
        raise refuse("current-bad", "current", f"{current_a} A is not a cutting current", "above 0 A")
    return _one(place_of(stock, bevel_deg), stock, bevel_deg, kit, current_a, coupons.sights(kit, learned))


def place_of(stock: Stock, bevel_deg: float) -> str:
    """Return what a setting's findings are about, in shop words: ``3/8" steel`` or ``3/8" steel, bevel 30 deg``."""
    metal = f"{stock.thickness_text or f'{stock.thickness_mm:g} mm'} {stock.metal}"
    return f"{metal}, bevel {bevel_deg:g} deg" if bevel_deg else metal


def setting_for(settings: Iterable[Setting], stock: Stock, bevel_deg: float = 0.0) -> Setting:
    """Return the setting of a stock and bevel [deg]; KeyError when the stage made none."""
    for s in settings:
        if s.stock.key == stock.key and abs(s.bevel_deg - bevel_deg) < 1e-9:
            return s
    raise KeyError((stock.key, bevel_deg))


def _stocks(blanks: tuple[Blank, ...]) -> tuple[Stock, ...]:
    return tuple({b.part.stock.key: b.part.stock for b in reversed(blanks)}[k] for k in _keys(blanks))


def _keys(blanks: tuple[Blank, ...]) -> tuple[tuple[str, float], ...]:
    return tuple(dict.fromkeys(b.part.stock.key for b in blanks))


def _names(stocks: tuple[Stock, ...]) -> dict[tuple[str, float], str]:
    # half a tenth goes up, as the trade rounds it: 6.35 is 6.4
    short = {s.key: f"{s.metal}-{math.floor(s.thickness_mm * 10 + 0.5 + 1e-9) / 10:g}" for s in stocks}
    doubled = {n for n in short.values() if list(short.values()).count(n) > 1}
    return {s.key: f"{s.metal}-{s.thickness_mm:.3f}" if short[s.key] in doubled else short[s.key] for s in stocks}


def _angles(blanks: tuple[Blank, ...], stock: Stock) -> tuple[float, ...]:
    asked = {e.bevel_deg for b in blanks if b.part.stock.key == stock.key for e in b.part.edges if e.bevel_deg}
    return (0.0, *sorted(asked))


def tip_for(kit: Kit, current_a: float) -> Tip:
    """The smallest tip that carries a current [A]; the largest when none does."""
    tips = sorted(kit.torch.tips, key=lambda t: (t.max_current_a, t.name))
    return next((t for t in tips if t.max_current_a >= current_a - 1e-9), tips[-1])


def currents(kit: Kit) -> tuple[float, ...]:
    """Currents worth considering [A], lowest first: 5 A steps, the set's ends and each tip's limit."""
    top = min(kit.power.rated_current_a, max(t.max_current_a for t in kit.torch.tips))
    bottom = min(kit.power.min_current_a, top)
    steps = [CURRENT_STEP_A * i for i in range(math.ceil(bottom / CURRENT_STEP_A), int(top / CURRENT_STEP_A) + 1)]
    tips = [t.max_current_a for t in kit.torch.tips if bottom <= t.max_current_a <= top]
    return tuple(sorted({bottom, top, *steps, *tips}))


def _rated_kerf(kit: Kit) -> float:
    rated = kit.power.rated_current_a
    return kerf.kerf_of_tip(tip_for(kit, rated), rated).value


Known = dict[tuple[str, str], Sight]


def _chosen_current(kit: Kit, metal: str, thickness_mm: float, angle: float, known: Known) -> float:
    """The highest current whose clean pace the hand can still follow; the lowest when none is slow enough.

    A little more is taken when that makes a pierce possible and the pace passes the hand's band by no more
    than a fifth: a start in the middle of the plate is worth a slightly wide kerf.
    """
    anchor = pace.Anchor(kit.power, kit.power.rated_thickness_mm.value, _rated_kerf(kit))
    true_mm = bevel.true_thickness(thickness_mm, angle)
    choices = currents(kit)
    paces, pierced = [], []
    for amps in choices:
        tip = tip_for(kit, amps)
        if (sight := known.get((tip.name, metal))) is not None:
            value, limit = coupons.value_at(kit, sight, thickness_mm, angle, amps, anchor.rated_kerf_mm)
            paces.append(value)
            pierced.append(true_mm <= kit.power.pierce_share.value * limit)
            continue
        width = kerf.kerf_of_tip(tip, amps)
        paces.append(pace.pace_value(anchor, metal, true_mm, amps, width.value))
        edge = severance.edge_limit(kit.power, anchor.rated_kerf_mm, metal, amps, width)
        pierced.append(true_mm <= severance.pierce_limit(kit.power, edge).value)
    fastest = kit.operator.pace_high_mm_s
    best = max((i for i, v in enumerate(paces) if v <= fastest), default=0)
    for i in range(best, len(choices)):
        if pierced[i] and paces[i] <= PIERCE_STRETCH * fastest:
            return choices[i]
    return choices[best]


def _one(
    name: str, stock: Stock, angle: float, kit: Kit, current_a: float | None, known: Known
) -> tuple[Setting, tuple[Finding, ...]]:
    metal = stock.metal
    try:
        true_mm = bevel.true_thickness(stock.thickness_mm, angle)
    except ValueError as error:
        raise refuse("bevel-bad", name, str(error), "0 to 50 deg, shop bevels are 15 to 45") from error
    amps = _chosen_current(kit, metal, stock.thickness_mm, angle, known) if current_a is None else current_a
    tip = tip_for(kit, amps)
    rated_kerf = _rated_kerf(kit)
    sight = known.get((tip.name, metal))
    mine = coupons.known_at(kit, sight, stock.thickness_mm, angle, amps, rated_kerf) if sight is not None else None
    width = kerf.kerf_of_tip(tip, amps) if mine is None else mine.kerf
    clean = pace.pace_figure(kit.power, rated_kerf, metal, true_mm, amps, width) if mine is None else mine.clean
    edge = severance.edge_limit(kit.power, rated_kerf, metal, amps, width) if mine is None else mine.edge
    sever = severance.sever_limit(edge)
    pierce = severance.pierce_limit(kit.power, edge)
    findings = [
        *current_findings(name, kit, amps, tip),
        *thickness_findings(name, stock, angle, true_mm, amps, kit, edge, sever, pierce),
        *(pace_findings(name, clean, kit) if true_mm <= sever.value else ()),
        *out_of_range("pace.heat-balance", name, thickness_mm=true_mm, current_a=amps, kerf_mm=width.value),
    ]
    if width.formula == "kerf.from-bore":
        findings += out_of_range("kerf.from-bore", name, bore_mm=tip.bore_mm)
        findings.append(kerf_note(tip, width))
    if sight is not None:
        findings += coupons.notes(name, sight, sight.at(stock.thickness_mm, amps, angle))
    if angle:
        findings += out_of_range("bevel.true-thickness", name, bevel_deg=angle)
    current_ok = amps <= min(kit.power.rated_current_a, tip.max_current_a) + 1e-9
    edge_ok = current_ok and true_mm <= sever.value
    drag = angle == 0 and amps <= kit.torch.drag_max_current_a and stock.thickness_mm <= kit.torch.drag_max_thickness_mm
    cup = _cup(kit, mine, known)
    setting = Setting(
        id=name,
        stock=stock,
        bevel_deg=angle,
        true_thickness_mm=true_mm,
        current_a=amps,
        tip=tip.name,
        drag=drag,
        standoff_mm=drag_standoff() if drag else kit_figure(kit.torch.standoff_mm, "mm", "torch standoff", kit.origin),
        lead_angle_deg=kit_figure(kit.torch.lead_angle_deg, "deg", "torch lead angle", kit.origin),
        kerf_mm=width,
        cup_radius_mm=cup,
        offset_kept_mm=guide.offset_figure("kept", cup, width) if mine is None else mine.offset_kept,
        offset_drop_mm=guide.offset_figure("drop", cup, width) if mine is None else mine.offset_drop,
        pace_mm_s=pace.held(clean, kit.operator.pace_low_mm_s, kit.operator.pace_high_mm_s),
        bevel_good_deg=bevel.natural_good() if mine is None else mine.bevel_good,
        bevel_bad_deg=bevel.natural_bad() if mine is None else mine.bevel_bad,
        edge_ok=edge_ok,
        pierce_ok=edge_ok and true_mm <= pierce.value,
        weakest=weakest(kit, tip, amps, true_mm, edge, sever, pierce, clean),
        min_hole_mm=holes.minimum_hole(stock.thickness_mm),
        lead_in_mm=lead.lead_in(stock.thickness_mm),
        crater_radius_mm=(lead.crater_radius(stock.thickness_mm) if mine is None else mine.crater).high,
    )
    return setting, tuple(findings)


def _cup(kit: Kit, mine: coupons.Known | None, known: Known) -> Figure:
    if mine is not None:
        return mine.cup
    return coupons.cup_of(known) or kit_figure(kit.torch.cup_radius_mm, "mm", "torch cup radius", kit.origin)
