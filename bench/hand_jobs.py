"""The chosen plan against dense placement cut nearest-next, on generated hand jobs; run by bench/run.py or by itself.

Thirty seeded jobs as a bench gets them: straps, gussets, rings, flanges and free shapes in small numbers, on a whole
plate with or without an offcut. Minutes are the timetable's, metal is what ``planning/estimate.py`` charges (plate less
an offcut worth keeping), so both plans are judged alike.
"""

from __future__ import annotations

import random
import statistics
import sys
from dataclasses import dataclass, replace
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
JOBS = 30
DENSE_S = 2


def job_text(seed: int) -> str:
    """One job file, repeatable by seed."""
    r = random.Random(seed)
    t = r.choice([4.76, 6.35, 9.525, 12.7])

    def size(low: float, high: float) -> float:
        return round(r.uniform(low, high) / 5) * 5.0

    def edges() -> str:
        return r.choice(
            ['edges = { all = "free" }', 'edges = { all = "weld" }', 'edges = { all = "free", bottom = "fit" }']
        )

    def strap() -> str:
        long, wide = size(400, 1000), size(40, 120)
        hole = "" if r.random() < 0.5 else "\nhole = 14\nhole_from_end = 40"
        return f'shape = "strip"\nlength = {long}\nwidth = {wide}{hole}\n{edges()}'

    def plate() -> str:
        return f'shape = "rectangle"\nwidth = {size(120, 420)}\nheight = {size(90, 300)}\n{edges()}'

    def gusset() -> str:
        snipe = r.choice([0, 20, 25])
        return f'shape = "gusset"\nleg_across = {size(120, 260)}\nleg_up = {size(120, 260)}\nsnipe = {snipe}\n{edges()}'

    def ring() -> str:
        out = size(180, 420)
        return f'shape = "ring"\noutside = {out}\ninside = {round(out * r.uniform(0.45, 0.7))}'

    def free() -> str:
        out = size(260, 520)
        inside = round(out * r.uniform(0.4, 0.6))
        return f'shape = "sector"\noutside = {out}\ninside = {inside}\nangle = {r.choice([60, 90, 120, 180])}'

    mix = r.choice([(4, 2, 2, 1, 1), (2, 4, 2, 1, 1), (2, 2, 4, 1, 1), (1, 2, 2, 2, 3), (3, 3, 1, 0, 0)])
    kinds = r.choices((strap, plate, gusset, ring, free), weights=mix, k=r.randint(3, 6))
    parts = []
    for n, kind in enumerate(kinds, 1):
        tolerance = r.choice(["", "\ntolerance = 2", "\ntolerance = 3"])
        parts.append(f'[[parts]]\nname = "{kind.__name__} {n}"\nquantity = {r.randint(1, 5)}{tolerance}\n{kind()}\n')
    plates = ['[[plates]]\nname = "A"\nwidth = 2440\nheight = 1220\ndiagonals = [2728, 2728]\n']
    if r.random() < 0.5:
        w, h = size(500, 1100), size(400, 700)
        d = (w * w + h * h) ** 0.5
        plates.append(
            f'[[plates]]\nname = "R"\nkind = "offcut"\nwidth = {w}\nheight = {h}\ndiagonals = [{d:.1f}, {d:.1f}]\n'
        )
    return (
        f'name = "hand job {seed}"\nunits = "mm"\nseed = 1\nstock = {{ metal = "steel", thickness = {t} }}\n\n'
        + "\n".join((*parts, *plates))
    )


@dataclass(frozen=True, slots=True)
class Cut:
    """One plan: copies left over, bench minutes, set-ups, metal in money, all in money."""

    left_over: int
    minutes: float
    setups: int
    metal: float


@dataclass(frozen=True, slots=True)
class Pair:
    """A job planned both ways; ``alone`` is dense with every edge a set-up of its own."""

    seed: int
    parts: int
    chosen: Cut
    method: str
    dense: Cut
    alone: Cut


def run(seed: int, dense_s: int = DENSE_S) -> Pair:
    """Plan one job as lagline chooses, and densely with nearest-next order."""
    from lagline.planning.chain import plan
    from lagline.planning.choose_layout import laid_out
    from lagline.planning.cuts import make_cuts
    from lagline.planning.estimate import estimate
    from lagline.planning.intake import intake
    from lagline.planning.job_file import job_from_text
    from lagline.planning.kit_file import generic_kit
    from lagline.planning.settings import choose_settings

    job, _ = job_from_text(job_text(seed), Path(), "job.toml")
    kit = generic_kit()
    blanks, _ = intake(job)
    settings, _ = choose_settings(blanks, kit, None)
    made = plan(replace(job, layout="best"), kit)
    cost = estimate(job, kit, blanks, settings, made.layout, made.cuts)
    chosen = Cut(cost.left_over, made.timetable.total_s.value / 60, sum(not s.held for s in made.steps), cost.metal)
    dense = laid_out(job, kit, blanks, settings, "dense", seconds=dense_s)
    apart = make_cuts(blanks, job.plates, dense.layout, settings, kit, share=False)[0]
    both = []
    for cuts in (dense.cuts, apart):
        cost = estimate(job, kit, blanks, settings, dense.layout, cuts)
        minutes, setups = nearest_next(job, kit, blanks, settings, dense.layout, cuts)
        both.append(Cut(cost.left_over, minutes, setups, cost.metal))
    return Pair(seed, len(made.layout.placed), chosen, made.layout.method, *both)


def nearest_next(job, kit, blanks, settings, layout, cuts):  # type: ignore[no-untyped-def]
    """Minutes and set-ups when the nearest start allowed is always next."""
    import math

    from lagline.planning.steps import make_steps
    from lagline.planning.timetable import make_timetable

    todo, done, order = list(range(len(cuts))), set(), []
    here = (0.0, 0.0)
    while todo:
        free = [i for i in todo if set(cuts[i].after) <= done and cuts[i].plate == cuts[min(todo, key=lambda j:
                cuts[j].plate)].plate]  # fmt: skip
        best = min(
            ((math.dist(here, e.run_in[0] if e.run_in else (0.0, 0.0)), i, n) for i in free
             for n, e in enumerate(cuts[i].entries))
        )  # fmt: skip
        _, i, n = best
        order.append((i, n))
        done.add(cuts[i].id)
        todo.remove(i)
        entry = cuts[i].entries[n]
        here = entry.leave or (entry.run_in[-1] if entry.run_in else here)
    steps, _ = make_steps(cuts, tuple(order), blanks, job.plates, layout, settings, kit)
    timetable, _ = make_timetable(steps, settings, kit)
    return timetable.total_s.value / 60, sum(not s.held for s in steps)


def saved(a: float, b: float) -> float:
    """Share by which a is less than b."""
    return 1 - a / b if b else 0.0


def table(seeds: tuple[int, ...] = tuple(range(1, JOBS + 1)), dense_s: int = DENSE_S) -> list[str]:
    """Markdown rows, a line each job, and the distribution."""
    out = [
        "|job|parts|chosen|min|set-ups|metal|dense, nearest-next: min|set-ups|metal|minutes saved|metal more"
        "|minutes saved against every edge by itself|",
        "|-|-|-|-|-|-|-|-|-|-|-|-|",
    ]
    pairs = []
    for seed in seeds:
        p = run(seed, dense_s)
        pairs.append(p)
        c, d, a = p.chosen, p.dense, p.alone
        left = f" ({c.left_over} left over, dense {d.left_over})" if c.left_over or d.left_over else ""
        out.append(
            f"|{seed}{left}|{p.parts}|{p.method}|{c.minutes:.0f}|{c.setups}|{c.metal:.0f}|{d.minutes:.0f}|{d.setups}"
            f"|{d.metal:.0f}|{100 * saved(c.minutes, d.minutes):.0f} %|{100 * (c.metal / d.metal - 1):+.0f} %"
            f"|{100 * saved(c.minutes, a.minutes):.0f} %|"
        )
    less = sorted(100 * saved(p.chosen.minutes, p.dense.minutes) for p in pairs)
    alone = sorted(100 * saved(p.chosen.minutes, p.alone.minutes) for p in pairs)
    more = sorted(100 * (p.chosen.metal / p.dense.metal - 1) for p in pairs)
    out.append("")
    out += [_spread("minutes saved", less), _spread("minutes saved against every edge by itself", alone),
            _spread("metal more", more)]  # fmt: skip
    return out


def _spread(name: str, values: list[float]) -> str:
    low, high = values[len(values) // 10], values[-1 - len(values) // 10]
    return (
        f"- {name}: median {statistics.median(values):.0f} %, middle 80 % {low:.0f} to {high:.0f} %, worst to best "
        f"{values[0]:.0f} to {values[-1]:.0f} %"
    )


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else JOBS
    print("\n".join(table(tuple(range(1, count + 1)))))
