"""What a riding gauge's figures rest on: its passes, the levels between them, and what was fed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile
from math import hypot, inf

from capture.metrology.gauges.single_reading import rounded_mean
from capture.metrology.grinding.outlook import Stroke
from capture.metrology.grinding.stream.ride_figures import as_stored, ride_figures
from capture.metrology.grinding.stream.ride_filter import LeveledPass, ShownLevel
from capture.sheet.job import Gauge
from capture.state.stream.riding_state import RidingState, SizeStep

LEAST_LEVEL = 0.00006
"""mm; standard uncertainty of the level of a stream over some seconds, beside its noise (set by trials)."""
SPRINGS = 0.001
"""mm by which a part springs back when the wheel leaves it (common practice, no source)."""
LITTLE = 0.25
"""Share of what the pass before took up to which a first rest is doubted (K over 0.75; an estimate)."""
MOST_RUN = 20
"""Passes that figures rest on."""
CLEARLY = 3.0
"""Standard uncertainties that a pass takes from which it was surely made."""


def figures_of(stream: RidingState, gauge: Gauge, strokes: Sequence[Stroke]) -> dict[str, float | str]:
    """What the passes so far took, as the reading keeps it; nothing before the first."""
    steps = stream.steps[-MOST_RUN:]
    if stream.due is None or not steps:
        return {}
    if steps[-1].figures is not None:
        return as_stored(steps[-1].figures)
    plunges = [number for number, one in enumerate(steps) if one.figures is not None]
    steps = steps[plunges[-1] + 1 :] if plunges else steps
    # one more rest that nothing denies is one
    rests = takewhile(lambda one: one.rest, reversed(steps[:-1]))
    seen = not steps[-1].odd and (steps[-1].seen or any(one.seen and not one.odd for one in rests))
    ends = [*(step.at for step in steps[1:]), inf]
    least = hypot(LEAST_LEVEL, rounded_mean(stream.plateau.scatter, gauge.resolution or 0.0))
    earlier = [None, *steps[:-1]]
    found = ride_figures(
        [
            _pass_of(step, before, _infeed(strokes, step.at, end), least)
            for step, before, end in zip(steps, earlier, ends, strict=True)
        ],
        shown=steps[-1].size,
        seen=seen,
        from_first=stream.count == len(steps),
    )
    return as_stored(found)


def _infeed(strokes: Sequence[Stroke], begin: float, end: float) -> float | None:
    """What was fed for the pass at *begin*, mm, where one stroke alone was written down before the next."""
    own = [stroke.infeed for stroke in strokes if begin <= stroke.t < end]
    return own[0] if len(own) == 1 else None


def _pass_of(made: SizeStep, earlier: SizeStep | None, infeed: float | None, least: float) -> LeveledPass:
    """A pass with the levels between which it lies, none better known than *least*, mm.

    A fall far smaller than that of the pass before may be the part that springs back when the wheel leaves
    it, or coolant that is shut: it alone is no spark-out.
    """
    before = ShownLevel(made.before_at, made.size + made.removed, hypot(made.u_before, least))
    after = ShownLevel(made.after_at, made.size, hypot(made.u_after, least))
    little = earlier is not None and not earlier.rest and made.removed < LITTLE * earlier.removed
    doubtful = little or made.odd or not made.due
    sure = made.seen and made.removed > CLEARLY * made.u and not doubtful
    moved = SPRINGS if doubtful else 0.0
    rest = made.rest if infeed is None else infeed <= 0.0
    return LeveledPass(made.at, before, after, rest, infeed=None if rest else infeed, sure=sure, moved=moved)


def took_more(stream: RidingState) -> bool:
    """Whether the newest pass took clearly more than the one before it, which no rest can."""
    made = stream.steps[-1]
    before = stream.steps[-2].removed if len(stream.steps) > 1 else 0.0
    return made.removed > before + CLEARLY * made.u
