"""Ways to lay a job out that are worth choosing between: each is best at something, none is worse at everything."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from lagline.planning.choose_layout import LaidOut, laid_out
from lagline.planning.estimate import Estimate
from lagline.planning.intake import intake
from lagline.planning.settings import choose_settings
from lagline.records.coupon import Learned
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank

MOST = 4
SEEDS = 2  # tries of each way that the seed changes
NEAR = 0.005  # differences of less than half a per cent are none


@dataclass(frozen=True, slots=True)
class Choice:
    """One way: what it is best at, and the job's layout and seed that give it again."""

    best_at: tuple[str, ...]
    method: str
    seed: int
    laid: LaidOut

    @property
    def estimate(self) -> Estimate:
        return self.laid.estimate


def frontier(
    job: Job,
    kit: Kit,
    *,
    learned: Learned = Learned(),
    seconds: int = 5,
    ways: tuple[str, ...] = ("guided", "quick", "dense"),
    tell: Callable[[float, str], None] = lambda _share, _text: None,
    stop: Callable[[], bool] = lambda: False,
    found: Callable[[tuple[Blank, ...], tuple[Choice, ...]], None] = lambda _blanks, _choices: None,
) -> tuple[tuple[Blank, ...], tuple[Choice, ...]]:
    """Return the parts and at most ``MOST`` choices, the cheapest first.

    Parameters
    ----------
    seconds : time the dense layout may take on each plate [s]
    tell : told the share done (0 to 1) and what is being done
    stop : asked often; once true, the best of what was found so far is returned
    found : shown the choices there are after each way, as they come

    Errors: LaglineError as intake and settings have it.
    """
    blanks, _ = intake(job)
    settings, _ = choose_settings(blanks, kit, job.current_a, learned)
    tries = [(m, job.seed + k) for k in range(SEEDS) for m in ways if k == 0 or m != "dense"]
    tries.sort(key=lambda t: t[0] == "dense")  # it takes longest
    made: list[Choice] = []
    for n, (method, seed) in enumerate(tries):
        if stop():
            break

        def told(share: float, text: str, done: int = n) -> None:
            tell((done + share) / len(tries), text)

        one = laid_out(replace(job, seed=seed), kit, blanks, settings, method, seconds=seconds, tell=told, stop=stop)
        made.append(Choice((), method, seed, one))
        found(blanks, worth(tuple(made)))
    return blanks, worth(tuple(made))


def worth(made: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """Return the choices that none betters in everything, told what each is best at, the cheapest first."""
    fewest = min((c.estimate.left_over for c in made), default=0)
    full = [c for c in made if c.estimate.left_over == fewest]
    kept: list[Choice] = []
    for c in sorted(full, key=lambda c: _order(c.estimate)):
        if not any(_no_worse(k.estimate, c.estimate) for k in kept):
            kept.append(c)
    if not kept:
        return ()
    aims: tuple[tuple[str, Callable[[Estimate], float]], ...] = (
        ("least money", lambda e: e.money),
        ("fewest minutes", lambda e: e.minutes),
        ("least plate", lambda e: e.metal),
        ("best offcut", lambda e: -e.offcut_mm2),
    )
    names: dict[int, list[str]] = {}
    for name, measure in aims:
        best = min(range(len(kept)), key=lambda i: (measure(kept[i].estimate), i))
        names.setdefault(best, []).append(name)
    return tuple(replace(c, best_at=tuple(names.get(i, ()))) for i, c in enumerate(kept) if i in names)[:MOST]


def _order(e: Estimate) -> tuple[float, ...]:
    """The cheapest first; of equals the one that is better at something, so that it is the one that is kept."""
    return (*e.rank, e.minutes, e.metal, -e.offcut_mm2)


def _no_worse(a: Estimate, b: Estimate) -> bool:
    """Is a as good as b in everything that is chosen by?"""
    return (
        a.minutes <= b.minutes * (1 + NEAR)
        and a.metal <= b.metal * (1 + NEAR) + 1e-9
        and a.offcut_mm2 >= b.offcut_mm2 * (1 - NEAR)
    )
