"""The pressing of parts along a strip, in a process of its own: ``python -m lagline.planning.dense_worker``.

Reads one JSON object on standard input: ``height`` [mm], ``seconds``, ``seed``, ``items`` (``id``, ``shape`` as
vertices, ``demand``, ``angles`` [deg]) and perhaps ``enough``, a length [mm] that ends the search once reached.
Writes JSON lines ``{"placed": [[id, angle, x, y], ...], "length": mm}``: a better one as it is found, no more than
one a second, and at the end the best with ``"last": true``; or ``{"error": text}``. An interrupt ends it with the
best so far.

A process of its own because the solver stops the whole interpreter on input it does not like, and can only be
interrupted from outside the call.
"""

from __future__ import annotations

import _thread
import json
import math
import sys
import threading
import time
from typing import Any

LOOK_S = 0.1
TELL_S = 1.0  # no two answers nearer than this, but for the last


def say(what: dict[str, Any]) -> None:
    """Write one line and send it off."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


class Watch:
    """Listens to the solver from a thread of its own, tells of better answers, and ends the search in time."""

    def __init__(self, queue: Any, feasible: tuple[Any, ...], seconds: float, enough: float):
        self.queue, self.feasible, self.enough = queue, feasible, enough
        self.until = time.monotonic() + seconds
        self.best: Any = None
        self.told = -math.inf
        self.done = threading.Event()
        self.thread = threading.Thread(target=self._run)
        self.thread.start()

    def take(self, solution: Any) -> None:
        """Keep a solution that is shorter than those before it."""
        if self.best is None or solution.width < self.best.width:
            self.best = solution

    def look(self) -> None:
        """Take what the solver has reported."""
        for kind, solution in self.queue.drain():
            if kind in self.feasible:
                self.take(solution)

    def _run(self) -> None:
        said = None
        while not self.done.wait(LOOK_S):
            self.look()
            now = time.monotonic()
            if self.best is not said and now - self.told >= TELL_S:
                said, self.told = self.best, now
                say(answer(said))
            if now > self.until or (self.best is not None and self.best.width <= self.enough):
                _thread.interrupt_main()
                return

    def end(self) -> None:
        """Stop listening; a thread left behind brings the solver down."""
        self.done.set()
        self.thread.join()


def answer(solution: Any) -> dict[str, Any]:
    """Return the places of a solution as plain rows."""
    rows = [[p.id, p.rotation, p.translation[0], p.translation[1]] for p in solution.placed_items]
    return {"placed": rows, "length": solution.width}


def solve(task: dict[str, Any]) -> dict[str, Any]:
    """Press the items of a task together; return id, angle [deg] and shift [mm] of each copy."""
    import spyrrow

    items = [
        spyrrow.Item(i["id"], [tuple(p) for p in i["shape"]], demand=i["demand"], allowed_orientations=i["angles"])
        for i in task["items"]
    ]
    strip = spyrrow.StripPackingInstance("strip", strip_height=task["height"], items=items)
    seconds, enough = float(task["seconds"]), float(task.get("enough", 0.0))
    whole = max(1, math.ceil(seconds))
    # where a length is enough there is nothing to gain from the solver's last fifth, which only shortens what it has
    times: dict[str, Any] = {"total_computation_time": whole}
    if enough:
        times = {"total_computation_time": None, "exploration_time": whole, "compression_time": 1}
    config = spyrrow.StripPackingConfig(early_termination=True, seed=task["seed"], **times)
    queue = spyrrow.ProgressQueue()
    kinds = spyrrow.ReportType
    watch = Watch(queue, (kinds.ExplFeas, kinds.CmprFeas, kinds.Final), seconds, enough)
    try:
        watch.take(strip.solve(config, queue))
    except KeyboardInterrupt:
        pass  # from the watch, or from who started this: the best so far is wanted
    finally:
        _surely(watch.end)
    _surely(watch.look)
    return {**answer(watch.best), "last": True} if watch.best is not None else {"placed": [], "last": True}


def _surely(work: Any) -> None:
    """Do it, even where an interrupt comes late."""
    try:
        work()
    except KeyboardInterrupt:
        work()


def main() -> int:
    """Run one task; return the exit status."""
    try:
        say(solve(json.load(sys.stdin)))
    except BaseException as fault:  # noqa: BLE001 the solver's own faults are not Exceptions
        say({"error": f"{type(fault).__name__}: {fault}"})
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
