"""How long one pass takes, and how many passes a time holds, by how long the wheel head stood where it cuts.

Most stands hold one pass, others two or three, some none; where the part is measured beside the standing head
that takes its time too. None of these times is entered: the pair of pass and measuring that makes all stands
likeliest is taken. Times are seconds, or whatever else work is counted in.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Ending: TypeAlias = Literal["fed", "back", "measured", "stood", "left", "idle"]
"""What ended a stand: the next feed; drawing back; a size; one size after another with no move between;
drawing back after a size beside the standing head; or a feed after one, before which nothing is ground."""

MOST_PASSES = 12
"""Passes in one stand that are distinguished."""
LIKELY = (0.62, 0.16, 0.09, 0.05, 0.03, 0.02)
"""How likely a stand holds one, two … passes (estimates, no source); each one more is"""
LESS = 0.6
"""times as likely as the one before."""
HABITS = 4
"""Usual numbers of passes before a size beside the standing head: the same hands keep to one of them."""
KEPT = (0.5, 0.18, 0.06, 0.02)
"""Chance that it is kept to, or missed by one, two … to either side (estimates); more are as the last."""
UNEVEN = 0.09
"""Standard deviation of the time of one pass by hand, as a share of it (estimate, no source)."""
MEASURING = (4.0, 6.0, 8.0, 10.0, 13.0, 17.0, 22.0, 28.0, 36.0, 46.0)
"""Seconds that measuring may take, as they are tried."""
USUAL = 12.0
"""Seconds that it usually takes, by a factor of 1.8 either way (estimates, no source)."""
FACTOR = 1.8
CARELESS = 0.15
"""Standard deviation of measuring from one time to the next, as a share of it (estimate)."""
PASS = (25.0, 2.5)
"""Seconds that a pass usually takes, and the factor by which passes vary among machines (estimates)."""
PAUSE = 0.12
"""Chance that a stand is none: somebody stops half way of a feed."""
LONGEST_PAUSE = 0.55
"""Passes that such a pause may last."""
CREEPS = 0.1
"""Chance that a slide creeps on after a feed by so much that it shows (estimate)."""
SOON = 0.75
"""Of a pass within which it does."""
ODD = 0.02
"""Chance of a time that nothing here explains (estimate)."""
AGAIN = (0.15, 7.0, 2.2)
"""Chance that a size is only taken again, seconds that this takes, and the factor by which they vary."""
SHORTEST = 0.5
"""Work that no pass is made in: seconds, or strokes."""
SHORTEST_PASS = 0.22
"""Of the usual stand that a pass lasts at the least: nobody rests four times before each size (estimate)."""
FINER = 1.06
"""Ratio of the times of a pass that are tried."""
MOST_LENGTHS = 24


class StandWork(NamedTuple):
    """Work in one stand where the wheel cuts."""

    work: float
    ending: Ending
    known: int | None = None
    """Passes in it, where a person has said so."""
    without: int | None = None
    """As many it does not hold, as a person has said."""


class Pace(Struct, frozen=True):
    """How long things take by this pair of hands on this machine."""

    one: float
    """One pass."""
    measuring: float
    """Measuring beside the standing head."""
    idle: float
    """From a size until the next pass begins."""
    habit: int = 1
    """Passes in a stand that a size beside the standing head ends, usually."""


def pace_of(lengths: Sequence[StandWork]) -> Pace | None:
    """The pace that makes the newest *lengths* likeliest; None before the first.

    >>> pace = pace_of([StandWork(20.0, "fed"), StandWork(21.0, "fed"), StandWork(60.0, "back")])
    >>> pace.one
    20.0
    """
    tried = _tried(lengths)
    if tried is None:
        return None
    best = max(tried.each, key=lambda one: float(one.total.max()))
    at = int(np.argmax(best.total))
    pace = Pace(float(tried.ones[at]), float(tried.overs[at]), tried.idle, best.habit)
    return _refined(tried.seen, pace)


class _Habit(NamedTuple):
    """How likely every pace is, where this many passes are usual before a size beside the standing head."""

    habit: int
    total: Array
    chances: Array
    """By pace, stand and number of passes."""


class _Tried(NamedTuple):
    """Every pace that was tried."""

    seen: Sequence[StandWork]
    ones: Array
    overs: Array
    idle: float
    each: Sequence[_Habit]


def _tried(lengths: Sequence[StandWork]) -> _Tried | None:
    idles = [one.work for one in lengths if one.ending == "idle"]
    seen = [one for one in lengths if one.ending != "idle" and one.work >= SHORTEST][-MOST_LENGTHS:]
    if not seen:
        return None
    idle = median(idles) if idles else 5.0
    works = [one.work for one in seen]
    least, most = max(min(works) / 3.0, SHORTEST_PASS * median(works), SHORTEST), max(works)
    ones = least * FINER ** np.arange(1 + int(np.log(most / least) / np.log(FINER) + 0.999))
    overs = np.array(MEASURING if any(_is_beside(one) for one in seen) else (USUAL,))
    one, over = (grid.ravel()[:, None, None] for grid in np.meshgrid(ones, overs, indexing="ij"))
    prior = -0.5 * (np.log(over[:, 0, 0] / USUAL) / np.log(FACTOR)) ** 2
    prior = prior - 0.5 * (np.log(one[:, 0, 0] / PASS[0]) / np.log(PASS[1])) ** 2
    # where every size is taken beside the head, a pass and its measuring cannot be distinguished
    apart = len(overs) > 1 and any(one.work >= least and _is_alone(one) for one in seen)
    each: list[_Habit] = []
    for habit in range(1, (HABITS if apart else 1) + 1):
        chances = _chances(seen, one, over, idle, habit)
        total = np.log(chances.sum(axis=2) + ODD / most).sum(axis=1) + prior + np.log(LIKELY[habit - 1])
        each.append(_Habit(habit, total, chances))
    return _Tried(seen, one[:, 0, 0], over[:, 0, 0], idle, each)


def likely_numbers(lengths: Sequence[StandWork], length: StandWork) -> Array | None:
    """How likely 0, 1, 2 … passes in *length* are, one of *lengths*, by every pace that these allow.

    >>> twice = [StandWork(20.0, "back"), StandWork(20.0, "back"), StandWork(40.0, "back")]
    >>> [round(float(p), 1) for p in likely_numbers(twice, twice[-1])[:4]]
    [0.0, 0.0, 1.0, 0.0]
    """
    tried = _tried(lengths)
    if tried is None or length not in tried.seen or length.work > MOST_PASSES * float(tried.ones.max()):
        return None
    place = len(tried.seen) - 1 - list(tried.seen)[::-1].index(length)
    most = max(float(one.total.max()) for one in tried.each)
    found = np.zeros(MOST_PASSES + 1)
    for one in tried.each:
        chances = one.chances[:, place, :]
        by_pace = chances / np.maximum(chances.sum(axis=1, keepdims=True), 1e-300)
        found = found + np.exp(one.total - most) @ by_pace
    return np.asarray(found / found.sum())


def _refined(seen: Sequence[StandWork], pace: Pace) -> Pace:
    """The pace by what the stands hold at the nearest one that was tried."""
    held = [(length, passes_in(length, pace)[0]) for length in seen]
    alone = [length.work / n for length, n in held if n and _is_alone(length)]
    if alone:
        pace = replace(pace, one=median(alone))
    rest = [
        length.work - n * pace.one - (pace.idle if length.ending == "stood" else 0.0)
        for length, n in held
        if n and _is_beside(length)
    ]
    return replace(pace, measuring=max(median(rest), 1.0)) if alone and rest else pace


def _is_beside(length: StandWork) -> bool:
    """Whether the part was measured beside the standing head."""
    return length.ending in {"measured", "stood"}


def _is_alone(length: StandWork) -> bool:
    """Whether nothing but passes was made."""
    return length.ending in {"fed", "back"}


def passes_in(length: StandWork, pace: Pace) -> tuple[int, float]:
    """Most likely number of passes in *length*, and how likely that is.

    >>> pace = Pace(20.0, 14.0, 5.0)
    >>> [passes_in(StandWork(work, "back"), pace)[0] for work in (3.0, 19.0, 41.0, 64.0)]
    [0, 1, 2, 3]
    """
    one, over = np.full((1, 1, 1), pace.one), np.full((1, 1, 1), pace.measuring)
    if length.known is not None:
        return length.known, 1.0
    chances = _chances([length], one, over, pace.idle, pace.habit)[0, 0]
    if length.work > (MOST_PASSES + 0.5) * pace.one + pace.measuring + pace.idle:
        return 1, 0.0  # nobody rests so often: somebody was away
    best = int(np.argmax(chances))
    return best, float(chances[best] / max(chances.sum(), 1e-300))


def _likely(number: int) -> float:
    return LIKELY[min(number, len(LIKELY)) - 1] * LESS ** max(number - len(LIKELY), 0)


def are_one(first: StandWork, second: StandWork, pace: Pace) -> bool:
    """Whether a slide that crept on by a little has made two stands of one.

    >>> pace = Pace(20.0, 14.0, 5.0)
    >>> [are_one(StandWork(work, "fed"), StandWork(20.0 - work, "back"), pace) for work in (8.0, 15.0)]
    [True, True]
    >>> are_one(StandWork(20.0, "fed"), StandWork(20.0, "back"), pace)
    False
    """
    if first.work > SOON * pace.one:
        return False
    both = StandWork(first.work + second.work, second.ending)
    one, over = np.full((1, 1, 1), pace.one), np.full((1, 1, 1), pace.measuring)
    chances = _chances([first, second, both], one, over, pace.idle, pace.habit)[0].max(axis=1)
    return bool(CREEPS / pace.one * chances[2] > chances[0] * chances[1])


def _chances(lengths: Sequence[StandWork], one: Array, over: Array, idle: float, habit: int) -> Array:
    """Likelihood of 0, 1, 2 … passes: a row for each pace, a column for each length."""
    work = np.array([length.work for length in lengths])[None, :, None]
    beside = np.array([_is_beside(length) for length in lengths])[None, :, None]
    stood = np.array([length.ending in {"stood", "left"} for length in lengths])[None, :, None]
    n = np.arange(1, MOST_PASSES + 1)[None, None, :]
    prior = np.array([_likely(k) for k in range(1, MOST_PASSES + 1)])[None, None, :]
    kept = np.array([KEPT[min(abs(k - habit), len(KEPT) - 1)] for k in range(1, MOST_PASSES + 1)])
    prior = np.where(beside & ~stood, (kept / kept.sum())[None, None, :], prior)
    extra = np.where(beside, over, 0.0) + np.where(stood, idle, 0.0)
    variance = (UNEVEN * one) ** 2 * n + (0.02 * n * one) ** 2 + 0.5
    variance = variance + np.where(beside, (CARELESS * over) ** 2 + 1.0, 0.0)
    variance = variance + np.where(stood, (0.6 * idle) ** 2, 0.0)
    made = prior * np.exp(-0.5 * (work - n * one - extra) ** 2 / variance) / np.sqrt(2.0 * np.pi * variance)
    chance, usual, factor = AGAIN
    spread = np.log(factor)
    again = chance * np.exp(-0.5 * (np.log(np.maximum(work, 1e-3) / usual) / spread) ** 2)
    again = again / (np.maximum(work, 1e-3) * spread * np.sqrt(2.0 * np.pi))
    pause = np.where(work < LONGEST_PAUSE * one, PAUSE / (LONGEST_PAUSE * one), 1e-9)
    none = np.where(stood, again, pause)
    found = np.concatenate([np.broadcast_to(none, (*made.shape[:2], 1)), made], axis=2)
    return _as_told(found, lengths)


def _as_told(chances: Array, lengths: Sequence[StandWork]) -> Array:
    """*chances* without the numbers of which a person has said otherwise."""
    known = np.array([-1 if one.known is None else one.known for one in lengths])[None, :, None]
    without = np.array([-1 if one.without is None else one.without for one in lengths])[None, :, None]
    numbers = np.arange(chances.shape[2])[None, None, :]
    return np.where(((known < 0) | (known == numbers)) & (without != numbers), chances, 0.0)
