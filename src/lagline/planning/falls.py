"""What each cut lets go: parts and waste that come loose when it is done, worked out on the metal itself."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from lagline.planning.kerf_net import PlateMetal
from lagline.planning.kerfs import kerfs_of
from lagline.planning.loose import Atoms
from lagline.planning.trim import kept_metal
from lagline.records.geometry import Point
from lagline.records.job import Plate
from lagline.records.plan import Blank, Cut, Layout, Setting
from lagline.shapes.region import polygon
from lagline.trade.mass import mass_of_area

DROP_MM2 = 400.0  # smaller waste is swarf to be swept up: no bigger than a thumbnail
FLAT_MM = 0.05


@dataclass(frozen=True, slots=True)
class Fall:
    """What comes loose at the end of a cut: placed parts, and the mass of all of it [kg]."""

    parts: tuple[int, ...]
    kg: float

    @property
    def frees(self) -> str:
        """In the words of a step: "part", "drop" or "nothing"."""
        return "part" if self.parts else "drop" if self.kg else "nothing"


def plate_metals(
    cuts: tuple[Cut, ...],
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    layout: Layout,
    settings: tuple[Setting, ...],
    anchors: Mapping[int, Point],
) -> dict[int, PlateMetal]:
    """Return every plate that is cut, with the kerf of each cut, for the questions of ``planning/loose.py``.

    ``anchors`` are the places where each plate is held [mm].
    """
    kerf = {s.id: s.kerf_mm.value for s in settings}
    out: dict[int, PlateMetal] = {}
    for index, anchor in anchors.items():
        here = [c for c in cuts if c.plate == index and c.role != "trim"]  # what is trimmed is off before all else
        run_ins = {
            (c.id, n): LineString(e.run_in).buffer(kerf[c.setting] / 2, quad_segs=4)
            for c in here
            for n, e in enumerate(c.entries)
            if c.role != "drill" and len(e.run_in) > 1 and e.run_in[0] != e.run_in[-1]
        }
        parts = {
            i: polygon(p.move.outline(blanks[p.part].cut), FLAT_MM)
            for i, p in enumerate(layout.placed)
            if p.plate == index
        }
        metal = kept_metal(plates[index], polygon(plates[index].outline, FLAT_MM))
        out[index] = PlateMetal(metal, anchor, kerfs_of(here, kerf), run_ins, parts)
    return out


def falls_of(
    cuts: tuple[Cut, ...],
    order: tuple[tuple[int, int], ...],
    plates: tuple[Plate, ...],
    metals: Mapping[int, PlateMetal],
) -> dict[str, Fall]:
    """Return what falls at each cut of the plates on which neighbours share cuts, by cut id.

    On other plates every loop frees its own inside or its own part, which the cut says itself.
    """
    out: dict[str, Fall] = {}
    for index in sorted({c.plate for c in cuts if c.open}):
        mine = [(cuts[c].id, e) for c, e in order if cuts[c].plate == index]
        stock = plates[index].stock
        told = Atoms(metals[index]).check(mine)
        out.update((c.id, Fall((), c.drop_kg)) for c in cuts if c.role == "trim" and c.plate == index)
        for name in (n for n, _ in mine if n not in out):
            pieces = [p for p in told.pieces.get(name, ()) if p.parts or p.area_mm2 >= DROP_MM2]
            area = math.fsum(p.area_mm2 for p in pieces)
            kg = mass_of_area(stock.metal, area, stock.thickness_mm).value if area else 0.0
            out[name] = Fall(tuple(sorted({i for p in pieces for i in p.parts})), kg)
    return out


def still_held(metal: BaseGeometry, anchor: Point) -> BaseGeometry:
    """Return of what is left of a plate the piece that is held at the anchor; the largest when none is."""
    pieces = [g for g in shapely.get_parts(metal) if g.area > 0]
    spot = shapely.Point(anchor)
    return min(pieces, key=lambda g: (g.distance(spot), -g.area), default=metal)
