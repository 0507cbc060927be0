"""Serving the pages on this computer."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import threading
from collections.abc import Callable
from pathlib import Path

import uvicorn

from lagline.desk.plan_room import warm_up
from lagline.records.errors import refuse
from lagline.web.app import create_app


class _Server(uvicorn.Server):
    """A server that says when it answers."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._ready()


def _socket(host: str, port: int) -> socket.socket:
    """Return a bound socket: on the port asked for, or on a free one when that is taken."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for wanted in (port, 0):
        s = socket.socket(family, socket.SOCK_STREAM)
        s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            s.bind((host, wanted))
            s.listen(128)
            return s
        except OSError as error:
            s.close()
            if wanted == 0:
                why = (error.strerror or "no reason given").lower()
                raise refuse("cannot-serve", f"{host}:{port}", f"cannot answer here: {why}", "127.0.0.1") from None
    raise AssertionError("unreachable")


def serve(folder: Path, port: int, host: str = "127.0.0.1", ready: Callable[[str], None] = lambda _: None) -> None:
    """Serve the shelf in a folder until stopped (Ctrl-C); ``ready`` is told the address once it answers.

    A port that is taken is replaced by a free one. Errors: LaglineError for a host beyond this computer (the pages
    have no password) or a port that cannot be used.
    """
    try:
        here = host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        here = False
    if not here:
        raise refuse("host-open", host, "the pages have no password and answer on this computer only", "127.0.0.1")
    if not 0 <= port <= 65535:
        raise refuse("port-bad", str(port), "is not a port", "0 to 65535; 0 takes a free one")
    s = _socket("127.0.0.1" if host == "localhost" else host, port)
    name, number = s.getsockname()[:2]
    address = f"http://{f'[{name}]' if ':' in name else name}:{number}/"
    app = create_app(folder)
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, lifespan="on", timeout_graceful_shutdown=2
    )
    threading.Thread(target=warm_up, name="warm-up", daemon=True).start()
    try:
        with contextlib.suppress(KeyboardInterrupt):
            _Server(config, lambda: ready(address)).run(sockets=[s])
    finally:
        s.close()
