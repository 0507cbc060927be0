"""A coupon in a real browser: planned, entered with big inputs, learned from; at a phone's and a desk's width, and
without JavaScript."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser import driven
from tests.browser.driven import SIZES, launched, opened, served

# every text of a picture lies in its picture and over no other
PICTURES = """() => [...document.querySelectorAll('.chart svg, .bars svg, .coupon-picture svg')].flatMap(svg => {
  const f = svg.getBoundingClientRect();
  const boxes = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
  return boxes.flatMap(([word, a], i) => {
    const out = [];
    if (a.left < f.left - 1 || a.right > f.right + 1) out.push('outside: ' + word);
    if (a.top < f.top - 1 || a.bottom > f.bottom + 1) out.push('outside: ' + word);
    for (const [other, b] of boxes.slice(i + 1)) {
      const w = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (w > 2 && h > .35 * Math.min(a.height, b.height)) out.push(word + ' over ' + other);
    }
    return out;
  });
})"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with launched() as b:
        yield b


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with served(tmp_path) as a:
        yield a


def fits(page: Page) -> None:
    """As every page, and pictures without collisions."""
    driven.fits(page)
    assert page.evaluate(PICTURES) == [], page.url


def fill_cuts(page: Page) -> None:
    for n, (seconds, dross) in enumerate((("27", "slow"), ("16", "none"), ("10", "fast")), 1):
        page.fill(f'[name="cut{n}.seconds"]', seconds)
        page.fill(f'[name="cut{n}.kerf_top"]', f"1.{8 + n // 2} mm")
        page.fill(f'[name="cut{n}.guide_near"]', "10.1 mm")
        page.fill(f'[name="cut{n}.guide_far"]', "11.9 mm")
        page.locator("label.pick", has=page.locator(f'[name="cut{n}.dross"][value={dross}]')).click()
        page.locator("label.pick", has=page.locator(f'[name="cut{n}.through"][value=yes]')).click()


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_planned_entered_learned(browser: Browser, address: str, size: tuple[int, int]) -> None:
    page, hosts, complaints = opened(browser, size)
    page.goto(address)
    page.get_by_role("navigation").get_by_role("link", name="Coupons").click()
    fits(page)
    page.get_by_role("link", name="My bench").click()
    page.select_option("[name=tip]", "45 A")
    page.fill("[name=thickness]", "3/8")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_text("no coupon yet")).to_be_visible()
    before = page.locator(".learn").first.inner_text()
    fits(page)

    page.get_by_role("link", name="The next coupon").click()
    expect(page.locator(".coupon-picture svg")).to_be_visible()
    fits(page)
    beats = page.locator(".beat button")
    expect(beats).to_have_count(3)
    # the lamp is lit for a blink: counted as it happens, not looked for afterwards
    page.evaluate("""() => document.querySelectorAll('.beat').forEach(b => new MutationObserver(() => {
      if (b.classList.contains('lit')) b.setAttribute('data-was-lit', 'yes');
    }).observe(b, { attributeFilter: ['class'] }))""")
    beats.nth(0).click()
    expect(beats.nth(0)).to_have_attribute("aria-pressed", "true")
    beats.nth(2).click()  # one beat at a time
    expect(beats.nth(0)).to_have_attribute("aria-pressed", "false")
    expect(beats.nth(2)).to_have_attribute("aria-pressed", "true")
    expect(page.locator(".beat").nth(2)).to_have_attribute("data-was-lit", "yes")
    beats.nth(2).click()
    with page.expect_request(re.compile("coupon.pdf")) as asked:
        page.evaluate("fetch(document.querySelector('a[href*=\"coupon.pdf\"]').href)")
    answer = asked.value.response()
    assert answer is not None
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"

    page.get_by_role("link", name="Enter what I measured").click()
    expect(page.locator('[name="cut1.length"]')).to_have_value('6"')
    assert page.locator('[name="cut1.seconds"]').evaluate("e => e.getBoundingClientRect().height") >= 56
    fits(page)
    fill_cuts(page)
    page.get_by_role("button", name="Keep it").click()
    expect(page).to_have_url(re.compile(r"/coupons/c-\d{4}-\d\d-\d\d-01"))
    fits(page)
    page.get_by_role("link", name="What my bench says now").click()
    after = page.locator(".learn").first.inner_text()
    assert after != before
    assert "before:" in after
    fits(page)
    page.goto(f"{address}/coupons/pace")
    expect(page.locator(".chart svg .ll-dot")).to_have_count(3)
    fits(page)
    page.get_by_role("link", name="Tips").click()
    expect(page.get_by_text("One coupon: kerf")).to_be_visible()
    fits(page)
    page.get_by_role("link", name="Coupons", exact=True).last.click()
    fits(page)
    assert set(hosts) == {urlsplit(address).netloc}
    assert complaints == []


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_faults_are_seen_beside_their_fields(browser: Browser, address: str, size: tuple[int, int]) -> None:
    page, _, _ = opened(browser, size)
    page.goto(f"{address}/coupons/enter?tip=45+A&metal=steel&thickness=3/8&current=45")
    page.fill('[name="cut1.seconds"]', "0")
    page.fill('[name="cut2.kerf_top"]', "99 mm")
    page.locator("label.pick", has=page.locator('[name="cut3.dross"][value=fast]')).click()
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("alert")).to_contain_text("2 things to put right")
    for name, word in (("cut1.seconds", "no time"), ("cut2.kerf_top", "wider than the cup")):
        field = page.locator(".field", has=page.locator(f'[name="{name}"]'))
        expect(field.locator(".field-fault")).to_contain_text(word)
    expect(page.locator('[name="cut2.kerf_top"]')).to_have_value("99 mm")
    expect(page.locator('[name="cut3.dross"][value=fast]')).to_be_checked()
    fits(page)


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_an_odd_reading_is_said_to_be_right(browser: Browser, address: str, size: tuple[int, int]) -> None:
    page, _, complaints = opened(browser, size, scripts=False)
    page.goto(f"{address}/coupons/enter?tip=45+A&metal=steel&thickness=3/8&current=45")
    for n in (1, 2, 3):
        page.fill(f'[name="cut{n}.length"]', "6")
    fill_cuts(page)
    page.fill('[name="cut2.kerf_top"]', "3.4 mm")
    page.get_by_role("button", name="Keep it").click()
    row = page.locator('[id="cuts[1].kerf_top_mm"]')
    expect(row).to_contain_text("set apart")
    fits(page)
    row.get_by_role("button", name="It is right").click()
    expect(page.get_by_role("status")).to_contain_text("cut 2 kerf top stands")
    expect(row).to_contain_text("right as it stands")
    expect(page.get_by_text("counted, as you said that it stands: kerf")).to_be_visible()
    expect(page.get_by_role("heading", name="Is this right?")).to_have_count(0)
    fits(page)
    page.get_by_role("button", name="Undo").click()
    expect(row).to_contain_text("set apart")
    page.get_by_role("button", name="It is right as it stands").click()
    expect(row).to_contain_text("right as it stands")
    row.get_by_role("button", name="Take it back").click()
    expect(page.get_by_role("status")).to_contain_text("is asked about again")
    assert complaints == []


def test_all_of_it_without_javascript(browser: Browser, address: str) -> None:
    page, hosts, _ = opened(browser, SIZES[0], scripts=False)
    page.goto(f"{address}/coupons/plan?tip=45+A&metal=steel&thickness=3/8&current=45&units=in")
    assert not page.locator(".beat").first.is_visible()  # seconds stand beside it all the same
    page.get_by_role("link", name="Enter what I measured").click()
    fill_cuts(page)
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("button", name="Set aside: cut 1 kerf top").click()
    expect(page.get_by_role("status")).to_contain_text("kept, not counted")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("status")).to_contain_text("counts again")
    page.get_by_role("button", name="Set the whole coupon aside").click()
    expect(page.get_by_role("status")).to_contain_text("no longer counts")
    page.get_by_role("button", name="Put it back").first.click()
    page.get_by_role("link", name="Correct it").first.click()
    page.fill('[name="cut2.kerf_top"]', "1.75 mm")
    page.get_by_role("button", name="Keep it").click()
    expect(page).to_have_url(re.compile("-02"))
    page.get_by_role("link", name="What my bench says now").click()
    expect(page.get_by_text("1 coupon behind it")).to_be_visible()
    assert set(hosts) == {urlsplit(address).netloc}


def test_every_input_has_a_label(browser: Browser, address: str) -> None:
    page, _, _ = opened(browser, SIZES[1])
    for path in ("/coupons/enter", "/coupons/plan", "/coupons/learned", "/coupons/pace"):
        page.goto(address + path)
        bare = page.evaluate(
            "[...document.querySelectorAll('input:not([type=hidden]), select, textarea')]"
            ".filter(e => !e.labels || !e.labels.length).map(e => e.name)"
        )
        assert bare == [], path
