"""Cautions that go with the job as a whole: eyes, fire, fume, ears, shock, closed vessels, hot and falling metal."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Setting, Step
from lagline.trade.safety import hot_work_findings

HEAVY_KG = 5.0  # named one by one from here; a falling piece this heavy breaks a foot


def cautions(job: Job, kit: Kit, settings: tuple[Setting, ...], steps: tuple[Step, ...]) -> tuple[Finding, ...]:
    """Return the usual cautions with the rule each is from; none for a job without an arc.

    Lens by the largest current of the plan and the rules of the kit (several parted by ``;``, the darkest counts);
    fume by every metal and coating that is cut.
    """
    if not any(s.path for s in steps):
        return (*falling(steps), *_vessel(job))
    current = max(s.current_a for s in settings)
    rules = tuple(r.strip() for r in kit.bench.lens_rule.split(";") if r.strip())
    stocks = [s.stock for s in settings] + [job.plates[i].stock for i in sorted({s.plate for s in steps})]
    found: dict[Finding, None] = {}
    for metal, coating in dict.fromkeys((s.metal, s.coating) for s in stocks):
        found.update(dict.fromkeys(hot_work_findings(metal, coating, current, rules, closed_vessel=job.closed_vessel)))
    return (*found, *_vessel(job), _hot(), *falling(steps))


def _vessel(job: Job) -> tuple[Finding, ...]:
    if not job.closed_vessel:
        return ()
    return (
        Finding(
            "closed-vessel-person",
            Severity.CAUTION,
            "job",
            "a closed vessel or hollow: opened, vented and cleaned, then tested for gas by a competent person just "
            "before and during the cut, with a hot work permit",
            "common practice, no source; local code and the site's permit come first",
        ),
    )


def _hot() -> Finding:
    return Finding(
        "hot-metal",
        Severity.CAUTION,
        "hands and feet",
        "a cut edge burns long after it has gone dark; pieces drop hot, slag runs through below",
        "gloves, boots, nothing that burns under the cut, 2 to 4 in free below it; common practice, no source",
    )


def falling(steps: tuple[Step, ...]) -> tuple[Finding, ...]:
    """Return one caution naming every piece of 5 kg or more that comes loose, with its mass; equal ones together."""
    groups: dict[tuple[str, str], list[str]] = {}
    for s in steps:
        if s.drop_kg >= HEAVY_KG and s.frees in ("part", "drop"):
            mass = f"{s.drop_kg:.0f} kg ({s.drop_kg / 0.45359237:.0f} lb)"
            groups.setdefault((s.frees, mass), []).append(str(s.number))
    if not groups:
        return ()
    named = "; ".join(
        f"step {numbers[0]} {frees} {mass}" if len(numbers) == 1 else f"steps {', '.join(numbers)} {frees}s {mass} each"
        for (frees, mass), numbers in groups.items()
    )
    return (
        Finding(
            "drop-heavy",
            Severity.CAUTION,
            "feet",
            f"these come loose and fall: {named}",
            "support or sling before the last inch, stand clear, no foot below; common practice, no source",
        ),
    )
