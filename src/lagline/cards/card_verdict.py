"""The first page's verdict: the word, what it hangs on, and every limit that failed, a line each."""

from __future__ import annotations

from lagline.cards.templates import drawn
from lagline.cards.why import runs
from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.plan import Plan, Verdict

MOST = 8  # lines on the first page; the rest stands on the last
_STOPS = (Severity.NO_GO, Severity.REFUSED)
_LINKS = {
    "drill": "the drill's size",
    "pierce": "piercing",
    "duty": "the set's duty",
    "air": "air in the tank",
    "pace": "the hand's pace",
    "guide hold": "holding the guide",
}


def failed(verdict: Verdict) -> tuple[str, ...]:
    """Return the limits a set-up fails in shop words, never none for one that cannot go."""
    if verdict.go:
        return ()
    return verdict.why or (_LINKS.get(verdict.weakest, verdict.weakest) or "beyond a limit",)


def margin_words(verdict: Verdict) -> str:
    """Return the link a set-up hangs on: ``piercing, 17 % in hand``."""
    name = _LINKS.get(verdict.weakest, verdict.weakest) or "nothing near its limit"
    if verdict.go and verdict.margin < 0:
        return name  # doubtful, but it stops nothing: its own words say by how much
    share = f"{abs(verdict.margin) * 100:.0f} %"
    return f"{name}, {share} in hand" if verdict.margin >= 0 else f"{name}, {share} beyond its limit"


def lost_findings(plan: Plan, paper: str) -> tuple[Finding, ...]:
    """Return a caution for every template that could not be drawn."""
    return tuple(
        Finding(
            "template-not-drawn",
            Severity.CAUTION,
            f"set-up {runs(tuple(s.number for s in t.steps))}",
            f"template {t.name} could not be drawn",
            "follow the line freehand",
        )
        for t in drawn(plan, paper).lost
    )


def headline(plan: Plan) -> dict[str, object]:
    """Return the word, the link, and the lines under it."""
    if plan.go:
        if not plan.verdicts:
            return {"go": True, "link": "Nothing to cut", "lines": []}
        v = min(plan.verdicts, key=lambda v: v.margin)
        return {"go": True, "link": f"Tightest: {margin_words(v)}, at set-up {v.number}", "lines": []}
    lines = _stops(plan)
    more = [f"and {len(lines) - MOST} more, all on the last page"] if len(lines) > MOST else []
    link, *rest = [*lines[:MOST], *more] or ["something stops it: see the last page"]
    return {"go": False, "link": link, "lines": rest}


def _stops(plan: Plan) -> list[str]:
    """Return everything that stops the job, the worst set-up first."""
    out: dict[str, list[int]] = {}
    for v in sorted((v for v in plan.verdicts if not v.go), key=lambda v: v.margin):
        for why in failed(v):
            out.setdefault(why, []).append(v.number)
    lines = [
        f"{why[0].upper()}{why[1:]}: set-up{'s' * (len(numbers) > 1)} {runs(tuple(numbers))}"
        for why, numbers in out.items()
    ]
    for f in sort_findings(f for f in plan.findings if f.severity in _STOPS):
        if not any(f.message == why or f.message.endswith(f": {why}") for why in out):
            lines.append(f"{f.where}: {f.message}")
    for part, count in plan.layout.unplaced:
        name = plan.blanks[part].part.name
        if not any(name in line and line.startswith(name) for line in lines):
            lines.append(f"{count} of {name} found no place on the plates")
    return lines
