"""What comes loose, and when: a plate's atoms asked about an order of cuts.

A piece is atoms that hang together; it is loose when the atom that is held is not among them. Cuts are taken back one
by one from the last: metal only comes back, so pieces only join (union-find), and each join says which cut parts them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from lagline.planning.kerf_net import LEAST_PIECE_MM2, Ints, Net, net_of, root_of
from lagline.planning.kerf_net import PlateMetal as PlateMetal
from lagline.records.geometry import Point

Order = Sequence[tuple[str, int]]  # cut id and number of its entry


@dataclass(frozen=True, slots=True)
class Piece:
    """Metal that comes loose in one piece: its area, the placed parts in it, and a place on its largest face [mm]."""

    area_mm2: float
    parts: tuple[int, ...]
    at: Point


@dataclass(frozen=True, slots=True)
class Slip:
    """A cut that runs in metal that is loose already: which cut had loosened it, and where [mm]."""

    cut: str
    by: str
    at: Point


@dataclass(frozen=True, slots=True)
class Loosened:
    """What an order of cuts does: pieces that come loose by cut id, and cuts that run in loose metal, first first."""

    pieces: Mapping[str, tuple[Piece, ...]]
    slips: tuple[Slip, ...]


class Atoms:
    """A plate taken to atoms once, and asked about any order of its cuts."""

    def __init__(self, plate: PlateMetal) -> None:
        self.net = net_of(plate)
        self._beside = self.net.beside()

    def check(self, order: Order) -> Loosened:
        """Return what comes loose when the cuts are made in this order.

        Cuts of the plate that are not in the order are not made; cuts the plate does not know part nothing.
        """
        return _Undo(self.net, order).run()

    def walls(self, order: Order, slip: Slip) -> tuple[str, ...]:
        """Return the cuts made before a slip that part its loose metal from the rest, the last made first.

        Its metal hangs on only when the slip's cut comes before one of them.
        """
        died = self.net.ends(order).tolist()
        when = {c: p for p, (c, _) in enumerate(order)}[slip.cut]
        found: set[int] = set()
        seen: set[int] = set()
        for bit in (a for a, p in enumerate(died) if p == when and self.net.solid[a]):
            if bit in seen:
                continue
            piece, todo, rim = {bit}, [bit], set[int]()
            while todo:
                for b in self._beside[todo.pop()]:
                    if died[b] < when:
                        rim.add(died[b])
                    elif b not in piece:
                        piece.add(b)
                        todo.append(b)
            seen |= piece
            if self.net.anchor not in piece:
                found |= rim
        return tuple(order[p][0] for p in sorted(found, reverse=True))


class _Undo:
    """Cuts taken back, one after the other."""

    def __init__(self, net: Net, order: Order) -> None:
        self.net = net
        self.order = order
        self.died: Ints = net.ends(order)
        self.parent = list(range(len(self.died)))
        self.area: list[float] = net.area_mm2.tolist()
        self.solid: list[bool] = net.solid.tolist()
        self.faces = [[a] if not own else [] for a, own in enumerate(net.owners)]

    def run(self) -> Loosened:
        pairs, died, n = self.net.pairs, self.died, len(self.order)
        joins: list[list[tuple[int, int]]] = [[] for _ in range(n + 1)]
        for when, (a, b) in zip(died[pairs].min(axis=1).tolist(), pairs.tolist(), strict=True):
            joins[when].append((a, b))
        bits: list[list[int]] = [[] for _ in range(n + 1)]
        for a in np.flatnonzero(self.net.solid).tolist():
            bits[died[a]].append(a)
        for a, b in joins[n]:
            self._join(a, b)
        pieces: dict[str, tuple[Piece, ...]] = {}
        slips: list[tuple[int, Slip]] = []
        hanging: list[tuple[int, int]] = []  # cuts that run in metal not yet joined to what is held, and that metal
        for p in range(n - 1, -1, -1):
            held = self._root(self.net.anchor)
            old = {self._root(a) for pair in joins[p] for a in pair if died[a] > p} - {held}
            seen = [(r, self._piece(r)) for r in old if self.solid[r] and self.area[r] >= LEAST_PIECE_MM2]
            for a, b in joins[p]:
                self._join(a, b)
            held = self._root(held)
            if freed := [piece for r, piece in seen if self._root(r) == held]:
                pieces[self.order[p][0]] = tuple(sorted(freed, key=lambda f: (-f.area_mm2, f.at)))
            for q, a in hanging:
                if self._root(a) == held:
                    slips.append((q, Slip(self.order[q][0], self.order[p][0], self.net.spots[a])))
            hanging = [(q, a) for q, a in (*hanging, *((p, a) for a in bits[p])) if self._root(a) != held]
        # of several places of one cut, the one loosened last is told
        first: dict[str, Slip] = {}
        for _, slip in sorted(slips, key=lambda s: s[0]):
            first.setdefault(slip.cut, slip)
        return Loosened(dict(reversed(pieces.items())), tuple(first.values()))

    def _root(self, a: int) -> int:
        return root_of(self.parent, a)

    def _join(self, a: int, b: int) -> None:
        a, b = self._root(a), self._root(b)
        if a == b:
            return
        if len(self.faces[a]) < len(self.faces[b]):
            a, b = b, a
        self.parent[b] = a
        self.area[a] += self.area[b]
        self.solid[a] = self.solid[a] or self.solid[b]
        self.faces[a] += self.faces[b]

    def _piece(self, root: int) -> Piece:
        """The piece of that root as it hangs together now."""
        net = self.net
        mine = self.faces[root] or [root]
        largest = max(mine, key=lambda a: (net.area_mm2[a], -a))
        parts = sorted({net.part[a] for a in mine if a in net.part})
        return Piece(self.area[root], tuple(parts), net.spots[largest])
