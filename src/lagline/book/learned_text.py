"""What coupons taught, as text and back exactly, so that it is worked out once and then read."""

from __future__ import annotations

import json
from dataclasses import asdict

from lagline.records.coupon import Belief, Gouged, Learned
from lagline.records.finding import Finding, Severity

What = tuple[Learned, tuple[Finding, ...]]


def learned_text(what: What) -> str:
    """Return beliefs and findings as text."""
    learned, findings = what
    held = {
        "beliefs": [asdict(b) for b in learned.beliefs],
        "gouges": [asdict(g) for g in learned.gouges],
        "findings": [asdict(f) for f in findings],
    }
    return json.dumps(held, separators=(",", ":"), allow_nan=False)


def learned_from_text(text: str) -> What:
    """Return what a text holds, equal to what it was made from. Errors: ValueError for any other text."""
    try:
        held = json.loads(text)
        beliefs = tuple(
            Belief(
                b["tip"],
                b["metal"],
                tuple(b["names"]),
                tuple(b["mean"]),
                tuple(map(tuple, b["covariance"])),
                tuple(b["coupons"]),
                tuple((str(name), float(value)) for name, value in b["reference"]),
            )
            for b in held["beliefs"]
        )
        gouges = tuple(Gouged(**g) for g in held["gouges"])
        findings = tuple(Finding(**f | {"severity": Severity(f["severity"])}) for f in held["findings"])
    except (KeyError, TypeError, AttributeError, RecursionError) as e:
        raise ValueError(f"not what coupons taught: {e}") from None
    return Learned(beliefs, gouges), findings
