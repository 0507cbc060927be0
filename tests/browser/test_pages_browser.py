"""The pages in a real browser, at a phone's and a desk's width: big enough for gloves, no sideways scrolling, nothing
from another host, and all of it without JavaScript too."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.driven import SIZES, fits, launched, opened, served

PAD = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="150mm" height="100mm" viewBox="0 0 150 100">'
    b'<path d="M0 0H150V60L110 100H0Z"/><circle cx="60" cy="50" r="25"/></svg>'
)


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(tmp_path_factory.mktemp("home")) as a:
        yield a


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with launched() as b:
        yield b


def new_job(page: Page, address: str, name: str, tmp_path: Path) -> None:
    """From the start page to a plan, by drawing."""
    drawing = tmp_path / "pad.svg"
    drawing.write_bytes(PAD)
    page.goto(address)
    page.get_by_role("main").get_by_role("link", name="New job").click()
    page.get_by_role("link", name="From a drawing").click()
    page.set_input_files("input[name='part.file']", str(drawing))
    page.fill("input[name='stock.thickness']", "1/4")
    page.fill("input[name='plate.width']", "24")
    page.fill("input[name='plate.height']", "18")
    page.fill("input[name='name']", name)
    page.get_by_role("button", name="Plan it").click()
    expect(page.locator(".verdict .stamp")).to_have_text(re.compile("^(NO-)?GO$"))


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_from_drawing_to_bench(browser: Browser, address: str, size: tuple[int, int], tmp_path: Path) -> None:
    page, hosts, complaints = opened(browser, size)
    new_job(page, address, f"pad {size[0]}", tmp_path)
    plan = page.url
    fits(page)
    setups = int(page.locator(".number", has_text="set-ups").locator("b").first.inner_text())

    page.locator("summary", has_text=re.compile("^Parts$")).click()
    page.fill("#v-quantity-0", "3")
    page.locator("form.one", has=page.locator("#v-quantity-0")).get_by_role("button").click()
    expect(page.locator(".before")).to_contain_text(f"{setups} set-ups")
    assert int(page.locator(".number", has_text="set-ups").locator("b").first.inner_text()) > setups
    fits(page)

    page.locator("#settings a.number", has_text="kerf").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Why: kerf")
    expect(page.get_by_text("whose number")).to_be_visible()
    fits(page)
    page.locator("a[href^='/formulas/']").first.click()
    fits(page)

    page.goto(plan)
    smallest = page.locator(".plate svg text").evaluate_all(
        "all => Math.min(...all.map(e => parseFloat(getComputedStyle(e).fontSize) * e.getScreenCTM().a))"
    )
    assert smallest >= 8  # px: read on a phone, the plate pushed sideways
    face = page.locator(".plate svg a.ll-part").first
    box = face.bounding_box()
    assert box
    face.click(position={"x": 0.12 * box["width"], "y": 0.2 * box["height"]})  # on metal, beside the hole
    expect(page).to_have_url(re.compile("/setup/"))
    page.goto(plan)
    page.get_by_role("link", name="To the bench").click()
    expect(page).to_have_url(re.compile("/setup/1$"))
    fits(page)
    assert page.locator(".turn").evaluate("e => e.getBoundingClientRect().height") <= 60  # the rest is for the work
    page.get_by_role("link", name="Next").click()
    expect(page).to_have_url(re.compile("/setup/2$"))
    page.keyboard.press("ArrowRight")
    expect(page).to_have_url(re.compile("/setup/3$"))
    page.keyboard.press("ArrowLeft")
    expect(page).to_have_url(re.compile("/setup/2$"))
    page.get_by_role("link", name="Back").click()
    expect(page).to_have_url(re.compile("/setup/1$"))
    numbers = page.locator(".numbers.big b").first.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert numbers >= 40  # read at arm's length
    if size[0] == 390:
        expect(page.locator(".beat button")).to_be_visible()

    assert set(hosts) == {urlsplit(address).netloc}
    assert complaints == []


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_every_kind_of_page_fits(browser: Browser, address: str, size: tuple[int, int], tmp_path: Path) -> None:
    page, hosts, _ = opened(browser, size)
    new_job(page, address, f"fit {size[0]}", tmp_path)
    plan = urlsplit(page.url).path
    for path in (
        "/", "/new", "/new/base_plate", "/new/points", "/formulas", "/api", "/nope", f"{plan}/plate/0",
        f"{plan}/edit/job.toml", f"{plan}/edit/kit.toml", f"{plan}/kit", f"{plan}/add", f"{plan}/add/strip",
        f"{plan}/files",
    ):  # fmt: skip
        page.goto(address + path)
        fits(page)
    assert set(hosts) == {urlsplit(address).netloc}


def test_all_of_it_without_javascript(browser: Browser, address: str, tmp_path: Path) -> None:
    page, hosts, _ = opened(browser, SIZES[0], scripts=False)
    new_job(page, address, "no script", tmp_path)
    plan = page.url
    page.locator("summary", has_text=re.compile("^Parts$")).click()
    page.fill("#v-quantity-0", "none")
    page.locator("form.one", has=page.locator("#v-quantity-0")).get_by_role("button").click()
    expect(page.get_by_role("alert")).to_contain_text("nothing was changed")
    expect(page.locator("#v-quantity-0")).to_have_value("none")
    page.fill("#v-quantity-0", "2")
    page.locator("form.one", has=page.locator("#v-quantity-0")).get_by_role("button").click()
    expect(page.locator(".before")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#v-quantity-0")).to_have_value("1")
    expect(page.locator(".verdict .stamp")).to_be_visible()
    page.get_by_role("link", name="To the bench").click()
    page.get_by_role("link", name="Next").click()
    expect(page).to_have_url(re.compile("/setup/2$"))
    assert not page.locator(".beat").first.is_visible()
    page.locator(".numbers a.number").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Why")
    page.goto(plan + "/edit/job.toml")
    page.fill("textarea[name=text]", "nonsense")
    page.get_by_role("button", name="Save and plan").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved")
    expect(page.locator("textarea[name=text]")).to_have_value(re.compile("nonsense"))
    page.goto(address)
    page.get_by_role("button", name=re.compile("Take no script off")).click()
    page.get_by_role("button", name="Put it back").first.click()
    expect(page).to_have_url(plan)
    assert set(hosts) == {urlsplit(address).netloc}


def test_what_is_focused_is_seen_and_the_keyboard_is_enough(browser: Browser, address: str) -> None:
    page, _, _ = opened(browser, SIZES[1])
    page.goto(f"{address}/new/disc")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.locator("input[name='part.diameter']").focus()
    page.keyboard.press("ArrowRight")  # in a field the arrow keys move the caret, not the page
    assert page.url.endswith("/new/disc")
    outline = page.locator("input[name='part.diameter']").evaluate("e => getComputedStyle(e).outlineWidth")
    assert float(outline.removesuffix("px")) >= 2
    labels = page.evaluate(
        "[...document.querySelectorAll('input:not([type=hidden]), select, textarea')]"
        ".filter(e => !e.labels || !e.labels.length).map(e => e.name)"
    )
    assert labels == []
