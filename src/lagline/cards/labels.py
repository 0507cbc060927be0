"""Where text goes on a picture: no two texts overlap, none leaves the window, and lines are kept clear if possible."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from lagline.cards.raster import Floats, Raster, clear_block, summed
from lagline.cards.svg import Box
from lagline.cards.widths import text_width
from lagline.records.geometry import Point

_RINGS = (0.4, 0.5, 1.0, 1.7, 2.6, 3.6, 5.0, 7.0, 9.0, 12.0)  # distance from what is named, in text heights
_LEADER = 1.7  # from this ring on a line is drawn to what is named
_ROUND = 24  # directions tried on each ring, the wanted one first, then to either side of it
_RANK = np.arange(_ROUND)
_SWING = (_RANK + 1) // 2 * math.tau / _ROUND * np.where(_RANK % 2, 1, -1)


@dataclass(frozen=True, slots=True)
class Label:
    """A text that found its place; ``leader`` runs from the text to what it names, empty when it stands on it."""

    text: str
    middle: Point
    size: float
    box: Box
    leader: tuple[Point, ...]
    colour: str
    kind: str
    bold: bool
    upright: bool = False


class Labels:
    """Places texts one after another, the most needed first."""

    def __init__(self, view: Box, cell: float | None = None) -> None:
        self.view = view
        self.placed: list[Label] = []
        self.left_out: list[str] = []
        self.raster = Raster(view, cell or (view[2] - view[0]) / 150)
        self._blocked = np.empty((0, 4))
        self._leaders = np.empty((0, 4))
        self._length = np.zeros(self.raster.shape)
        self._area = np.zeros(self.raster.shape, dtype=bool)
        self._waiting: list[tuple[BaseGeometry, float]] = []
        self._tables: tuple[Floats, Floats] | None = None

    def block(self, b: Box) -> None:
        """Keep all text off a rectangle."""
        self._blocked = np.vstack([self._blocked, b])

    def keep_clear(self, geometry: BaseGeometry, weight: float = 1.0) -> None:
        """Prefer places that do not cover these lines and areas; a line of more weight is kept clearer."""
        if geometry.is_empty:
            return
        self._waiting.append((geometry, weight))
        if geometry.geom_type in ("Polygon", "MultiPolygon"):
            small, here = self.raster.part(geometry.bounds)
            self._area[here] |= small.fill(geometry)

    def _draw_waiting(self) -> None:
        """Put on the squares what has come since the last look."""
        if self._waiting:
            self._length += self.raster.lengths(self._waiting)
            self._waiting.clear()
            self._tables = None

    def covered(self, boxes: Floats) -> tuple[Floats, Floats]:
        """Return the length [mm] and the area [mm2] of ink under each rectangle."""
        self._draw_waiting()
        if self._tables is None:
            self._tables = summed(self._length), summed(self._area)
        length, area = (self.raster.under(t, boxes) for t in self._tables)
        return length, area * self.raster.cell**2

    def clear_of_ink(self, points: Floats) -> bool:
        """True when no ink lies on the squares of any of the points."""
        self._draw_waiting()
        row, column = self.raster.squares(points)
        return not (self._length[row, column].any() or self._area[row, column].any())

    def free(self, boxes: Floats) -> NDArray[np.bool_]:
        """Say of each rectangle whether it lies in the window and touches no text."""
        v, o = self.view, self._blocked
        inside = (boxes[:, 0] >= v[0]) & (boxes[:, 1] >= v[1]) & (boxes[:, 2] <= v[2]) & (boxes[:, 3] <= v[3])
        b = boxes[:, None, :]
        hit = (b[..., 0] < o[:, 2]) & (o[:, 0] < b[..., 2]) & (b[..., 1] < o[:, 3]) & (o[:, 1] < b[..., 3])
        free: NDArray[np.bool_] = inside & ~hit.any(axis=1)
        return free

    def put(
        self,
        text: str,
        at: Point,
        size: float,
        colour: str,
        kind: str,
        *,
        on: bool = False,
        bold: bool = False,
        towards: float | None = None,
        within: BaseGeometry | None = None,
        ground: BaseGeometry | None = None,
        reach: float = 9.0,
        clear: float = 0.5,
        must: bool = True,
        upright: bool = False,
    ) -> Label | None:
        """Place a text by ``at``.

        ``on``: may stand on the point itself. ``towards``: the side it would best be on [rad]. ``within``: an
        area its box must stay in. ``ground``: where it is read rightly.
        ``reach``: how far it may stray, in text heights. A text that finds no place
        is listed in ``left_out`` when it ``must`` be there.
        """
        w, h = _half(text, size, upright)
        rings = np.array([r for r in _RINGS if clear <= r <= reach])
        angle = (math.pi / 4 if towards is None else towards) + _SWING
        out = np.repeat(rings, _ROUND)
        rank = np.tile(_RANK, len(rings))
        away = np.column_stack([np.tile(np.cos(angle), len(rings)) * (w + out * size),
                                np.tile(np.sin(angle), len(rings)) * (h + out * size)])  # fmt: skip
        if on:
            out, rank, away = np.append(0.0, out), np.append(0, rank), np.vstack([(0.0, 0.0), away])
        middle = np.asarray(at) + away
        boxes = np.hstack([middle - np.array((w, h)), middle + np.array((w, h))])
        may = self.free(boxes)
        if within is not None:
            may &= self._share(within, boxes) > 0.97
        out, rank, middle, boxes = out[may], rank[may], middle[may], boxes[may]
        if len(out) == 0:
            if must:
                self.left_out.append(text)
            return None
        length, area = self.covered(boxes)
        cost = 3 * out + (0.24 if towards is not None else 0.02) * rank
        cost += 10 * length / size + 60 * area / (4 * w * h)
        if ground is not None:
            cost += 80 * (1 - self._share(ground, boxes))
        cost += self._crossed(np.asarray(at), boxes, out)
        k = int(np.argmin(cost))
        b = boxes[k]
        leader = (at, (min(max(at[0], b[0]), b[2]), min(max(at[1], b[1]), b[3]))) if out[k] >= _LEADER else ()
        return self._write(
            text, (float(middle[k, 0]), float(middle[k, 1])), size, b, leader, colour, kind, bold, upright
        )

    def fixed(
        self,
        text: str,
        middle: Point,
        size: float,
        colour: str,
        kind: str,
        *,
        bold: bool = False,
        upright: bool = False,
    ) -> bool:
        """Place a text exactly there if the place is free; say whether it was."""
        w, h = _half(text, size, upright, 0.15, 0.6)
        b = np.array([[middle[0] - w, middle[1] - h, middle[0] + w, middle[1] + h]])
        if not self.free(b)[0]:
            return False
        self._write(text, middle, size, b[0], (), colour, kind, bold, upright)
        return True

    def room(self, area: BaseGeometry, text: str, size: float, *, upright: bool = False) -> Point | None:
        """Return the spot in an area where the text stands clear of all ink and text, with most air; None if none."""
        if area.is_empty:
            return None
        self._draw_waiting()
        small, here = self.raster.part(area.bounds)
        bad = ~small.fill(area) | self._area[here] | (self._length[here] > 0) | self._taken(small)
        table = summed(bad)
        w, h = _half(text, size, upright)
        for air in (1.2, 0.6, 0.25, 0.0):
            tall, wide = (math.ceil(2 * (v + air * size) / small.cell) for v in (h, w))
            at = clear_block(table, tall, wide)
            if at is not None:
                return small.middle(*at, tall, wide)
        return None

    def _taken(self, squares: Raster) -> NDArray[np.bool_]:
        """Return the squares that texts touch."""
        rows, columns = squares.shape
        out = np.zeros(squares.shape, dtype=bool)
        low = np.floor((self._blocked[:, :2] - (squares.x, squares.y)) / squares.cell)
        high = np.ceil((self._blocked[:, 2:] - (squares.x, squares.y)) / squares.cell)
        ends = np.clip(np.hstack([low, high]), 0, (columns, rows, columns, rows)).astype(np.int64)
        for i0, j0, i1, j1 in ends.tolist():
            out[j0:j1, i0:i1] = True
        return out

    def depth(self, area: BaseGeometry) -> Point | None:
        """Return a point well inside an area and off what covers it, None for an area of no size."""
        if area.is_empty or area.area <= 0:
            return None
        small, here = self.raster.part(area.bounds)
        inside = small.fill(area)
        for bad in (~inside | self._area[here] | self._taken(small), ~inside):
            table = summed(bad)
            for side in (24, 16, 12, 8, 6, 4, 3, 2, 1):
                at = clear_block(table, side, side)
                if at is not None:
                    return small.middle(*at, side, side)
        p = shapely.point_on_surface(area)
        return p.x, p.y

    def _share(self, area: BaseGeometry, boxes: Floats) -> Floats:
        """Return the share of each rectangle that lies on an area."""
        small, _ = self.raster.part(area.bounds)
        on = small.under(summed(small.fill(area)), boxes) * self.raster.cell**2
        share: Floats = on / ((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1]))
        return share

    def _crossed(self, at: Floats, boxes: Floats, out: Floats) -> Floats:
        """Return what it costs that leaders run over texts or over each other."""
        cost = np.zeros(len(boxes))
        far = out >= _LEADER
        if far.any():
            end = np.clip(at, boxes[far, :2], boxes[far, 2:])
            a = np.broadcast_to(at, end.shape)
            cost[far] += 20 * _through(a, end, self._blocked).sum(axis=1)
            cost[far] += 10 * _cross(a, end, self._leaders[:, :2], self._leaders[:, 2:]).sum(axis=1)
        if len(self._leaders):
            cost += 8 * _through(self._leaders[:, :2], self._leaders[:, 2:], boxes).sum(axis=0)
        return cost

    def _write(self, text: str, middle: Point, size: float, b: Floats, leader: tuple[Point, ...], colour: str,
               kind: str, bold: bool, upright: bool) -> Label:  # fmt: skip
        x0, y0, x1, y1 = (float(v) for v in b)
        label = Label(text, middle, size, (x0, y0, x1, y1), leader, colour, kind, bold, upright)
        self.placed.append(label)
        self.block(label.box)
        if leader:
            self._leaders = np.vstack([self._leaders, (*leader[0], *leader[1])])
            self.keep_clear(LineString(leader))
        return label


def _half(text: str, size: float, upright: bool, side: float = 0.25, above: float = 0.66) -> Point:
    """Return half the width and half the height a text takes, with air round it."""
    w, h = text_width(text, size) / 2 + side * size, above * size
    return (h, w) if upright else (w, h)


def _through(a: Floats, b: Floats, r: Floats) -> NDArray[np.bool_]:
    """Say which stretch a-b touches which rectangle (its line clipped side by side): rows stretches, columns boxes."""
    d = b - a
    d = np.where(d == 0, 1e-12, d)[:, None, :]
    t0, t1 = (r[None, :, :2] - a[:, None, :]) / d, (r[None, :, 2:] - a[:, None, :]) / d
    low = np.maximum(np.minimum(t0, t1).max(axis=2), 0)
    high = np.minimum(np.maximum(t0, t1).min(axis=2), 1)
    hit: NDArray[np.bool_] = low <= high
    return hit


def _cross(a: Floats, b: Floats, c: Floats, d: Floats) -> NDArray[np.bool_]:
    """Say which stretch a-b crosses which stretch c-d."""

    def side(p: Floats, q: Floats, r: Floats) -> Floats:
        out: Floats = (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (
            r[..., 0] - p[..., 0]
        )
        return out

    a, b, c, d = a[:, None, :], b[:, None, :], c[None, :, :], d[None, :, :]
    out: NDArray[np.bool_] = (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)
    return out
