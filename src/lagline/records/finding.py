"""What a stage noticed: a value, never a traceback and never a silent guess."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding stops, least first."""

    NOTE = "note"  # worth knowing; nothing to do
    MENDED = "mended"  # the input had a fault and was mended as said
    CAUTION = "caution"  # do this or somebody or something suffers
    NO_GO = "no-go"  # planned, but this cut or part cannot go as it stands
    REFUSED = "refused"  # the input could not be used


_RANK = {s: i for i, s in enumerate(Severity)}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed.

    Parameters
    ----------
    code : kebab-case name, stable between releases, e.g. ``outline-open``
    severity : see :class:`Severity`
    where : file and line, field, part, cut or plate: enough to find it again
    message : what was given and what it means, one sentence in shop words
    allowed : what is allowed, or what to do instead; may be empty
    """

    code: str
    severity: Severity
    where: str
    message: str
    allowed: str = ""

    def __str__(self) -> str:
        tail = f" ({self.allowed})" if self.allowed else ""
        return f"{self.severity}: {self.where}: {self.message}{tail}"


def finding_dict(f: Finding) -> dict[str, str]:
    """Return a finding as plain values, as every door gives it to other programs."""
    return {"code": f.code, "severity": str(f.severity), "where": f.where, "message": f.message, "allowed": f.allowed}


def worst(findings: Iterable[Finding]) -> Severity | None:
    """Return the gravest severity among the findings, None when there are none."""
    return max((f.severity for f in findings), key=_RANK.__getitem__, default=None)


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings gravest first, each kept once, otherwise in their given order."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda f: -_RANK[f.severity]))
