"""`make docs`: the pages and pictures that the program makes itself."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
sys.path.insert(0, str(ROOT / "tools"))

import bridge_pictures  # noqa: E402
import drawing_pages  # noqa: E402
import formula_pages  # noqa: E402
import setout_pages  # noqa: E402

from lagline.cards import bench_card, draw, plan_json  # noqa: E402
from lagline.cards.draw_heat import heat_svg  # noqa: E402
from lagline.cards.rack_picture import item_svg  # noqa: E402
from lagline.desk.demo import write_demo  # noqa: E402
from lagline.desk.planner import plan_files  # noqa: E402
from lagline.desk.rack_cut import cut_of  # noqa: E402
from lagline.planning.heat import heat_of  # noqa: E402
from lagline.records.plan import Plan  # noqa: E402

BROWSER_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--hide-scrollbars",
)  # fmt: skip


def main() -> None:
    formula_pages.write()
    drawing_pages.write()
    setout_pages.write()
    bridge_pictures.write()
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_demo(folder)
        plan = plan_files(folder / "job.toml")
        plate(plan, folder)
        card(plan, folder)
        rack(plan, folder)
        heat(plan, folder)
    print(f"written: docs/formulas.md and pictures in {PICTURES.relative_to(ROOT)}")


def plate(plan: Plan, folder: Path) -> None:
    """The demo's plate as on the screen."""
    shot(draw.plate_svg(plan, 0, paper=False), "demo-plate", folder)


def heat(plan: Plan, folder: Path) -> None:
    """The heat of the demo's plate, as on the screen and as printed."""
    hot = heat_of(plan)[0]
    for title, paper in (("heat-plate", False), ("heat-paper", True)):
        shot(heat_svg(plan, hot, paper=paper), title, folder, 1100)


def rack(plan: Plan, folder: Path) -> None:
    """The largest offcut of the demo's plate as it lies on the rack."""
    left = cut_of(plan_json.to_json(plan), "plan.json", "2026-03-02").offcuts
    shot(item_svg(replace(left[0], mark="R-8"), paper=False), "rack-offcut", folder, 900)


def shot(svg: str, name: str, folder: Path, across: int = 1280) -> None:
    """A picture as on the screen."""
    browser = shutil.which("chromium")
    if browser is None:
        sys.exit("the pictures need Debian's chromium: sudo apt-get install chromium")
    page = folder / "plate.html"
    style = f"<style>body{{margin:0}}svg{{display:block;width:{across}px;height:auto}}</style>"
    page.write_text(f"<!doctype html><meta charset=utf-8>{style}{svg}")
    _, _, width, height = map(float, svg.split('viewBox="')[1].split('"')[0].split())
    picture = PICTURES / f"{name}.png"
    command = [browser, *BROWSER_FLAGS, f"--user-data-dir={folder / 'profile'}", f"--screenshot={picture}",
               f"--window-size={across},{round(across * height / width)}", page.as_uri()]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True)


def card(plan: Plan, folder: Path) -> None:
    """The first page of straightedge set-ups on the demo's card."""
    pdf = folder / "card.pdf"
    pdf.write_bytes(bench_card.pdf(plan, "letter"))
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    page = next(i for i, t in enumerate(text.split("\f"), 1) if t.count("guide to line") >= 4)
    subprocess.run(
        ["pdftoppm", "-r", "80", "-f", str(page), "-l", str(page), "-singlefile", "-png", str(pdf),
         str(PICTURES / "demo-card")],
        check=True,
    )  # fmt: skip


if __name__ == "__main__":
    main()
