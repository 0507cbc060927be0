"""What a cut plan does to the rack, read from the plan as it is written in plan.json: one way for file and page."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lagline.planning.fields import shown
from lagline.records.errors import LaglineError, refuse
from lagline.records.geometry import Line, Loop, Move, Outline
from lagline.records.job import Stock
from lagline.records.rack import RackItem
from lagline.shapes.region import polygon

LARGEST_MM, MOST_OFFCUTS, MOST_CORNERS = 100_000.0, 500, 20_000
_HEAT = re.compile(r"(?:^|, )heat (.+)$", re.IGNORECASE)
_ALLOWED = "a plan.json that this program wrote; plan the job again for a fresh one"


@dataclass(frozen=True, slots=True)
class PlanCut:
    """A plan as far as the rack is concerned: marks of plates used, offcuts left."""

    job: str
    plan: str
    go: bool
    used: tuple[str, ...]
    offcuts: tuple[RackItem, ...]


def cut_of(text: str, where: str, date: str) -> PlanCut:
    """Return what the plan in a plan.json uses and leaves. Errors: LaglineError for a text that is no such plan."""
    try:
        data = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise refuse("plan-unreadable", where, "is not JSON", _ALLOWED) from None
    try:
        if not isinstance(data, dict) or data.get("program") != "lagline":
            raise refuse("plan-unreadable", where, "is not a plan of this program", _ALLOWED)
        if "mark" not in data or any("offcuts" not in use for use in data["plates"]):
            raise refuse("plan-old", where, "was written before plans named their offcuts", "plan the job again")
        return _cut(data, date)
    except LaglineError:
        raise
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as e:
        raise refuse("plan-unreadable", where, f"is no whole plan: {shown(str(e))}", _ALLOWED) from None


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _cut(data: Mapping[str, Any], date: str) -> PlanCut:
    job, plates = data["job"], data["job"]["plates"]
    used: list[str] = []
    offcuts: list[RackItem] = []
    for use in data["plates"]:
        plate = plates[_whole(use["plate"], len(plates))]
        if _number(use["parts_kg"]) <= 0:
            continue
        if plate["rack"]:
            used.append(_text(plate["rack"]))
        offcuts += [_offcut(o, plate, date) for o in use["offcuts"]]
    if len(offcuts) > MOST_OFFCUTS:
        raise ValueError(f"{len(offcuts)} offcuts")
    return PlanCut(_text(job["name"]), _text(data["mark"], 20), data["go"] is True, tuple(used), tuple(offcuts))


def _offcut(told: Mapping[str, Any], plate: Mapping[str, Any], date: str) -> RackItem:
    stock = plate["stock"]
    metal = Stock(
        _text(stock["metal"]), _text(stock["grade"]), _number(stock["thickness_mm"]), _text(stock["thickness_text"]),
        _text(stock["coating"]),
    )  # fmt: skip
    outline = Outline(_loop(told["outline"]["outer"]), tuple(_loop(h) for h in told["outline"]["holes"]))
    if not polygon(outline).is_valid or outline.area < 1:
        raise ValueError("an offcut's edge crosses itself")
    left, bottom, _, _ = outline.bounds()
    # a plate's mark is its name, its heat number or both: what follows the word heat is the number
    mark = _text(plate["mark"])
    found = _HEAT.search(mark)
    heat, name = (found[1], mark[: found.start()]) if found else ("", mark)
    return RackItem(
        "", "offcut", Move(-left, -bottom).outline(outline), metal, name=name, heat=heat, date=date,
        from_plate=_text(plate["name"]),
    )  # fmt: skip


def _loop(told: Mapping[str, Any]) -> Loop:
    segments = []
    for kind, start, end in told["segments_mm"]:
        if kind != "line":
            raise ValueError(f"an offcut with a {shown(kind)} in its edge")
        segments.append(Line(_point(start), _point(end)))
    if not 3 <= len(segments) <= MOST_CORNERS:
        raise ValueError(f"an edge of {len(segments)} lines")
    return Loop(tuple(segments), tuple(_text(n) for n in told["names"]))


def _point(given: Any) -> tuple[float, float]:
    x, y = given
    return _number(x), _number(y)


def _number(given: Any) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not abs(given) <= LARGEST_MM:
        raise ValueError(f"{shown(given)} where a number should be")
    assert math.isfinite(given)
    return float(given)


def _whole(given: Any, below: int) -> int:
    if isinstance(given, bool) or not isinstance(given, int) or not 0 <= given < below:
        raise ValueError(f"{shown(given)} where a plate's number should be")
    return given


def _text(given: Any, most: int = 200) -> str:
    if not isinstance(given, str) or len(given) > most:
        raise ValueError(f"{shown(given)} where a name should be")
    return given
