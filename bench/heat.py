"""The heat field timed, in seconds of one core: a whole plate, and the demo; called by bench/run.py, or by itself."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
WIDE, HIGH, CELL, THICK = 2400.0, 1200.0, 4.0, 6.0
REFERENCE_STEPS = 30


def whole_plate() -> tuple[float, int]:
    """Seconds and steps for ten minutes of cutting, six cuts of 1 m at 10 mm/s, kerfs opening, losses on."""
    import shapely

    from lagline.trade.heat_field import Field, Track
    from lagline.trade.heat_plate import loss_per_s

    begin = time.process_time()
    f = Field(shapely.box(0, 0, WIDE, HIGH), "steel", THICK, CELL, loss_per_s("steel", THICK))
    for k in range(6):
        f.cut(Track(((100.0, 100.0 + 100 * k), (1100.0, 100.0 + 100 * k)), 10.0, 100.0))
    return time.process_time() - begin, f.steps


def reference() -> float:
    """Seconds the same plate and time take by Crank-Nicolson with a sparse factor, without kerfs: 30 steps of 0.4 s and
    the one factor (every kerf that opens would want another)."""
    import numpy as np
    import scipy.sparse as sp
    from scipy.sparse.linalg import splu

    from lagline.trade.heat_plate import warm

    rows, columns = round(HIGH / CELL), round(WIDE / CELL)

    def line(n: int) -> sp.csr_matrix:
        d = -2 * np.ones(n)
        d[[0, -1]] = -1
        return sp.diags_array([np.ones(n - 1), d, np.ones(n - 1)], offsets=[-1, 0, 1])

    grid = sp.kron(sp.eye(rows), line(columns)) + sp.kron(line(rows), sp.eye(columns))
    grid = grid * (warm("steel").diffusivity_mm2_s / CELL**2)
    dt, eye = CELL / 10.0, sp.eye(rows * columns)
    rise = np.zeros(rows * columns)
    begin = time.process_time()
    solve = splu((eye / dt - grid / 2).tocsc())
    factored = time.process_time() - begin
    forward = (eye / dt + grid / 2).tocsr()
    begin = time.process_time()
    for n in range(REFERENCE_STEPS):
        rise[n + columns * 25] += 100.0
        rise = solve.solve(forward @ rise)
    return factored + (time.process_time() - begin) / REFERENCE_STEPS * 600 / dt


def demo() -> tuple[float, str]:
    """Seconds for the heat of the demo plan, and what it took."""
    from lagline.desk.demo import write_demo
    from lagline.desk.planner import plan_files
    from lagline.planning.heat import heat_of

    with tempfile.TemporaryDirectory() as folder:
        write_demo(Path(folder))
        plan = plan_files(Path(folder) / "job.toml")
    heat_of(plan, most_work=1e7)
    begin = time.process_time()
    heats = heat_of(plan, frames=12)
    spent = time.process_time() - begin
    squares = ", ".join(f"{h.cell_mm:.1f}" for h in heats)
    return spent, f"{plan.timetable.total_s.value / 3600:.1f} h at the bench; squares of {squares} mm"


def main() -> None:
    """Print the figures."""
    whole_plate()
    (ours, steps), theirs = min(whole_plate() for _ in range(3)), reference()
    print(f"2.4 x 1.2 m at 4 mm, ten minutes of cutting: {ours:.2f} s in {steps} steps; sparse factor {theirs:.0f} s")
    spent, note = demo()
    print(f"demo: {spent:.2f} s; {note}")


if __name__ == "__main__":
    main()
