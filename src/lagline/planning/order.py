"""The order stage: which cut next, and where to begin it.

Plates in their order; on each plate the drilling first, strips last, nothing cut from a piece that has come loose,
otherwise as cheap as may be in walking, changes of guide, dwelling in hot metal, starts, and the hand's own way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from lagline.planning.hang_on import hanging_order
from lagline.planning.loose import Atoms, PlateMetal, Slip
from lagline.planning.order_cost import PlateCosts, plate_costs
from lagline.planning.order_search import Bools, Ints, closure, solve
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.records.plan import Cut, Start

ROUNDS = 60  # orders tried and mended until nothing is cut from a loose piece
IN_KERF_MM = 0.1

Order = tuple[tuple[int, int], ...]
Pairs = list[tuple[int, int]]  # cut and entry, in order


def order_cuts(
    cuts: tuple[Cut, ...], kit: Kit, seed: int, plates: Mapping[int, PlateMetal] | None = None
) -> tuple[Order, tuple[Finding, ...]]:
    """Return every cut once, as (index into ``cuts``, index into its entries; 0 for a drilled hole without any), and
    the cuts that run in a piece loose by then because no order was found without.

    Parameters
    ----------
    cuts : of all plates
    kit : times, reach and hand
    seed : another seed, another order of about the same cost
    plates : metal, hold and kerfs of the plates by number (:func:`lagline.planning.falls.plate_metals`)

    Plates in order; drilling first on each plate unless it waits for a cut; ``Cut.after`` kept; strips (longer
    than six times their width) last where nothing waits for them. Exact for small plates, a seeded search for
    others; same input and seed, same order.

    Raises ValueError for what no earlier stage may hand over: an ``after`` that names no cut, that goes round in
    a circle or back to an earlier plate, ids that are not unique, a cut with no way to begin it.
    """
    must = _precedence(cuts)
    out: list[tuple[int, int]] = []
    findings: list[Finding] = []
    for plate in sorted({c.plate for c in cuts}):
        here = [i for i, c in enumerate(cuts) if c.plate == plate]
        mine, metal = tuple(cuts[i] for i in here), (plates or {}).get(plate)
        one = _Plate(mine, must[np.ix_(here, here)], plate_costs(mine, kit, metal), metal)
        order, slips = one.solve(seed)
        out.extend((here[t], e) for t, e in order)
        findings.extend(_held_by_hand(s) for s in slips)
    return tuple(out), tuple(findings)


def _precedence(cuts: tuple[Cut, ...]) -> Bools:
    index = {c.id: i for i, c in enumerate(cuts)}
    if len(index) != len(cuts):
        raise ValueError("cut ids are not unique")
    before = np.zeros((len(cuts), len(cuts)), dtype=np.bool_)
    for j, cut in enumerate(cuts):
        if not cut.entries and cut.role != "drill":
            raise ValueError(f"cut {cut.id} has no entry")
        for name in cut.after:
            if name not in index:
                raise ValueError(f"cut {cut.id} comes after {name}, which is no cut")
            if cuts[index[name]].plate > cut.plate:
                raise ValueError(f"cut {cut.id} on plate {cut.plate} comes after {name} on a later plate")
            before[index[name], j] = True
    try:
        return closure(before)
    except ValueError as error:
        circle = [c.id for i, c in enumerate(cuts) if _reaches_itself(before, i)]
        raise ValueError(f"cuts {', '.join(circle)} wait for each other in a circle") from error


@dataclass(frozen=True, slots=True)
class _Plate:
    """One plate's cuts, their precedence (closed), what they cost, and the plate where it is known."""

    cuts: tuple[Cut, ...]
    must: Bools
    costs: PlateCosts
    metal: PlateMetal | None

    def solve(self, seed: int) -> tuple[Pairs, tuple[Slip, ...]]:
        """Return (cut, entry) in order, and the cuts that run in loose metal.

        Solved roughly, looked at for cuts in loose metal, given the precedence that hinders each, mended; once there
        are none left, solved afresh with all that precedence, and mended again where that is wanted.
        """
        if self.metal is None:
            return self._ordered(self.must, (), seed)[0], ()
        atoms = Atoms(self.metal)
        wishes = self._wishes(self.metal)
        must, mend = self.must, None
        settled = not any(c.open for c in self.cuts)  # the first order is likely to stand
        best: tuple[tuple[int, float], Pairs, tuple[Slip, ...]] | None = None
        able: Pairs = []
        for _ in range(ROUNDS):
            order, cost = self._ordered(must, wishes, seed, mend, quick=not settled)
            slips = atoms.check(self._named(order)).slips
            if best is None or (len(slips), cost) < best[0]:
                best = (len(slips), cost), order, slips
            mend = np.array([t for t, _ in order], dtype=np.int64)
            if slips:
                able = [order[t] for t in hanging_order(atoms.net, self._named(order), must[np.ix_(mend, mend)])]
                more = self._hindered(must, atoms, self._named(order), slips, able)
                if more is must:
                    break
                must = more
            elif settled:
                break
            else:
                settled, mend = True, None
        assert best is not None
        if best[2] and len(slips := atoms.check(self._named(able)).slips) < len(best[2]):
            return able, slips
        return best[1:]

    def _named(self, order: Pairs) -> list[tuple[str, int]]:
        return [(self.cuts[t].id, e) for t, e in order]

    def _hindered(
        self, must: Bools, atoms: Atoms, named: list[tuple[str, int]], slips: tuple[Slip, ...], able: Pairs
    ) -> Bools:
        """Return the precedence with each slip's cut before one of those that part its metal from the rest, as it is
        in an order that can be made."""
        number = {c.id: i for i, c in enumerate(self.cuts)}
        place = {self.cuts[t].id: p for p, (t, _) in enumerate(able)}
        for slip in slips:
            for name in dict.fromkeys((slip.by, *atoms.walls(named, slip))):
                further = _added(must, number[slip.cut], number[name])
                if place[slip.cut] < place[name] and further is not None:
                    must = further
                    break
        return must

    def _ordered(
        self,
        must: Bools,
        wishes: tuple[tuple[int, int], ...],
        seed: int,
        mend: Ints | None = None,
        *,
        quick: bool = False,
    ) -> tuple[Pairs, float]:
        """Return (cut, entry) in order and the cost, wishes kept where they go with the precedence."""
        kept: set[int] = set()
        for u, v in wishes:
            if v not in kept and (further := _added(must, u, v)) is not None:
                must = further
                kept.add(v)
        problem = self.costs.problem(must, frozenset(kept))
        sequence, chosen, cost = solve(problem, seed, mend, quick=quick)
        return [(int(t), int(o - problem.first[t])) for t, o in zip(sequence, chosen, strict=True)], cost

    def _wishes(self, metal: PlateMetal) -> tuple[tuple[int, int], ...]:
        """Pairs (u, v): open cut v begins in the kerf of u, and saves a start of its own when u comes before it."""
        kerfs = {i: metal.kerfs[c.id] for i, c in enumerate(self.cuts) if c.id in metal.kerfs}
        out: list[tuple[int, int]] = []
        for v, cut in enumerate(self.cuts):
            if not cut.open or any(e.start in (Start.KERF, Start.EDGE) for e in cut.entries):
                continue
            begin = shapely.Point(cut.passes[0].path[0].start)
            near = [u for u, k in kerfs.items() if u != v and k.distance(begin) < IN_KERF_MM]
            rank = {u: (self.cuts[u].role != "rip", cut.placed not in self.cuts[u].parts, u) for u in near}
            out.extend((u, v) for u in sorted(near, key=rank.__getitem__))
        return tuple(out)


def _added(must: Bools, i: int, j: int) -> Bools | None:
    """Return the closed precedence with "i before j" as well, None when that closes a circle."""
    if i == j or must[j, i]:
        return None
    if must[i, j]:
        return must
    to_i, from_j = must[:, i].copy(), must[j].copy()
    to_i[i] = from_j[j] = True
    more: Bools = must | (to_i[:, None] & from_j[None, :])
    return more


def _held_by_hand(slip: Slip) -> Finding:
    return Finding(
        "cut-from-loose",
        Severity.CAUTION,
        f"cut {slip.cut}",
        f"this cut runs in a piece that cut {slip.by} has let loose, at x {slip.at[0]:.0f} y {slip.at[1]:.0f}: no "
        "order was found without",
        "clamp that piece before the cut, or have a helper hold it there with tongs, clear of the sparks",
    )


def _reaches_itself(before: Bools, start: int) -> bool:
    todo, seen = list(np.flatnonzero(before[start])), set()
    while todo:
        at = int(todo.pop())
        if at == start:
            return True
        if at not in seen:
            seen.add(at)
            todo.extend(np.flatnonzero(before[at]))
    return False
