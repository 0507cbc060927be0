"""Cautions that go with the job as a whole: eyes, fire, fume, ears, shock, closed vessels, hot and falling metal."""

from __future__ import annotations

from dataclasses import replace

from lagline.records.finding import Finding, Severity
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Setting, Step
from lagline.trade.safety import closed_vessel_finding, hot_work_findings

POUND_KG = 0.45359237  # exact by definition, international yard and pound agreement of 1959
MADE_SAFE = 'vessel_made_safe = "cleaned with ..., vented at ..., tested for gas by ... on ..."'
HEAVY_KG = 5.0  # named one by one from here; a falling piece this heavy breaks a foot


def cautions(job: Job, kit: Kit, settings: tuple[Setting, ...], steps: tuple[Step, ...]) -> tuple[Finding, ...]:
    """Return the usual cautions with the rule each is from; none for a job without an arc.

    Lens by the largest current of the plan and the rules of the kit (several parted by ``;``, the darkest counts);
    fume by every metal and coating that is cut.
    """
    if not any(s.path for s in steps):
        return (*_vessel(job), *falling(steps, job.units))
    current = max(s.current_a for s in settings)
    rules = tuple(r.strip() for r in kit.bench.lens_rule.split(";") if r.strip())
    stocks = [s.stock for s in settings] + [job.plates[i].stock for i in sorted({s.plate for s in steps})]
    found: dict[Finding, None] = {}
    for metal, coating in dict.fromkeys((s.metal, s.coating) for s in stocks):
        found.update(dict.fromkeys(hot_work_findings(metal, coating, current, rules)))
    return (*_vessel(job), *found, _hot(job.units), *falling(steps, job.units))


def _vessel(job: Job) -> tuple[Finding, ...]:
    """A closed vessel is a no-go until the job says how it was made safe; the cautions stay either way."""
    if not job.closed_vessel:
        return ()
    first = closed_vessel_finding()
    if job.vessel_made_safe:
        say = f'{first.message}; the job says: "{job.vessel_made_safe}"'
        first = replace(first, severity=Severity.CAUTION, message=say)
    else:
        first = replace(first, allowed=f"{first.allowed}; then say how in the job: {MADE_SAFE}")
    return (
        first,
        Finding(
            "closed-vessel-person",
            Severity.CAUTION,
            "job",
            "a closed vessel or hollow: opened, vented and cleaned, then tested for gas by a competent person just "
            "before and during the cut, with a hot work permit",
            "common practice, no source; local code and the site's permit come first",
        ),
    )


def _hot(units: str) -> Finding:
    free = "50 to 100 mm" if units == "mm" else "2 to 4 in"
    return Finding(
        "hot-metal",
        Severity.CAUTION,
        "hands and feet",
        "a cut edge burns long after it has gone dark; pieces drop hot, slag runs through below",
        f"gloves, boots, nothing that burns under the cut, {free} free below it; common practice, no source",
    )


def falling(steps: tuple[Step, ...], units: str) -> tuple[Finding, ...]:
    """Return one caution naming every piece of 5 kg or more that comes loose, with its mass; equal ones together.

    The mass is in lb for a job in inches, in kg for one in mm.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for s in steps:
        if s.drop_kg >= HEAVY_KG and s.frees in ("part", "drop"):
            mass = f"{s.drop_kg:.0f} kg" if units == "mm" else f"{s.drop_kg / POUND_KG:.0f} lb"
            groups.setdefault((s.frees, mass), []).append(str(s.number))
    if not groups:
        return ()
    named = "; ".join(
        f"set-up {numbers[0]} {frees} {mass}"
        if len(numbers) == 1
        else f"set-ups {', '.join(numbers)} {frees}s {mass} each"
        for (frees, mass), numbers in groups.items()
    )
    return (
        Finding(
            "drop-heavy",
            Severity.CAUTION,
            "feet",
            f"these come loose and fall: {named}",
            "support or sling before it comes loose, stand clear, no foot below; common practice, no source",
        ),
    )
