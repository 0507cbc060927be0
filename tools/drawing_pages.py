"""The page that says what became of drawings nobody here drew: laid out, cut on paper, go or why not."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from lagline.records.finding import Severity  # noqa: E402
from tests.derived.test_real_drawings import FILES, planned  # noqa: E402

HEAD = """# Drawings of others, planned

Each drawing in `tests/drawings` (where they come from is said there; what was found and mended in them is in
[drawings](drawings.md)) as one part in 3 mm steel with the built-in kit. Made by `make docs`;
`tests/derived/test_real_drawings.py` holds that each part left on paper equals its outline, or that a finding says
what cannot be cut.

| drawing | verdict | set-ups |
|---|---|---|
"""


def row(name: str) -> str:
    plan = planned(name)
    how = ", ".join(f"{method} {n}" for method, n in Counter(str(s.method) for s in plan.steps).most_common())
    stops = Counter(f.code for f in plan.findings if f.severity is Severity.NO_GO)
    why = ", ".join(code.replace("-", " ") for code in stops)
    return f"| {name} | {'go' if plan.go else f'no-go: {why}'} | {how} |"


def write() -> None:
    (ROOT / "docs" / "drawings-planned.md").write_text(HEAD + "\n".join(map(row, FILES)) + "\n")


if __name__ == "__main__":
    write()
