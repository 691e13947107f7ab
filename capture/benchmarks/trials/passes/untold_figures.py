"""What trials of passes that nobody tells come to: passes found right, and the spark-out that was called."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.passes.other_slides import SLIDES, other_job
from capture.benchmarks.trials.passes.untold import untold_job
from capture.benchmarks.trials.passes.untold_session import UntoldJob

LIMIT = 0.0005
"""mm on diameter by the next pass, below which a wheel has sparked out."""
NEAR = 0.001
"""mm on diameter within which an infeed is right."""


def wrong_passes(
    made: Sequence[float | None],
    found: Sequence[float | None],
    near: float,
    said: Sequence[float | None] = (),
) -> int:
    """Passes missed, added or with an infeed that is off by more than *near*: the least edits between both.

    *said*: what the dial showed for each of *made*, which is as right where a person entered it.

    >>> wrong_passes([0.005, 0.0, 0.0], [0.005, 0.0], 0.001), wrong_passes([0.005], [0.005, 0.0], 0.001)
    (1, 1)
    """
    row = list(range(len(found) + 1))
    for a, (one, dial) in enumerate(zip(made, said or made, strict=True), 1):
        before, row = row, [a]
        for b, other in enumerate(found, 1):
            change = before[b - 1] + (0 if _same(one, other, near) or _same(dial, other, near) else 1)
            row.append(min(before[b] + 1, row[b - 1] + 1, change))
    return row[-1]


def _same(one: float | None, other: float | None, near: float) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= near


class Called(NamedTuple):
    """The spark-out of one job as it was called."""

    delay: int
    """Sizes after the first at which it was so."""
    false: bool
    """More than twice the limit was still to come by the next pass."""
    error: float
    """Of the predicted size, mm."""
    held: bool
    """Whether the stated 95 % interval holds the truth."""


def called(one: UntoldJob) -> Called | None:
    """How the spark-out was called from the last infeed on; None where it was not, or never was so."""
    rows = {row.number: row for row in one.state.grind.passes}
    fed = max((number for number, row in rows.items() if row.infeed != 0.0), default=0)
    numbers = [reading.pass_ for reading in one.state.stations.taken][-len(one.truth) :]
    newest = dict(zip(numbers, one.truth, strict=True))
    resting = [(rows[n].outlook, truth) for n, truth in newest.items() if n > fed and n in rows]
    so = next((n for n, (_, truth) in enumerate(resting) if truth[0] < LIMIT), None)
    for n, (outlook, (coming, final)) in enumerate(resting):
        if outlook is not None and outlook.settled and outlook.predicted is not None and so is not None:
            error, u = outlook.predicted - final, outlook.u_predicted or 0.0
            return Called(n - so, coming > 2.0 * LIMIT, error, abs(error) < 1.96 * u)
    return None


class UntoldFigures(Struct, frozen=True):
    """What the trial found."""

    kind: str
    jobs: int
    passes: int
    right: float
    """Share of the true passes that were found, rests included, less those that were none."""
    counts: float
    """Share of the measurements with the right number of passes."""
    infeed_p95: float
    """mm on diameter, of the fed passes of measurements with the right number."""
    asked: float
    """Questions about the number of passes, of a job."""


def run(
    count: int,
    kind: str = "plain",
    *,
    answering: bool = True,
    seed: int = 0,
    progress: Callable[[int], None] | None = None,
) -> UntoldFigures:
    """Run *count* jobs of *kind*; *progress*, if given, gets the number of each that is done.

    *answering*: somebody answers what is asked of the number of passes.

    Raises:
        ValueError: There is no such kind, or nothing to run.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 job, got {count}")
    passes = wrong = cycles = right = asked = 0
    errors: list[float] = []
    for number in range(count):
        one = (other_job if kind in SLIDES else untold_job)(seed + number, kind, answering=answering)
        asked += one.asked
        said = one.said or one.made
        for made, found, dial in zip(one.made, one.found, said, strict=True):
            passes += len(made)
            wrong += wrong_passes(made, found, NEAR, dial)
            cycles += 1
            right += len(made) == len(found)
            if len(made) == len(found):
                errors += [abs(a - b) for a, b in zip(made, found, strict=True) if a and b is not None]
        if progress:
            progress(number + 1)
    p95 = float(np.percentile(errors, 95)) if errors else float("nan")
    shares = (1.0 - wrong / max(passes, 1), right / max(cycles, 1))
    return UntoldFigures(kind, count, passes, *shares, p95, asked / count)
