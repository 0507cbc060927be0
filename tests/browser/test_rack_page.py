"""The rack in a real browser: put on by size, a job cut from it, its offcut there, scrapped and put back; at a phone's
and a desk's width, and without JavaScript."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.driven import SIZES, fits, launched, opened, served

JOB = """
name = "rail brackets"
units = "in"
rack = true
stock = { metal = "steel", thickness = "3/8" }
parts = [{ shape = "rectangle", name = "cheek", width = "7", height = "5", quantity = 3 }]
plates = [{ name = "new plate", width = "96", height = "48" }]
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with launched() as b:
        yield b


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    folder = tmp_path / "jobs" / "rail-brackets"
    folder.mkdir(parents=True)
    (folder / "job.toml").write_text(JOB)
    with served(tmp_path) as a:
        yield a


def put_on(page: Page, address: str) -> None:
    """From the start page to an offcut on the rack, a fault mended on the way."""
    page.goto(address)
    page.get_by_role("navigation", name="pages").get_by_role("link", name="Rack").click()
    expect(page.get_by_text("Nothing lies on it")).to_be_visible()
    fits(page)
    page.get_by_role("link", name="Put something on").click()
    fits(page)
    page.fill("[name=width]", "24")
    page.fill("[name=thickness]", "3/8")
    page.fill("[name=holes]", "x=4, y=5, diameter=2")
    page.get_by_role("button", name="Put it on the rack").click()
    expect(page.locator(".has-fault [name=height]")).to_be_visible()
    expect(page.locator("[name=width]")).to_have_value("24")
    fits(page)
    page.fill("[name=height]", "18")
    page.get_by_role("button", name="Put it on the rack").click()
    expect(page.get_by_role("status")).to_contain_text("R-1")


@pytest.mark.parametrize("scripts", [True, False], ids=["", "no-scripts"])
@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_put_on_cut_from_scrapped_and_put_back(
    browser: Browser, address: str, size: tuple[int, int], scripts: bool
) -> None:
    page, hosts, complaints = opened(browser, size, scripts=scripts)
    if scripts:
        put_on(page, address)
        assert page.locator(".card img").evaluate("i => i.decode().then(() => i.naturalWidth)") > 0
        fits(page)
    else:
        page.goto(f"{address}/rack/add")
        page.fill("[name=width]", "24")
        page.fill("[name=height]", "18")
        page.fill("[name=thickness]", "3/8")
        page.get_by_role("button", name="Put it on the rack").click()

    page.goto(f"{address}/jobs/rail-brackets")
    button = page.get_by_role("button", name="It is cut")
    expect(button).to_be_visible(timeout=60_000)
    expect(page.locator("#cut")).to_contain_text("Taken from the rack: R-1")
    if scripts:
        fits(page)
    button.click()
    told = page.locator("#cut .told")
    expect(told).to_contain_text("used R-1; left R-2")
    expect(button).to_have_count(0)
    page.reload()  # the plan is still the one that was cut
    expect(told).to_contain_text("used R-1; left R-2")

    told.get_by_role("link", name="The rack").click()
    expect(page.locator(".card-name")).to_have_text(["R-2"])
    page.locator("summary").click()
    expect(page.locator("details")).to_contain_text("used by rail brackets")
    if scripts:
        fits(page)
    page.locator(".card-link").click()
    expect(page.locator(".item svg")).to_be_visible()
    if scripts:
        fits(page)
    page.fill("[name=why]", "bent")
    page.get_by_role("button", name="Scrap it").click()
    expect(page.get_by_role("status")).to_contain_text("R-2 is scrapped")
    page.get_by_role("status").get_by_role("button", name="Put it back").click()
    expect(page.locator(".card-name")).to_have_text(["R-2"])
    page.goto(f"{address}/rack/R-2")
    page.locator("summary").click()
    expect(page.locator("details")).to_contain_text(re.compile("scrapped: bent"))
    assert set(hosts) == {urlsplit(address).netloc}
    # the fault put right on the way is answered with its own status
    assert [c for c in complaints if "422" not in c] == []


def test_a_drawing_with_a_hole_is_drawn_as_it_is(browser: Browser, address: str, tmp_path: Path) -> None:
    drawing = tmp_path / "left over.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">'
        '<path d="M0 0H300V120L220 200H0Z"/><circle cx="80" cy="90" r="30"/></svg>'
    )
    page, _, _ = opened(browser, SIZES[0])
    page.goto(f"{address}/rack/add")
    page.set_input_files("[name=file]", str(drawing))
    page.fill("[name=thickness]", "10 mm")
    page.select_option("[name=units]", "mm")
    page.get_by_role("button", name="Put it on the rack").click()
    page.get_by_role("status").get_by_role("link", name="R-1").click()
    expect(page.locator(".item svg desc")).to_contain_text("1 openings")
    expect(page.get_by_text("300 mm x 200 mm").first).to_be_visible()
    fits(page)
