"""`make bench`: what lagline computes, timed beside a reference in the same run. Ratios travel better than seconds."""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))


def timed(work: Callable[[], object], runs: int = 5) -> float:
    """Median seconds of several runs after one not counted."""
    work()
    spent = []
    for _ in range(runs):
        begin = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begin)
    return statistics.median(spent)


def row(name: str, ours: float, unit: str, reference: str = "", theirs: float | None = None, note: str = "") -> None:
    ratio = "" if theirs is None else f"{ours / theirs:8.2f}"
    ref = "" if theirs is None else f"{theirs:10.4f}"
    print(
        f"{name:44} {ours:10.4f} {unit:6} {ref:>10} {ratio:>8}  {reference}{'; ' if note and reference else ''}{note}"
    )


def start_up() -> None:
    command = [str(Path(sys.executable).with_name("lagline")), "--help"]
    bare = [sys.executable, "-c", "import typer"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    row(
        "lagline --help", timed(lambda: subprocess.run(command, **quiet, check=True)), "s",
        "python importing typer alone", timed(lambda: subprocess.run(bare, **quiet, check=True)),
    )  # fmt: skip


def demo_plan() -> None:
    from lagline.desk.demo import write_demo
    from lagline.desk.planner import plan_files, plan_outputs

    with tempfile.TemporaryDirectory() as folder:
        write_demo(Path(folder))
        job = Path(folder) / "job.toml"
        stages: dict[str, float] = {}
        mark = [time.perf_counter(), ""]

        def tell(p: object) -> None:
            now = time.perf_counter()
            stages[mark[1]] = stages.get(mark[1], 0.0) + now - mark[0]
            mark[:] = [now, p.stage]  # type: ignore[attr-defined]

        plan_files(job)
        begin = time.perf_counter()
        mark[:] = [begin, "reading the files"]
        plan = plan_files(job, tell=tell)
        row("demo job planned", time.perf_counter() - begin, "s", note=f"{len(plan.layout.placed)} parts, "
            f"{len(plan.cuts)} cuts, {len(plan.steps)} set-ups")  # fmt: skip
        for stage, spent in stages.items():
            if spent > 0.005:
                row(f"  {stage}", spent, "s")
        begin = time.perf_counter()
        files, _ = plan_outputs(plan)
        row("demo card, templates, pictures, DXF, JSON", time.perf_counter() - begin, "s",
            note=f"{sum(map(len, files.values())) / 1e6:.1f} MB")  # fmt: skip
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    row("peak memory so far", peak, "MB", "limit", 600.0)


def offsets() -> None:
    import math

    from lagline.records.geometry import Line, Loop
    from lagline.shapes.offset import grow
    from lagline.shapes.region import loop_polygon

    n = 200
    radii = [100 + 8 * math.sin(5 * 2 * math.pi * i / n) for i in range(n)]
    pts = [(r * math.cos(2 * math.pi * i / n), r * math.sin(2 * math.pi * i / n)) for i, r in enumerate(radii)]
    lines = tuple(Line(a, b) for a, b in zip(pts, pts[1:] + pts[:1], strict=True))
    loop = Loop(lines, tuple(f"e{i}" for i in range(n)))
    polygon = loop_polygon(loop)
    row(
        "offset of 200 edges, edges kept apart", timed(lambda: grow(loop, (0.8,) * n)), "s",
        "shapely buffer (edges not kept)", timed(lambda: polygon.buffer(0.8, join_style="mitre")),
    )  # fmt: skip


def drawing() -> None:
    import io

    import ezdxf

    from lagline.shapes.read import read_drawing

    doc = ezdxf.new(units=4)
    msp = doc.modelspace()
    for i in range(1250):
        x, y = 30 * (i % 50), 30 * (i // 50)
        for a, b in (((x, y), (x + 20, y)), ((x + 20, y), (x + 20, y + 20)), ((x + 20, y + 20), (x, y + 20)),
                     ((x, y + 20), (x, y))):  # fmt: skip
            msp.add_line(a, b)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.dxf"
        doc.saveas(path)
        text = path.read_text()
        row(
            "DXF of 5,000 lines read, joined, nested", timed(lambda: read_drawing(path), 3), "s",
            "ezdxf reading it alone", timed(lambda: ezdxf.read(io.StringIO(text)), 3),
        )  # fmt: skip


def layout() -> None:
    from lagline.planning.layout import lay_out
    from tests.generate import random_blanks, rectangle_plate

    for n in (10, 60, 200):
        blanks = random_blanks(5, n)
        plates = (rectangle_plate("A", 6000.0, 2000.0),)
        row(f"quick layout, {n} kinds of part", timed(partial(lay_out, blanks, plates, 12.0, seed=1), 3), "s")


def order() -> None:
    from bench import order as orders

    for method in ("quick", "guided"):
        found = orders.demo(method)
        note = f"{found.cuts} cuts, {found.rounds} orders tried; cuts in loose metal {found.slips}, " \
            f"{found.careless} when not looked for"  # fmt: skip
        row(f"demo order, {method}: walk between cuts", found.walk_m, "m", "as placed", found.placed_m)
        row(f"demo order, {method}", found.spent_s, "s", note=note)
    orders.order()


def pace() -> None:
    from lagline.planning.kit_file import generic_kit
    from lagline.planning.settings import choose_settings
    from tests.generate import random_blanks

    blanks = random_blanks(1, 1)
    kit = generic_kit()
    row("settings of one stock (current, pace, spreads)", timed(lambda: choose_settings(blanks, kit, None)), "s")


def first_answer() -> None:
    """From the click that plans the demo to the page, and to the first picture of the layout on it."""
    import os

    from fastapi.testclient import TestClient

    from lagline.desk.plan_room import warm_up
    from lagline.web.app import create_app

    with tempfile.TemporaryDirectory() as folder:
        os.environ["LAGLINE_HOME"] = folder
        warm_up()
        with TestClient(create_app(Path(folder)), base_url="http://127.0.0.1:8770") as page:
            begin = time.perf_counter()
            answer = page.post("/demo", headers={"Origin": "http://127.0.0.1:8770"})
            row("page: click to first answer", time.perf_counter() - begin, "s", "wanted", 1.0)
            while "<svg" not in answer.text and time.perf_counter() - begin < 30:
                time.sleep(0.05)
                answer = page.get(answer.url)
            row("page: click to first layout picture", time.perf_counter() - begin, "s", "wanted", 1.0)


def first_look() -> None:
    """Sixty mixed parts posted to the page; ``python bench/first_look.py`` does it for every way to lay them out."""
    from bench.first_look import looks

    for layout, seen in looks(("quick", "guided")).items():
        row(f"page: 60 mixed parts, {layout}, to first picture", seen.picture_s, "s", "wanted", 1.0,
            f"answer {seen.answer_s:.2f} s, plan {seen.plan_s:.1f} s")  # fmt: skip


def coupons() -> None:
    from bench.coupon import coupon

    coupon()


def nesting() -> None:
    """One short run a set; ``python bench/nesting.py`` takes longer and gives medians."""
    from bench.nesting import pressed_offcuts, table

    table(5, 1)
    pressed_offcuts(5)


def hands() -> None:
    """Three of the thirty; ``python bench/hand_jobs.py`` runs them all."""
    from bench.hand_jobs import run

    for p in (run(seed) for seed in (1, 2, 3)):
        row(f"hand job {p.seed}, chosen plan at the bench", p.chosen.minutes, "min", "dense, nearest-next",
            p.dense.minutes, f"metal {p.chosen.metal:.0f} and {p.dense.metal:.0f}")  # fmt: skip


def setouts() -> None:
    """A saddle beside a root search on the two surfaces for the same marks, and every example with its sheet."""
    from scipy.optimize import brentq

    from lagline.desk import setout_desk
    from lagline.planning.kit_file import generic_kit
    from lagline.setouts.families import FAMILIES, asks

    kit = (generic_kit(), ())
    asked = {"header_diameter": "323.8 mm", "branch_diameter": "202.74 mm", "angle": "60", "marks": "32"}

    def searched() -> float:
        import math

        far, c, s = 0.0, math.cos(math.radians(60)), math.sin(math.radians(60))
        for n in range(32):
            y, x = 101.37 * math.sin(n * math.pi / 16), 101.37 * math.cos(n * math.pi / 16)
            # along a generator of the branch: how far until the header's skin is met
            far += brentq(lambda w, x=x, y=y: (w * s + x * c) ** 2 + y * y - 161.9**2, 0, 1000)
        return far

    row(
        "saddle, 32 marks, with wrap and picture",
        timed(lambda: setout_desk.answer("pipe", "saddle", asked, kit=kit)), "s",
        "root search of the 32 marks alone", timed(searched),
    )  # fmt: skip
    everything = [a for name in FAMILIES for a in asks(name)]

    def answered() -> list[object]:
        return [setout_desk.answer(a.family, a.name, dict(a.example), kit=kit) for a in everything]

    def printed() -> list[object]:
        return [setout_desk.sheet_pdf(s, "in", "letter") for s in answered()]  # type: ignore[arg-type]

    row(f"answers of all {len(everything)} set-outs", timed(answered, 2), "s", "the same with printed sheets",
        timed(printed, 1))  # fmt: skip


def heat() -> None:
    from bench.heat import demo as heat_demo
    from bench.heat import reference, whole_plate

    whole_plate()
    ours, steps = min(whole_plate() for _ in range(3))
    row("heat: 2.4 x 1.2 m at 4 mm, 10 min of cutting", ours, "s core", "sparse Crank-Nicolson, no kerfs", reference(),
        f"{steps} steps")  # fmt: skip
    spent, note = heat_demo()
    row("heat of the demo plan, 12 moments", spent, "s core", "wanted", 2.0, note)


def main() -> None:
    print(f"{'what':44} {'lagline':>10} {'':6} {'reference':>10} {'ratio':>8}  reference, note")
    for part in (start_up, demo_plan, offsets, drawing, layout, order, pace, first_answer, first_look, coupons, nesting,
                 hands, setouts, heat):  # fmt: skip
        part()


if __name__ == "__main__":
    main()
