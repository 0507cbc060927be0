"""`lagline serve` and `lagline start`: the page, alone or after planning a job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PORT = 8770


def serve(
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port; another free one is taken when it is busy.")
    ] = PORT,
    folder: Annotated[Path | None, typer.Option(help="Where jobs are kept; default: your user data folder.")] = None,
) -> None:
    """Serve the page on this machine only (127.0.0.1) and print its address."""
    _serve(port, folder, "")


def _serve(port: int, folder: Path | None, page: str) -> None:
    from lagline.book.shelf import default_folder
    from lagline.web.serve import serve as run

    def ready(address: str) -> None:
        print(f"the page is at {address}{page} (Ctrl-C stops it)", flush=True)

    run(folder or default_folder(), port, ready=ready)


def start(
    job: Annotated[Path | None, typer.Argument(help="Job file; without one the demo is written and planned.")] = None,
    out: Annotated[Path, typer.Option(help="Folder for the card and the other files.")] = Path("out"),
    kit: Annotated[Path | None, typer.Option(help="Kit file; default: kit.toml beside the job.")] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port of the page.")] = PORT,
    page: Annotated[bool, typer.Option(help="Serve the page afterwards.")] = True,
) -> None:
    """Plan a job (the demo without one), say where its card is, then serve the page."""
    from lagline.cli.plan_command import plan_with_bar, write
    from lagline.cli.report import show_plan

    if job is None:
        from lagline.data.demo_files import demo_files
        from lagline.desk.planner import write_files

        write_files(demo_files(), out / "demo")
        job = out / "demo" / "job.toml"
    made = plan_with_bar(job, kit, 5)
    written = write(made, out)
    show_plan(made)
    card = out / "bench-card.pdf"
    if card in written:
        print(f"\nthe bench card is {card}")
    print("beside it: " + ", ".join(p.name for p in written if p != card), flush=True)
    if page:
        from lagline.book.shelf import default_folder
        from lagline.desk.job_desk import JobDesk

        slug = JobDesk(default_folder()).shelve(job, kit, made)
        _serve(port, None, f"jobs/{slug}")
