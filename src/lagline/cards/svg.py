"""A small SVG writer: plate millimetres in and out, y up turned to y down, arcs kept as arcs. No ids, so pictures can
share a page. A place has the same numbers in every picture, so that what was written once can be used again."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lagline.records.geometry import Arc, Line, Outline, Point, Segment

Box = tuple[float, float, float, float]  # left, bottom, right, top [mm]


@dataclass(frozen=True, slots=True)
class Ink:
    """The colours of one way of drawing."""

    ground: str  # behind everything, and in a kerf
    void: str  # where something has fallen out
    plate: str
    part: str  # the part's plain face
    kept: str  # the part this cut belongs to
    line: str
    text: str
    hatch: str
    hatch_bold: str
    cut: str
    guide: str
    guide_face: str
    edge: str  # the two lips of an open kerf


SCREEN = Ink(
    ground="#14181b",
    void="#14181b",
    plate="#2b3237",
    part="#3a434a",
    kept="#48535b",
    line="#e9e4d6",
    text="#f7f3e8",
    hatch="#7d8487",
    hatch_bold="#c9c6bb",
    cut="#ffcf3f",
    guide="#9cd3e6",
    guide_face="#33525e",
    edge="#b9b5a9",
)
PAPER = Ink(
    ground="#ffffff",
    void="#c9c9c9",
    plate="#ffffff",
    part="#ffffff",
    kept="#ffffff",
    line="#000000",
    text="#000000",
    hatch="#9a9a9a",
    hatch_bold="#3c3c3c",
    cut="#000000",
    guide="#000000",
    guide_face="#ffffff",
    edge="#000000",
)


def num(v: float) -> str:
    """Return a number to 0.001 without trailing noughts."""
    text = f"{v:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def xy(p: Point) -> str:
    """Return a plate point as picture coordinates."""
    return f"{num(p[0])} {num(-p[1])}"


def path_data(segments: Iterable[Segment], *, close: bool = False) -> str:
    """Return path data; arcs stay arcs."""
    out: list[str] = []
    at: Point | None = None
    for s in segments:
        if at is None or math.dist(at, s.start) > 1e-3:
            out.append(f"M{xy(s.start)}")
        match s:
            case Line():
                out.append(f"L{xy(s.end)}")
            case Arc():
                # a full turn has no one arc in SVG, and near-full ones are ill-posed: go in halves
                n = 2 if abs(s.sweep) > 3 else 1
                flag = "0" if s.sweep > 0 else "1"
                for i in range(1, n + 1):
                    end = s.at(s.angle + s.sweep * i / n)
                    out.append(f"A{num(s.radius)} {num(s.radius)} 0 0 {flag} {xy(end)}")
            case _:
                out.extend(f"L{xy(p)}" for p in s.points()[1:])
        at = s.end
    return "".join(out) + ("Z" if close else "")


def outline_data(outline: Outline) -> str:
    """Return path data of an outline with its holes."""
    return "".join(path_data(loop.segments, close=True) for loop in outline.loops)


def area_data(geometry: BaseGeometry) -> str:
    """Return path data of any polygon or line geometry to 0.01 mm, rings closed."""
    parts = shapely.get_parts(geometry)
    kind = shapely.get_type_id(parts)
    out = [_joined(r) + "Z" for r in shapely.get_rings(parts[kind == 3])]
    return "".join(out + [_joined(g) for g in parts[kind == 1]])


def _joined(line: BaseGeometry) -> str:
    points = shapely.get_coordinates(line)
    if line.geom_type == "LinearRing":
        points = points[:-1]
    return "M" + "L".join(f"{x:.2f} {-y:.2f}" for x, y in points.tolist())


def line_data(ends: NDArray[np.float64]) -> str:
    """Return path data of many straight lines, each row its two ends, to 0.01 mm."""
    return "".join(f"M{a:.2f} {-b:.2f}L{c:.2f} {-d:.2f}" for a, b, c, d in ends.reshape(-1, 4).tolist())


class Sheet:
    """One picture being written. ``view`` is the window on the plate [mm]."""

    def __init__(self, view: Box, ink: Ink, title: str, desc: str, size_mm: tuple[float, float] | None = None) -> None:
        self.view, self.ink = view, ink
        self.title, self.desc, self.size_mm = title, desc, size_mm
        self._out: list[str] = []

    def raw(self, text: str) -> None:
        """Write what was written before."""
        self._out.append(text)

    @staticmethod
    def path_data(segments: Iterable[Segment], *, close: bool = False) -> str:
        """Return path data; see :func:`path_data`."""
        return path_data(segments, close=close)

    def add(self, name: str, **attributes: object) -> None:
        """Write one element."""
        self._out.append(f"<{name} {_attributes(attributes)}/>")

    def path(self, data: str, kind: str, **attributes: object) -> None:
        """Write a path of that kind (its class) unless it is empty."""
        if data:
            self.add("path", class_=f"ll-{kind}", d=data, **attributes)

    def stroke(self, data: str, kind: str, colour: str, width: float, **more: object) -> None:
        """Write an unfilled path."""
        self.path(data, kind, fill="none", stroke=colour, stroke_width=num(width), **more)

    def polyline(self, points: Sequence[Point], kind: str, colour: str, width: float, **more: object) -> None:
        """Write an open chain of points."""
        self.stroke("M" + "L".join(map(xy, points)), kind, colour, width, **more)

    def polygon(self, points: Sequence[Point], kind: str, fill: str, **more: object) -> None:
        """Write a closed, filled chain of points."""
        self.path("M" + "L".join(map(xy, points)) + "Z", kind, fill=fill, **more)

    def dot(self, at: Point, radius: float, kind: str, **more: object) -> None:
        """Write a circle."""
        x, y = xy(at).split(" ")
        self.add("circle", class_=f"ll-{kind}", cx=x, cy=y, r=num(radius), **more)

    def text(
        self, text: str, at: Point, size: float, colour: str, kind: str, bold: bool = False, upright: bool = False
    ) -> None:
        """Write text with its middle at a point; ``upright`` reads from the bottom up."""
        low = (at[0] + 0.36 * size, at[1]) if upright else (at[0], at[1] - 0.36 * size)
        x, y = xy(low).split(" ")
        more = ' font-weight="bold"' if bold else ""
        more += f' transform="rotate(-90 {x} {y})"' if upright else ""
        self._out.append(
            f'<text class="ll-{kind}" x="{x}" y="{y}" font-size="{num(size)}" fill="{colour}" '
            f'text-anchor="middle"{more}>{escape(text)}</text>'
        )

    def group(self, kind: str, label: str = "") -> None:
        """Open a group."""
        self._out.append(f'<g class="ll-{kind}"' + (f" aria-label={quoteattr(label)}" if label else "") + ">")

    def end(self) -> None:
        """Close a group."""
        self._out.append("</g>")

    def finish(self) -> str:
        """Return the whole picture."""
        w, h = self.view[2] - self.view[0], self.view[3] - self.view[1]
        x, y = self.view[0], -self.view[3]
        window = f"{num(x)} {num(y)} {num(w)} {num(h)}"
        size = f' width="{num(self.size_mm[0])}mm" height="{num(self.size_mm[1])}mm"' if self.size_mm else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{window}"{size} role="img" '
            f'font-family="DejaVu Sans, sans-serif" stroke-linejoin="round">'
            f"<title>{escape(self.title)}</title><desc>{escape(self.desc)}</desc>"
            f'<rect x="{num(x)}" y="{num(y)}" width="{num(w)}" height="{num(h)}" fill="{self.ink.ground}"/>'
            + "\n".join(self._out)
            + "</svg>\n"
        )


# attributes whose values are numbers, colours and path data: nothing in them to escape
_KEYS = {k: k.rstrip("_").replace("_", "-") for k in
         ("class_", "d", "fill", "fill_opacity", "fill_rule", "stroke", "stroke_width", "stroke_linecap",
          "stroke_dasharray", "cx", "cy", "r", "data_kerf_mm")}  # fmt: skip


def _key(name: str) -> str:
    return name.rstrip("_").replace("_", "-")


def _attributes(given: dict[str, object]) -> str:
    return " ".join(f'{_KEYS[k]}="{v}"' if k in _KEYS else f"{_key(k)}={quoteattr(str(v))}" for k, v in given.items())
