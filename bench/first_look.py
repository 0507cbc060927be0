"""From a job of sixty mixed parts posted to the page to its first picture, and to the whole plan; by hand or by run.py.

``python bench/first_look.py`` posts it once for every way to lay it out.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
ADDRESS = "http://127.0.0.1:8770"
FIRST = {
    "name": "sixty", "units": "mm", "part.leg_across": "200", "part.leg_up": "250", "stock.metal": "steel",
    "stock.thickness": "10", "plate.width": "600", "plate.height": "400",
}  # fmt: skip
PARTS = (  # copies and shape: straps, gussets, rings, free shapes, rectangles; sixty in all
    *((4, f'shape = "strip"\nlength = {long}\nwidth = {wide}') for long, wide in ((900, 75), (700, 60), (600, 90))),
    *((6, f'shape = "gusset"\nleg_across = {a}\nleg_up = {b}\nsnipe = 20') for a, b in ((200, 250), (160, 180))),
    *((4, f'shape = "ring"\noutside = {d}\ninside = {d // 2}') for d in (300, 220)),
    *((5, f'shape = "sector"\noutside = {d}\ninside = {d // 2}\nangle = {a}') for d, a in ((340, 90), (280, 120))),
    *((6, f'shape = "rectangle"\nwidth = {w}\nheight = {h}') for w, h in ((260, 180), (220, 140), (150, 120))),
)


def job_text(layout: str, seed: int = 1) -> str:
    """The job as a file; another seed, another job to the page."""
    parts = (f'[[parts]]\nname = "part {n}"\nquantity = {q}\n{shape}\n' for n, (q, shape) in enumerate(PARTS, 1))
    return (
        f'name = "sixty"\nunits = "mm"\nlayout = "{layout}"\nseed = {seed}\n'
        'stock = { metal = "steel", thickness = 10 }\n\n' + "\n".join(parts)
        + '\n[[plates]]\nname = "A"\nwidth = 3000\nheight = 2000\n'
    )  # fmt: skip


@dataclass(frozen=True)
class Look:
    """Seconds by the clock from posting the job: to the answer, to the first picture, to the plan."""

    answer_s: float
    picture_s: float
    plan_s: float


def look(page: Any, layout: str, seed: int = 1) -> Look:
    """Post the job to a page and look at it as the page itself does, until there is a picture and then a plan."""
    own = {"Origin": ADDRESS}
    slug = page.post("/new/gusset", data=FIRST, headers=own, follow_redirects=False).headers["location"]
    while 'class="stage"' in page.get(slug).text:
        time.sleep(0.2)
    mark = page.get(f"{slug}/edit/job.toml").text.split('name="based_on" value="')[1].split('"')[0]
    given = {"text": job_text(layout, seed), "based_on": mark, "do": "save"}
    begin = time.perf_counter()
    answer = page.post(f"{slug}/edit/job.toml", data=given, headers=own)
    answered, picture = time.perf_counter() - begin, 0.0
    while True:
        now = time.perf_counter() - begin
        if not picture and '<figure class="plate"' in answer.text:
            picture = now
        if 'class="stage"' not in answer.text or now > 120:
            return Look(answered, picture, now)
        time.sleep(0.05)
        answer = page.get(slug)


def looks(layouts: tuple[str, ...]) -> dict[str, Look]:
    """One look for every layout, on pages of their own."""
    from fastapi.testclient import TestClient

    from lagline.desk.plan_room import warm_up
    from lagline.web.app import create_app

    with tempfile.TemporaryDirectory() as folder:
        os.environ["LAGLINE_HOME"] = folder
        warm_up()
        with TestClient(create_app(Path(folder)), base_url=ADDRESS) as page:
            return {layout: look(page, layout) for layout in layouts}


if __name__ == "__main__":
    for name, seen in looks(("quick", "guided", "best", "dense")).items():
        print(f"{name:8} answer {seen.answer_s:.2f} s, picture {seen.picture_s:.2f} s, plan {seen.plan_s:.2f} s")
