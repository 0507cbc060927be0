"""Coupon pages: plan, enter, set aside, what a bench says; faults beside their field, nothing typed is lost."""

from __future__ import annotations

import html
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest
from starlette.testclient import TestClient

from lagline.book.coupons import CouponBook
from lagline.planning.coupon_read import coupon_from_form
from lagline.planning.kit_file import generic_kit
from lagline.records.errors import LaglineError
from lagline.web.app import create_app
from lagline.web.coupon_asked import by_field, conditions_of, form_only, typed_of

AT = "tip=45+A&metal=steel&thickness=3/8&current=45&units=in"
FORM = {
    "kit": "", "tip": "45 A", "metal": "steel", "thickness": "3/8", "current": "45", "units": "in",
    "date": "2026-03-02", "starts": "40", "arc_min": "12", "supply": "75 psi", "replaces": "",
    **{f"cut{n}.{k}": v for n, seconds, dross in ((1, "26", "slow"), (2, "16", "none"), (3, "10", "fast"))
       for k, v in (("length", "6"), ("seconds", seconds), ("kerf_top", "1.8 mm"), ("guide_near", "10.1 mm"),
                    ("guide_far", "11.9 mm"), ("gap_right", "0.3 mm"), ("gap_left", ".03"), ("dross", dross),
                    ("through", "yes"))},
}  # fmt: skip


def client(folder: Path) -> TestClient:
    return TestClient(create_app(folder), base_url="http://127.0.0.1:8770", follow_redirects=False)


@pytest.fixture
def web(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path) as c:
        yield c


@pytest.fixture(scope="module")
def read_only(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A home with no coupon, for pages that store nothing."""
    with client(tmp_path_factory.mktemp("home")) as c:
        yield c


def said(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def stored(web: TestClient, **changes: str) -> str:
    answer = web.post("/coupons/enter", data=FORM | changes)
    assert answer.status_code == 303, said(answer.text)
    return answer.headers["location"].removeprefix("/coupons/").partition("?")[0]


def test_every_page_answers_with_and_without_a_coupon(web: TestClient) -> None:
    paths = ["/coupons", "/coupons/plan", "/coupons/enter", "/coupons/learned", "/coupons/pace", "/coupons/drift",
             f"/coupons/learned?{AT}", f"/coupons/pace?{AT}"]  # fmt: skip
    for path in paths:
        assert web.get(path).status_code == 200, path
    id_ = stored(web)
    for path in (*paths, f"/coupons/{id_}", f"/coupons/{id_}/correct"):
        answer = web.get(path)
        assert answer.status_code == 200, path
        for svg in re.findall(r"<svg .*?</svg>", answer.text, re.S):
            ElementTree.fromstring(svg)
        assert "style=" not in answer.text
    assert web.get("/coupons/c-1999-01-01-01").status_code == 404


def test_plan_has_beats_picture_print_and_what_the_third_waits_for(read_only: TestClient) -> None:
    answer = read_only.get(f"/coupons/plan?{AT}&gouge=yes")
    text = said(answer.text)
    assert answer.status_code == 200
    assert answer.text.count('data-beat="') == 3
    assert "cut 1, mark to mark" in text
    assert "Cut 3 waits" in text
    for word in ("nick here", "watch on", "guide, on the piece that stays", "Order of work", "29 CFR 1910.252"):
        assert word in text, word
    pdf = read_only.get(f"/coupons/plan/coupon.pdf?{AT}&gouge=yes")
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.content[:5] == b"%PDF-"
    assert pdf.content == read_only.get(f"/coupons/plan/coupon.pdf?{AT}&gouge=yes").content
    enter = re.search(r'href="(/coupons/enter\?[^"]+)"', answer.text)
    assert enter
    form = read_only.get(html.unescape(enter[1])).text
    assert form.count('value="6&#34;"') == 3  # the length that was planned is there


@pytest.mark.parametrize(
    ("query", "field", "word"),
    [
        ("tip=45+A&thickness=three", "thickness", "three"),
        ("tip=45+A&thickness=", "thickness", "missing"),
        ("tip=45+A&thickness=2.5+in", "thickness", "63.50 mm"),
        ("tip=nobody&thickness=3/8", "tip", "no such tip"),
        ("tip=45+A&thickness=3/8&current=900", "current", "900"),
        ("tip=45+A&thickness=3/8&metal=wood", "metal", "wood"),
    ],
)
def test_what_cannot_be_planned_is_said_beside_its_field(
    read_only: TestClient, query: str, field: str, word: str
) -> None:
    answer = read_only.get(f"/coupons/plan?{query}")
    assert answer.status_code == 422
    assert word in said(answer.text)
    assert f'id="fault-{field}-1"' in answer.text
    assert read_only.get(f"/coupons/plan/coupon.pdf?{query}").status_code == 422


def test_every_bad_measurement_has_its_own_fault_and_what_was_typed_is_kept(web: TestClient) -> None:
    bad = {
        "cut1.seconds": "0", "cut1.kerf_top": "99 mm", "cut2.guide_near": "12 mm", "cut2.guide_far": "9 mm",
        "cut2.lag": "-1 mm", "cut3.kerf_bottom": "wide", "cut3.gap_left": "40 mm", "cut3.dross": "pink",
        "starts": "many", "note": "windy <b>",
    }  # fmt: skip
    answer = web.post("/coupons/enter", data=FORM | bad)
    assert answer.status_code == 422
    for field in ("cut1.seconds", "cut1.kerf_top", "cut2.guide_near", "cut2.lag", "cut3.kerf_bottom", "cut3.gap_left",
                  "cut3.dross", "starts"):  # fmt: skip
        assert f'id="fault-{field}-1"' in answer.text, field
    for typed in ("99 mm", "12 mm", "-1 mm", "wide", "40 mm", "many", "windy &lt;b&gt;", "10.1 mm"):
        assert f'value="{typed}"' in answer.text, typed
    assert web.get("/api/coupons").json()["coupons"] == []


def test_faults_are_each_named_once() -> None:
    form = form_only(FORM | {"cut1.seconds": "0", "cut2.kerf_top": "80 mm"}, generic_kit())
    with pytest.raises(LaglineError) as e:
        coupon_from_form(form, generic_kit())
    found = by_field(e.value.findings)
    assert sorted(found) == ["cut1.seconds", "cut2.kerf_top"]
    assert all(len(v) == 1 for v in found.values())


def test_any_measurement_may_be_missing(web: TestClient) -> None:
    few = {k: v for k, v in FORM.items() if not k.startswith("cut")} | {"cut2.kerf_top": "5/64", "cut2.dross": ""}
    answer = web.post("/coupons/enter", data=few)
    assert answer.status_code == 303
    (c,) = web.get("/api/coupons").json()["coupons"]
    assert c["cuts"][1]["kerf_top_mm"] == pytest.approx(25.4 * 5 / 64)
    assert c["cuts"][0]["seconds"] is None
    none = {k: v for k, v in FORM.items() if not k.startswith("cut") and k != "supply"}
    answer = web.post("/coupons/enter", data=none)
    assert answer.status_code == 422
    assert "nothing was measured" in said(answer.text)


def test_doubtful_values_are_stored_as_typed_and_asked_about(web: TestClient) -> None:
    id_ = stored(web, **{"cut2.kerf_top": "4.6 mm", "cut3.gap_right": "1.4 mm", "cut3.gap_left": "0.1 mm"})
    text = said(web.get(f"/coupons/{id_}?kept=yes").text)
    assert "Is this right?" in text
    assert "cut 2" in text
    assert "4.60 mm" in text
    kept = web.get(f"/api/coupons/{id_}").json()
    assert kept["cuts"][1]["kerf_top_mm"] == pytest.approx(4.6)
    assert kept["set_aside"] == []
    web.post(f"/coupons/{id_}/aside", data={"field": "cuts[1].kerf_top_mm"})
    asked = said(web.get(f"/coupons/{id_}").text).partition("Measured")[0]
    assert "4.60" not in asked  # set aside, it is asked about no more


def test_learned_changes_after_a_coupon_and_names_it(web: TestClient) -> None:
    before = web.get(f"/coupons/learned?{AT}").text
    assert "no coupon yet" in said(before)
    assert said(before).count("no coupon behind it") == 9
    id_ = stored(web)
    after = web.get(f"/coupons/learned?{AT}").text
    assert after != before
    assert after.count(f'href="/coupons/{id_}"') == 9
    assert "What would tighten this most" in said(after)
    pace = said(after).partition("slow dross below")[0]
    m = re.search(r"before: .*? now (\d+)% as wide", pace)
    assert m
    assert int(m[1]) < 60
    # a coupon of another tip teaches this one no pace
    with_other = stored(web, tip="65 A", current="65")
    rows = web.get(f"/coupons/learned?{AT}").text
    assert f'href="/coupons/{with_other}"' not in rows.partition("slow dross below")[0]


def test_a_measurement_is_set_aside_and_taken_back(web: TestClient) -> None:
    id_ = stored(web)
    full = web.get(f"/coupons/learned?{AT}").text
    for n in range(3):
        answer = web.post(f"/coupons/{id_}/aside", data={"field": f"cuts[{n}].dross"})
        assert answer.status_code == 303
    text = web.get(answer.headers["location"]).text
    assert "is set aside: kept, not counted" in said(text)
    assert said(text).count("Count it again") == 3
    assert web.get(f"/coupons/learned?{AT}").text != full
    undo = re.search(
        r'action="(/coupons/[^"]+/take-back)"><input type="hidden" name="field" value="(cuts\[2\].dross)"', text
    )
    assert undo
    for n in range(3):
        web.post(undo[1], data={"field": f"cuts[{n}].dross"})
    assert web.get(f"/coupons/learned?{AT}").text == full  # nothing was lost on the way
    assert web.post(f"/coupons/{id_}/aside", data={"field": "cuts[9].lag_mm"}).status_code == 422


def test_a_reading_set_apart_is_said_to_be_right(web: TestClient) -> None:
    wide = "cuts[1].kerf_top_mm"
    id_ = stored(web, **{"cut2.kerf_top": "3.4 mm"})
    first = web.get(f"/coupons/{id_}").text
    apart = web.get(f"/coupons/learned?{AT}").text
    assert said(first).count("set apart") == 3  # at the top, in the question, at the reading
    assert first.count(f'/coupons/{id_}/stands"') == 2  # in the question, at the reading
    answer = web.post(f"/coupons/{id_}/stands", data={"field": wide})
    text = web.get(answer.headers["location"]).text
    assert "cut 2 kerf top stands: counted as it is, however odd." in said(text)
    assert "Is this right?" not in said(text)
    assert "Odd, and right as you say" in said(text)
    assert re.search(r"counted, as you said that it stands: kerf 2\.\d\d mm, without it 1\.\d\d mm", said(text))
    assert "right as it stands" in said(text).partition("Measured")[2]
    assert f'/coupons/{id_}/stands"' not in text
    assert web.get(f"/coupons/learned?{AT}").text != apart
    answer = web.post(f"/coupons/{id_}/take-back", data={"field": wide})  # what Undo sends
    assert "is asked about again" in said(web.get(answer.headers["location"]).text)
    assert web.get(f"/coupons/{id_}").text.partition("What was done")[0] == first.partition("What was done")[0]
    assert web.get(f"/coupons/learned?{AT}").text == apart


def test_undo_says_what_was_said_before(web: TestClient) -> None:
    id_ = stored(web, **{"cut2.kerf_top": "3.4 mm"})
    web.post(f"/coupons/{id_}/stands", data={"field": "cuts[1].kerf_top_mm"})
    answer = web.post(f"/coupons/{id_}/aside", data={"field": "cuts[1].kerf_top_mm"})
    assert f'/coupons/{id_}/stands"><input type="hidden"' in web.get(answer.headers["location"]).text
    kept = web.get(f"/api/coupons/{id_}").json()
    assert (kept["set_aside"], kept["stands"]) == (["cuts[1].kerf_top_mm"], [])
    for other in ("<b>", "cuts[1].kerf_top_mm, <b>", "", ", "):
        page_ = web.get(f"/coupons/{id_}", params={"did": "stands", "field": other, "was": "nonsense"}).text
        assert 'role="status"' not in page_
        assert web.post(f"/coupons/{id_}/stands", data={"field": other}).status_code == 422
    assert web.get(f"/api/coupons/{id_}").json()["stands"] == []


def test_both_of_a_pair_are_said_to_be_right_at_once(web: TestClient) -> None:
    swapped = {f"cut{n}.gap_right": "1.4 mm" for n in (1, 2, 3)} | {f"cut{n}.gap_left": "0.3 mm" for n in (1, 2, 3)}
    id_ = stored(web, **swapped)
    text = web.get(f"/coupons/{id_}").text
    (fields_,) = re.findall(r'stands"><input type="hidden" name="field" value="([^"]+, [^"]+)"', text)
    assert fields_.count("gap_") == 6
    assert "They are right as they stand" in said(text)
    answer = web.post(f"/coupons/{id_}/stands", data={"field": fields_})
    assert answer.status_code == 303
    assert set(web.get(f"/api/coupons/{id_}").json()["stands"]) == set(fields_.split(", "))
    after = said(web.get(answer.headers["location"]).text)
    assert "fit far better with right and left the other way round; counted" in after
    assert "Is this right?" not in after  # neither that, nor whether the square side is the worse one


def test_what_cannot_be_offers_no_such_button(web: TestClient) -> None:
    id_ = stored(web, **{"cut1.seconds": "1500"})
    text = web.get(f"/coupons/{id_}").text
    assert "which no hand cuts at" in said(text)
    assert f'/coupons/{id_}/stands"' not in text
    assert web.post(f"/api/coupons/{id_}/stands?field=cut 1 seconds").json()["stands"] == ["cuts[0].seconds"]
    assert "though you said that it stands: it cannot be" in said(web.get(f"/coupons/{id_}").text)


def test_a_coupon_is_set_aside_and_put_back(web: TestClient) -> None:
    id_ = stored(web)
    answer = web.post(f"/coupons/{id_}/off")
    page = web.get(answer.headers["location"]).text
    assert f"{id_} no longer counts" in said(page)
    assert "no coupon yet" in said(web.get(f"/coupons/learned?{AT}").text)
    assert web.get("/api/coupons").json()["coupons"] == []
    assert web.get("/api/coupons?all=true").json()["coupons"][0]["removed"] is True
    assert web.post(f"/coupons/{id_}/back").status_code == 303
    assert "1 coupon behind it" in said(web.get(f"/coupons/learned?{AT}").text)


def test_the_same_coupon_twice_is_asked_about(web: TestClient) -> None:
    first = stored(web)
    answer = web.post("/coupons/enter", data=FORM)
    second = web.get(answer.headers["location"]).text
    assert f"says the same as {first}; was it entered twice?" in said(second)
    assert "asked about below" in said(second)
    assert "entered twice" not in said(web.get(f"/coupons/{first}?kept=yes").text)
    web.post(answer.headers["location"].partition("?")[0] + "/off")
    assert "entered twice" not in said(web.get(f"/coupons/{first}").text)


def test_an_inch_shop_reads_inches_and_shop_words(web: TestClient) -> None:
    id_ = stored(web)
    mine = web.get(f"/coupons/learned?{AT}").text
    kerf = said(mine).partition("kerf 0.")[2][:60]
    assert re.match(r"\d{3} in \(\d\.\d\d mm\) 0\.\d{3} to 0\.\d{3} in", kerf), kerf
    assert 'aria-current="page">My bench' in mine
    tips = said(web.get("/coupons/drift").text)
    assert re.search(r"kerf 0\.\d{3} in \(1\.80 mm\)", tips)
    for page in (mine, tips, said(web.get(f"/coupons/pace?{AT}").text)):
        assert not re.search(r"atched sum|cos\(|ln v_mid|cuts\[", said(page))
    refused = web.post(f"/coupons/{id_}/aside", data={"field": "cut 9 lag"})
    assert "cut 1 kerf top" in said(refused.text)
    assert "cuts[" not in said(refused.text)


def assert_filled(form: str, values: dict[str, str]) -> None:
    for name, value in values.items():
        assert re.search(f'name="{name}" value="{value}"', form), (name, re.findall(f'name="{name}".{{40}}', form))


def test_a_correction_is_filled_in_as_an_inch_shop_writes(web: TestClient) -> None:
    inches = {"thickness": "3/8", "supply": "90 psi"}
    inches |= {f"cut{n}.{k}": v for n in (1, 2, 3) for k, v in (("kerf_top", "5/64"), ("guide_near", "27/64"),
               ("guide_far", "1/2"), ("gap_right", "-.012"), ("gap_left", "1/32"))}  # fmt: skip
    form = web.get(f"/coupons/{stored(web, **inches)}/correct").text
    assert_filled(form, inches | {f"cut{n}.gap_right": "-0.012" for n in (1, 2, 3)} | {"cut2.length": "6"})
    assert '<option value="in" selected' in form
    assert not re.search(r'value="[\d.]+ (mm|kPa)"', form)


def test_a_correction_keeps_the_old_one(web: TestClient) -> None:
    id_ = stored(web)
    form = web.get(f"/coupons/{id_}/correct").text
    assert f'name="replaces" value="{id_}"' in form
    assert_filled(form, {"thickness": "3/8 in", "cut1.length": "6 in", "cut1.gap_left": "0.03 in", "supply": "75 psi",
                         "cut1.kerf_top": "1.8 mm", "cut1.seconds": "26", "starts": "40"})  # fmt: skip
    new = stored(web, replaces=id_, **{"cut1.kerf_top": "1.7 mm"})
    assert new != id_
    old = web.get(f"/coupons/{id_}").text
    assert f"Corrected by {new}" in said(old)
    assert web.get(f"/api/coupons/{id_}").json()["cuts"][0]["kerf_top_mm"] == pytest.approx(1.8)
    assert web.post("/coupons/enter", data=FORM | {"replaces": id_}).status_code == 422  # corrected once already


def test_a_form_filled_from_a_coupon_reads_back_the_same(web: TestClient, tmp_path: Path) -> None:
    id_ = stored(
        web, crater="7.3 mm", arm="40 mm", disc_got="78.1 mm", gouge_length="5 in", gouge_seconds="8", note="damp air"
    )
    coupon = CouponBook(tmp_path).get(id_).coupon
    kits = {"": generic_kit()}
    again, _ = coupon_from_form(form_only(typed_of(coupon, kits), generic_kit()), generic_kit())
    for field in coupon.__dataclass_fields__:
        if field != "id":
            assert getattr(again, field) == getattr(coupon, field), field
    assert conditions_of(coupon, kits)["thickness"] == '3/8"'


def test_two_entered_at_once_both_survive(web: TestClient) -> None:
    answers: list[int] = []

    def enter(n: int) -> None:
        answers.append(web.post("/coupons/enter", data=FORM | {"starts": str(n)}).status_code)

    threads = [threading.Thread(target=enter, args=(n,)) for n in range(4)]
    for t in threads:
        t.start()
    for t in threads:
        t.join(60)
    assert answers == [303] * 4
    assert {c["starts"] for c in web.get("/api/coupons").json()["coupons"]} == {0, 1, 2, 3}


def test_programs_can_do_what_the_pages_do(web: TestClient) -> None:
    given = {"tip": "45 A", "metal": "steel", "thickness": "3/8", "current": 45,
             "cuts": [{"length": 6, "seconds": 16, "kerf_top_mm": 1.8, "dross": "none"}]}  # fmt: skip
    answer = web.post("/api/coupons", json=given)
    assert answer.status_code == 201
    id_ = answer.json()["id"]
    assert answer.json()["cuts"][0]["length_mm"] == pytest.approx(152.4)
    assert isinstance(answer.json()["findings"], list)
    assert web.post(f"/api/coupons/{id_}/set-aside?field=cut 1 kerf top").json()["set_aside"] == ["cuts[0].kerf_top_mm"]
    assert web.post(f"/api/coupons/{id_}/stands?field=cut 1 kerf top&why=so").json() == {
        "id": id_, "set_aside": [], "stands": ["cuts[0].kerf_top_mm"],
    }  # fmt: skip
    assert web.get(f"/api/coupons/{id_}").json()["stands"] == ["cuts[0].kerf_top_mm"]
    assert web.post(f"/api/coupons/{id_}/take-back?field=cut 1 kerf top").json()["stands"] == []
    taught = web.get("/api/coupons/learned").json()["learned"][0]
    assert taught["coupons"] == [id_]
    pace = taught["figures_90_percent"]["pace_mm_s"]
    assert pace["now"]["low"] < pace["now"]["value"] < pace["now"]["high"]
    assert web.get("/api/coupons/drift").json()["tips"][0]["tip"] == "45 A"
    plan = web.get(f"/api/coupons/plan?{AT}").json()
    assert len(plan["cuts"]) == 3
    assert plan["length_mm"] == pytest.approx(152.4)
    assert web.get(f"/api/coupons/plan/coupon.pdf?{AT}").content[:5] == b"%PDF-"
    assert web.post(f"/api/coupons/{id_}/remove").json()["removed"] is True
    assert web.post(f"/api/coupons/{id_}/put-back").json()["removed"] is False
    bad = [{"seconds": 0, "kerf_top_mm": 80}]
    refused = web.post("/api/coupons?replaces=c-9", json=given | {"cuts": bad, "metal": "wood"})
    assert refused.status_code == 422
    assert {f["code"] for f in refused.json()["findings"]} == {
        "seconds-not-above-zero", "field-bad", "kerf-over-cup", "coupon-unknown",
    }  # fmt: skip
    assert web.get("/api/coupons/none").status_code == 404


def test_drift_page_says_the_tip_is_going(web: TestClient) -> None:
    for n in range(7):
        kerf = {f"cut{c}.kerf_top": f"{1.7 + 0.14 * n:.2f} mm" for c in (1, 2, 3)}
        stored(web, date=f"2026-03-{n + 1:02d}", arc_min=str(10 * n + 5), **kerf)
    text = said(web.get("/coupons/drift").text)
    assert "more than chance: the tip is going" in text
    assert "Caution" in said(web.get("/coupons").text)
