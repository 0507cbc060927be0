"""Random parts and plates for the laws, built straight from records and repeatable by seed.

``random_blanks(seed, n)`` gives n kinds of part, each a valid :class:`Blank` (cut size equal to the drawing, every
segment named, every edge listed); ``random_plate(seed)`` gives one plate or offcut; ``random_job(seed, n)`` both,
in one stock. Shapes: rectangle, rounded rectangle, gusset, L with an inside corner, ring, round plate with holes,
smooth free blob. ``SHAPES`` maps each kind to its maker, for tests that want one kind only. All lengths mm.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable

from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Arc, Free, Line, Loop, Move, Outline, Point
from lagline.records.job import Edge, EdgeUse, Part, Plate, Size, Stock
from lagline.records.plan import Blank

STEEL = Stock("steel", "plain", 9.525, '3/8"')
DENSITY_KG_MM3 = 7.85e-6


def polygon_loop(points: list[Point], prefix: str = "e") -> Loop:
    """Loop of straight lines through the points."""
    segments = tuple(Line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True))
    return Loop(segments, tuple(f"{prefix}{i + 1}" for i in range(len(segments))))


def circle(centre: Point, radius: float, name: str, *, hole: bool = False) -> Loop:
    """One full circle; clockwise for a hole."""
    return Loop((Arc(centre, radius, 0.0, -2 * math.pi if hole else 2 * math.pi),), (name,))


def rounded(w: float, h: float, r: float, prefix: str = "e", at: Point = (0.0, 0.0)) -> Loop:
    """Rectangle with its corners rounded, counter-clockwise, lower left corner of its box at ``at``."""
    x, y = at
    q = math.pi / 2
    segments = (
        Line((x + r, y), (x + w - r, y)),
        Arc((x + w - r, y + r), r, -q, q),
        Line((x + w, y + r), (x + w, y + h - r)),
        Arc((x + w - r, y + h - r), r, 0.0, q),
        Line((x + w - r, y + h), (x + r, y + h)),
        Arc((x + r, y + h - r), r, q, q),
        Line((x, y + h - r), (x, y + r)),
        Arc((x + r, y + r), r, 2 * q, q),
    )
    return Loop(segments, tuple(f"{prefix}{i + 1}" for i in range(8)))


def rectangle(rng: random.Random, size: float) -> Outline:
    """Rectangle from square to strap, about ``size`` long, sometimes with drilled-size holes."""
    w, h = size, size * rng.uniform(0.15, 1.0)
    holes = []
    if rng.random() < 0.5:
        r = min(w, h) * rng.uniform(0.08, 0.25)
        holes.append(circle((w / 2, h / 2), r, "h1", hole=True))
    return Outline(polygon_loop([(0, 0), (w, 0), (w, h), (0, h)]), tuple(holes))


def rounded_rectangle(rng: random.Random, size: float) -> Outline:
    """Cheek plate: rounded corners, one round hole, perhaps a window."""
    w, h = size, size * rng.uniform(0.5, 1.0)
    holes = []
    if rng.random() < 0.5:
        holes.append(rounded(w * 0.4, h * 0.4, min(w, h) * 0.08, "w", (w * 0.3, h * 0.3)).reversed())
    else:
        holes.append(circle((w * 0.3, h * 0.5), min(w, h) * 0.15, "h1", hole=True))
    return Outline(rounded(w, h, min(w, h) * rng.uniform(0.1, 0.35)), tuple(holes))


def gusset(rng: random.Random, size: float) -> Outline:
    """Triangle with its tips cut off, one right angle."""
    h, c = size * rng.uniform(0.5, 1.0), size * rng.uniform(0.05, 0.12)
    return Outline(polygon_loop([(0, 0), (size, 0), (size, c), (c, h), (0, h)]))


def ell(rng: random.Random, size: float) -> Outline:
    """L with one inside corner."""
    h, t, u = size * rng.uniform(0.6, 1.0), size * rng.uniform(0.2, 0.45), size * rng.uniform(0.2, 0.45)
    return Outline(polygon_loop([(0, 0), (size, 0), (size, t), (u, t), (u, h), (0, h)]))


def ring(rng: random.Random, size: float) -> Outline:
    """Flange ring with a bolt circle."""
    outer, inner = size / 2, size / 2 * rng.uniform(0.4, 0.65)
    holes = [circle((0, 0), inner, "bore", hole=True)]
    middle, r, n = (outer + inner) / 2, (outer - inner) * 0.18, rng.choice((0, 4, 6))
    for i in range(n):
        a = 2 * math.pi * i / n
        holes.append(circle((middle * math.cos(a), middle * math.sin(a)), r, f"h{i + 1}", hole=True))
    return Outline(circle((0, 0), outer, "rim"), tuple(holes))


def disc(rng: random.Random, size: float) -> Outline:
    """Round plate with holes of several sizes."""
    r = size / 2
    sizes = [r * f for f in (0.06, 0.12, 0.2)][: rng.randint(1, 3)]
    holes = tuple(
        circle((r * 0.55 * math.cos(2.1 * i), r * 0.55 * math.sin(2.1 * i)), s, f"h{i + 1}", hole=True)
        for i, s in enumerate(sizes)
    )
    return Outline(circle((0, 0), r, "rim"), holes)


def blob(rng: random.Random, size: float) -> Outline:
    """Smooth free shape, star-shaped about its middle, as one Free segment."""
    waves = [(k, rng.uniform(-0.12, 0.12), rng.uniform(0, 2 * math.pi)) for k in (2, 3, 5)]
    n = 240
    points = []
    for i in range(n):
        a = 2 * math.pi * i / n
        r = size / 2 * (1 + sum(h * math.sin(k * a + p) for k, h, p in waves)) * 0.8
        points.append((r * math.cos(a), r * math.sin(a)))
    return Outline(Loop((Free((*points, points[0])),), ("edge",)))


SHAPES: dict[str, Callable[[random.Random, float], Outline]] = {
    "rectangle": rectangle,
    "cheek": rounded_rectangle,
    "gusset": gusset,
    "ell": ell,
    "ring": ring,
    "disc": disc,
    "blob": blob,
}


def blank(
    name: str,
    outline: Outline,
    quantity: int = 1,
    *,
    stock: Stock = STEEL,
    turns_deg: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0),
    may_mirror: bool = False,
    use: EdgeUse = EdgeUse.FREE,
) -> Blank:
    """Blank whose cut size is its drawing, with every edge listed."""
    edges = tuple(Edge(n, use) for loop in outline.loops for n in loop.names)
    part = Part(name, outline, quantity, stock, edges, Size.CUT, 0.0, turns_deg, may_mirror, "generated")
    kg = outline.area * stock.thickness_mm * DENSITY_KG_MM3
    mass = Figure(kg, kg, kg, "kg", "part.mass", Basis.DRAWING, "generated")
    return Blank(part, outline, outline, (), outline.area, mass)


def rectangle_blank(name: str, w: float, h: float, quantity: int = 1, **options: object) -> Blank:
    """Plain rectangle of exactly that size."""
    return blank(name, Outline(polygon_loop([(0, 0), (w, 0), (w, h), (0, h)])), quantity, **options)  # type: ignore[arg-type]


def random_blanks(
    seed: int,
    n: int,
    *,
    low_mm: float = 60.0,
    high_mm: float = 400.0,
    most: int = 3,
    kinds: tuple[str, ...] = tuple(SHAPES),
    stock: Stock = STEEL,
) -> tuple[Blank, ...]:
    """``n`` kinds of part, each 1 to ``most`` copies, longest side between ``low_mm`` and ``high_mm``."""
    rng = random.Random(seed)
    out = []
    for i in range(n):
        kind = rng.choice(kinds)
        outline = SHAPES[kind](rng, rng.uniform(low_mm, high_mm))
        away = Move(rng.uniform(-500, 500), rng.uniform(-500, 500))  # drawings rarely begin at the origin
        turns = rng.choice(((0.0, 90.0, 180.0, 270.0), (0.0, 180.0), ()))
        quantity, mirror = rng.randint(1, most), rng.random() < 0.2
        shape = away.outline(outline)
        out.append(blank(f"{kind} {i + 1}", shape, quantity, stock=stock, turns_deg=turns, may_mirror=mirror))
    return tuple(out)


def rectangle_plate(name: str, w: float, h: float, *, margin_mm: float = 0.0, kind: str = "plate") -> Plate:
    """Square-cornered plate of exactly that size, datum corner at the origin."""
    return Plate(name, kind, Outline(polygon_loop([(0, 0), (w, 0), (w, h), (0, h)])), STEEL, margin_mm)


def random_plate(seed: int, *, low_mm: float = 600.0, high_mm: float = 1600.0, stock: Stock = STEEL) -> Plate:
    """Plate or offcut: rectangle, out of square, L, ragged free edge; with or without openings."""
    rng = random.Random(f"plate {seed}")
    w, h = rng.uniform(low_mm, high_mm), rng.uniform(low_mm, high_mm) * 0.7
    form = rng.choice(("rectangle", "skew", "ell", "ragged"))
    match form:
        case "rectangle":
            outer = polygon_loop([(0, 0), (w, 0), (w, h), (0, h)])
        case "skew":
            s = rng.uniform(5, 60)
            outer = polygon_loop([(0, 0), (w, 0), (w + s, h), (s, h)])
        case "ell":
            outer = polygon_loop([(0, 0), (w, 0), (w, h * 0.5), (w * 0.45, h * 0.5), (w * 0.45, h), (0, h)])
        case _:
            top = [(w * (1 - i / 12), h * (0.8 + 0.2 * rng.random())) for i in range(13)]
            outer = polygon_loop([(0, 0), (w, 0), *top])
    holes = []
    if rng.random() < 0.5:
        holes.append(circle((w * 0.25, h * 0.3), h * rng.uniform(0.03, 0.12), "opening", hole=True))
    kind = "plate" if form == "rectangle" and not holes else "offcut"
    return Plate(f"{kind} {seed}", kind, Outline(outer, tuple(holes)), stock, rng.choice((0.0, 5.0, 10.0)))


def random_job(seed: int, n: int, plates: int = 1) -> tuple[tuple[Blank, ...], tuple[Plate, ...]]:
    """Parts and plates in one stock; the parts need not all fit."""
    return random_blanks(seed, n), tuple(random_plate(seed * 31 + i) for i in range(plates))
