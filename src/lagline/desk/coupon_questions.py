"""What a coupon leaves to ask, by the readings it is asked about, and what its user has said is right as it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from lagline.desk.coupon_desk import twin_of, twin_question
from lagline.desk.coupon_views import counted_for
from lagline.planning.coupon_doubts import doubts
from lagline.records.coupon import Coupon
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.trade.coupon_fit import believe
from lagline.trade.coupon_unusable import unusable
from lagline.trade.set_aside import in_words, measurement_name, without_set_aside


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked about the same readings; empty when it is about the whole coupon. ``may_stand``: whether saying
    that they are right makes them count."""

    names: tuple[str, ...]
    findings: tuple[Finding, ...]
    may_stand: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """A coupon looked over as it counts now: questions, readings set apart, and notes on those that stand."""

    questions: tuple[Question, ...] = ()
    apart: frozenset[str] = frozenset()
    standing: tuple[Finding, ...] = ()


def asked_about(coupon: Coupon, kits: Mapping[str, Kit], all_: tuple[Coupon, ...]) -> Asked:
    """Return what of a coupon is doubtful as it counts now: on its face, and beside all else that is known.

    Of what its user says is right nothing is asked any more, save what cannot be.
    """
    kit = next((k for k in kits.values() if k.name == coupon.bench), kits[""])
    counted = without_set_aside(coupon)
    found = [f for f in doubts(counted, "coupon", "in", kit) if f.severity is not Severity.NOTE]
    found = [f for f in found if not set(_names(coupon, f)) & set(coupon.stands)]
    if coupon.tip in {t.name for t in kit.torch.tips}:
        _, odd = believe(kit, coupon.tip, coupon.metal, counted_for(kit, all_))
        found += [f for f in odd if f.where.startswith(f"coupon {coupon.id},")]
    before = all_[: next((n for n, c in enumerate(all_) if c.id == coupon.id), len(all_))]
    if (twin := twin_of(coupon, before)) is not None:
        found.append(twin_question(twin))
    never = {n for f in unusable(counted)[1] for n in _names(coupon, f)} | set(coupon.stands)
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for f in found:
        if f.code != "coupon-stands":
            groups.setdefault(_names(coupon, f), []).append(_said(coupon, f))
    return Asked(
        tuple(Question(n, tuple(fs), bool(n) and not never & set(n)) for n, fs in groups.items()),
        frozenset(n for f in found if f.code == "coupon-odd" for n in _names(coupon, f)),
        tuple(_said(coupon, f) for f in found if f.code == "coupon-stands"),
    )


def _place(coupon: Coupon, finding: Finding) -> str:
    return finding.where.removeprefix("coupon: ").removeprefix(f"coupon {coupon.id}, ")


def _names(coupon: Coupon, finding: Finding) -> tuple[str, ...]:
    """The measurements a finding is about, by their names in records."""
    names = (measurement_name(x) for x in _place(coupon, finding).split(", "))
    return tuple(n for n in names if n is not None)


def _said(coupon: Coupon, finding: Finding) -> Finding:
    where = ", ".join(map(in_words, _names(coupon, finding))) or _place(coupon, finding)
    return replace(finding, where=where, message=in_words(finding.message))
