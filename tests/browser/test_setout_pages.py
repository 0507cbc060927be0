"""Set-outs in a real browser: chosen by picture, asked, put right, printed; on a phone, on a desk, without scripts."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, expect

from lagline.setouts.families import FAMILIES, asks
from tests.browser.driven import SIZES, fits, launched, opened, served

ALL = [a for name in FAMILIES for a in asks(name)]


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(tmp_path_factory.mktemp("home")) as a:
        yield a


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with launched() as b:
        yield b


@pytest.mark.parametrize("size", SIZES)
def test_from_the_head_of_a_page_to_a_distance(browser: Browser, address: str, size: tuple[int, int]):
    page, hosts, complaints = opened(browser, size)
    with contextlib.closing(page.context):
        page.goto(address)
        page.get_by_role("link", name="Set-outs", exact=True).click()
        expect(page.get_by_role("heading", name="Set-outs", level=1)).to_be_visible()
        fits(page)
        page.get_by_role("link", name="Straightedge").first.click()
        page.get_by_label("thickness, needed").fill("nonsense")
        page.get_by_role("button", name="Set it out").click()
        expect(page.get_by_role("alert")).to_contain_text("nonsense")
        expect(page.get_by_label("thickness, needed")).to_have_value("nonsense")
        fits(page)
        page.get_by_label("thickness, needed").fill("3/8")
        page.get_by_role("button", name="Set it out").click()
        expect(page.locator("#answer .number").first).to_contain_text('25/64"')
        expect(page.locator("#answer svg")).to_be_visible()
        fits(page)
        assert "thickness=3%2F8" in page.url  # the address can be sent to the phone by the plate
        assert set(hosts) == {urlsplit(address).netloc}
        assert [c for c in complaints if "422" not in c] == []


@pytest.mark.parametrize("ask", ALL, ids=lambda a: a.kind)
def test_every_example_fits_a_phone(browser: Browser, address: str, ask):
    page, _, complaints = opened(browser, SIZES[0])
    with contextlib.closing(page.context):
        page.goto(f"{address}/setouts/{ask.family}/{ask.name}")
        page.get_by_role("link", name="Show an example").click()
        expect(page.locator("#answer")).to_be_visible()
        fits(page)
        assert complaints == []


def test_without_scripts(browser: Browser, address: str):
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{address}/setouts/pipe/saddle")
    page.get_by_label("header diameter, needed").fill("323.8 mm")
    page.get_by_label("branch diameter, needed").fill("202.74 mm")
    page.get_by_role("button", name="Set it out").click()
    expect(page.locator("#answer")).to_contain_text("Saddle")
    context.close()
