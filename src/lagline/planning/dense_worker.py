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
import contextlib
import json
import math
import sys
import threading
import time
from typing import Any

LOOK_S = 0.1
STALE_S, STALE_SHARE = 2.0, 0.3  # nothing better for so long, and for that share of the time, is a while
TELL_S = 1.0  # no two answers nearer than this, but for the last


def say(what: dict[str, Any]) -> None:
    """Write one line and send it off."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


class Watch:
    """Listens to the solver from a thread of its own, tells of better answers, and ends the search in time.

    A search that has found nothing better for a while is ended as well, where there is time for another as long as it
    took to its best: begun afresh, small tasks often come out of a corner that they cannot leave.
    """

    def __init__(self, feasible: tuple[Any, ...], seconds: float, enough: float):
        self.feasible, self.enough = feasible, enough
        self.began = time.monotonic()
        self.until = self.began + seconds
        self.stale_s = max(STALE_S, STALE_SHARE * seconds)
        self.queue: Any = None
        self.best: Any = None
        self.here = math.inf  # shortest of this search, and when it was found
        self.here_at = self.began
        self.afresh = False
        self.told = -math.inf
        self.done = threading.Event()
        self.thread = threading.Thread(target=self._run)
        self.thread.start()

    def begin(self, queue: Any) -> float:
        """Listen to another search; return the seconds left for it."""
        self.began = self.here_at = time.monotonic()
        self.here, self.afresh, self.queue = math.inf, False, queue
        return self.until - self.began

    def take(self, solution: Any) -> None:
        """Keep a solution that is shorter than those before it."""
        if solution.width < self.here:
            self.here, self.here_at = solution.width, time.monotonic()
        if self.best is None or solution.width < self.best.width:
            self.best = solution

    def look(self) -> None:
        """Take what the solver has reported."""
        for kind, solution in self.queue.drain() if self.queue is not None else ():
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
            idle, took = now - self.here_at, self.here_at - self.began
            if not self.afresh and idle > self.stale_s and self.until - now > max(took, 1.0):
                self.afresh = True
                _thread.interrupt_main()

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
    kinds = spyrrow.ReportType
    enough = float(task.get("enough", 0.0))
    watch = Watch((kinds.ExplFeas, kinds.CmprFeas, kinds.Final), float(task["seconds"]), enough)
    seed = task["seed"]
    try:
        while True:
            queue = spyrrow.ProgressQueue()
            whole = max(1, math.ceil(watch.begin(queue)))
            with contextlib.suppress(KeyboardInterrupt):  # from the watch, or from who started this
                watch.take(strip.solve(_config(whole, seed, enough), queue))
            if not watch.afresh:
                break
            seed += 1
    finally:
        _surely(watch.end)
    _surely(watch.look)
    return {**answer(watch.best), "last": True} if watch.best is not None else {"placed": [], "last": True}


def _config(seconds: int, seed: int, enough: float) -> Any:
    import spyrrow

    if enough:  # the last fifth of the time, which only shortens what there is, is of no use
        return spyrrow.StripPackingConfig(
            early_termination=True, seed=seed, total_computation_time=None, exploration_time=seconds, compression_time=1
        )
    return spyrrow.StripPackingConfig(early_termination=True, seed=seed, total_computation_time=seconds)


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
