"""Dense layout: bounds only, since the solver's answer follows the clock; and every way the worker can fail."""

from __future__ import annotations

import itertools
import json
import sys
import time
from collections import Counter
from functools import cache

import pytest

from lagline.planning import dense_press
from lagline.planning.dense_task import FRAME, proposals, strip_task
from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.planning.layout_dense import dense
from lagline.planning.layout_fill import Filling, Spot
from lagline.planning.layout_quick import measure, quick
from lagline.planning.layout_shapes import lies
from lagline.records.geometry import Outline
from lagline.records.job import Plate
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import polygon
from tests.generate import blank, circle, polygon_loop, random_blanks, rectangle_blank, rectangle_plate

BLANKS = random_blanks(3, 6, low_mm=80, high_mm=300, kinds=("gusset", "ell", "cheek"))
PLATES = (rectangle_plate("A", 1200, 600, margin_mm=8),)
WAYS = {k: lies(k, b) for k, b in enumerate(BLANKS)}
COPIES = [k for k, b in enumerate(BLANKS) for _ in range(b.part.quantity)]


@cache
def quick_layout() -> Layout:
    return lay_out(BLANKS, PLATES, 4.0, seed=1)


def never() -> bool:
    return False


@cache
def quick_start(*plates: Plate) -> tuple[list[Filling], list[int]]:
    on = list(enumerate(plates or PLATES))
    return quick(WAYS, COPIES, on, 4.0, seed=1, progress=lambda share, text: None, cancelled=never)


def length_used(layout: Layout, blanks: tuple[Blank, ...], axis: int = 0) -> float:
    return max(polygon(p.move.outline(blanks[p.part].cut)).bounds[2 + axis] for p in layout.placed)


@pytest.mark.parametrize(("w", "h", "axis"), [(1200.0, 600.0, 0), (600.0, 1200.0, 1)])
def test_dense_holds_and_is_never_worse_than_quick(w: float, h: float, axis: int) -> None:
    plates = (rectangle_plate("A", w, h, margin_mm=8),)
    quick_one = lay_out(BLANKS, plates, 4.0, seed=1)
    dense_one = lay_out(BLANKS, plates, 4.0, seed=1, method="dense", seconds=1)
    assert check_layout(dense_one, BLANKS, plates) == ()
    assert dense_one.unplaced == quick_one.unplaced == ()
    assert length_used(dense_one, BLANKS, axis) <= length_used(quick_one, BLANKS, axis) + 1e-6
    assert dense_one.method == "dense"


def test_the_worker_places_every_copy_it_is_offered() -> None:
    wedge = Outline(polygon_loop([(0, 0), (190, 0), (95, 280)]))
    ways = {0: lies(0, blank("wedge", wedge, 9, turns_deg=(0.0, 90.0, 180.0, 270.0)))}
    filling = Filling(0, rectangle_plate("A", 300, 2000), 3.0, {})
    shares: list[float] = []
    task = strip_task(ways, [0] * 9, filling, 3.0, 1, 1)
    rows, trouble = dense_press.press(task, shares.append, never)
    assert trouble == ""
    assert sorted(r[0] for r in rows) == [FRAME] + [0] * 9
    assert shares == sorted(shares)
    spots = proposals(rows, ways, filling, Counter({0: 9}), task)
    filling.limits = (0.0, 0.0, 301.0, 2000.0)  # the strip is a little higher than the plate
    for spot in spots:
        assert filling.clear(spot.lie, spot.x, spot.y)
        filling.put(spot)
    # nine wedges of 95 mean width cannot lie in less; pressed together they need less than half as much again
    assert 9 * 95 < filling.used < 9 * 95 * 1.5


def test_exact_fit_across_the_plate_survives_the_solver() -> None:
    blanks = (rectangle_blank("square", 100, 100, 6),)
    plates = (rectangle_plate("A", 500, 205, margin_mm=0),)
    layout = lay_out(blanks, plates, 5.0, seed=1, method="dense", seconds=1)
    assert check_layout(layout, blanks, plates) == ()
    assert length_used(layout, blanks) == pytest.approx(310, abs=0.05)


@pytest.mark.parametrize("tall", [False, True])
def test_the_block_may_stand_at_either_end_or_between(tall: bool) -> None:
    square = rectangle_blank("square", 100, 100, 3)
    ways = {0: lies(0, square)}
    filling = Filling(0, rectangle_plate("A", *((120, 900) if tall else (900, 120))), 4.0, {})
    task = strip_task(ways, [0] * 3, filling, 4.0, 1, 1)
    edge, length, higher = task["block"]
    turn = 270.0 if tall else 0.0
    origin = (0.0, 100.0) if tall else (0.0, 0.0)  # a square turned so has its own corner that far up
    for before in range(4):
        rows = [(FRAME, 0.0, before * 110.0 + edge + length, edge)]
        for n in range(3):
            along = edge + n * 110.0 + (0.0 if n < before else length)
            rows.append((0, turn, along + origin[0], edge + origin[1]))
        spots = proposals(rows, ways, filling, Counter({0: 3}), task)
        found = [(s.y, s.x) if tall else (s.x, s.y) for s in spots]
        across = 20.0 + higher if tall else 0.0  # a tall plate is pressed from its right edge
        assert found == [pytest.approx((n * 110.0, across), abs=1e-6) for n in range(3)]


@pytest.mark.parametrize("gap", [0.0, 5.0])
def test_a_round_part_just_as_high_as_the_plate_does_not_stop_the_solver(gap: float) -> None:
    disc = blank("disc", Outline(circle((0, 0), 150, "rim")), 2)
    plates = (rectangle_plate("A", 900, 300),)
    layout = lay_out((disc, rectangle_blank("strap", 100, 40)), plates, gap, seed=1, method="dense", seconds=1)
    assert check_layout(layout, (disc, rectangle_blank("strap", 100, 40)), plates) == ()
    assert (layout.unplaced, layout.findings) == ((), ())


PRINT = "import json, time; p = lambda **k: print(json.dumps(k), flush=True); "
AWAY = "[['0', 0.0, 1e9, 5.0], ['77', 0.0, 0.0, 0.0], ['-1', 0.0, 0.0, 0.0]]"


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("import os; os.abort()", "without an answer"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", "without an answer"),
        ("", "without an answer"),
        ("print('not json')", "could not be read"),
        ("print('[1, 2]')", "could not be read"),
        ("print(b'\\xff\\xfe'.decode('latin1'))", "could not be read"),
        ("import sys; sys.stdout.buffer.write(bytes(range(256)) * 99)", "could not be read"),
        ("import sys; sys.stdout.buffer.write(bytes(range(128, 256)) * 999)", "without an answer"),
        (PRINT + "p(placed=[[1, 2]])", "could not be read"),
        (PRINT + "p(placed=[['x', 0, 0, 0]])", "could not be read"),
        (PRINT + "p(placed=7)", "could not be read"),
        (PRINT + 'p(error="broken")', "broken"),
        ("import time; time.sleep(60)", "in time"),
        ("import signal, time; signal.signal(signal.SIGINT, signal.SIG_IGN); time.sleep(60)", "in time"),
        (PRINT + f"p(placed={AWAY}); time.sleep(60)", "in time"),
        (PRINT + f"p(placed={AWAY}); p(error='then broken')", "then broken"),
        (PRINT + f"p(placed={AWAY}, last=True)", ""),
        (PRINT + "p(placed=[['0', float('nan'), float('inf'), 5.0]], last=True)", ""),
        (PRINT + "p(placed=[], last=True)", ""),
    ],
)
def test_a_worker_that_fails_costs_its_answer_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, code: str, says: str
) -> None:
    monkeypatch.setattr(dense_press, "WORKER", (sys.executable, "-c", code))
    monkeypatch.setattr(dense_press, "OVERTIME_S", -0.9 if "sleep" in code else 30.0)
    start = quick_start()
    before = [list(f.spots) for f in start[0]], list(start[1])
    done, left, findings = dense(
        WAYS, 4.0, start, seed=1, seconds=1, progress=lambda share, text: None, cancelled=never
    )
    assert ([list(f.spots) for f in done], left) == before
    messages = [f.message for f in findings if f.code == "layout-dense"]
    assert bool(messages) == bool(says)
    assert all(says in m for m in messages)


def test_what_a_worker_found_before_it_hung_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    # the real answer, told once and not as the last, then silence: it counts
    task = strip_task(WAYS, COPIES, Filling(0, PLATES[0], 4.0, {}), 4.0, 1, 1)
    rows, _ = dense_press.press(task, lambda share: None, never)
    said = json.dumps({"placed": rows})
    monkeypatch.setattr(
        dense_press, "WORKER", (sys.executable, "-c", f"print('{said}', flush=True); import time; time.sleep(60)")
    )
    monkeypatch.setattr(dense_press, "OVERTIME_S", -1.0)
    again, trouble = dense_press.press(task, lambda share: None, never)
    assert again == rows
    assert "in time" in trouble


def test_a_worker_that_cannot_be_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dense_press, "WORKER", ("/no/such/program",))
    layout = lay_out(BLANKS, PLATES, 4.0, seed=1, method="dense", seconds=1)
    assert layout.placed == quick_layout().placed
    assert "layout-dense" in [f.code for f in layout.findings]


def test_bad_input_to_the_solver_is_an_answer_not_a_crash() -> None:
    # a part taller than the strip stops the solver's interpreter; here it must come back as a fault
    task = {
        "height": 50.0,
        "seconds": 1,
        "seed": 1,
        "items": [{"id": "0", "shape": [[0, 0], [100, 0], [100, 100], [0, 100]], "demand": 1, "angles": [0.0]}],
    }
    with pytest.raises(dense_press.SolverFault):
        dense_press.press(task, lambda share: None, never)


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


def test_cancelled_leaves_the_best_so_far(monkeypatch: pytest.MonkeyPatch) -> None:
    # the worker answers once, well, and then goes on; stopping keeps what it answered
    task = strip_task(WAYS, COPIES, Filling(0, PLATES[0], 4.0, {}), 4.0, 1, 1)
    rows, _ = dense_press.press(task, lambda share: None, never)
    code = f"print('{json.dumps({'placed': rows})}', flush=True); import time; time.sleep(600)"
    monkeypatch.setattr(dense_press, "WORKER", (sys.executable, "-c", code))
    monkeypatch.setattr(dense_press, "AFTER_STOP_S", 0.3)
    heard: list[int] = []
    got, _ = dense_press.press(
        {**task, "seconds": 600}, lambda share: None, lambda: bool(heard), lambda some: heard.append(len(some))
    )
    assert got == rows


def test_better_layouts_are_shown_as_they_come_checked_and_ever_better(monkeypatch: pytest.MonkeyPatch) -> None:
    # a start that is easily beaten: the quick layout on a longer plate, moved half a metre from its datum end
    on = Filling(0, rectangle_plate("A", 1800, 600, margin_mm=8), 4.0, {})
    for spot in quick_start()[0][0].spots:
        on.put(Spot(spot.lie, spot.x + 500, spot.y))
    start = ([on], list(quick_start()[1]))
    area = {p: w[0].shape.area for p, w in WAYS.items()}
    marks = [measure(*start, area)]
    fillings: list[list[Filling]] = []
    when: list[float] = []

    def better(some: list[Filling], left: list[int]) -> None:
        when.append(time.monotonic())
        marks.append(measure(some, left, area))
        fillings.append(some)
        assert Counter(s.lie.part for f in some for s in f.spots) + Counter(left) == Counter(COPIES)

    done, left, findings = dense(
        WAYS, 4.0, start, seed=1, seconds=2, progress=lambda share, text: None, cancelled=never, better=better
    )
    assert fillings
    assert marks == sorted(marks, reverse=True)
    assert len(set(marks)) == len(marks)
    assert measure(done, left, area) <= marks[-1]
    assert all(b - a >= 1.0 for a, b in itertools.pairwise(when))
    for some in fillings:
        for f in some:
            alone = Filling(f.index, f.plate, 4.0, {})
            for s in f.spots:
                assert alone.clear(s.lie, s.x, s.y)
                alone.put(s)


def test_the_end_is_no_worse_than_what_was_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    # a good answer on the way, nothing usable at the end: the good one stands
    on = Filling(0, rectangle_plate("A", 1800, 600, margin_mm=8), 4.0, {})
    for spot in quick_start()[0][0].spots:
        on.put(Spot(spot.lie, spot.x + 500, spot.y))
    start = ([on], list(quick_start()[1]))
    rows, _ = dense_press.press(strip_task(WAYS, COPIES, on, 4.0, 1, 1), lambda share: None, never)
    code = f"{PRINT}p(placed={[list(r) for r in rows]}); time.sleep(0.5); p(placed=[[{FRAME}, 0, 0, 0]], last=True)"
    monkeypatch.setattr(dense_press, "WORKER", (sys.executable, "-c", code))
    shown: list[list[Spot]] = []
    done, left, _ = dense(
        WAYS, 4.0, start, seed=1, seconds=1, progress=lambda share, text: None, cancelled=never,
        better=lambda some, over: shown.append(list(some[0].spots)),
    )  # fmt: skip
    assert len(shown) == 1
    assert (done[0].spots, left) == (shown[0], [])


def test_a_worse_or_broken_answer_on_the_way_is_not_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    start = quick_start()
    heap = [[FRAME, 0.0, 0.0, 0.0], *([k, 0.0, 0.0, 0.0] for k in COPIES)]  # all on one spot
    code = f"{PRINT}p(placed={heap}); time.sleep(0.3); p(placed={heap}, last=True)"
    monkeypatch.setattr(dense_press, "WORKER", (sys.executable, "-c", code))
    shown: list[int] = []
    done, left, _ = dense(
        WAYS, 4.0, start, seed=1, seconds=1, progress=lambda share, text: None, cancelled=never,
        better=lambda some, over: shown.append(1),
    )  # fmt: skip
    assert shown == []
    assert (done, left) == start


def test_later_plates_keep_their_parts_while_the_first_is_pressed(monkeypatch: pytest.MonkeyPatch) -> None:
    # the first plate takes a part that the quick way put on the second: no copy may be shown twice or lost
    start = quick_start(rectangle_plate("A", 500, 400, margin_mm=8), rectangle_plate("B", 1200, 600, margin_mm=8))
    assert all(f.spots for f in start[0])
    shown: list[Counter[int]] = []

    def better(some: list[Filling], left: list[int]) -> None:
        shown.append(Counter(s.lie.part for f in some for s in f.spots) + Counter(left))

    done, left, _ = dense(
        WAYS, 4.0, start, seed=1, seconds=1, progress=lambda share, text: None, cancelled=never, better=better
    )
    assert Counter(s.lie.part for f in done for s in f.spots) + Counter(left) == Counter(COPIES)
    assert all(s == Counter(COPIES) for s in shown)
