"""A judge of the heat field that shares nothing with it: linear finite elements on triangles, stepped by Crank and
Nicolson, the kerf a true gap of doubled nodes."""

from __future__ import annotations

import math

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from lagline.trade.heat_plate import warm


class Judge:
    """A rectangle of plate from (0, 0), cut along y = ``kerf_y`` from x = 0 to ``kerf_to`` before it is heated."""

    def __init__(self, width, height, side, metal, thickness, kerf_y=None, kerf_to=0.0, loss_per_s=0.0):
        m = warm(metal)
        nx, ny = round(width / side), round(height / side)
        x, y = np.meshgrid(np.arange(nx + 1) * side, np.arange(ny + 1) * side)
        self.points = np.c_[x.ravel(), y.ravel()]
        index = np.arange(len(self.points)).reshape(ny + 1, nx + 1)
        upper = index.copy()  # node numbers as the squares above the kerf see them
        if kerf_y is not None:
            row, last = round(kerf_y / side), round(kerf_to / side)
            twice = np.arange(last if kerf_to < width else last + 1)
            upper[row, twice] = len(self.points) + np.arange(len(twice))
            self.points = np.vstack((self.points, self.points[index[row, twice]]))
        triangles = []
        for i in range(ny):
            low = upper[i] if kerf_y is not None and i == round(kerf_y / side) else index[i]
            high = index[i + 1]
            a, b, c, d = low[:-1], low[1:], high[1:], high[:-1]
            triangles += [np.c_[a, b, c], np.c_[a, c, d]]
        tri = np.concatenate(triangles)
        p = self.points[tri]
        e = np.stack((p[:, 2] - p[:, 1], p[:, 0] - p[:, 2], p[:, 1] - p[:, 0]), axis=1)
        area = np.abs(e[:, 0, 0] * e[:, 1, 1] - e[:, 0, 1] * e[:, 1, 0]) / 2
        stiff = np.einsum("tid,tjd->tij", e, e) / (4 * area)[:, None, None] * m.k_w_mmk * thickness
        heat = (np.ones((3, 3)) + np.eye(3))[None] * (area / 12)[:, None, None] * m.rho_c_j_mm3k * thickness
        rows, columns = np.repeat(tri, 3, axis=1).ravel(), np.tile(tri, 3).ravel()
        n = len(self.points)
        self.k = sp.csc_matrix((stiff.ravel(), (rows, columns)), (n, n))
        self.c = sp.csc_matrix((heat.ravel(), (rows, columns)), (n, n))
        self.k = self.k + loss_per_s * self.c
        self.rise = np.zeros(n)
        self._one, self._tri = area, tri

    def lay_in(self, joule, x, y, above=True):
        """Put heat [J] in at the node nearest to a place, above the kerf or below it."""
        far = np.hypot(*(self.points - (x, y)).T)
        near = np.flatnonzero(far <= far.min() + 1e-9)
        load = np.zeros(len(self.points))
        load[near[-1] if above else near[0]] = joule
        return load

    def run(self, load_w, seconds, dt):
        """Heat by node powers [W] for a time, then return the rise [K]. A few steps of Euler damp the start."""
        solve = None
        done = 0.0
        for implicit, count in ((1.0, 4), (0.5, None)):
            step = dt / 4 if implicit == 1.0 else dt
            solve = splu((self.c / step + implicit * self.k).tocsc())
            for _ in range(count if count else round((seconds - done) / step)):
                self.rise = solve.solve(self.c @ self.rise / step - (1 - implicit) * (self.k @ self.rise) + load_w)
                done += step
        return self.rise

    def held_j(self):
        return float(np.ones(len(self.rise)) @ (self.c @ self.rise))

    def at(self, x, y):
        far = np.hypot(*(self.points - (x, y)).T)
        return float(self.rise[far <= far.min() + 1e-9].mean())


def mode_decay(length, metal, seconds):
    """How much is left of the first cosine along an insulated length."""
    return math.exp(-warm(metal).diffusivity_mm2_s * (math.pi / length) ** 2 * seconds)
