"""Broken drawings: whatever the bytes, the readers give a drawing or say why not, and nothing else."""

from __future__ import annotations

import io
import random

import ezdxf
import pytest

from lagline.records.errors import LaglineError
from lagline.records.finding import Severity
from lagline.shapes.assemble import Drawing
from lagline.shapes.read import read_bytes
from lagline.shapes.region import polygon

NASTY = [
    b"nan",
    b"1e400",
    b"-1e308",
    b"inf",
    b"0",
    b"-5",
    b"",
    b"\xff\xfe",
    b"99999999999999999999",
    b"LINE",
    b"<",
    b'"',
]


def sample_dxf() -> bytes:
    ezdxf.options.write_fixed_meta_data_for_testing = True  # the same bytes every time
    doc = ezdxf.new("R2000")
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    block = doc.blocks.new("B")
    block.add_circle((0, 0), 5)
    block.add_arc((0, 20), 5, 0, 180)
    block.add_line((-5, 20), (5, 20))
    msp.add_lwpolyline([(0, 0, 0), (100, 0, 0.4), (100, 60, 0), (0, 60, 0)], format="xyb", close=True)
    msp.add_blockref("B", (30, 20), dxfattribs={"rotation": 30, "column_count": 2, "column_spacing": 30})
    msp.add_ellipse((200, 0), (40, 10), 0.4)
    msp.add_spline([(300, 0), (320, 40), (360, 10), (300, 0)])
    msp.add_polyline2d([(400, 0), (440, 0), (440, 30)], close=True)
    stream = io.StringIO()
    doc.write(stream)
    ezdxf.options.write_fixed_meta_data_for_testing = False
    return stream.getvalue().encode()


SVG = b"""<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
<defs><circle id="c" r="5"/></defs>
<g transform="translate(5 5) rotate(10)"><rect x="1" y="2" width="80" height="40" rx="5"/>
<use href="#c" x="20" y="20"/></g>
<path d="M110 10 c5-5 30-5 40 10 s-10 30 -30 25 q-20 -5 -10 -35 z m 10 10 a5 5 0 1 0 10 0 5 5 0 1 0-10 0z"/>
<polygon points="150,60 190,60 170,90"/><ellipse cx="30" cy="75" rx="20" ry="10"/><text>off</text></svg>
"""
DXF = sample_dxf()


def broken(data: bytes, rng: random.Random, lively: int) -> bytes:
    """One to four faults of kinds that files in fact suffer; ``lively`` is where the drawing's body begins."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        n = len(out)
        if n < 10:
            break
        at = rng.randrange(lively if rng.random() < 0.7 and lively < n else 0, n)
        match rng.randrange(7):
            case 0:
                out[at] ^= 1 << rng.randrange(8)
            case 1:
                if rng.random() < 0.3:
                    del out[at:]
            case 2:
                del out[at : at + rng.randint(1, 60)]
            case 3:
                piece = out[at : at + rng.randint(1, 400)]
                out[at:at] = piece * rng.randint(1, 5)
            case 4:
                end = min((i for i in (out.find(c, at) for c in (b"\n", b" ", b'"')) if i >= 0), default=n)
                out[at:end] = rng.choice(NASTY)
            case 5:
                digits = [i for i in range(at, min(at + 200, n)) if 48 <= out[i] <= 57]
                if digits:
                    i = rng.choice(digits)
                    out[i : i + 1] = rng.choice([b"-", b"nan", b"1e400", b"9" * 30, b".", b"e"])
            case 6:
                lines = out.split(b"\n")
                i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
                lines[i], lines[j] = lines[j], lines[i]
                out = bytearray(b"\n".join(lines))
    return bytes(out)


def survives(data: bytes, name: str) -> str:
    try:
        d = read_bytes(data, name)
    except LaglineError as e:
        faults = e.findings
    else:
        faults = ()
    if faults:
        assert all(f.severity is Severity.REFUSED and f.message for f in faults)
        return "refused"
    assert isinstance(d, Drawing)
    if not d.outlines:
        assert any(f.code == "no-outline" for f in d.findings)
    for o in d.outlines:
        assert polygon(o).area > 0
        names = [n for loop in o.loops for n in loop.names]
        assert len(set(names)) == len(names)
    return "read"


@pytest.mark.parametrize(("data", "name", "lively"), [(DXF, "f.dxf", DXF.find(b"ENTITIES")), (SVG, "f.svg", 150)])
def test_two_hundred_broken_files(data: bytes, name: str, lively: int) -> None:
    rng = random.Random(20)
    assert survives(data, name) == "read"
    ends = [survives(broken(data, rng, lively), name) for _ in range(200)]
    assert {"read", "refused"} == set(ends)  # both ways out are taken, or the faults are too tame


@pytest.mark.deep
@pytest.mark.parametrize(("data", "name", "lively"), [(DXF, "f.dxf", DXF.find(b"ENTITIES")), (SVG, "f.svg", 150)])
def test_many_broken_files(data: bytes, name: str, lively: int) -> None:
    for seed in range(40):
        rng = random.Random(1000 + seed)
        for _ in range(100):
            survives(broken(data, rng, lively), name)


@pytest.mark.parametrize("name", ["cut.dxf", "cut.svg"])
def test_cut_short_anywhere(name: str) -> None:
    data = DXF if name.endswith("dxf") else SVG
    for i in range(30):
        survives(data[: len(data) * i // 30], name)


def test_random_bytes() -> None:
    rng = random.Random(3)
    for name in ("r.dxf", "r.svg", "r.txt"):
        for n in (1, 20, 3000):
            assert survives(rng.randbytes(n), name) == "refused"
