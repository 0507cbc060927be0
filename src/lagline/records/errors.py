"""The one exception that means "this input cannot be used at all"."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity


class LaglineError(Exception):
    """Input that cannot be read at all.

    Carries the findings that say what was given, where, and what is allowed,
    so that a door (command, page) can show them together. Anything short of
    unreadable is a :class:`Finding` value, never this exception.
    """

    def __init__(self, *findings: Finding) -> None:
        if not findings:
            raise ValueError("a LaglineError carries at least one finding")
        self.findings = findings
        super().__init__("; ".join(f"{f.where}: {f.message}" for f in findings))


def refuse(code: str, where: str, message: str, allowed: str = "") -> LaglineError:
    """Return (not raise) a :class:`LaglineError` with one refused finding."""
    return LaglineError(Finding(code, Severity.REFUSED, where, message, allowed))
