"""An order in which nothing is cut from a loose piece, as near to a wanted one as may be.

Built from its end: of the cuts not yet placed the one wanted last is taken back, if the metal it gives back then hangs
on what is held. Metal that is back helps other metal to hang on, so it does not matter which cut is taken first: where
this comes to a stop, there is no such order (but for freaks of metal that several kerfs share).
"""

from __future__ import annotations

from lagline.planning.kerf_net import Net, root_of
from lagline.planning.loose import Order
from lagline.planning.order_search import Bools, Ints


def hanging_order(net: Net, wanted: Order, must: Bools) -> tuple[int, ...]:
    """Return places in ``wanted`` in an order that keeps ``must`` (closed, same places) and cuts from no loose piece;
    where there is none, from as few as may be."""
    growth = _Growth(net, wanted)
    n = len(wanted)
    followers = must.sum(axis=1)
    todo = list(range(n - 1, -1, -1))
    out: list[int] = []
    while todo:
        free = [t for t in todo if not followers[t]]
        task = next((t for t in free if growth.hangs(t)), None)
        if task is None:
            task = _to_force(growth, free, todo, must, followers)
        growth.give_back(task)
        todo.remove(task)
        out.append(task)
        followers = followers - must[:, task]
    return tuple(reversed(out))


def _to_force(growth: _Growth, free: list[int], todo: list[int], must: Bools, followers: Ints) -> int:
    """Which cut to take back although it hangs on nothing: one of the fewest that keep back a cut that would."""
    able = [t for t in todo if followers[t] and growth.hangs(t)]
    wanted = min(able, key=lambda t: int(followers[t]), default=None)
    return next((t for t in free if wanted is not None and must[wanted, t]), free[0])


class _Growth:
    """Metal that is there, growing as cuts are taken back."""

    def __init__(self, net: Net, wanted: Order) -> None:
        number = {name: p for p, (cut, entry) in enumerate(wanted) for name in ((cut, -1), (cut, entry))}
        self.net = net
        # cuts still to be taken back before an atom is there
        self.waits = [{number[net.names[o]] for o in own if net.names[o] in number} for own in net.owners]
        self.mine: list[list[int]] = [[] for _ in wanted]
        for a, cuts in enumerate(self.waits):
            for c in cuts:
                self.mine[c].append(a)
        self.beside = net.beside()
        self.parent = list(range(len(self.waits)))
        for a, b in net.pairs.tolist():
            if not self.waits[a] and not self.waits[b]:
                self._join(a, b)

    def hangs(self, cut: int) -> bool:
        """Would all that a cut gives back hang on what is held?"""
        new = [a for a in self.mine[cut] if len(self.waits[a]) == 1]
        fresh = set(new)
        held = root_of(self.parent, self.net.anchor)
        # pieces that the new bits touch, joined for this question only
        link: dict[int, int] = {}

        def top(a: int) -> int:
            while link.setdefault(a, a) != a:
                a = link[a]
            return a

        for a in new:
            for b in self.beside[a]:
                if b in fresh or not self.waits[b]:
                    link[top(root_of(self.parent, a))] = top(root_of(self.parent, b))
        return all(top(root_of(self.parent, a)) == top(held) for a in new if self.net.solid[a])

    def give_back(self, cut: int) -> None:
        """Take a cut back."""
        for a in self.mine[cut]:
            self.waits[a].discard(cut)
        for a in self.mine[cut]:
            if not self.waits[a]:
                for b in self.beside[a]:
                    if not self.waits[b]:
                        self._join(a, b)

    def _join(self, a: int, b: int) -> None:
        self.parent[root_of(self.parent, a)] = root_of(self.parent, b)
