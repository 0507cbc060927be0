"""Draw the demo's own parts: ``python tools/make_demo_drawings.py`` rewrites the files beside the demo job."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing

DEMO = Path(__file__).parent.parent / "src/lagline/data/demo"

PAD = """<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="262mm" height="126mm" viewBox="-1 -2 262 126">
  <title>rubbing pad, traced from the old one</title>
  <path fill="none" stroke="black" stroke-width="0.5" d="M 30 122 L 230 122 C 248 122 260 108 260 88
    C 260 44 212 2 162 12 C 132 18 124 18 98 9 C 60 -4 0 32 0 84 C 0 108 12 122 30 122 Z"/>
</svg>
"""


def _new() -> Drawing:
    doc = ezdxf.new("R2010", units=ezdxf.units.IN)
    doc.header["$INSUNITS"] = 1  # inches
    doc.header["$MEASUREMENT"] = 0
    return doc


def cheek() -> Drawing:
    """A 16 x 12 cheek with a 7 in hollow on top, a 3-1/8 pin hole and two 9/16 bolt holes."""
    doc = _new()
    m = doc.modelspace()
    for a, b in (
        ((0, 0), (16, 0)),
        ((16, 0), (16, 12)),
        ((16, 12), (15, 12)),
        ((1, 12), (0, 12)),
        ((0, 12), (0, 0)),
    ):
        m.add_line(a, b)
    m.add_arc((8, 12), 7, 180, 360)
    m.add_circle((8, 2.5), 3.125 / 2)
    for x in (2.5, 13.5):
        m.add_circle((x, 2.5), 0.5625 / 2)
    return doc


def hex_washer() -> Drawing:
    """A hexagon 4-1/2 across flats with a 1-5/16 hole."""
    doc = _new()
    m = doc.modelspace()
    r = 4.5 / 2 / math.cos(math.pi / 6)
    corners = [(r * math.cos(math.pi / 3 * i), r * math.sin(math.pi / 3 * i)) for i in range(6)]
    m.add_lwpolyline([(round(x, 6), round(y, 6)) for x, y in corners], close=True)
    m.add_circle((0, 0), 1.3125 / 2)
    return doc


def main() -> None:
    ezdxf.options.write_fixed_meta_data_for_testing = True  # the same bytes every time
    cheek().saveas(DEMO / "cheek.dxf")
    hex_washer().saveas(DEMO / "hex-washer.dxf")
    (DEMO / "rubbing-pad.svg").write_text(PAD, encoding="utf-8")


if __name__ == "__main__":
    main()
