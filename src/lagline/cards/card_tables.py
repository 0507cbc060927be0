"""Two tables of the bench card: bevels to be cut afterwards, and why each number is what it is."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from lagline.cards import words
from lagline.cards.why import runs, shown, why
from lagline.records.figure import Figure
from lagline.records.job import Edge, Part
from lagline.records.length import show_length
from lagline.records.plan import Plan, Setting
from lagline.setouts.bevel_lean import afterwards

Inputs = tuple[tuple[str, str], ...]
NO_SOURCE = "common practice, no source"
# what only says how large the piece is: figures that differ in nothing else share a row
_SIZES = ("size mm", "stacked mm", "ISO 9013:2017 class 2", "radius_mm")
_UNIT = re.compile(r"(.*?)(?: \[([^\]]+)\]| (mm)|_(mm))$")


def bevel_rows(plan: Plan) -> list[list[str]]:
    """Return every edge to be bevelled after the square cut: part, edge, angle from square (the tilt), steel to go
    through, top line, guide on the part.

    With the angle b from square and thickness t the cut goes through t / cos b, and its line on the top face lies
    t tan b back from the square edge (right triangle across the edge). The guide's distance is from that line, its
    height what the leaning cup needs.
    """
    rows = []
    for blank in plan.blanks:
        part = blank.part
        for edge in part.edges:
            if edge.bevel_deg > 0:
                rows.append(_bevel(plan, part, edge))
    return rows


def _bevel(plan: Plan, part: Part, edge: Edge) -> list[str]:
    units, b, t = plan.job.units, math.radians(edge.bevel_deg), part.stock.thickness_mm
    setting = next(
        (s for s in plan.settings if s.stock.key == part.stock.key and abs(s.bevel_deg - edge.bevel_deg) < 0.01), None
    )
    name = part.name if part.quantity == 1 else f"{part.name}, {part.quantity} off"
    angle = f"{edge.bevel_deg:g}°"
    back, through = (show_length(v, units, 32, mark_over_mm=math.inf) for v in (t * math.tan(b), t / math.cos(b)))
    guide = "-" if setting is None else _guide(setting, edge.bevel_deg, units)
    return [name, edge.name, angle, through, back, guide, *_pace(setting, units)]


def _guide(setting: Setting, bevel_deg: float, units: str) -> str:
    height, off = afterwards(setting, bevel_deg, units)
    return f"{words.guide_length(off.value, units)[0]}, {words.guide_length(height, units)[0]} high"


def _pace(setting: Setting | None, units: str) -> list[str]:
    if setting is None:
        return ["-", "-", "no setting"]
    beat, _ = words.beat(setting.pace_mm_s) if units == "in" else words.beat_mm(setting.pace_mm_s)
    return [beat, f"{setting.current_a:.0f} A", "go" if setting.edge_ok else f"NO-GO: {setting.weakest}"]


@dataclass(slots=True)
class _Row:
    figures: list[Figure] = field(default_factory=list)
    steps: set[int] = field(default_factory=set)


def why_rows(plan: Plan) -> list[list[str]]:
    """Return the why table: figures that differ only in the size of the piece share a row with the range they span."""
    rows: dict[tuple[str, str, str, str, Inputs], _Row] = {}
    for w in why(plan):
        f = w.figure
        shared = tuple((k, v) for k, v in f.inputs if k not in _SIZES)
        row = rows.setdefault((w.name, f.formula, str(f.basis), f.source, shared), _Row())
        row.figures.append(f)
        row.steps.update(w.steps)
    out: list[list[str]] = []
    above = ""
    for (name, formula, basis, source, shared), row in rows.items():
        value, spread = _range(row.figures)
        made, unsourced = _inputs(shared)
        origin = f"{basis}: {source}"
        if unsourced and NO_SOURCE not in origin:
            origin += f"; {NO_SOURCE}, where none is named"
        out.append([name, value, spread, f"{formula}{' from ' if made else ''}{made}",
                    "as above" if origin == above else origin, runs(tuple(row.steps))])  # fmt: skip
        above = origin
    return out


def _range(figures: list[Figure]) -> tuple[str, str]:
    values = sorted(figures, key=lambda f: f.value)
    first, last = shown(values[0])[0], shown(values[-1])[0]
    low, high = min(f.low for f in figures), max(f.high for f in figures)
    whole = Figure(values[0].value, low, high, values[0].unit, "", values[0].basis, "")
    value = first if first == last else f"{first.split(' ')[0]} to {last}"
    return value, shown(values[0])[1] if len(figures) == 1 else shown(whole)[1]


def _inputs(pairs: Inputs) -> tuple[str, bool]:
    """Return what went in, in few words, and whether some of it has no source."""
    texts, unsourced = [], False
    for key, value in pairs:
        unsourced = unsourced or NO_SOURCE in value
        value = value.replace(f" ({NO_SOURCE})", "")
        m = _UNIT.fullmatch(key)
        unit = next((u for u in m.groups()[1:] if u), "") if m else ""
        number, bracket, rest = value.partition(" (")
        name = (m[1] if m else key).replace("_", " ").replace("spread from ", "± from ")
        texts.append(f"{name} {number}{' ' if unit else ''}{unit.replace('2', '²').replace('3', '³')}{bracket}{rest}")
    return ", ".join(texts), unsourced
