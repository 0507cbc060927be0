"""A page in a real browser: served, opened at a phone's or a desk's width, and looked over."""

from __future__ import annotations

import contextlib
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from lagline.web.app import create_app
from lagline.web.serve import _socket

SIZES = [(390, 844), (1280, 800)]
SWITCHES = [
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync",
]  # fmt: skip
TARGETS = """() => [...document.querySelectorAll('a, button, input, select, textarea, summary')].filter(e => {
  if (e.closest('svg') || e.closest('.skip') || e.type === 'hidden') return false;
  const own = e.getBoundingClientRect();
  if (!own.width || !own.height) return false;
  const r = (e.type === 'checkbox' || e.type === 'radio' ? e.closest('label') : e).getBoundingClientRect();
  return r.width < 47.5 || r.height < 47.5;
}).map(e => e.outerHTML.slice(0, 90))"""
WIDTH = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
# contrast of every text against the ground it stands on, WCAG 2 relative luminance; below 4.5 (3 when large) is listed
CONTRAST = """() => {
  const parse = c => (c.match(/[\\d.]+/g) || []).map(Number);
  const line = v => v / 255 <= .03928 ? v / 255 / 12.92 : ((v / 255 + .055) / 1.055) ** 2.4;
  const lum = c => .2126 * line(c[0]) + .7152 * line(c[1]) + .0722 * line(c[2]);
  const ground = e => {
    for (; e; e = e.parentElement) {
      const c = parse(getComputedStyle(e).backgroundColor);
      if (c.length === 3 || c[3] > .9) return c;
    }
    return [255, 255, 255];
  };
  const written = e => !e.closest('svg') && e.getBoundingClientRect().height
    && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
  return [...document.querySelectorAll('main *')].filter(written).filter(e => {
    const s = getComputedStyle(e), a = lum(parse(s.color)), b = lum(ground(e)), size = parseFloat(s.fontSize);
    const large = size >= 24 || (size >= 18.66 && parseInt(s.fontWeight) >= 700);
    return (Math.max(a, b) + .05) / (Math.min(a, b) + .05) < (large ? 3 : 4.5);
  }).map(e => e.outerHTML.slice(0, 90));
}"""


@contextlib.contextmanager
def launched() -> Iterator[Browser]:
    """Debian's chromium, headless."""
    path = shutil.which("chromium")
    assert path, "the browser tests need chromium on the path"
    with sync_playwright() as p:
        b = p.chromium.launch(executable_path=path, args=SWITCHES)
        yield b
        b.close()


@contextlib.contextmanager
def served(folder: Path) -> Iterator[str]:
    """The pages over a shelf folder; gives their address."""
    s = _socket("127.0.0.1", 0)
    server = uvicorn.Server(uvicorn.Config(create_app(folder), log_level="error", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [s]}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{s.getsockname()[1]}"
    server.should_exit = True
    thread.join(10)


def opened(browser: Browser, size: tuple[int, int], *, scripts: bool = True) -> tuple[Page, list[str], list[str]]:
    """A page, the hosts it asked, and what its console complained of."""
    page = browser.new_context(viewport={"width": size[0], "height": size[1]}, java_script_enabled=scripts).new_page()
    page.set_default_timeout(20_000)
    hosts: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda r: hosts.append(urlsplit(r.url).netloc))
    page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: complaints.append(str(e)))
    return page, hosts, complaints


def fits(page: Page) -> None:
    """Targets for gloves, nothing wider than the screen, text that can be read."""
    assert page.evaluate(WIDTH) <= 0, page.url
    assert page.evaluate(TARGETS) == [], page.url
    assert page.evaluate(CONTRAST) == [], page.url
