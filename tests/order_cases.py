"""Seeded order problems for tests and measurements: parts with holes on a plate, closed cuts only or open ones too."""

from __future__ import annotations

import numpy as np

from lagline.planning.order_search import Problem, closure

WIDTH_MM, HEIGHT_MM = 2500.0, 1250.0


class _Sheet:
    """Tasks written down one after the other: walking only, 1 mm costs 1."""

    def __init__(self, seed: int, ways: int) -> None:
        self.ways = ways
        self.random = np.random.default_rng(seed)
        self.enter: list[tuple[float, float]] = []
        self.leave: list[tuple[float, float]] = []
        self.first = [0]
        self.pairs: list[tuple[int, int]] = []

    def loop(self, x: float, y: float, half_w: float, half_h: float) -> int:
        """A closed cut round a rectangle, to be entered at several places."""
        turn = self.random.uniform(0, 2 * np.pi)
        for k in range(self.ways):
            c, s = np.cos(turn + 2 * np.pi * k / self.ways), np.sin(turn + 2 * np.pi * k / self.ways)
            out = 1 / max(abs(c), abs(s))
            self.enter.append((x + half_w * c * out, y + half_h * s * out))
            self.leave.append(self.enter[-1])
        return self._done()

    def line(self, a: tuple[float, float], b: tuple[float, float]) -> int:
        """An open cut, to be made from either end."""
        self.enter += [a, b]
        self.leave += [b, a]
        return self._done()

    def _done(self) -> int:
        self.first.append(len(self.enter))
        return len(self.first) - 2

    def cells(self, columns: int, rows: int) -> list[tuple[float, float, float, float]]:
        """Middle and half sides of a rectangle in each cell of a grid, somewhere in the middle of it."""
        w, h, r = WIDTH_MM / columns, HEIGHT_MM / rows, self.random
        out = []
        for i in range(columns * rows):
            x = (i % columns + 0.5 + r.uniform(-0.1, 0.1)) * w
            y = (i // columns + 0.5 + r.uniform(-0.1, 0.1)) * h
            out.append((x, y, w * r.uniform(0.2, 0.38), h * r.uniform(0.2, 0.38)))
        return out

    def hole(self, x: float, y: float, half_w: float, half_h: float) -> int:
        r = self.random
        radius = r.uniform(10, 30)
        x += r.uniform(-0.9, 0.9) * (half_w - radius)
        y += r.uniform(-0.9, 0.9) * (half_h - radius)
        return self.loop(x, y, radius, radius)

    def problem(self) -> Problem:
        n, m = len(self.first) - 1, len(self.enter)
        before = np.zeros((n, n), dtype=bool)
        for i, j in self.pairs:
            before[i, j] = True
        kind = np.zeros(m, dtype=np.int64)
        return Problem(
            np.array(self.enter), np.array(self.leave), np.zeros(m), kind, kind, np.array(self.first), closure(before),
            np.zeros((n, n)), np.zeros(n), 1.0, 0.0,
        )  # fmt: skip


def closed_case(seed: int, parts: tuple[int, int] = (5, 4), holes: int = 40, ways: int = 8) -> Problem:
    """A grid of parts, each a closed cut, and holes in them at random, each before its part."""
    sheet = _Sheet(seed, ways)
    cells = sheet.cells(*parts)
    outers = [sheet.loop(*c) for c in cells]
    for _ in range(holes):
        i = int(sheet.random.integers(len(cells)))
        sheet.pairs.append((sheet.hole(*cells[i]), outers[i]))
    return sheet.problem()


def open_case(seed: int, rows: int = 4, holes: int = 40, ways: int = 8) -> Problem:
    """Rows of four parts, the left two sharing a cut: one line, and for each of them an open cut round the rest.

    20 cuts of outlines (4 shared lines, 8 open, 8 closed) for four rows; holes before every cut of their part, the
    shared line before the cuts that begin in it.
    """
    sheet = _Sheet(seed, ways)
    cells = sheet.cells(4, rows)
    cuts: list[list[int]] = [[] for _ in cells]
    for row in range(rows):
        left, right = cells[4 * row], cells[4 * row + 1]
        x = (left[0] + left[2] + right[0] - right[2]) / 2
        y, half = left[1], left[3]
        low, high = (x, y - half), (x, y + half)
        shared = sheet.line(low, high)
        for k in (0, 1):
            rest = sheet.line(low, high)
            cuts[4 * row + k] = [shared, rest]
            sheet.pairs.append((shared, rest))
        cells[4 * row] = (x - left[2], y, left[2], half)
        cells[4 * row + 1] = (x + right[2], y, right[2], half)
        for k in (2, 3):
            cuts[4 * row + k] = [sheet.loop(*cells[4 * row + k])]
    for _ in range(holes):
        i = int(sheet.random.integers(len(cells)))
        hole = sheet.hole(*cells[i])
        sheet.pairs.extend((hole, c) for c in cuts[i])
    return sheet.problem()
