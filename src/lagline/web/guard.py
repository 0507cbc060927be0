"""What stands before every page: this computer only, no posts from other sites, bounded uploads, strict headers."""

from __future__ import annotations

import ipaddress
import logging
from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

log = logging.getLogger(__name__)
MOST_BYTES = 30_000_000
SAFE = ("GET", "HEAD", "OPTIONS")
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
Refuse = Callable[[Scope, int, str, str], Awaitable[ASGIApp]]


def is_here(host: str) -> bool:
    """Return whether a Host header names this computer itself."""
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def is_same_site(headers: Headers) -> bool:
    """Return whether a post came from these pages, or from no page at all (a command).

    A browser says where a post comes from in Sec-Fetch-Site or Origin; a page of another site can leave out neither.
    """
    fetch = headers.get("sec-fetch-site")
    if fetch is not None and fetch not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc == headers.get("host", "")
    except ValueError:
        return False


class _TooMuch(Exception):
    """More was sent than is taken."""


class Guard:
    """Checks host, origin and size of every request, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, refuse: Refuse, most_bytes: int = MOST_BYTES) -> None:
        self.app, self.refuse, self.most_bytes = app, refuse, most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        begun = False

        async def answer(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out[name] = value
                if out.get("content-type", "") == "application/pdf":
                    # a browser's own viewer needs its own styles, and a print cannot run anything of ours
                    out["content-security-policy"] = "frame-ancestors 'none'"
                if scope["path"].startswith("/static/"):
                    out["cache-control"] = "max-age=31536000, immutable"  # the address changes with the file
                elif "cache-control" not in out:
                    out["cache-control"] = "no-store"
            await send(message)

        async def no(status: int, message: str, allowed: str) -> None:
            await (await self.refuse(scope, status, message, allowed))(scope, receive, answer)

        if not is_here(headers.get("host", "")):
            await no(421, "this page answers only on this computer", "127.0.0.1 or localhost in the address")
            return
        if scope["method"] not in SAFE and not is_same_site(headers):
            await no(403, "this came from a page of another site and was not carried out", "the forms of these pages")
            return
        size = headers.get("content-length", "")
        if size and not (size.isascii() and size.isdecimal()):
            await no(400, "the request does not say how long it is", "a number of bytes")
            return
        too_much = f"up to {self.most_bytes // 1_000_000} MB in all"
        if size and int(size) > self.most_bytes:
            await self._drain(receive, int(size))
            await no(413, "that is too much at once", too_much)
            return
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self.most_bytes:
                raise _TooMuch
            return message

        try:
            await self.app(scope, counted, answer)
        except _TooMuch:
            if begun:
                raise
            await no(413, "that is too much at once", too_much)
        except Exception:
            log.exception("a page failed: %s", scope["path"])
            if begun:
                raise
            await no(500, "this page failed; your files are as they were", "go back and try another way")

    async def _drain(self, receive: Receive, size: int) -> None:
        """Read and forget a body of moderate size, so that a browser stays to hear the answer."""
        if size > 8 * self.most_bytes:
            return
        while (message := await receive())["type"] == "http.request" and message.get("more_body"):
            pass
