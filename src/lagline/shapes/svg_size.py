"""Sizes in an SVG drawing: lengths with units, the viewport of the page, transforms."""

from __future__ import annotations

import math
import re

from lagline.shapes.svg_path import Affine, BadShape

PX_MM = 25.4 / 96  # a CSS pixel is 1/96 inch
_PX = {"": 1.0, "px": 1.0, "in": 96.0, "mm": 1 / PX_MM, "cm": 10 / PX_MM, "q": 0.25 / PX_MM, "pt": 96 / 72, "pc": 16.0}
PHYSICAL = frozenset({"in", "mm", "cm", "q", "pt", "pc"})
_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z]*|%)\s*")
_STEP = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)\s*,?")
_COUNTS = {"matrix": {6}, "translate": {1, 2}, "scale": {1, 2}, "rotate": {1, 3}, "skewX": {1}, "skewY": {1}}


def length(text: str, percent_of: float | None = None) -> tuple[float, str]:
    """Return a length in pixels and its unit in small letters."""
    match = _LENGTH.fullmatch(text)
    unit = match.group(2).lower() if match else ""
    if match is None or (unit != "%" and unit not in _PX):
        raise BadShape(f"has a length {text[:30]!r} that cannot be read")
    number = float(match.group(1))
    if not math.isfinite(number):
        raise BadShape(f"has a length {text[:30]!r} that is no number")
    if unit == "%":
        if percent_of is None:
            raise BadShape(f"has a length {text[:30]!r} of a page whose size is not known")
        return number / 100 * percent_of, unit
    return number * _PX[unit], unit


def transform(text: str) -> Affine:
    """Return the map of a transform list; its matrices are built by svgelements."""
    from svgelements import Matrix

    at = 0
    while at < len(text):
        step = _STEP.match(text, at)
        if step is None:
            if text[at:].strip():
                raise BadShape(f"has a transform {text[:40]!r} that cannot be read")
            break
        values = step.group(2).replace(",", " ").split()
        try:
            good = len(values) in _COUNTS[step.group(1)] and all(math.isfinite(float(v)) for v in values)
        except ValueError:
            good = False
        if not good:
            raise BadShape(f"has a transform {text[:40]!r} that cannot be read")
        at = step.end()
    m = Matrix(text)
    return Affine(*(float(n) for n in (m.a, m.b, m.c, m.d, m.e, m.f)))


def view_box(text: str | None) -> tuple[float, float, float, float] | None:
    """Return the view box, None when there is none or it is not four numbers with a size."""
    try:
        numbers = [float(n) for n in (text or "").replace(",", " ").split()]
    except ValueError:
        return None
    if len(numbers) != 4 or not all(map(math.isfinite, numbers)) or numbers[2] <= 0 or numbers[3] <= 0:
        return None
    return (numbers[0], numbers[1], numbers[2], numbers[3])


def fitted(box: tuple[float, float, float, float], w: float, h: float, keep: str) -> Affine:
    """Return the map from a view box to a page of w by h pixels, by its ``preserveAspectRatio``."""
    sx, sy = w / box[2], h / box[3]
    words = keep.split()
    align = next((word for word in words if word.startswith(("x", "none"))), "xMidYMid")
    if align != "none":
        sx = sy = max(sx, sy) if "slice" in words else min(sx, sy)
    slack = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    fx, fy = (slack.get(align[1:4], 0.5), slack.get(align[5:8], 0.5)) if align != "none" else (0.0, 0.0)
    return Affine(sx, 0.0, 0.0, sy, -box[0] * sx + fx * (w - box[2] * sx), -box[1] * sy + fy * (h - box[3] * sy))
