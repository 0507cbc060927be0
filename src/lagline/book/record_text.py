"""Plans as text and back, exactly: a record is an object that names its kind, a tuple a list, a word of a fixed set
its value. Only the plan's own records are ever made from a text."""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass
from enum import Enum
from types import ModuleType

from lagline.records import figure, finding, geometry, job, kit, plan
from lagline.records.geometry import Outline
from lagline.records.plan import Plan

_MODULES: tuple[ModuleType, ...] = (figure, finding, geometry, job, kit, plan)
_RECORDS: dict[str, type] = {
    name: kind
    for module in _MODULES
    for name, kind in vars(module).items()
    if isinstance(kind, type) and (is_dataclass(kind) or (issubclass(kind, Enum) and kind is not Enum))
}


def _plain(value: object) -> object:
    if isinstance(value, Enum):
        return {"is": type(value).__name__, "of": value.value}
    if is_dataclass(value) and not isinstance(value, type):
        return {"is": type(value).__name__} | {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        # numpy's floats are floats too; their text is not
        if not math.isfinite(value):
            return {"is": "float", "of": repr(float(value))}
        return float(value)
    raise TypeError(f"a plan holds no {type(value).__name__}")


def _record(value: dict[str, object]) -> object:
    name = str(value.pop("is"))
    if name == "float":
        return float(str(value["of"]))
    kind = _RECORDS[name]
    if issubclass(kind, Enum):
        return kind(value["of"])
    return kind(**{k: _tuples(v) for k, v in value.items()})


def _tuples(value: object) -> object:
    return tuple(map(_tuples, value)) if isinstance(value, list) else value


def plan_text(plan_: Plan) -> str:
    """Return a plan as text."""
    return json.dumps(_plain(plan_), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def plan_from_text(text: str) -> Plan:
    """Return the plan a text holds, equal to the one it was made from.

    Errors: ValueError for a text that is not a plan of this version of the records.
    """
    try:
        made = json.loads(text, object_hook=_record)
    except (KeyError, TypeError, AttributeError, RecursionError) as e:
        raise ValueError(f"not a plan: {e}") from None
    if not isinstance(made, Plan):
        raise ValueError("not a plan")
    return made


def outline_text(outline: Outline) -> str:
    """Return an outline as text."""
    return json.dumps(_plain(outline), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def outline_from_text(text: str) -> Outline:
    """Return the outline a text holds, equal to the one it was made from. Errors: ValueError when it holds none."""
    try:
        made = json.loads(text, object_hook=_record)
    except (KeyError, TypeError, AttributeError, RecursionError) as e:
        raise ValueError(f"not an outline: {e}") from None
    if not isinstance(made, Outline):
        raise ValueError("not an outline")
    return made
