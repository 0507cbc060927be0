"""What stands before the pages, and the interface for programs."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lagline.desk.demo import demo_files
from lagline.shapes.named import SHAPES
from lagline.web import look
from lagline.web.app import create_app
from lagline.web.guard import is_here

JOB = """
units = "in"
[stock]
metal = "steel"
thickness = "3/8"
[[parts]]
shape = "disc"
diameter = "6"
[[plates]]
width = "24"
height = "24"
"""


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(tmp_path_factory.mktemp("home"))
    with TestClient(app, base_url="http://127.0.0.1:8770", follow_redirects=False) as c:
        yield c


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8770", "localhost", "localhost:1", "[::1]:8770"])
def test_hosts_that_are_this_computer(host: str) -> None:
    assert is_here(host)


@pytest.mark.parametrize(
    "host", ["", "bench.example", "127.0.0.1.example", "localhost.example:80", "192.168.0.7", "[", "0.0.0.0", "a b"]
)
def test_hosts_that_are_not(web: TestClient, host: str) -> None:
    assert not is_here(host)
    answer = web.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "only on this computer" in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://bench.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "same-origin", "origin": "http://bench.example"},
    ],
)
def test_posts_from_other_sites_are_not_carried_out(web: TestClient, headers: dict[str, str]) -> None:
    assert web.post("/demo", headers=headers).status_code == 403
    assert web.post("/api/plan", data={"job": JOB}, headers=headers).status_code == 403
    assert web.get("/", headers=headers).status_code == 200
    assert "slipway-cradle-repair" not in web.get("/").text


def test_posts_from_these_pages_and_from_commands_are(web: TestClient) -> None:
    own = {"origin": "http://127.0.0.1:8770", "sec-fetch-site": "same-origin"}
    for headers in (own, {}):
        answer = web.post("/jobs/none/off", headers=headers)
        assert answer.status_code == 404


def test_every_answer_has_the_headers(web: TestClient) -> None:
    answers = [
        web.get("/"), web.get("/nope"), web.get("/api/shapes"), web.get("/api/nope"),
        web.get("/", headers={"host": "bench.example"}), web.get(look.static("lagline.css")),
        web.post("/demo", headers={"origin": "null"}),
    ]  # fmt: skip
    for answer in answers:
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"


def test_a_failing_page_keeps_its_look_and_headers(tmp_path: Path) -> None:
    app = create_app(tmp_path)

    @app.get("/fail")
    def fail() -> None:
        raise RuntimeError("secret words")

    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as c:
        answer = c.get("/fail")
    assert answer.status_code == 500
    assert "secret words" not in answer.text
    assert "Traceback" not in answer.text
    assert "content-security-policy" in answer.headers
    assert "lagline" in answer.text


def test_too_much_is_refused_said_or_unsaid(web: TestClient) -> None:
    answer = web.post("/new/drawing", content=b"x" * 30_000_001, headers={"content-type": "application/octet-stream"})
    assert answer.status_code == 413

    def pieces() -> Iterator[bytes]:
        for _ in range(31):
            yield b"x" * 1_000_000

    kind = {"content-type": "multipart/form-data; boundary=b"}
    assert web.post("/new/drawing", content=pieces(), headers=kind).status_code in (400, 413)
    assert web.post("/", content=b"", headers={"content-length": "-4"}).status_code == 400


def test_too_many_fields_or_files_are_refused(web: TestClient) -> None:
    many = {f"f{i}": "x" for i in range(500)}
    assert web.post("/new/gusset", data=many).status_code == 400
    files = [("part.file", (f"{i}.svg", b"<svg/>")) for i in range(70)]
    assert web.post("/new/drawing", files=files).status_code == 400


def test_nothing_is_loaded_from_another_host() -> None:
    for path in (look.HERE / "templates").rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert "://" not in text, path.name
        assert not re.search(r"\sstyle=|\son[a-z]+=|<script>|<style", text), path.name
    for path in (look.HERE / "static").iterdir():
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http://" not in text, path.name
        assert "https://" not in text, path.name
    assert "Zero-Clause BSD" in (look.HERE / "static" / "htmx-licence.txt").read_text(encoding="utf-8")


def test_the_colours_have_contrast() -> None:
    """Text on its grounds at 4.5 to 1 or more: WCAG 2.1, success criterion 1.4.3 and its relative luminance."""
    css = (look.HERE / "static" / "lagline.css").read_text(encoding="utf-8")
    colour = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", css))

    def luminance(c: str) -> float:
        channels = [int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    def ratio(a: str, b: str) -> float:
        high, low = sorted((luminance(a), luminance(b)), reverse=True)
        return (high + 0.05) / (low + 0.05)

    assert ratio("#000000", "#ffffff") == pytest.approx(21)
    pairs = [(t, g) for t in ("chalk", "dim", "guide", "cut", "bad", "good") for g in ("ground", "steel", "plate")]
    for text, ground in [*pairs, ("bad", "bad-ground"), ("good", "good-ground")]:
        assert ratio(colour[text], colour[ground]) >= 4.5, (text, ground)
    assert ratio("#17140a", colour["cut"]) >= 4.5
    assert ratio(colour["chalk"], "#33525e") >= 4.5


def test_the_interface_is_described_and_has_no_foreign_pages(web: TestClient) -> None:
    assert web.get("/docs").status_code == 404
    assert web.get("/redoc").status_code == 404
    schema = web.get("/api/openapi.json").json()
    listed = web.get("/api").text
    assert len(schema["paths"]) >= 10
    for path, ways in schema["paths"].items():
        assert path.startswith("/api/")
        assert path in listed
        for about in ways.values():
            assert about["summary"]
            assert "422" in about["responses"]


def test_a_posted_job_is_planned(web: TestClient) -> None:
    answer = web.post("/api/plan", data={"job": JOB})
    assert answer.status_code == 200, answer.text
    plan = answer.json()
    assert plan["job"]["parts"][0]["name"] == "disc"
    assert plan == web.post("/api/plan", data={"job": JOB}).json()


def test_a_posted_job_with_a_drawing(web: TestClient) -> None:
    job = JOB.replace('shape = "disc"\ndiameter = "6"', 'file = "hex-washer.dxf"')
    sent = [("drawings", ("hex-washer.dxf", demo_files()["hex-washer.dxf"]))]
    assert web.post("/api/plan", data={"job": job}, files=sent).status_code == 200
    fault = web.post("/api/plan", data={"job": job})
    assert fault.status_code == 422
    assert "hex-washer.dxf" in fault.text


@pytest.mark.parametrize(
    ("data", "code"),
    [
        ({"job": ""}, None),
        ({}, None),
        ({"job": "not toml"}, "toml-syntax"),
        ({"job": JOB.replace('"6"', '"nan"')}, "length-bad"),
        ({"job": JOB.replace('"6"', '"6 furlong"')}, "length-bad"),
        ({"job": JOB.replace('"6"', "-6")}, "length-negative"),
        ({"job": JOB, "kit": "[power]\nrated_current_a = 0\n"}, None),
        (
            {"job": JOB.replace('shape = "disc"', 'file = "/etc/hostname.svg"').replace('diameter = "6"', "")},
            "file-outside",
        ),
    ],
)
def test_faults_come_as_findings(web: TestClient, data: dict[str, str], code: str | None) -> None:
    answer = web.post("/api/plan", data=data)
    assert answer.status_code == 422, answer.text
    findings = answer.json()["findings"]
    assert findings
    assert set(findings[0]) == {"code", "severity", "where", "message", "allowed"}
    if code:
        assert code in {f["code"] for f in findings}


def test_small_questions(web: TestClient) -> None:
    half = web.get("/api/length", params={"text": '1-1/2"'}).json()
    assert half["length_mm"] == pytest.approx(38.1)  # 1.5 x 25.4 exactly, by the inch's definition
    assert web.get("/api/length", params={"text": "1/0"}).status_code == 422
    assert web.get("/api/length", params={"text": "1", "units": "cubit"}).status_code == 422
    assert {s["name"] for s in web.get("/api/shapes").json()} == set(SHAPES)
    keys = [f["key"] for f in web.get("/api/formulas").json()]
    assert keys == sorted(keys)
    assert web.get(f"/api/formulas/{keys[0]}").json()["key"] == keys[0]
    assert web.get("/api/formulas/none").status_code == 404
    assert web.get("/api/jobs/none/plan").status_code == 404
    assert web.get("/api/pace", params={"pace_mm_s": "nan"}).status_code == 422


def test_the_shelf_by_programs(web: TestClient) -> None:
    slug = web.post("/new/disc", data={
        "name": "By program", "part.diameter": "6", "stock.metal": "steel", "stock.thickness": "3/8",
        "plate.width": "24", "plate.height": "24",
    }).headers["location"].removeprefix("/jobs/")  # fmt: skip
    plan = web.get(f"/api/jobs/{slug}/plan").json()
    web.get(f"/jobs/{slug}")
    job = next(j for j in web.get("/api/jobs").json() if j["slug"] == slug)
    assert job["plan"]["setups"] == len(plan["steps"])
    assert web.get(f"/api/jobs/{slug}/files").json() == ["job.toml", "kit.toml"]
    why = web.get(f"/api/jobs/{slug}/why/settings.0.kerf_mm").json()
    assert why["low"] <= why["value"] <= why["high"]
    card = web.get(f"/api/jobs/{slug}/files/bench-card.pdf")
    assert card.content.startswith(b"%PDF")
    assert web.get(f"/api/jobs/{slug}/files/nope.pdf").status_code == 404
    listed = web.get(f"/jobs/{slug}/files").text
    for name in ("bench-card.pdf", "plan.json", "plate.dxf", "plate.svg", "all.zip"):
        assert name in listed
    packed = web.get(f"/jobs/{slug}/all.zip").content
    assert packed[:2] == b"PK"
    assert packed == web.get(f"/jobs/{slug}/all.zip").content
