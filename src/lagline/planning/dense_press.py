"""Talk with the solver's process: give it a task, hear its answers as they come, and outlive whatever it does."""

from __future__ import annotations

import json
import math
import os
import selectors
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from typing import Any

WORKER: tuple[str, ...] = (sys.executable, "-m", "lagline.planning.dense_worker")
OVERTIME_S = 10.0  # after its seconds and half as much again, the worker is killed
AFTER_STOP_S = 2.0  # how long it may take to answer once it is asked to stop
MOST_BYTES = 1 << 26  # of one line; an answer for ten thousand copies is under a megabyte
Row = tuple[int, float, float, float]  # part, angle [deg], shift along and across the strip [mm]


class SolverFault(Exception):
    """The worker gave no usable answer; the message says how it ended."""


def press(
    task: dict[str, Any],
    progress: Callable[[float], None],
    cancelled: Callable[[], bool],
    heard: Callable[[list[Row]], None] = lambda _rows: None,
) -> tuple[list[Row], str]:
    """Run the worker on a task.

    Parameters
    ----------
    task : see the worker
    progress : told the share of its seconds gone by
    cancelled : asked several times a second; once true, the worker is asked for the best so far
    heard : given each better answer as it comes, unchecked, no more than one a second

    Returns
    -------
    The best answer, and how the worker ended when it did not end well ("" when it did).

    Errors: SolverFault when there is no answer at all.
    """
    began, seconds = time.monotonic(), float(task["seconds"])
    limit = began + 1.5 * seconds + OVERTIME_S
    ear = _Ear(heard)
    trouble, asked = "", False
    with tempfile.TemporaryFile() as given:
        given.write(json.dumps(task).encode())
        given.seek(0)
        worker = subprocess.Popen(WORKER, stdin=given, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert worker.stdout is not None
    try:
        with selectors.DefaultSelector() as ready:
            ready.register(worker.stdout, selectors.EVENT_READ)
            while True:
                now = time.monotonic()
                if now > limit:
                    raise SolverFault("it did not answer in time and was stopped")
                if not asked and cancelled():
                    asked, limit = True, min(limit, now + AFTER_STOP_S)
                    if os.name == "posix":
                        worker.send_signal(signal.SIGINT)
                progress(min(0.99, (now - began) / seconds))
                if not ready.select(0.1):
                    continue
                data = os.read(worker.stdout.fileno(), 1 << 16)
                if not data:
                    break
                ear.hear(data)
        if not ear.over:
            raise SolverFault("it ended without an answer")
    except SolverFault as fault:
        if ear.rows is None:
            raise
        trouble = str(fault)
    finally:
        worker.kill()
        worker.wait()
        worker.stdout.close()
    return ear.rows or [], trouble


class _Ear:
    """What the worker has said so far."""

    def __init__(self, heard: Callable[[list[Row]], None]):
        self.heard = heard
        self.rows: list[Row] | None = None
        self.over = False
        self.buffer = b""

    def hear(self, data: bytes) -> None:
        """Take in what came; SolverFault when it cannot be understood."""
        *lines, self.buffer = (self.buffer + data).split(b"\n")
        if len(self.buffer) > MOST_BYTES:
            raise SolverFault("its answer could not be read")
        for line in lines:
            try:
                said = json.loads(line)
                error, placed, last = said.get("error"), said.get("placed"), bool(said.get("last"))
                rows = None if placed is None else [(int(i), float(a), float(x), float(y)) for i, a, x, y in placed]
            except (ValueError, TypeError, AttributeError, OverflowError, RecursionError) as fault:
                raise SolverFault("its answer could not be read") from fault
            if error is not None:
                raise SolverFault(f"it stopped with: {str(error)[:200]}")
            if rows is not None:
                self.rows = [r for r in rows if all(map(math.isfinite, r))]
                self.over = last
                if not last:
                    self.heard(self.rows)
