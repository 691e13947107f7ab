"""Parallel while there is stock: the part's slope follows the table's through the machine's spring.

Every pass brings the slope b of the part nearer to the line w along which the wheel travels, by the share S
that it takes of what is still to come (the law of `spring`, at every place along the part)::

    b_n = b_(n-1) + S (w - b_(n-1))

So what is measured soon after the table was moved is not yet what the movement does, and a correction
made for the slope as measured may be one too many. A Kalman filter follows b, w and how well the
table obeys what is set (a movement m toward the wheel, read at R from the pivot, changes w by -2 m o / R; see
`taper`). Play of the screw and the clamp's own shift make the movement itself unsure.

Lengths are mm, slopes mm of diameter per mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, log, sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.form.taper import Practice
from capture.metrology.message import Message, message

Advice: TypeAlias = Literal["measure", "move", "move in part", "leave it", "no stock", "cannot tell"]

STRANGE = 0.040
"""Standard deviation of the taper that the wheel's line may have at first, mm over the span."""
CLAMP = 0.0015
"""Of the table's shift by clamping, mm where it is read (common practice, no source)."""
PLAY = 0.003
"""Of what the screw may lose when its direction changes, mm (common practice, no source)."""
SEEN = 0.3
"""Share of a movement that may still be hidden in the spring when the stations are measured again."""


class Obedience(Struct, frozen=True):
    """Share of a movement set that the table makes, as known beforehand."""

    share: float = 1.0
    u: float = 0.15


class Slope(Struct, frozen=True):
    """A measured slope."""

    after: int
    """Passes made before it."""
    slope: float
    u: float


class Turn(Struct, frozen=True):
    """The table was moved."""

    after: int
    """Passes made before it."""
    toward_wheel: float | None
    """Movement where it is read, mm, positive toward the wheel; None is not known."""
    found: bool = False
    """An indicator on the table showed it; it was not entered."""


class Followed(Struct, frozen=True):
    """What is known of part and table after the newest pass."""

    now: float
    """The part's slope."""
    u_now: float
    final: float
    """The slope that passes without infeed would leave: the wheel's line."""
    u_final: float
    obeys: float
    u_obeys: float
    turns: int
    since: int
    """Passes since the newest movement, or since the beginning."""
    strange: float
    """The newest slope's distance from what was predicted, in its standard deviations."""


def follow(
    slopes: Sequence[Slope],
    turns: Sequence[Turn],
    passes: int,
    *,
    share: float,
    arm: float,
    span: float,
    known: Obedience = Obedience(),  # noqa: B008 - a frozen value
) -> Followed | None:
    """Follow part and table through *passes*; None before the first slope.

    Args:
        slopes: In the order of their passes.
        turns: In the order of their passes; one after the same pass as a slope came after it.
        passes: Made so far.
        share: That a pass takes of what is still to come.
        arm: From the pivot to where the movement is read, mm, positive on the tailstock side.
        span: Length over which slopes are measured, mm.
        known: How well the table has obeyed before.

    Raises:
        ValueError: The share is not inside 0 to 1, or arm or span is nothing.
    """
    if not 0.0 < share < 1.0 or not arm or not span > 0.0:
        raise ValueError(f"share {share:g} must be inside 0 to 1, arm {arm:g} and span {span:g} not 0")
    if not slopes:
        return None
    table = _Table(slopes[0], share, arm, span, known)
    waiting, moves, newest = list(slopes), list(turns), 0
    for number in range(slopes[0].after, passes + 1):
        if number > slopes[0].after:
            table.make_pass()
        while waiting and waiting[0].after <= number:
            table.measured(waiting.pop(0))
        while moves and moves[0].after <= number:
            turn = moves.pop(0)
            if turn.after >= slopes[0].after:
                table.moved(turn.toward_wheel)
                newest = turn.after
    return table.found(len(turns), passes - newest)


class _Table:
    """The filter: slope of the part, slope of the wheel's line, obedience."""

    def __init__(self, first: Slope, share: float, arm: float, span: float, known: Obedience) -> None:
        self.share, self.arm = share, arm
        loose = STRANGE / span
        self.mean = np.array([first.slope, first.slope, known.share])
        # the first measurement is taken in like the others, from next to no knowledge
        self.cov = np.diag([(10.0 * loose) ** 2, (10.0 * loose) ** 2 + loose**2, known.u**2])
        self.cov[0, 1] = self.cov[1, 0] = (10.0 * loose) ** 2
        self.way = 0.0
        self.strange = 0.0

    def make_pass(self) -> None:
        step = np.array([[1.0 - self.share, self.share, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
        self.mean = step @ self.mean
        self.cov = step @ self.cov @ step.T

    def measured(self, slope: Slope) -> None:
        gain = self.cov[:, 0].copy()
        variance = float(gain[0]) + slope.u**2
        miss = slope.slope - float(self.mean[0])
        self.strange = miss / sqrt(variance)
        self.mean = self.mean + gain * (miss / variance)
        self.cov = self.cov - np.outer(gain, gain) / variance

    def moved(self, toward_wheel: float | None) -> None:
        if toward_wheel is None:
            self.cov[1, 1] += (2.0 * 10.0 * PLAY / self.arm) ** 2
            return
        step = np.eye(3)
        step[1, 2] = -2.0 * toward_wheel / self.arm
        self.mean = step @ self.mean
        self.cov = step @ self.cov @ step.T
        slip = CLAMP**2 + (PLAY**2 if toward_wheel * self.way < 0.0 else 0.0)
        self.cov[1, 1] += (2.0 / self.arm) ** 2 * slip
        self.way = toward_wheel or self.way

    def found(self, turns: int, since: int) -> Followed:
        deviation = np.sqrt(np.maximum(np.diag(self.cov), 0.0))
        (now, final, obeys), (u_now, u_final, u_obeys) = self.mean.tolist(), deviation.tolist()
        return Followed(now, u_now, final, u_final, obeys, u_obeys, turns, since, self.strange)


class Straightening(Struct, frozen=True):
    """What to do about the taper."""

    advice: Advice
    taper: float
    """Over the span when the wheel has sparked out, mm on diameter, positive when large at the tailstock."""
    u_taper: float
    toward_wheel: float = 0.0
    """Movement to set where it is read, mm, positive toward the wheel."""
    rounds_after: int = 0
    """Passes after which the stations are worth measuring."""
    stock_wanted: float = 0.0
    why: Message | None = None


def straighten(
    found: Followed,
    *,
    arm: float,
    span: float,
    share: float,
    stock: float | None,
    within: float,
    practice: Practice = Practice(),  # noqa: B008 - a frozen value
) -> Straightening:
    """Whether to move the table, and by how much.

    Args:
        found: Part and table so far.
        arm: From the pivot to where the movement is read, mm.
        span: Between the outermost stations, mm.
        share: That a pass takes of what is still to come.
        stock: Over the aim at the smallest place once nothing more comes off, mm; None is not known.
        within: Taper that is good enough, mm over the span.
        practice: Limits of careful practice.
    """
    taper, u_taper = found.final * span, found.u_final * span
    hidden = (1.0 - share) ** found.since
    wanted = practice.times_taper * abs(taper) + practice.reserve
    left = ceil(log(SEEN) / log(1.0 - share)) if hidden > SEEN else 0
    rounds_after = max(0, left - found.since)

    def say(
        advice: Advice, why: Message | None = None, *, move: float = 0.0, after: int = 0
    ) -> Straightening:
        return Straightening(advice, taper, u_taper, move, after, wanted, why)

    if abs(taper) <= within and u_taper <= within:
        return say("leave it", message("table.parallel"))
    if abs(taper) <= 2.0 * u_taper:
        if rounds_after or u_taper > within:
            return say("measure", message("table.spring"), after=max(1, rounds_after))
        return say("leave it", message("table.unseen"))
    if stock is not None and stock < abs(taper):
        return say("no stock", message("table.no-stock"))
    if found.turns and found.since == 0:
        return say("measure", message("table.just-moved"), after=max(1, rounds_after))
    move = arm * found.final / 2.0 / max(found.obeys, 0.3)
    if abs(taper) >= practice.large:
        return say("move in part", _tight(stock, wanted), move=practice.part * move)
    return say("move", _tight(stock, wanted), move=move)


def _tight(stock: float | None, wanted: float) -> Message | None:
    return message("table.little-stock") if stock is not None and stock < wanted else None
