"""The page of a job's heat in a real browser: the slider with scripts, the list without."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from lagline.desk.job_desk import JobDesk
from tests.browser.driven import fits, launched, opened, served

JOB = """
name = "two straps"
units = "mm"
stock = { metal = "steel", thickness = 6 }
parts = [{ name = "strap", shape = "rectangle", width = 400, height = 50, quantity = 2 }]
plates = [{ name = "A", width = 600, height = 300 }]
layout = "quick"
"""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with launched() as b:
        yield b


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("shelf")
    desk = JobDesk(folder)
    slug = desk.add_files("two straps", {"job.toml": JOB.encode()})
    desk.close()
    with served(folder) as at:
        yield f"{at}/jobs/{slug}"


@pytest.mark.parametrize("size", [(390, 844), (1280, 900)])
def test_the_slider_turns_the_pictures(chromium: Browser, job: str, size: tuple[int, int]) -> None:
    page, hosts, complaints = opened(chromium, size)
    page.goto(job)
    page.wait_for_selector(".verdict", timeout=60_000)
    page.click("text=Heat in the plate")
    page.wait_for_selector("input[type=range]", timeout=60_000)
    fits(page)
    slide, picture = page.locator("input[type=range]"), page.locator(".heat-picture")
    assert "/peak.svg" in (picture.get_attribute("src") or "")
    assert not page.locator("form.heat-moments button").is_visible()
    slide.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert "/1.svg" in (picture.get_attribute("src") or "")
    page.wait_for_timeout(500)
    assert picture.evaluate("e => e.complete && e.naturalWidth") > 0
    assert page.locator("select").input_value() == "1"
    assert page.locator(".heat-said").inner_text() == slide.get_attribute("aria-valuetext")
    assert len(set(hosts)) == 1
    assert complaints == []
    page.context.close()


def test_without_scripts_a_list_and_a_button_do_the_same(chromium: Browser, job: str) -> None:
    page, _, complaints = opened(chromium, (390, 844), scripts=False)
    page.goto(f"{job}/heat")
    page.wait_for_selector(".heat-picture", timeout=60_000)
    assert page.locator("input[type=range]").count() == 0
    page.select_option("select", "2")
    page.click("text=Show")
    assert "/2.svg" in (page.locator(".heat-picture").get_attribute("src") or "")
    fits_without = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert fits_without <= 0
    assert complaints == []
    page.context.close()
