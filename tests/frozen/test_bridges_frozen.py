"""One long strap, 25 mm by 4 ft of 6 mm, as it was planned when bridges came: a change here must be meant."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lagline.planning.chain import plan
from lagline.planning.kit_file import generic_kit
from lagline.records.job import Job, Plate, Stock
from tests.cutting import box
from tests.generate import rectangle_blank


def test_a_strap_of_25_mm_by_4_ft():
    stock = Stock("steel", "mild", 6.0, "6 mm")
    part = replace(rectangle_blank("strap", 1219.2, 25).part, stock=stock, quantity=1)
    made = plan(
        Job("strap", "in", (part,), (Plate("A", "plate", box(2000, 1000), stock, 6.35),), layout="quick"), generic_kit()
    )
    assert made.go
    said = [(s.title, s.start.value, s.held, round(s.leaves_mm, 3), s.freed) for s in made.steps]
    assert said == [
        ("strap: e3, 1 of 4", "edge start", False, 15.875, ()),
        ("strap: e3, 2 of 4", "pierce", True, 15.875, ()),
        ("strap: e3, 3 of 4", "pierce", True, 15.875, ()),
        ("strap: e3, 4 of 4", "pierce", True, 0.0, ()),
        ("strap: e2", "from the kerf", False, 0.0, ()),
        ("strap: e1", "from the kerf", False, 0.0, ()),
        ("strap: e4", "from the kerf", False, 0.0, ()),
        ("strap: bridge 1 of 3", "from the kerf", False, 0.0, ()),
        ("strap: bridge 2 of 3", "from the kerf", True, 0.0, ()),
        ("strap: bridge 3 of 3", "from the kerf", True, 0.0, (0,)),
    ]
    bridges = [s.path[0].start[0] for s in made.steps if s.bridge]
    assert bridges == pytest.approx([200.6, 1013.4, 607.0], abs=0.5)
    (told,) = (f for f in made.findings if f.code == "strip-bridges")
    assert told.message.startswith('one long edge cut may bow it 1/2" (5/32" to 1-15/32"')
    assert told.message.endswith('3 bridges of 5/8" hold it, cut last and cold')
