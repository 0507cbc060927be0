"""What coupons change in a plan: figures where a belief reaches, and the one measurement most worth taking next."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lagline.records.coupon import Learned
from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.records.plan import Setting
from lagline.trade import coupon_measure as measure
from lagline.trade import coupon_model as m
from lagline.trade import coupon_predict as predict
from lagline.trade import kerf, pace, severance
from lagline.trade.coupon_model import Array, Condition
from lagline.trade.coupon_predict import Sight


@dataclass(frozen=True, slots=True)
class Known:
    """The figures of one setting that coupons give."""

    clean: Figure
    kerf: Figure
    cup: Figure
    offset_kept: Figure
    offset_drop: Figure
    bevel_good: Figure
    bevel_bad: Figure
    crater: Figure
    edge: Figure


@dataclass(frozen=True, slots=True)
class Telling:
    """One measurement that could be taken, and the share of variance it is expected to remove from ln mid pace and
    from the guide offset on the kept part."""

    what: str
    pace_share: float
    offset_share: float


def sights(kit: Kit, learned: Learned) -> dict[tuple[str, str], Sight]:
    """Every belief that has coupons behind it and whose tip is in the kit, ready for questions, by tip and metal."""
    tips = {t.name for t in kit.torch.tips}
    return {(b.tip, b.metal): predict.sight(kit, b) for b in learned.beliefs if b.coupons and b.tip in tips}


def cup_of(known: dict[tuple[str, str], Sight]) -> Figure | None:
    """The cup radius best known from any coupon: the cup belongs to the torch, not to a tip or metal."""
    told = [predict.cup(s) for s in known.values()]
    return min(told, key=lambda f: f.half_spread, default=None)


def near_limit(kit: Kit, s: Sight, rated_kerf_mm: float, current_a: float) -> Condition:
    """A condition near the thickness that the defaults would call the clean limit."""
    tip = m.tip_of(kit, s.belief.tip)
    width = kerf.kerf_of_tip(tip, current_a)
    edge = severance.edge_limit(kit.power, rated_kerf_mm, s.belief.metal, current_a, width)
    return s.at(edge.value, current_a)


def known_at(
    kit: Kit, s: Sight, thickness_mm: float, bevel_deg: float, current_a: float, rated_kerf_mm: float
) -> Known:
    """The figures of a setting from a belief; the kerf at the pace the hand will hold."""
    c = s.at(thickness_mm, current_a, bevel_deg)
    clean = predict.mid_pace(s, c)
    held = None if clean.value <= kit.operator.pace_high_mm_s else kit.operator.pace_high_mm_s
    right, left = predict.bevels(s)
    good, bad = (right, left) if kit.torch.square_side == "right" else (left, right)
    return Known(
        clean,
        predict.kerf(s, c, held),
        predict.cup(s),
        *predict.offsets(s, c, held),
        good,
        bad,
        predict.crater_radius(s, thickness_mm),
        predict.clean_limit(s, near_limit(kit, s, rated_kerf_mm, current_a), pace.RATED_PACE_MM_S),
    )


def value_at(
    kit: Kit, s: Sight, thickness_mm: float, bevel_deg: float, current_a: float, rated_kerf_mm: float
) -> tuple[float, float]:
    """Best mid pace [mm/s] and clean limit [mm] by a belief, without their spread: for comparing currents."""
    c = s.at(thickness_mm, current_a, bevel_deg)
    limit = predict.ln_thickness_at(
        s.mean, near_limit(kit, s, rated_kerf_mm, current_a), math.log(pace.RATED_PACE_MM_S)
    )
    return float(np.exp(m.ln_mid(s.mean, c))[0]), math.exp(float(limit[0]))


def _linear(target: Array, readings: Array, noise: Array) -> float:
    """Share of a target's variance that readings with noise would remove, by linear regression over the samples."""
    t, f = target - target.mean(), readings - readings.mean(axis=0)
    cross = f.T @ t / len(t)
    return float(cross @ np.linalg.solve(f.T @ f / len(t) + noise, cross) / t.var())


def _words(target: Array, chance: Array) -> float:
    """Share of a target's variance that seeing one of several words would remove: variance of its mean by word."""
    weight = chance.mean(axis=0)
    means = (chance * target[:, None]).mean(axis=0) / np.maximum(weight, 1e-12)
    return float((weight * np.square(means - target.mean())).sum() / target.var())


def tellings(s: Sight, c: Condition) -> tuple[Telling, ...]:
    """What each measurement could still teach at a condition, most telling first."""
    mid, half = m.ln_mid(s.draws, c), np.exp(s.draws[:, m.WINDOW])
    k = m.kerf_at(s.draws, c)
    near, far = s.draws[:, m.CUP] - k / 2, s.draws[:, m.CUP] + k / 2
    own, hand = measure.RULE_MM**2, measure.TRACK_MM**2
    play, round_ = measure.ARM_MM**2, measure.ROUND_MM**2
    out = []

    def add(what: str, readings: tuple[Array, ...], noise: Array) -> None:
        f = np.stack(readings, axis=1)
        out.append(Telling(what, _linear(mid, f, noise), _linear(near, f, noise)))

    add("the kerf at the top of one cut, with the calliper", (k,), np.array([[measure.CALLIPER_MM**2]]))
    add(
        "the guide to both edges of the kerf on one cut",
        (near, far),
        np.array([[own + hand, hand], [hand, own + hand]]),
    )
    add(
        "the disc and the hole of one turn of the arm",
        (-k, k),
        np.array([[play + round_, play], [play, play + round_]]),
    )
    middle, width = float(s.mean[0] @ np.eye(len(m.NAMES))[m.WINDOW]), float(m.ln_mid(s.mean, c)[0])
    for x, where in ((-math.exp(middle), "slow"), (0.0, "middle"), (math.exp(middle), "fast")):
        beyond = width + x - mid
        beat = pace.INCH_MM / math.exp(width + x)
        chance = measure.dross_chances(beyond, half, measure.EDGE_LN)
        if where == "middle":
            lag = s.draws[:, m.LAG] + s.draws[:, m.LAG_PACE] * np.clip(beyond, -2, 2)
            size = c.thickness_mm * math.tan(min(math.exp(float(s.mean[0, m.LAG])), 1.4))
            noise = measure.LAG_SHARE**2 + (measure.LAG_MM / size) ** 2
            add(f"how far the lines trail on one cut at {beat:.1f} s/in", (lag,), np.array([[noise]]))
        else:
            out.append(Telling(f"the dross of one cut at {beat:.1f} s/in", _words(mid, chance), _words(near, chance)))
    return tuple(sorted(out, key=lambda t: -(t.pace_share + t.offset_share)))


def notes(name: str, s: Sight, c: Condition) -> tuple[Finding, ...]:
    """Say whose figures a setting has, and which one measurement would tighten them most."""
    clean, (kept, _) = predict.mid_pace(s, c), predict.offsets(s, c)
    best = tellings(s, c)[0]
    percent = 100 * (math.sqrt(clean.high / clean.low) - 1)

    def after(share: float) -> float:
        return math.sqrt(max(0.0, 1 - share))

    return (
        Finding(
            "from-coupons",
            Severity.NOTE,
            name,
            f"pace, kerf, cup radius, bevels and clean limit are from {predict.source_of(s.belief)} "
            f"(tip {s.belief.tip} on {s.belief.metal}): pace good to {percent:.0f} %, "
            f"guide offset to {kept.half_spread:.2f} mm, 9 times in 10",
            "a new coupon when the tip is changed or worn",
        ),
        Finding(
            "measure-next",
            Severity.NOTE,
            name,
            f"the one measurement that would tighten this most: {best.what}",
            f"pace to {percent * after(best.pace_share):.0f} %, guide offset to "
            f"{kept.half_spread * after(best.offset_share):.2f} mm expected",
        ),
    )


def cup_note(name: str, kit: Kit, setting: Setting) -> Finding:
    """Say that of a setting only the cup is from coupons, and what the kit says of it."""
    cup, told = setting.cup_radius_mm, kit.torch.cup_radius_mm
    whose = "the default" if told.default else "your kit"
    return Finding(
        "cup-from-coupons",
        Severity.NOTE,
        name,
        f"cup radius {cup.value:.2f} mm, so every guide, is from {cup.source}, where {whose} has {told.value:.2f} mm; "
        f"pace and kerf are not: no coupon is of tip {setting.tip} on {setting.stock.metal}",
        "a coupon with this tip; or set its guide readings aside if they are of another torch",
    )
