"""The plan as JSON: every key carries its unit, geometry is compact, the same plan gives the same text."""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass
from enum import Enum

from lagline.cards.scene import kept_offcuts
from lagline.cards.words import plan_mark
from lagline.records.figure import Figure
from lagline.records.geometry import Arc, Free, Line, Loop, Move, Outline
from lagline.records.plan import Plan

# fields of the records whose name does not say their unit
_UNITS = {
    "clamp": "clamp_mm",
    "near": "near_mm",
    "bar": "bar_mm",
    "clamps": "clamps_mm",
    "pivot": "pivot_mm",
    "edge": "edge_mm",
    "run_in": "run_in_mm",
    "at": "at_mm",
    "duty_used": "duty_used_share",
    "margin": "margin_share",
}


def _n(v: float) -> float | int:
    """Round to a ten-thousandth: 0.1 micrometre, far under anything the hand can hold."""
    if not math.isfinite(v):
        raise ValueError(f"a plan holds a number that is not finite: {v}")
    r = round(v, 4)
    return int(r) if r == int(r) else r


def _segment(s: Line | Arc | Free) -> list[object]:
    match s:
        case Line():
            return ["line", [_n(v) for v in s.start], [_n(v) for v in s.end]]
        case Arc():
            deg = (math.degrees(s.angle), math.degrees(s.sweep))
            return ["arc", [_n(v) for v in s.centre], _n(s.radius), _n(deg[0]), _n(deg[1])]
        case Free():
            return ["free", [[_n(v) for v in p] for p in s.vertices]]


def plain(value: object) -> object:
    """Return a record as plain dictionaries, lists, texts and numbers."""
    match value:
        case None | bool() | str() if not isinstance(value, Enum):
            return value
        case Enum():
            return value.value
        case int():
            return value
        case float():
            return _n(value)
        case Line() | Arc() | Free():
            return _segment(value)
        case Loop():
            return {"names": list(value.names), "segments_mm": [_segment(s) for s in value.segments]}
        case Outline():
            return {"outer": plain(value.outer), "holes": [plain(h) for h in value.holes]}
        case Move():
            return {
                "x_mm": _n(value.dx),
                "y_mm": _n(value.dy),
                "turn_deg": _n(math.degrees(value.turn)),
                "mirror": value.mirror,
            }
        case Figure():
            return {
                "value": float(f"{value.value:.10g}"),
                "low": float(f"{value.low:.10g}"),
                "high": float(f"{value.high:.10g}"),
                "unit": value.unit,
                "formula": value.formula,
                "basis": str(value.basis),
                "source": value.source,
                "inputs": dict(value.inputs),
            }
        case tuple() | list():
            return [plain(v) for v in value]
        case dict():
            return {str(k): plain(v) for k, v in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        out: dict[str, object] = {}
        for f in fields(value):
            key = f.name
            item = getattr(value, key)
            if key in ("line", "path"):
                key += "_mm"
            elif not isinstance(item, Figure):
                key = _UNITS.get(key, key)
            out[key] = plain(item)
        if type(value).__module__.endswith("records.plan") and "guide" in out and getattr(value, "guide", None):
            out["guide"] = {"kind": _KINDS[type(value.guide).__name__], **out["guide"]}  # type: ignore[attr-defined,dict-item]
        return out
    raise TypeError(f"no plain form for {type(value).__name__}")


_KINDS = {"StraightGuide": "straightedge", "ArmGuide": "circle arm", "TemplateGuide": "template"}


def to_json(plan: Plan) -> str:
    """Return the whole plan as JSON text ending with a newline.

    Segments are ``["line", start, end]``, ``["arc", centre, radius, start angle, sweep]`` (degrees, anticlockwise
    positive) and ``["free", points]``, millimetres, x along the datum edge, y up. Figures carry their own unit.
    ``mark`` is the plan's mark, as on its card; ``offcuts`` of each plate are the pieces worth keeping.
    """
    data = {"program": "lagline", "version": plan.version, "go": plan.go, "mark": plan_mark(plan), **plain(plan)}  # type: ignore[dict-item]
    data["plates"] = [
        {**plain(use), "offcuts": plain(kept_offcuts(plan, use.plate))}  # type: ignore[dict-item]
        for use in plan.plates
    ]
    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value:
            rows = ",\n  ".join(_dump(v) for v in value)
            lines.append(f'"{key}": [\n  {rows}\n ]')
        else:
            lines.append(f'"{key}": {_dump(value)}')
    return "{\n " + ",\n ".join(lines) + "\n}\n"


def _dump(value: object) -> str:
    return json.dumps(value, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
