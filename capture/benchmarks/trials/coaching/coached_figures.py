"""Trials of the coach summed up: jobs ground by the coach, by habit and with the truth in sight."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import nan, sqrt

from msgspec import Struct

from capture.benchmarks.trials.coaching.coached import Outcome, by_habit, coached, oracle


class CoachFigures(Struct, frozen=True):
    """What a trial found; shares of all jobs."""

    kind: str
    jobs: int
    landed: float
    under: float
    asked: float
    """Share of the jobs in which something was asked about."""
    passes: float
    """Mean."""
    readings: float
    over_oracle: float
    """Passes of all jobs over those of the oracle, as a ratio less 1."""
    u_over: float
    """Its standard error."""
    oracle_passes: float
    naive_landed: float
    naive_under: float
    naive_passes: float


def run(
    count: int, kind: str = "matched", *, seed: int = 0, progress: Callable[[int], None] | None = None
) -> CoachFigures:
    """Grind *count* jobs of *kind* in all three ways; *progress*, if given, gets the number of each.

    Raises:
        ValueError: There is no such kind, or nothing to run.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 job, got {count}")
    rows = []
    for number in range(count):
        at = seed + number
        rows.append((coached(at, kind), by_habit(at, kind), oracle(at, kind)))
        if progress:
            progress(number + 1)
    return figures(rows, kind)


def figures(rows: list[tuple[Outcome, Outcome, Outcome]], kind: str) -> CoachFigures:
    """Sum up jobs, each as coached, by habit, and with the truth in sight."""
    ours, habit, best = zip(*rows, strict=True)
    apart = [one.passes - other.passes for one, other in zip(ours, best, strict=True)]
    passes, least = _mean(one.passes for one in ours), _mean(one.passes for one in best)
    return CoachFigures(
        kind=kind,
        jobs=len(rows),
        landed=_mean(one.landed for one in ours),
        under=_mean(one.under for one in ours),
        asked=_mean(one.asked for one in ours),
        passes=passes,
        readings=_mean(one.readings for one in ours),
        over_oracle=passes / least - 1.0,
        u_over=sqrt(_mean((one - passes + least) ** 2 for one in apart) / len(rows)) / least,
        oracle_passes=least,
        naive_landed=_mean(one.landed for one in habit),
        naive_under=_mean(one.under for one in habit),
        naive_passes=_mean(one.passes for one in habit),
    )


def _mean(values: Iterable[float]) -> float:
    listed = list(values)
    return sum(listed) / len(listed) if listed else nan


def table(rows: Iterable[CoachFigures]) -> str:
    """The figures of several trials as lines of text; ± is the standard error, of shares the binomial one."""
    head = f"{'kind':10}{'jobs':>6} | {'landed':>13}{'under':>7}{'asked':>7}{'passes':>8}{'readings':>9}"
    head += f" | {'oracle':>7}{'over it':>15} | {'by habit: landed':>16}{'under':>7}{'passes':>8}"
    return "\n".join([head, *map(_line, rows)])


def _line(f: CoachFigures) -> str:
    ours = f"{f.landed:7.1%}{_chance(f.landed, f.jobs)}{f.under:7.1%}{f.asked:7.1%}{f.passes:8.1f}"
    least = f"{f.oracle_passes:7.1f}{f.over_oracle:8.1%} ±{f.u_over:5.1%}"
    habit = f"{f.naive_landed:16.1%}{f.naive_under:7.1%}{f.naive_passes:8.1f}"
    return f"{f.kind:10}{f.jobs:6} | {ours}{f.readings:9.1f} | {least} | {habit}"


def _chance(share: float, jobs: int) -> str:
    return f" ±{sqrt(share * (1.0 - share) / jobs):4.1%}"
