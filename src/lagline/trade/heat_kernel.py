"""The loops of the heat field, compiled. Imported only when a field is worked out.

One array cell a square of plate, one number a link: 1 where heat passes between two neighbours, 0 across a kerf or the
plate's edge; ``share`` is a whole square over what belongs to a cell, whose middle may lie nearer to a kerf or further.
The outermost cells are never metal, so that no loop asks where the plate ends.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit

LEAST_SIZE = 0.5  # of a square: smaller ones would want shorter steps
PEAK_EVERY = 4  # steps; 10 mm beside a cut the temperature moves little in so short a time


def _compiled(function: Callable[..., Any]) -> Any:
    """Compile, keeping the result on disk where numba finds a folder it may write to, and only in memory elsewhere."""
    try:
        return njit(cache=True, nogil=True)(function)
    except RuntimeError:
        return njit(nogil=True)(function)


@_compiled
def _step(a, b, share, gx, gy, r, loss):  # type: ignore[no-untyped-def]
    rows, columns = a.shape
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            t = a[i, j]
            flow = gx[i, j] * (a[i, j + 1] - t) + gx[i, j - 1] * (a[i, j - 1] - t)
            flow += gy[i, j] * (a[i + 1, j] - t) + gy[i - 1, j] * (a[i - 1, j] - t)
            b[i, j] = t + r * flow * share[i, j] - loss * t


@_compiled
def _higher(a, peak):  # type: ignore[no-untyped-def]
    rows, columns = a.shape
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            peak[i, j] = a[i, j] if a[i, j] > peak[i, j] else peak[i, j]


@_compiled
def _laid(a, share, gx, gy, now, when, kind, row, column, heat_a, heat_b, part, done):  # type: ignore[no-untyped-def]
    """Lay in what is due by now; half a step's lead on either side leaves the heat at its time on the whole."""
    while done < len(when) and when[done] <= now:
        i, j = row[done], column[done]
        along = kind[done] & 1
        k, m = (i, j + 1) if along else (i + 1, j)
        if kind[done] & 2:
            a[i, j] += heat_a[done] * share[i, j]
            a[k, m] += heat_b[done] * share[k, m]
        elif (gx[i, j] if along else gy[i, j]) > 0.0:
            # the line does not run midway: metal, with its heat, goes to the side on which it lies
            here, there = 1.0 / share[i, j], 1.0 / share[k, m]
            if part[done] > 0.0:
                over = max(0.0, min(part[done], there - LEAST_SIZE))
                a[i, j] = (a[i, j] * here + over * a[k, m]) / (here + over)
            else:
                over = min(0.0, max(part[done], LEAST_SIZE - here))
                a[k, m] = (a[k, m] * there - over * a[i, j]) / (there - over)
            share[i, j] = 1.0 / (here + over)
            share[k, m] = 1.0 / (there - over)
            if along:
                gx[i, j] = 0.0
            else:
                gy[i, j] = 0.0
        done += 1
    return done


@_compiled
def march(rise, spare, peak, share, gx, gy, r, loss, steps, dt, when, kind, row, column, heat_a, heat_b, part, done):  # type: ignore[no-untyped-def]
    """Walk ``steps`` equal time steps from time 0; what is due is laid in: heat, and links parted.

    ``rise`` and ``peak`` are written. Returns how many are done. r = alpha dt/h^2; loss = share of its rise a cell
    loses in a step; kind: 1 for a link along x, and 2 more where heat is laid in, else the link is parted; part: how
    much of a square then goes over to its first cell; heat in kelvin of a whole square.
    """
    a, b = rise, spare
    for n in range(steps):
        done = _laid(a, share, gx, gy, (n + 0.5) * dt, when, kind, row, column, heat_a, heat_b, part, done)
        _step(a, b, share, gx, gy, r, loss)
        a, b = b, a
        if n % PEAK_EVERY == PEAK_EVERY - 1 or n == steps - 1:
            _higher(a, peak)
    if steps % 2:
        rise[:, :] = spare
    return _laid(rise, share, gx, gy, np.inf, when, kind, row, column, heat_a, heat_b, part, done)


@_compiled
def _first(rise, back, here, first, share, gx, gy, r, loss, slope):  # type: ignore[no-untyped-def]
    rows, columns = rise.shape
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            t = rise[i, j]
            flow = gx[i, j] * (rise[i, j + 1] - t) + gx[i, j - 1] * (rise[i, j - 1] - t)
            flow += gy[i, j] * (rise[i + 1, j] - t) + gy[i - 1, j] * (rise[i - 1, j] - t)
            first[i, j] = r * flow * share[i, j] - loss * t
            back[i, j] = t
            here[i, j] = t + slope * first[i, j]


@_compiled
def _stage(here, back, rise, first, share, gx, gy, r, loss, mu, nu, mine, old):  # type: ignore[no-untyped-def]
    rows, columns = here.shape
    stay = 1.0 - mu - nu
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            t = here[i, j]
            flow = gx[i, j] * (here[i, j + 1] - t) + gx[i, j - 1] * (here[i, j - 1] - t)
            flow += gy[i, j] * (here[i + 1, j] - t) + gy[i - 1, j] * (here[i - 1, j] - t)
            new = mu * t + nu * back[i, j] + stay * rise[i, j]
            back[i, j] = new + mine * (r * flow * share[i, j] - loss * t) + old * first[i, j]


@_compiled
def _share(k):  # type: ignore[no-untyped-def]
    return 1.0 / 3.0 if k < 3 else (k * k + k - 2.0) / (2.0 * k * (k + 1.0))


@_compiled
def rest(rise, one, two, first, peak, share, gx, gy, r, loss, stages):  # type: ignore[no-untyped-def]
    """Walk one long step without any source by an explicit scheme of many stages (Runge, Kutta, Legendre, of the second
    order). r = alpha tau/h^2 and the share lost are for the whole step; the other arrays are room to work in.

    Returns whether it was taken: a step that would make anything hotter than the hottest or colder than the coldest
    cell before is not, and ``rise`` is then as it was.
    """
    width = 4.0 / (stages * stages + stages - 2.0)
    back, here = one, two
    _first(rise, back, here, first, share, gx, gy, r, loss, width / 3.0)
    for k in range(2, stages + 1):
        mu = (2.0 * k - 1.0) / k * _share(k) / _share(k - 1)
        nu = -(k - 1.0) / k * _share(k) / _share(k - 2)
        mine = mu * width
        old = -(1.0 - _share(k - 1)) * mine
        _stage(here, back, rise, first, share, gx, gy, r, loss, mu, nu, mine, old)
        back, here = here, back
    slack = 1e-9 * (rise.max() - rise.min())
    if here.max() > rise.max() + slack or here.min() < min(0.0, rise.min()) - slack:
        return False
    rise[:, :] = here
    _higher(rise, peak)
    return True


@_compiled
def tallest(rise, labels, most):  # type: ignore[no-untyped-def]
    """Write the highest rise of every label into ``most``; labels below nought are left out."""
    rows, columns = rise.shape
    most[:] = 0.0
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            k = labels[i, j]
            if k >= 0 and rise[i, j] > most[k]:
                most[k] = rise[i, j]
