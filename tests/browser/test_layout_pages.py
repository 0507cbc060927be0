"""Choosing a layout and working on a plate, in a real browser: at a phone's and a desk's width, and without
JavaScript."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from lagline.book.shelf import JOB, Shelf
from lagline.desk import choice_desk
from lagline.planning.choose_layout import laid_out
from lagline.planning.frontier import Choice
from lagline.planning.intake import intake
from lagline.planning.settings import choose_settings
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank
from tests.browser.driven import SIZES, fits, launched, opened, served

SLOW_MS = 90_000  # a plan on a busy computer
TEXT = """name = "Pads {name}"
units = "in"
layout = "quick"
stock = {{ metal = "steel", thickness = "1/4" }}

[[parts]]
name = "pad"
shape = "rectangle"
width = "6"
height = "4"
quantity = 3

[[parts]]
name = "washer"
shape = "disc"
diameter = "3"
quantity = 2

[[plates]]
name = "A"
width = "30"
height = "20"
"""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    with served(home) as a:
        yield a


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with launched() as b:
        yield b


def job(home: Path, name: str) -> str:
    return Shelf(home).add(name, {JOB: TEXT.format(name=name).encode()})


@pytest.fixture(scope="module")
def chosen(home: Path) -> str:
    """One job, looked at from a phone and from a desk: its search is made once."""
    return job(home, "choose")


def both(
    job: Job, kit: Kit, *, found: Callable[..., None], **_: object
) -> tuple[tuple[Blank, ...], tuple[Choice, ...]]:
    """Guided and quick, whichever betters the other: there are always two to lie beside each other."""
    blanks, _ = intake(job)
    own, _ = choose_settings(blanks, kit, None)
    names = {"guided": ("least money", "fewest minutes"), "quick": ("least plate", "best offcut")}
    ways = tuple(Choice(names[m], m, 1, laid_out(job, kit, blanks, own, m)) for m in names)
    found(blanks, ways[:1])
    return blanks, ways


def settled(page: Page) -> None:
    """The search is over."""
    expect(page.locator("#choices .working")).to_have_count(0, timeout=SLOW_MS)


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_one_way_is_chosen(
    browser: Browser, address: str, chosen: str, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choice_desk, "frontier", both)
    page, hosts, complaints = opened(browser, size)
    page.goto(f"{address}/jobs/{chosen}")
    page.get_by_role("link", name="Other ways to lay it out").click()
    expect(page.locator(".ways .way").first).to_be_visible(timeout=SLOW_MS)
    settled(page)
    fits(page)
    tops = page.locator(".way").evaluate_all("all => all.map(e => Math.round(e.getBoundingClientRect().top))")
    assert len(tops) == 2
    assert (len(set(tops)) == 1) is (size[0] > 760)  # beside each other, on a phone one under another
    names = ", ".join(page.locator(".way h2").all_inner_texts()).lower()
    for aim in ("least money", "fewest minutes", "least plate", "best offcut"):
        assert names.count(aim) == 1
    took = page.locator(".way", has=page.get_by_role("button", name=re.compile("Take this one"))).first
    said = took.locator(".dim").first.inner_text()
    took.get_by_role("button").click()
    expect(page.locator(".verdict .stamp")).to_have_text(re.compile("^(NO-)?GO$"), timeout=SLOW_MS)
    fits(page)
    page.goto(f"{address}/jobs/{chosen}/choices")
    settled(page)
    used = page.locator(".way.used")
    expect(used).to_have_count(1, timeout=SLOW_MS)
    expect(used.locator(".dim").first).to_have_text(said)
    fits(page)
    assert set(hosts) == {urlsplit(address).netloc}
    assert complaints == []


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_a_plate_is_worked_on(browser: Browser, address: str, home: Path, size: tuple[int, int]) -> None:
    page, hosts, complaints = opened(browser, size)
    slug = job(home, f"plate {size[0]}")
    page.goto(f"{address}/jobs/{slug}/plate/0")
    expect(page.locator(".copies")).to_be_visible(timeout=SLOW_MS)
    fits(page)
    row = page.locator(".copy", has_text="pad #2")
    row.locator("summary").click()
    fits(page)
    row.locator("[name=left]").fill("20")
    row.get_by_role("button", name="Pin pad #2").click()
    expect(page.get_by_role("status")).to_contain_text("Pinned", timeout=SLOW_MS)
    expect(page.locator(".copy .mark")).to_have_count(1, timeout=SLOW_MS)
    expect(page.locator(".plate svg .ll-pin")).to_have_count(1, timeout=SLOW_MS)
    expect(page.locator(".copy", has=page.locator(".mark"))).to_contain_text('left 20"')
    fits(page)

    for name, value in (("left", "25"), ("bottom", "15"), ("width", "9"), ("height", "wide")):
        page.locator(f"#keep-out input[name={name}]").fill(value)
    page.get_by_role("button", name="Keep parts out").click()
    expect(page.get_by_role("alert")).to_contain_text("nothing was changed", timeout=SLOW_MS)
    expect(page.locator("#keep-out [aria-invalid=true]")).to_have_value("wide")
    fits(page)
    page.locator("#keep-out input[name=height]").fill("9")
    page.get_by_role("button", name="Keep parts out").click()
    expect(page.get_by_role("status")).to_contain_text("No part is laid there", timeout=SLOW_MS)
    expect(page.locator(".plate svg .ll-keep-out")).to_have_count(1, timeout=SLOW_MS)
    expect(page.locator(".plate svg .ll-keep-out-word")).to_have_text("keep out")
    fits(page)
    page.get_by_role("button", name="Remove the region").click()
    expect(page.locator(".plate svg .ll-keep-out")).to_have_count(0, timeout=SLOW_MS)

    page.locator("#edges label", has_text="left").click()
    page.get_by_role("button", name="Use these edges").click()
    expect(page.get_by_role("status")).to_contain_text("edges are as ticked", timeout=SLOW_MS)
    expect(page.locator("#edges input[name=left]")).to_be_checked()
    row = page.locator(".copy", has=page.locator(".mark"))
    row.locator("summary").click()
    row.get_by_role("button", name="Let go").click()
    expect(page.locator(".copy .mark")).to_have_count(0, timeout=SLOW_MS)
    fits(page)
    assert set(hosts) == {urlsplit(address).netloc}
    assert [c for c in complaints if "422" not in c] == []


def test_all_of_it_without_javascript(browser: Browser, address: str, home: Path) -> None:
    page, _, _ = opened(browser, SIZES[0], scripts=False)
    slug = job(home, "no script")
    page.goto(f"{address}/jobs/{slug}/choices")
    expect(page.locator(".way").first).to_be_visible(timeout=SLOW_MS)  # the page fetches itself anew
    stop = page.get_by_role("button", name=re.compile("^Stop"))
    if stop.count():
        stop.click()
    settled(page)
    fits(page)
    page.get_by_role("button", name=re.compile("Take this one")).first.click()
    expect(page.locator(".verdict .stamp")).to_be_visible(timeout=SLOW_MS)
    page.goto(f"{address}/jobs/{slug}/plate/0")
    row = page.locator(".copy").first
    row.locator("summary").click()
    row.get_by_role("button", name=re.compile("^Pin")).click()
    expect(page.get_by_role("status")).to_contain_text("Pinned", timeout=SLOW_MS)
    row = page.locator(".copy", has=page.locator(".mark"))
    row.locator("summary").click()
    row.get_by_role("button", name="Let go").click()
    expect(page.get_by_role("status")).to_contain_text("Let go", timeout=SLOW_MS)
