"""How well jobs are coached, and how well lobes are found, on machines and parts of known truth."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.coaching import coached, coached_apart
from capture.benchmarks.trials.coaching.coached import Outcome
from capture.benchmarks.trials.turning import turned

SEED = 80_000
"""Away from the seeds that the program was made with."""
LANDED, UNDER, MORE = 97.0, 1.0, 15.0
"""Per cent: parts inside the band at the least, undersize and passes over the oracle's at the most."""
OWN = ("matched", "pushed")

Grind = Callable[[int, str], Outcome]


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name; *progress* gets how far it is."""
    jobs, parts = (2, 1) if quick else (500, 100)
    own = {f"coached {kind}": (kind, coached.coached, coached.oracle) for kind in OWN}
    apart = {
        f"coached {kind}": (kind, coached_apart.coached, coached_apart.oracle) for kind in coached_apart.KINDS
    }
    return {
        **{
            name: partial(coach_rows, name, *given, jobs=jobs, progress=progress)
            for name, given in (own | apart).items()
        },
        **{
            f"lobes {kind}": partial(lobe_rows, kind, parts=parts, progress=progress) for kind in turned.KINDS
        },
    }


def coach_rows(
    name: str, kind: str, ours: Grind, best: Grind, *, jobs: int, progress: Callable[[str], None]
) -> Iterator[Row]:
    """Parts landed, undersize, and passes over one who sees the truth."""
    passes = least = landed = under = 0
    for number in range(jobs):
        if number % 50 == 0:
            progress(f"{name}: {number} of {jobs} jobs")
        found, oracle = ours(SEED + number, kind), best(SEED + number, kind)
        passes, least = passes + found.passes, least + oracle.passes
        landed, under = landed + found.landed, under + found.under
    note = f"{jobs} jobs; {LANDED:g} at the least"
    yield Row(f"{name}: landed", 100.0 * landed / jobs, "%", note=note)
    yield Row(f"{name}: undersize", 100.0 * under / jobs, "%", most=UNDER)
    yield Row(f"{name}: more passes than an oracle", 100.0 * (passes / least - 1.0), "%", most=MORE)


def lobe_rows(kind: str, *, parts: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """Lobes within 0.3 µm, stated intervals that held, and lobes that should have been named as unseen."""
    progress(f"lobes {kind}: {parts} parts")
    found = turned.figures(kind, parts, seed=SEED)
    note = f"{found.parts} parts, {found.lobes} lobes, nothing shown of {found.none}"
    yield Row(f"lobes {kind}: within 0.3 µm", 100.0 * found.within, "%", note=note)
    yield Row(f"lobes {kind}: ± 2 u held", 100.0 * found.coverage, "%", note="93 to 97 is right")
    yield Row(f"lobes {kind}: largest error", found.worst, "µm")
    yield Row(f"lobes {kind}: not seen and not named", float(found.unnamed), "", most=0.0)
