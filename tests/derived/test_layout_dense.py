"""Dense layout: bounds only, since the solver's answer follows the clock; and every way the worker can fail."""

from __future__ import annotations

import sys
from collections import Counter
from functools import cache

import pytest

from lagline.planning import layout_dense
from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_fill import Filling
from lagline.planning.layout_shapes import lies
from lagline.records.geometry import Outline
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import polygon
from tests.generate import blank, polygon_loop, random_blanks, random_plate, rectangle_blank, rectangle_plate

BLANKS = random_blanks(3, 6, low_mm=80, high_mm=300, kinds=("gusset", "ell", "cheek"))
PLATES = (rectangle_plate("A", 1200, 600, margin_mm=8),)


@cache
def quick_layout() -> Layout:
    return lay_out(BLANKS, PLATES, 4.0, seed=1)


def length_used(layout: Layout, blanks: tuple[Blank, ...], axis: int = 0) -> float:
    return max(polygon(p.move.outline(blanks[p.part].cut)).bounds[2 + axis] for p in layout.placed)


@pytest.mark.parametrize(("w", "h", "axis"), [(1200.0, 600.0, 0), (600.0, 1200.0, 1)])
def test_dense_holds_and_is_never_worse_than_quick(w: float, h: float, axis: int) -> None:
    plates = (rectangle_plate("A", w, h, margin_mm=8),)
    quick = lay_out(BLANKS, plates, 4.0, seed=1)
    dense = lay_out(BLANKS, plates, 4.0, seed=1, method="dense", seconds=1)
    assert check_layout(dense, BLANKS, plates) == ()
    assert dense.unplaced == quick.unplaced == ()
    assert length_used(dense, BLANKS, axis) <= length_used(quick, BLANKS, axis) + 1e-6
    assert dense.method == "dense"


def test_the_worker_places_every_copy_it_is_offered() -> None:
    wedge = Outline(polygon_loop([(0, 0), (190, 0), (95, 280)]))
    blanks = (blank("wedge", wedge, 9, turns_deg=(0.0, 180.0)),)
    ways = {0: lies(0, blanks[0])}
    filling = Filling(0, rectangle_plate("A", 2000, 300), 3.0, {})
    shares: list[float] = []
    task = layout_dense.strip_task(ways, [0] * 9, filling, 3.0, 1, 1)
    rows = layout_dense.press(task, lambda share, text: shares.append(share), lambda: False, "pressing")
    assert [r[0] for r in rows] == [0] * 9
    assert {round(r[1]) % 360 for r in rows} <= {0, 180}
    assert shares == sorted(shares)
    spots = layout_dense.proposals(rows, ways, filling, 3.0, Counter({0: 9}))
    for spot in spots:
        assert filling.clear(spot.lie, spot.x, spot.y)
        filling.put(spot)
    # nine wedges of 95 mean width cannot lie in less; pressed together they need less than half as much again
    assert 9 * 95 < filling.used < 9 * 95 * 1.5


def test_exact_fit_across_the_plate_survives_the_solver() -> None:
    blanks = (rectangle_blank("square", 100, 100, 6),)
    plates = (rectangle_plate("A", 500, 205, margin_mm=0),)
    dense = lay_out(blanks, plates, 5.0, seed=1, method="dense", seconds=1)
    assert check_layout(dense, blanks, plates) == ()
    assert length_used(dense, blanks) == pytest.approx(310, abs=0.05)


def test_offcut_of_any_outline_is_laid_the_quick_way_and_says_so() -> None:
    plates = (next(p for p in map(random_plate, range(50)) if p.outline.holes),)
    quick = lay_out(BLANKS, plates, 4.0, seed=1)
    dense = lay_out(BLANKS, plates, 4.0, seed=1, method="dense", seconds=1)
    assert dense.placed == quick.placed
    assert "layout-dense" in [f.code for f in dense.findings]


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("import os; os.abort()", "without an answer"),
        ("print('not json')", "could not be read"),
        ("print('{\"placed\": [[1, 2]]}')", "could not be read"),
        ('print(\'{"error": "broken"}\')', "broken"),
        ("import time; time.sleep(60)", "in time"),
        ("import json; print(json.dumps({'placed': [['0', 0.0, 1e9, 5.0], ['77', 0.0, 0.0, 0.0]]}))", ""),
    ],
)
def test_a_worker_that_fails_costs_its_answer_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, code: str, says: str
) -> None:
    monkeypatch.setattr(layout_dense, "WORKER", (sys.executable, "-c", code))
    monkeypatch.setattr(layout_dense, "OVERTIME_S", -0.8)
    dense = lay_out(BLANKS, PLATES, 4.0, seed=1, method="dense", seconds=1)
    assert dense.placed == quick_layout().placed
    messages = [f.message for f in dense.findings if f.code == "layout-dense"]
    assert bool(messages) == bool(says)
    assert all(says in m for m in messages)


def test_a_worker_that_cannot_be_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout_dense, "WORKER", ("/no/such/program",))
    dense = lay_out(BLANKS, PLATES, 4.0, seed=1, method="dense", seconds=1)
    assert dense.placed == quick_layout().placed
    assert "layout-dense" in [f.code for f in dense.findings]


def test_bad_input_to_the_solver_is_an_answer_not_a_crash() -> None:
    # a part taller than the strip stops the solver's interpreter; here it must come back as a fault
    task = {
        "height": 50.0,
        "seconds": 1,
        "seed": 1,
        "items": [{"id": "0", "shape": [[0, 0], [100, 0], [100, 100], [0, 100]], "demand": 1, "angles": [0.0]}],
    }
    with pytest.raises(layout_dense.SolverFault):
        layout_dense.press(task, lambda share, text: None, lambda: False, "pressing")


def test_cancelled_while_pressing_returns_a_layout_soon() -> None:
    pressed: list[float] = []

    def progress(share: float, text: str) -> None:
        if text.startswith("pressing"):
            pressed.append(share)

    layout = lay_out(
        BLANKS,
        PLATES,
        4.0,
        seed=1,
        method="dense",
        seconds=600,
        progress=progress,
        cancelled=lambda: len(pressed) > 12,
    )
    assert check_layout(layout, BLANKS, PLATES) == ()
    assert layout.unplaced == ()
    assert "layout-stopped" in [f.code for f in layout.findings]
