"""Unknown infeeds: the passes after which the feeding may have stopped, as hypotheses weighed by the sizes.

While the wheel is fed by unknown amounts, sizes say little of the spring; from the last infeed on they
fall geometrically, and say all. When that was is one of a few: in each hypothesis the feeding stops after
another pass, and Bayes' rule weighs them (a change point: Barry and Hartigan, J. Am. Stat. Assoc. 88 (1993)
309, from memory). That it has not stopped yet is one of them.
"""

from __future__ import annotations

from itertools import pairwise
from math import inf

import numpy as np

from capture.metrology.grinding.spring.filter import follow_all
from capture.metrology.grinding.spring.grid import grid, share_axis
from capture.metrology.grinding.spring.passes import Hypothesis, Prior, RepeatedReadings, Task

STOPPED = 0.2
"""Chance that a pass without a recorded infeed is the last with infeed (common practice, no source)."""
LEAST_FED = 0.4
"""Of the most that came off in a pass: smaller infeeds than that are rare (common practice, no source)."""
SURELY = 0.5
"""Probability beforehand from which on unseen heat is reckoned with."""
MOST_HYPOTHESES = 4
SHARES = 12
"""Points of share for a first look at the hypotheses."""
SLIGHT = 1e-3
"""Weight, after that look, of a hypothesis that is left out."""


def hypotheses(task: Task, prior: Prior) -> tuple[list[Task], list[float]]:
    """The grind as it would be had the feeding stopped after one pass or another, with weights beforehand.

    Args:
        task: With infeeds that are None to its end.
        prior: What is believed beforehand.
    """
    passes = len(task.moves)
    silent = next((n for n, move in enumerate(reversed(task.moves)) if move.infeed is not None), passes)
    drops = [before.mean - after.mean for before, after in _alike(task)]
    # what comes off in a pass is of the order of an infeed; all that has come off is not
    scale = max(*drops, 4.0 * task.drift) if drops else task.scale
    task = task._replace(scale=scale, guesses=_guesses(task, scale), cases=_quiet(task.cases))
    tasks, weights = [], []
    for last in range(passes - silent, passes + 1):
        moves = [m._replace(infeed=0.0) if n >= last else m for n, m in enumerate(task.moves)]
        fed = (1.0 - STOPPED) ** (last - passes + silent)
        tasks.append(task._replace(moves=tuple(moves)))
        weights.append(fed * (STOPPED if last < passes else 1.0))
    return _likeliest(tasks, weights, prior)


def _alike(task: Task) -> list[tuple[RepeatedReadings, RepeatedReadings]]:
    """Sizes of one place after one pass and after the next that was measured."""
    places = {group.place for group in task.groups}
    return [
        pair for place in places for pair in pairwise(group for group in task.groups if group.place == place)
    ]


def _guesses(task: Task, scale: float) -> tuple[float, ...]:
    """About what each pass was fed: what came off about then, but no less than a dial is turned by."""
    came: dict[int, list[float]] = {}
    for before, after in _alike(task):
        for number in range(before.after + 1, after.after + 1):
            came.setdefault(number, []).append((before.mean - after.mean) / (after.after - before.after))
    found = []
    for number in range(1, len(task.moves) + 1):
        near = [drop for n in (number - 1, number, number + 1) for drop in came.get(n, [])]
        found.append(max(float(np.median(near)) if near else 0.0, LEAST_FED * scale))
    return tuple(found)


def _quiet(cases: tuple[Hypothesis, ...]) -> tuple[Hypothesis, ...]:
    """Without passes in the air, and heat that is not sure: sizes alone do not tell them from an infeed."""
    surely = sum(case.weight for case in cases if case.heat) > SURELY
    kept = [case for case in cases if not case.air and (surely or not case.heat)]
    total = sum(case.weight for case in kept)
    return tuple(case._replace(weight=case.weight / total) for case in kept)


def _likeliest(tasks: list[Task], weights: list[float], prior: Prior) -> tuple[list[Task], list[float]]:
    """The few that a coarse look leaves likely."""
    if len(tasks) <= MOST_HYPOTHESES:
        return tasks, weights
    plain = [
        task._replace(cases=(max(task.cases, key=lambda case: case.weight)._replace(weight=1.0),))
        for task in tasks
    ]
    belief = follow_all(plain, weights, grid(share_axis(SHARES), 1, len(plain)), prior, inf)
    found = np.bincount(belief.points.hypothesis, belief.weight, len(plain))
    best = sorted(np.argsort(found)[-MOST_HYPOTHESES:].tolist())
    best = [hypothesis for hypothesis in best if found[hypothesis] > SLIGHT]
    return [tasks[hypothesis] for hypothesis in best], [weights[hypothesis] for hypothesis in best]
