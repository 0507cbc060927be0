"""The pressing of parts along a strip, in a process of its own: ``python -m lagline.planning.dense_worker``.

Reads one JSON object on standard input: ``height`` [mm], ``seconds``, ``seed``, ``items`` (``id``, ``shape`` as
vertices, ``demand``, ``angles`` [deg]). Writes JSON lines: ``{"length": mm}`` whenever a shorter strip was found, at
the end ``{"placed": [[id, angle, x, y], ...]}`` or ``{"error": text}``. An interrupt ends it with the best so far.

A process of its own because the solver stops the whole interpreter on input it does not like, and can only be
interrupted from outside.
"""

from __future__ import annotations

import contextlib
import json
import sys
import threading
from typing import Any

LOOK_S = 0.2


def say(what: dict[str, Any]) -> None:
    """Write one line and send it off."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


def rows(solution: Any) -> list[list[Any]]:
    """Return the places of a solution as plain rows."""
    return [[p.id, p.rotation, p.translation[0], p.translation[1]] for p in solution.placed_items]


def solve(task: dict[str, Any]) -> list[list[Any]]:
    """Press the items of a task together; return id, angle [deg] and shift [mm] of each copy."""
    import spyrrow

    items = [
        spyrrow.Item(i["id"], [tuple(p) for p in i["shape"]], demand=i["demand"], allowed_orientations=i["angles"])
        for i in task["items"]
    ]
    strip = spyrrow.StripPackingInstance("strip", strip_height=task["height"], items=items)
    config = spyrrow.StripPackingConfig(
        early_termination=True, total_computation_time=max(1, int(task["seconds"])), seed=task["seed"]
    )
    queue, done = spyrrow.ProgressQueue(), threading.Event()
    best: list[list[Any]] = []
    feasible = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final)

    def watch() -> None:
        shortest = float("inf")
        while not done.wait(LOOK_S):
            for kind, solution in queue.drain():
                if kind in feasible and solution.width < shortest:
                    shortest = solution.width
                    best[:] = rows(solution)
                    say({"length": shortest})

    watcher = threading.Thread(target=watch)  # joined below: a thread left behind brings the solver down
    watcher.start()
    final: list[list[Any]] = []
    try:
        with contextlib.suppress(KeyboardInterrupt):
            final = rows(strip.solve(config, queue))
    finally:
        done.set()
        watcher.join()
    return final or best


def main() -> int:
    """Run one task; return the exit status."""
    try:
        say({"placed": solve(json.load(sys.stdin))})
    except BaseException as fault:  # noqa: BLE001 the solver's own faults are not Exceptions
        say({"error": f"{type(fault).__name__}: {fault}"})
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
