"""The order stage on hand-made cuts: what must hold for any order, and which of two orders is chosen."""

from __future__ import annotations

import itertools
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.order import order_cuts
from lagline.planning.order_cost import HEAT_REACH_MM, start_cost_s
from lagline.records.geometry import Arc, Line, Loop, Point
from lagline.records.plan import Cut, Entry, Method, Pass, Start
from tests.sample_plan import kit

KIT = kit()


def box(x: float, y: float, w: float, h: float) -> Loop:
    p = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    return Loop(tuple(Line(a, b) for a, b in zip(p, p[1:] + p[:1], strict=True)), ("bottom", "right", "top", "left"))


def a_cut(
    name: str,
    loop: Loop,
    *,
    plate: int = 0,
    role: str = "outline",
    method: Method = Method.STRAIGHTEDGE,
    after: tuple[str, ...] = (),
    starts: tuple[Start, ...] = (Start.EDGE,) * 4,
) -> Cut:
    closed = Pass(name, method, loop.segments, loop.segments, True, None)
    entries = tuple(
        Entry(0, 0.0, s, ((c.start[0] - 5, c.start[1]), c.start))
        for s, c in zip(starts, loop.segments * 4, strict=False)
    )
    drops = "nothing" if role == "drill" else "part"
    return Cut(
        *(name, 0, plate, role, loop, "s", "right", () if role == "drill" else (closed,)),
        *(() if role == "drill" else entries, after, drops, 0.0),
    )


def choose_order(cuts: tuple[Cut, ...], seed: int = 1) -> tuple[tuple[int, int], ...]:
    order, findings = order_cuts(cuts, KIT, seed)
    assert findings == ()
    return order


def names(cuts: tuple[Cut, ...], seed: int = 1) -> list[str]:
    return [cuts[i].id for i, _ in choose_order(cuts, seed)]


def circle(centre: Point, radius: float) -> Loop:
    return Loop((Arc(centre, radius, 0.0, -6.283185307179586),), ("hole",))


@st.composite
def jobs(draw: st.DrawFn, most: int = 5) -> tuple[Cut, ...]:
    """Up to three plates of parts with holes and drilled holes, in mixed order."""
    cuts: list[Cut] = []
    for n in range(draw(st.integers(1, most))):
        plate = draw(st.integers(0, 2))
        x, y = draw(st.integers(0, 30)) * 100.0, draw(st.integers(0, 10)) * 100.0
        inner: list[str] = []
        for k in range(draw(st.integers(0, 2))):
            drilled = draw(st.booleans())
            inner.append(f"p{n}h{k}")
            cuts.append(
                a_cut(
                    inner[-1],
                    circle((x + 20 + 30 * k, y + 20), 10),
                    plate=plate,
                    role="drill" if drilled else "hole",
                    method=Method.ARM,
                    starts=(Start.PIERCE,),
                )
            )
        width = draw(st.sampled_from([80.0, 900.0]))
        cuts.append(a_cut(f"p{n}", box(x, y, width, 80), plate=plate, after=tuple(inner)))
    return tuple(draw(st.permutations(cuts)))


@settings(deadline=None, max_examples=25)
@given(jobs())
def test_laws(cuts: tuple[Cut, ...]) -> None:
    order = choose_order(cuts, 3)
    assert sorted(i for i, _ in order) == list(range(len(cuts)))
    assert all(0 <= e < max(1, len(cuts[i].entries)) for i, e in order)
    place = {cuts[i].id: n for n, (i, _) in enumerate(order)}
    assert all(place[a] < place[c.id] for c in cuts for a in c.after)
    done = [cuts[i] for i, _ in order]
    assert [c.plate for c in done] == sorted(c.plate for c in done)
    for plate in {c.plate for c in cuts}:
        drilled = [c.role == "drill" for c in done if c.plate == plate]
        assert drilled == sorted(drilled, reverse=True)
    assert choose_order(cuts, 3) == order


def test_no_cuts() -> None:
    assert choose_order((), 1) == ()


def test_one_cut_takes_the_edge_start() -> None:
    cut = a_cut("a", box(0, 0, 100, 80), starts=(Start.PIERCE, Start.EDGE, Start.PIERCE))
    assert choose_order((cut,), 1) == ((0, 1),)


def test_pierce_costs_more_than_an_edge_start() -> None:
    run_in = ((0.0, 0.0), (8.0, 0.0))
    cost = {s: start_cost_s(Entry(0, 0, s, run_in), KIT) for s in Start}
    assert cost[Start.PIERCE] > cost[Start.EDGE] == cost[Start.KERF]


def test_strips_last_and_small_first_when_all_else_is_equal() -> None:
    """Far apart in a row, no walk saved either way: the strip waits, the small part leads."""
    strip = a_cut("strip", box(0, 0, 900, 100))
    large = a_cut("large", box(0, 1000, 400, 300))
    small = a_cut("small", box(0, 2000, 90, 80))
    assert names((strip, large, small))[-1] == "strip"
    assert names((large, small)) == ["small", "large"]


def test_a_strip_that_something_waits_for_is_not_held_back() -> None:
    strip = a_cut("strip", box(0, 0, 900, 100))
    other = a_cut("other", box(0, 300, 400, 300), after=("strip",))
    assert names((other, strip)) == ["strip", "other"]


def test_drilling_that_waits_for_a_cut_waits() -> None:
    outline = a_cut("o", box(0, 0, 100, 100))
    hole = a_cut("d", circle((50, 50), 5), role="drill", after=("o",))
    assert names((hole, outline)) == ["o", "d"]


def test_skips_about_rather_than_dwell_in_hot_metal() -> None:
    """Four boxes in a row, neighbours within the heat's reach: one order has no hot neighbour in turn (b d a c)."""
    gap = HEAT_REACH_MM / 6
    row = tuple(a_cut(n, box(i * (150 + gap), 0, 150, 150), starts=(Start.EDGE,)) for i, n in enumerate("abcd"))
    order = names(row)
    assert all(abs(ord(x) - ord(y)) > 1 for x, y in itertools.pairwise(order))


def test_one_change_of_guide() -> None:
    """Straightedge and arm cuts in alternate places: all of one kind, then all of the other."""
    kinds = (Method.STRAIGHTEDGE, Method.ARM)
    row = tuple(a_cut(str(i), box(i * 250.0, 0, 100, 100), method=kinds[i % 2]) for i in range(6))
    used = [row[i].passes[0].method for i, _ in choose_order(row, 1)]
    assert sum(a != b for a, b in itertools.pairwise(used)) == 1


@pytest.mark.parametrize(
    ("cuts", "says"),
    [
        ((a_cut("a", box(0, 0, 9, 9), after=("b",)), a_cut("b", box(0, 0, 9, 9), after=("a",))), "a, b wait.*circle"),
        ((a_cut("a", box(0, 0, 9, 9), after=("a",)),), "circle"),
        ((a_cut("a", box(0, 0, 9, 9), after=("x",)),), "after x, which is no cut"),
        ((a_cut("a", box(0, 0, 9, 9), after=("b",)), a_cut("b", box(0, 0, 9, 9), plate=1)), "later plate"),
        ((a_cut("a", box(0, 0, 9, 9)), a_cut("a", box(0, 0, 9, 9))), "not unique"),
        ((a_cut("a", box(0, 0, 9, 9), starts=()),), "no entry"),
    ],
)
def test_what_no_earlier_stage_may_hand_over(cuts: tuple[Cut, ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        choose_order(cuts, 1)


def test_a_small_job_never_loads_the_compiler() -> None:
    code = (
        "import sys; from tests.derived.test_order import a_cut, box, names;"
        "print(names(tuple(a_cut(str(i), box(200 * i, 0, 90, 90)) for i in range(8))));"
        "assert 'numba' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
