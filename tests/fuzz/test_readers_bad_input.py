"""Inputs that are no drawing, or a drawing with a fault that is named."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.shapes.read import MOST_BYTES, read_bytes, read_drawing


def refused(path: Path) -> str:
    with pytest.raises(LaglineError) as e:
        read_drawing(path)
    (f,) = e.value.findings
    assert f.severity is Severity.REFUSED
    assert f.where
    assert f.allowed
    return f.code


def test_missing_folder_and_odd_names(tmp_path: Path) -> None:
    assert refused(tmp_path / "none.dxf") == "file-missing"
    assert refused(tmp_path) == "file-is-folder"
    assert refused(tmp_path / ("n" * 5000)) == "file-unreadable"
    assert refused(Path("a\0b.dxf")) in ("file-missing", "file-unreadable")


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("e.dxf", b"", "file-empty"),
        ("e.svg", b" \n ", "file-empty"),
        ("t.dxf", b"hello, this is a letter\n" * 50, "file-not-dxf"),
        ("t.svg", b"hello", "file-not-svg"),
        ("t.txt", b"hello", "file-unknown"),
        ("p.dxf", b"%PDF-1.4 ...", "file-not-dxf"),
        ("w.dxf", b"AC1027\0\0\0\0" + b"\x80" * 100, "dwg-not-read"),
        ("z.svg", b"\x1f\x8b\x08\0rest", "svg-compressed"),
        ("h.svg", b"<html><svg></svg></html>", "file-not-svg"),
        ("u.svg", b"<svg>\xff\xfe\xfa</svg>", "file-not-text"),
        ("o.svg", b"<svg></svg>", "drawing-empty"),
        ("x.dxf", b"  0\nSECTION\n  2\nENTITIES\n", "file-damaged"),
        ("y.dxf", b"  0\nSECTION\n  2\nENTITIES\n  0\nENDSEC\n  0\nEOF\n", "drawing-empty"),
    ],
)
def test_no_drawing(tmp_path: Path, name: str, data: bytes, code: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    assert refused(path) == code


def test_too_large(tmp_path: Path) -> None:
    path = tmp_path / "big.dxf"
    with path.open("wb") as f:
        f.truncate(MOST_BYTES + 1)
    assert refused(path) == "file-too-large"
    with pytest.raises(LaglineError, match="MB"):
        read_bytes(b"0" * (MOST_BYTES + 1), "big.svg")


def dxf(draw: Any) -> bytes:
    ezdxf.options.write_fixed_meta_data_for_testing = True  # the same bytes every time
    doc = ezdxf.new("R2000")
    doc.header["$INSUNITS"] = 4
    draw(doc.modelspace())
    stream = io.StringIO()
    doc.write(stream)
    ezdxf.options.write_fixed_meta_data_for_testing = False
    return stream.getvalue().encode()


GOOD = [(0, 0), (100, 0), (100, 50), (0, 50)]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b"\n40\n7.125\n", b"\n40\n-7.125\n", "radius of -7.125"),
        (b"\n40\n7.125\n", b"\n40\nnan\n", "radius of nan"),
        (b"\n40\n7.125\n", b"\n40\n1e400\n", "radius of inf"),
        (b"\n40\n7.125\n", b"\n40\n0.0\n", "radius of 0"),
        (b"\n 40\n7.125\n", b"\n 40\n1e12\n", "10 km"),
        (b"\n10\n33.25\n", b"\n10\n1e400\n", "no number"),
        (b"\n10\n33.25\n", b"\n10\nnan\n", "no number"),
        (b"\n10\n33.25\n", b"\n10\n3e9\n", "10 km"),
    ],
)
def test_bad_numbers_cost_only_their_piece(old: bytes, new: bytes, said: str) -> None:
    def draw(msp: Any) -> None:
        msp.add_lwpolyline(GOOD, close=True)
        msp.add_circle((33.25, 20), 7.125)

    data = dxf(draw).replace(b"\r\n", b"\n").replace(b"\n 40\n", b"\n40\n").replace(b"\n 10\n", b"\n10\n")
    old, new = old.replace(b"\n 40", b"\n40"), new.replace(b"\n 40", b"\n40")
    assert data.count(old) == 1
    d = read_bytes(data.replace(old, new), "bad.dxf")
    assert [o.area for o in d.outlines] == [5000]
    assert said in next(f.message for f in d.findings if f.code == "piece-unusable")


def test_open_and_crossing_outlines() -> None:
    d = read_bytes(dxf(lambda m: m.add_lwpolyline(GOOD)), "open.dxf")
    assert [f.code for f in d.findings] == ["no-outline", "open-line"]
    assert "from (0.00, 0.00) mm to (0.00, 50.00) mm" in d.findings[1].message
    d = read_bytes(dxf(lambda m: m.add_lwpolyline([(0, 0), (100, 50), (100, 0), (0, 50)], close=True)), "tie.dxf")
    assert [f.code for f in d.findings] == ["no-outline", "outline-crosses-itself"]
    assert "(50.00, 25.00) mm" in d.findings[1].message


def many_circles(msp: Any) -> None:
    for i in range(400):
        msp.add_circle((20 * i, 0), 5)


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_file_cut_in_its_drawing_is_not_taken_for_an_empty_one(share: float) -> None:
    data = dxf(many_circles)
    with pytest.raises(LaglineError) as e:
        read_bytes(data[: int(len(data) * share)], "half.dxf")
    # which of the two depends on whether the cut fell within a tag
    assert e.value.findings[0].code in ("file-damaged", "file-not-dxf")


def test_file_cut_behind_its_drawing_is_read_and_told() -> None:
    data = dxf(many_circles)
    d = read_bytes(data[: data.rindex(b"DICTIONARY") + 5], "most.dxf")
    assert len(d.outlines) == 400
    assert "recovered with 400 pieces" in next(f.message for f in d.findings if f.code == "file-damaged")


def test_recovered_file_says_so() -> None:
    data = dxf(lambda m: m.add_lwpolyline(GOOD, close=True))
    at = data.index(b"ENTITIES")
    broken = data[:at] + data[at:].replace(b"\n  5\n", b"\n  5\nnot hex ", 1)
    d = read_bytes(broken, "mended.dxf")
    assert [o.area for o in d.outlines] == [5000]
    assert "recovered with 1 pieces" in next(f.message for f in d.findings if f.code == "file-damaged")


def test_number_guessed_in_recovery_is_a_no_go() -> None:
    data = dxf(lambda m: m.add_circle((33.25, 20), 7.125)).replace(b"7.125", b"7.l25")
    d = read_bytes(data, "typo.dxf")
    f = next(f for f in d.findings if f.code == "numbers-guessed")
    assert f.severity is Severity.NO_GO
    assert "7.l25" in f.message


def test_text_in_another_encoding_does_not_matter() -> None:
    def draw(msp: Any) -> None:
        msp.add_text("naïve")
        msp.add_lwpolyline(GOOD, close=True)

    data = dxf(draw).decode("utf-8").encode("latin-1", errors="replace")
    assert len(read_bytes(data, "latin.dxf").outlines) == 1
    svg = '<?xml version="1.0" encoding="ISO-8859-1"?><svg><text>naïve</text><rect width="96" height="96"/></svg>'
    assert len(read_bytes(svg.encode("latin-1"), "latin.svg").outlines) == 1


def test_content_goes_before_the_name() -> None:
    assert len(read_bytes(b'<svg><rect width="96" height="96"/></svg>', "drawing.dxf").outlines) == 1
    assert len(read_bytes(dxf(lambda m: m.add_circle((0, 0), 5)), "no suffix").outlines) == 1
