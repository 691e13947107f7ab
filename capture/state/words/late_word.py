"""Whether a word is of the pass before the newest size, though the wheel is at the next one.

A hand misses its place, so that an infeed that is said is nearer to that of its pass than to those of others,
and seldom just that. Who tells passes tells them in their order: the word before this one was as late.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import Final

from capture.events import Pass
from capture.state.grinding.found_passes import ALIKE
from capture.state.grinding.passes import PassRow
from capture.state.session import State

LIKE: Final = 0.6
"""Steps of the infeed gauge within which an infeed that is said is just the one that was made."""
LATELY: Final = 6
"""Passes that a late word may be of."""
NONE_FED: Final = 0.010
"""mm by which a rest differs from any feed: who feeds nothing says so (an estimate)."""
MOST: Final = 0.004
"""mm; one word that is wrong by more tells no more than this (an estimate)."""


def is_late(said: Pass, row: PassRow, left: Sequence[float | None], near: float, state: State) -> bool:
    """Whether *said* names *row*, the pass before the newest size, and none that was made since.

    Args:
        said: The word.
        row: The pass.
        left: Infeeds since the newest size, mm on diameter, that nobody has entered.
        near: mm within which two infeeds are the same.
        state: Before the word.
    """
    if row.infeed is None or None in said.infeeds:
        return False
    of_new = min((_apart(infeed, one) for infeed in said.infeeds for one in left), default=inf)
    slack = LIKE * near / ALIKE
    if row.named or not row.found:
        return _was_late(said, row, of_new, slack, state)
    of_row = max(_apart(infeed, row.infeed) for infeed in said.infeeds)
    tells = any(one.named or not one.found for one in state.grind.passes[-LATELY:-1])
    return of_row < of_new + (slack if tells else 0.0)


def _was_late(said: Pass, row: PassRow, of_new: float, slack: float, state: State) -> bool:
    """Whether the word that entered *row* was of the pass before it, and *said* is of *row*.

    Of the infeeds as the gauge showed them, both words are then nearer to those of one pass earlier.
    """
    shown = state.infeed.shown
    if row.named or len(said.infeeds) != 1 or len(shown) < 2 or of_new == inf:
        return False
    entered, earlier, own = row.infeed, shown[-2], shown[-1]
    in_order = _square(of_new) + _square(_apart(entered, own))
    late = _square(_apart(said.infeed, own)) + _square(_apart(entered, earlier))
    return late + slack**2 < in_order


def _square(apart: float) -> float:
    return min(apart, MOST) ** 2


def _apart(said: float | None, made: float | None) -> float:
    """How far an infeed that was said is from one that was made, mm."""
    if said is None or made is None:
        return 0.0
    return abs(said - made) + (NONE_FED if (said == 0.0) is not (made == 0.0) else 0.0)
