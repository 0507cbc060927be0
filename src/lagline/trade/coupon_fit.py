"""From coupons to a belief: each in turn, widened by the wear between them, less the readings that do not fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lagline.records.coupon import Belief, Coupon
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.trade import coupon_model as m
from lagline.trade.coupon_measure import read
from lagline.trade.coupon_model import NAMES, Condition, Gauss
from lagline.trade.coupon_outliers import not_reckoned, odd_readings
from lagline.trade.coupon_posterior import fit, fitted
from lagline.trade.coupon_stands import stands_note
from lagline.trade.coupon_unusable import unusable
from lagline.trade.wear import ARC_H_PER_SET

FEW = 100  # samples that count: on fewer than this no belief rests
# What a whole tip's life does to the quantities, and what a new tip of the same kind brings, as standard deviations.
# A bore 10 % bigger is a worn out tip; the rest: common practice, no source.
LIFE = {
    "power": 0.05, "kerf": 0.10, "bevel_right": 1.0, "bevel_left": 1.0, "window": 0.15, "sever": 0.2, "lag": 0.1,
    "crater": 0.05,
}  # fmt: skip
NEW_TIP = {"power": 0.03, "kerf": 0.05, "bevel_right": 0.8, "bevel_left": 0.8, "window": 0.1, "sever": 0.1}
UNTOLD_LIFE = 0.1  # share of a life between two coupons that do not say how far the tip is
YOUNG = 0.25  # share of a life up to which a tip counts as young: a new one of its kind is like it. Ours


def widened(g: Gauss, how: dict[str, float], share: float = 1.0) -> Gauss:
    """Spread added for wear or a new tip: a random walk, so variances grow with the share of a life."""
    added = np.array([how.get(n, 0.0) ** 2 for n in NAMES]) * share
    return Gauss(g.mean, g.cov + np.diag(added))


def life_between(
    kit: Kit, was: tuple[int | None, float | None], now: tuple[int | None, float | None]
) -> tuple[float, bool]:
    """Share of a tip's life from one reading of (starts, arc minutes) to the next, and whether the tip is new since.

    Fewer starts or minutes than before mean a new tip of the same kind.
    """
    lives = (kit.bench.starts_per_tip_set.value, ARC_H_PER_SET.value * 60)
    told = [(a, b, per) for a, b, per in zip(was, now, lives, strict=True) if a is not None and b is not None]
    if not told:
        return UNTOLD_LIFE, False
    if any(b < a for a, b, _ in told):
        return max(b / per for _, b, per in told), True
    return max((b - a) / per for a, b, per in told), False


def _told_age(kit: Kit, coupon: Coupon) -> float | None:
    """Share of its life a coupon's tip had behind it, None where the coupon does not say."""
    lives = (kit.bench.starts_per_tip_set.value, ARC_H_PER_SET.value * 60)
    return max((x / per for x, per in zip(_so_far(coupon), lives, strict=True) if x is not None), default=None)


def _so_far(coupon: Coupon) -> tuple[int | None, float | None]:
    return coupon.starts, coupon.arc_min


def new_again(now: Gauss, young: Gauss) -> Gauss:
    """What is believed of a new tip: what wears as it was believed of a young one, all else as it is known now.

    p(worn, rest) = p_young(worn | rest) p_now(rest): what was learned together stays together, and where the rest is
    known no better than then, the whole belief is the young one's.
    """
    worn = np.array([n in LIFE for n in NAMES])
    rest = ~worn
    k = np.linalg.solve(young.cov[np.ix_(rest, rest)], young.cov[np.ix_(rest, worn)]).T
    known = now.cov[np.ix_(rest, rest)]
    mean, cov = now.mean.copy(), now.cov.copy()
    mean[worn] = young.mean[worn] + k @ (now.mean[rest] - young.mean[rest])
    learned = known - young.cov[np.ix_(rest, rest)]
    cov[np.ix_(worn, worn)] = young.cov[np.ix_(worn, worn)] + k @ learned @ k.T
    cov[np.ix_(worn, rest)] = k @ known
    cov[np.ix_(rest, worn)] = (k @ known).T
    return Gauss(mean, (cov + cov.T) / 2)


def _aged(
    kit: Kit, g: Gauss, young: Gauss, was: tuple[int | None, float | None], now: tuple[int | None, float | None]
) -> Gauss:
    """What is known of the tip at ``now``; ``young`` is what was last believed of one hardly worn."""
    share, new = life_between(kit, was, now)
    return widened(widened(new_again(g, young), NEW_TIP) if new else g, LIFE, share)


def _supply(coupons: tuple[Coupon, ...]) -> float:
    """The bench's usual air [kPa gauge]: what the latest coupon that tells it says."""
    told = [c.supply_kpa_g for c in coupons if c.supply_kpa_g is not None and c.supply_kpa_g > 0]
    return told[-1] if told else m.SUPPLY_KPA_G


def coupon_condition(kit: Kit, coupon: Coupon, supply_kpa_g: float) -> Condition:
    """The condition a coupon was cut at, its air against the bench's usual."""
    air = coupon.supply_kpa_g if coupon.supply_kpa_g and coupon.supply_kpa_g > 0 else supply_kpa_g
    return m.condition(kit, coupon.tip, coupon.metal, coupon.thickness_mm, coupon.current_a, 0.0, air / supply_kpa_g)


def _carried(kit: Kit, g: Gauss, tip: str, metal: str, coupons: tuple[Coupon, ...]) -> Gauss:
    """Bring over what coupons of other tips and metals say: of the torch the cup, of the same tip its kerf too."""
    others = dict.fromkeys((c.tip, c.metal) for c in coupons if (c.tip, c.metal) != (tip, metal))
    known = {t.name for t in kit.torch.tips}
    for pair in others:
        if pair[0] not in known:
            continue
        theirs = tuple(c for c in coupons if (c.tip, c.metal) == pair)
        after = _chain(kit, m.prior(kit, *pair), theirs, _supply(theirs)).now
        before = m.prior(kit, *pair)
        for i in (m.CUP, m.KERF) if pair[0] == tip else (m.CUP,):
            extra = 0.05**2 if i == m.KERF else 0.0  # another metal does not open quite the same kerf
            gain = 1 / (after.cov[i, i] + extra) - 1 / (before.cov[i, i] + extra)
            if gain > 1e-9:
                seen = (after.mean[i] / (after.cov[i, i] + extra) - before.mean[i] / (before.cov[i, i] + extra)) / gain
                g = _told(g, i, seen, 1 / gain)
    return g


def _told(g: Gauss, i: int, seen: float, variance: float) -> Gauss:
    k = g.cov[:, i] / (g.cov[i, i] + variance)
    cov = g.cov - np.outer(k, g.cov[i])
    return Gauss(g.mean + k * (seen - g.mean[i]), (cov + cov.T) / 2)


@dataclass(frozen=True, slots=True)
class _Chain:
    """What is believed after the last coupon, and after the last of a young tip; the coupons used, and questions."""

    now: Gauss
    young: Gauss
    found: tuple[Finding, ...]
    used: tuple[Coupon, ...]


def _chain(kit: Kit, g: Gauss, coupons: tuple[Coupon, ...], supply: float) -> _Chain:
    found: list[Finding] = []
    used: list[Coupon] = []
    young = g
    for coupon in sorted(coupons, key=lambda c: (c.date, c.id)):
        bad, nonsense = unusable(coupon)
        found.extend(nonsense)
        if bad is None:
            continue
        if used:
            g = _aged(kit, g, young, _so_far(used[-1]), _so_far(coupon))
        c = coupon_condition(kit, coupon, supply)
        judged = odd_readings(coupon, c, g, bad)
        found.extend(judged.asked)
        after, counted = fitted(read(coupon, c, judged.aside), g)
        if judged.standing and counted < FEW:
            found.extend(not_reckoned(coupon, known) for known in judged.standing)
            all_ = frozenset(label for known in judged.standing for label in known.labels)
            g = fit(read(coupon, c, judged.aside | all_), g)
        else:
            for known in judged.standing:
                without_it = fit(read(coupon, c, judged.aside | frozenset(known.labels)), g)
                found.append(stands_note(coupon, known, c, without_it, after))
            g = after
        used.append(coupon)
        age = _told_age(kit, coupon)
        if age is not None and age < YOUNG:
            young = g
    return _Chain(g, young, tuple(found), tuple(used))


def believe(
    kit: Kit,
    tip: str,
    metal: str,
    coupons: tuple[Coupon, ...],
    starts: int | None = None,
    arc_min: float | None = None,
) -> tuple[Belief, tuple[Finding, ...]]:
    """What coupons say of a tip on a metal.

    Each coupon in turn, oldest first: wear since the last one widens what was known, readings that do not fit are
    set apart and named in findings (those their user says stand are named and learned from), the rest are learned
    from. ``starts`` and ``arc_min`` are the tip's today: wear
    since the last coupon widens again, and fewer than at the last coupon mean a new tip, of which is believed what was
    believed of the last young one. Coupons of other tips and
    metals lend the cup radius, those of the same tip their kerf. Refuses a tip the kit does not have.
    """
    mine = tuple(c for c in coupons if (c.tip, c.metal) == (tip, metal))
    supply = _supply(tuple(sorted(mine, key=lambda c: (c.date, c.id))))
    g = _carried(kit, m.prior(kit, tip, metal), tip, metal, coupons)
    chain = _chain(kit, g, mine, supply)
    g, found, used = chain.now, chain.found, chain.used
    known = {t.name for t in kit.torch.tips}
    found += tuple(
        Finding(
            "coupon-tip-unknown",
            Severity.CAUTION,
            f"coupon {c.id}",
            f"its tip '{c.tip}' is not in the kit {kit.name}, so nothing is learned from it",
            ", ".join(sorted(known)),
        )
        for c in coupons
        if c.tip not in known
    )
    if used and (starts is not None or arc_min is not None):
        g = _aged(kit, g, chain.young, _so_far(used[-1]), (starts, arc_min))
    reference = [("supply_kpa_g", supply)]
    if used:
        last = used[-1]
        reference += [("thickness_mm", last.thickness_mm), ("current_a", last.current_a)]
        if last.starts is not None or starts is not None:
            reference.append(("starts", float(starts if starts is not None else last.starts or 0)))
    reference += [(f"date of {c.id}", float(c.date.replace("-", "") or 0)) for c in used if _is_date(c.date)]
    return as_belief(g, tip, metal, tuple(c.id for c in used), tuple(reference)), found


def _is_date(text: str) -> bool:
    parts = text.split("-")
    return len(parts) == 3 and all(p.isdigit() for p in parts)


def as_belief(
    g: Gauss, tip: str, metal: str, coupons: tuple[str, ...] = (), reference: tuple[tuple[str, float], ...] = ()
) -> Belief:
    """A Gaussian as the record that is kept."""
    rows = tuple(tuple(float(x) for x in row) for row in g.cov)
    return Belief(tip, metal, NAMES, tuple(float(x) for x in g.mean), rows, coupons, reference)


def as_gauss(belief: Belief) -> Gauss:
    """The Gaussian of a kept belief; quantities are found by name, so an older record in another order still reads."""
    if belief.names == NAMES:
        return Gauss(np.array(belief.mean), np.array(belief.covariance))
    at = [belief.names.index(n) for n in NAMES]
    return Gauss(np.array(belief.mean)[at], np.array(belief.covariance)[np.ix_(at, at)])


def without(coupon: Coupon, labels: tuple[str, ...]) -> Coupon:
    """The coupon with more readings set aside by name."""
    return replace(coupon, set_aside=tuple(dict.fromkeys((*coupon.set_aside, *labels))))
