"""A plate and the kerfs to be cut in it, taken to atoms.

Glossary
--------
atom   : a face (metal that no kerf takes) or a bit (metal that the same kerfs take); together they are the plate
owner  : a kerf, or the run-in of one way to begin it; a bit is gone as soon as the first of its owners is cut
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lagline.records.geometry import Point

LEAST_PIECE_MM2 = 0.5  # less metal than this is dross, not a piece
TEAR_MM = 0.05  # kerfs this near each other have met; metal of twice this width holds nothing
GRID_MM = 0.002  # lines nearer than this are one
TOUCH_MM = 0.05  # atoms that share no more edge than this touch at a point

Ints = NDArray[np.int64]
Areas = NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class PlateMetal:
    """A plate before cutting, as the order stage needs it.

    Parameters
    ----------
    metal : the plate, its openings left out
    anchor : where it is held [mm]
    kerfs : what each cut takes away, by cut id; cuts that part nothing (drilled holes) are left out
    run_ins : what a way to begin takes besides, by cut id and number of the entry; only those that reach an edge matter
    parts : outline of each placed part
    """

    metal: BaseGeometry
    anchor: Point
    kerfs: Mapping[str, BaseGeometry]
    run_ins: Mapping[tuple[str, int], BaseGeometry] = field(default_factory=dict)
    parts: Mapping[int, BaseGeometry] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Net:
    """The atoms of a plate and how they touch.

    Parameters
    ----------
    names : owners: cut id, and -1 for its kerf or the number of the entry whose run-in it is
    owners : owners of each atom, none for a face
    taken : (k, 2) atom and owner, the same again
    area_mm2, spots : of each atom, and a place on it
    solid : whether each is more than dross
    pairs : (k, 2) atoms that share a length of edge
    part : the placed part of a face that lies in one
    anchor : the face that is held, -1 when no face is left
    """

    names: tuple[tuple[str, int], ...]
    owners: tuple[tuple[int, ...], ...]
    taken: Ints
    area_mm2: NDArray[np.float64]
    spots: tuple[Point, ...]
    solid: NDArray[np.bool_]
    pairs: Ints
    part: Mapping[int, int]
    anchor: int

    def ends(self, order: Sequence[tuple[str, int]]) -> Ints:
        """Place in an order of (cut, entry) of the cut that takes each atom; the number of cuts when none does."""
        place = {name: p for p, (cut, entry) in enumerate(order) for name in ((cut, -1), (cut, entry))}
        places = np.array([place.get(name, len(order)) for name in self.names], dtype=np.int64)
        died = np.full(len(self.owners), len(order), dtype=np.int64)
        np.minimum.at(died, self.taken[:, 0], places[self.taken[:, 1]])
        return died

    def beside(self) -> list[list[int]]:
        """The atoms that touch each atom."""
        out: list[list[int]] = [[] for _ in self.owners]
        for a, b in self.pairs.tolist():
            out[a].append(b)
            out[b].append(a)
        return out


def net_of(plate: PlateMetal) -> Net:
    """Return the atoms of a plate: the net of all edges of metal and kerfs, and who takes each mesh of it."""
    rim = shapely.boundary(plate.metal)
    # a run-in that ends in the waste parts nothing
    run_ins = {name: r for name, r in plate.run_ins.items() if r.intersects(rim)}
    names = tuple([(c, -1) for c in plate.kerfs] + list(run_ins))
    kerfs = np.array([*plate.kerfs.values(), *run_ins.values()], dtype=object)
    kerfs = shapely.buffer(kerfs, TEAR_MM, quad_segs=2)
    lines = [*shapely.boundary(kerfs), rim]
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(lines, grid_size=GRID_MM)]))
    spots = shapely.point_on_surface(faces)
    shapely.prepare(plate.metal)
    there = shapely.contains(plate.metal, spots)
    faces, spots = faces[there], spots[there]
    owners: list[tuple[int, ...]] = [()] * len(faces)
    if len(kerfs):
        at, owner = shapely.STRtree(kerfs).query(spots, predicate="within")
        for a, o in sorted(zip(at.tolist(), owner.tolist(), strict=True)):
            owners[a] = (*owners[a], o)
    area = shapely.area(faces)
    solid = (area >= LEAST_PIECE_MM2) & (area >= TEAR_MM * shapely.length(faces))
    # a face too thin to hold anything is burnt away
    kept = np.array([bool(o) or bool(w) for o, w in zip(owners, solid, strict=True)], dtype=bool)
    pairs = _touching(faces)
    pairs = pairs[kept[pairs].all(axis=1)]
    of, largest = _fused(owners, area, kept, pairs)
    n = len(largest)
    total, whole = np.zeros(n), np.zeros(n, dtype=bool)
    np.add.at(total, of[kept], area[kept])
    np.logical_or.at(whole, of[kept], solid[kept])
    ends = np.sort(of[pairs], axis=1)
    free = np.array([bool(k) and not o for k, o in zip(kept, owners, strict=True)], dtype=bool)
    part = _parts(plate.parts, faces, of, free)
    whose = tuple(owners[a] for a in largest)
    return Net(
        names,
        whose,
        np.array([(a, o) for a, own in enumerate(whose) for o in own], dtype=np.int64).reshape(-1, 2),
        total,
        tuple((float(spots[a].x), float(spots[a].y)) for a in largest),
        whole,
        np.unique(ends[ends[:, 0] != ends[:, 1]], axis=0),
        part,
        _held(shapely.Point(plate.anchor), faces, of, free, part),
    )


def root_of(parent: list[int], a: int) -> int:
    """The root of an atom in a forest of pieces, its way there made shorter."""
    while parent[a] != a:
        parent[a] = parent[parent[a]]
        a = parent[a]
    return a


def _fused(owners: list[tuple[int, ...]], area: NDArray[np.float64], kept: NDArray[np.bool_], pairs: Ints) -> tuple[
    Ints, list[int]
]:  # fmt: skip
    """One atom for neighbours with the same owners, as they go together: its number for each mesh, its largest mesh."""
    parent = list(range(len(owners)))
    for a, b in pairs.tolist():
        if owners[a] == owners[b]:
            parent[root_of(parent, a)] = root_of(parent, b)
    roots = [root_of(parent, a) for a in range(len(owners))]
    largest: dict[int, int] = {}
    for a in np.argsort(area, kind="stable").tolist():
        if kept[a]:
            largest[roots[a]] = a
    number = {r: n for n, r in enumerate(sorted(largest))}
    return np.array([number.get(r, -1) for r in roots], dtype=np.int64), [largest[r] for r in sorted(largest)]


def _parts(parts: Mapping[int, BaseGeometry], faces: Areas, of: Ints, free: NDArray[np.bool_]) -> dict[int, int]:
    """The placed part of each face that lies in one, for the most part."""
    if not parts:
        return {}
    numbers, outlines = list(parts), np.array(list(parts.values()), dtype=object)
    part, face = shapely.STRtree(faces).query(outlines, predicate="intersects")
    part, face = part[free[face]], face[free[face]]
    inside = shapely.area(shapely.intersection(outlines[part], faces[face])) > shapely.area(faces[face]) / 2
    return {int(of[f]): numbers[p] for p, f in zip(part[inside], face[inside], strict=True)}


def _held(anchor: shapely.Point, faces: Areas, of: Ints, free: NDArray[np.bool_], part: Mapping[int, int]) -> int:
    """The face that is held: the one under the anchor, else the nearest that is no part, else the nearest."""
    if not free.any():
        return -1
    gap = np.where(free, shapely.distance(faces, anchor), np.inf)
    on_part = np.array([int(n) in part for n in of])
    if gap.min() > 0 and (free & ~on_part).any():
        gap = np.where(on_part, np.inf, gap)
    return int(of[int(gap.argmin())])


def _touching(faces: Areas) -> Ints:
    """Pairs of meshes that share a length of edge; their corners are the same points, as they come from one net."""
    rings, face = shapely.get_rings(faces, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    a, b, of = points[:-1][same], points[1:][same], face[ring[:-1][same]]
    swap = (a[:, 0] > b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] > b[:, 1]))
    edges = np.where(swap[:, None], np.concatenate([b, a], axis=1), np.concatenate([a, b], axis=1))
    order = np.lexsort((edges[:, 3], edges[:, 2], edges[:, 1], edges[:, 0]))
    edges, of = edges[order], of[order]
    twin = np.flatnonzero((edges[1:] == edges[:-1]).all(axis=1))
    if not len(twin):
        return np.zeros((0, 2), dtype=np.int64)
    pairs = np.sort(np.stack([of[twin], of[twin + 1]], axis=1), axis=1)
    across = edges[twin, 2:] - edges[twin, :2]
    unique, inverse = np.unique(pairs, axis=0, return_inverse=True)
    total = np.bincount(inverse.ravel(), weights=np.hypot(across[:, 0], across[:, 1]))
    out: Ints = unique[total > TOUCH_MM].astype(np.int64)
    return out
