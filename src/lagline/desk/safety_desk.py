"""Safety sheets of plans: as records, as JSON, on paper."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lagline.desk.planner import write_files
from lagline.planning.clock_time import read_start, show_time
from lagline.planning.safety_sheet import SafetySheet, safety_sheet
from lagline.records.finding import finding_dict
from lagline.records.plan import Plan


@dataclass(frozen=True, slots=True)
class Safe:
    """A plan with its safety sheet; ``start_min`` minutes after midnight, None when no start was given."""

    plan: Plan
    sheet: SafetySheet
    start_min: int | None


def safe(plan: Plan, start: str = "", watch_rule: str = "") -> Safe:
    """Return a plan with its safety sheet. Errors: LaglineError for a start or a rule that is none."""
    begun = read_start(start) if start.strip() else None
    return Safe(plan, safety_sheet(plan, watch_rule.strip()), begun)


def printed(s: Safe, paper: str) -> bytes:
    """Return the sheet as PDF."""
    from lagline.cards.safety_card import pdf

    return pdf(s.plan, s.sheet, s.start_min, paper)


def write_sheet(s: Safe, path: Path, paper: str) -> None:
    """Write the sheet to a file. Errors: LaglineError when it cannot be written."""
    write_files({path.name: printed(s, paper)}, path.parent)


def safety_dict(s: Safe) -> dict[str, object]:
    """Return the sheet as plain values: keys carry their unit. Times of day only when a start was given."""
    x = s.sheet

    def clock(after_s: float) -> str | None:
        return None if s.start_min is None else show_time(s.start_min, after_s)

    return {
        "job": s.plan.job.name,
        "current_a": x.current_a,
        "lens_shade": x.shade.value if x.shade else None,
        "lens_rule": x.shade.source if x.shade else None,
        "lenses": [
            {"rule": r.rule, "least_shade": r.least, "suggested_shade": r.suggested, "tag": r.tag, "used": r.used}
            for r in x.lenses
        ],
        "start": clock(0),
        "last_arc_after_s": round(x.last_arc_s[0], 1) if x.last_arc_s else None,
        "last_arc_soonest_s": round(x.last_arc_s[1], 1) if x.last_arc_s else None,
        "last_arc_latest_s": round(x.last_arc_s[2], 1) if x.last_arc_s else None,
        "fire_watch": [
            {"rule": w.rule, "watch_min": w.watch_min, "monitor_h": w.monitor_h, "tag": w.tag, "used": w.used,
             "end_after_s": round(w.end_s, 1), "end_latest_s": round(w.end_latest_s, 1), "end": clock(w.end_s),
             "end_latest": clock(w.end_latest_s)}
            for w in x.watches
        ],
        "clearances": [{"subject": a, "what": b, "rule": c} for a, b, c in x.clearances],
        "exposures": [
            {"from": e.from_what, "substance": e.substance, "limit": e.limit, "over": e.over, "rule": e.rule}
            for e in x.exposures
        ],
        "arc_min": round(x.arc_min[0], 2),
        "noise": [
            {"rule": n.rule.name, "work": n.work, "dose_percent": round(n.dose, 1), "dose_low_percent": round(n.low, 1),
             "dose_high_percent": round(n.high, 1),
             "average_dba": None if n.average_dba is None else round(n.average_dba, 1)}
            for n in x.noises
        ],
        "drops": [
            {"setup": d.number, "plate": d.plate, "what": d.what, "part": d.part, "mass_kg": round(d.kg, 3),
             "mass_lb": round(d.kg / 0.45359237, 2), "x_mm": round(d.at[0], 1), "y_mm": round(d.at[1], 1),
             "width_mm": round(d.size_mm[0], 1), "height_mm": round(d.size_mm[1], 1), "sure": d.sure}
            for d in x.drops
        ],
        "findings": [finding_dict(f) for f in x.findings],
    }  # fmt: skip
