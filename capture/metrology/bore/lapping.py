"""Lapping: what a lap took off where, where the bore is still tight, and how many strokes are left.

A place takes off the same for every stroke until it is known otherwise: the rate is the stock that came
off over the strokes entered. What is left over the rate is an estimate of the strokes left; its uncertainty
is that of both quotients to first order (JCGM 100, 5.1.2). A lap never puts anything back, so the limit is
compared with what is surely not yet reached: the largest place and twice its standard uncertainty.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot
from typing import TypeAlias

from msgspec import Struct

from capture.metrology.cautions import Caution
from capture.metrology.message import Message, message, place, size, small

Spot: TypeAlias = tuple[float | None, float | None]
"""Station from the datum end, mm, and angle, degrees."""

COVERAGE = 2.0
"""Standard uncertainties that a stop keeps away from the limit."""
NEAR = 0.25
"""Share of the strokes left after which to measure again where the rate is poorly known
(common practice, no source)."""
USUAL = 0.5
"""The same where it is well known."""
POORLY = 0.25
"""Relative standard uncertainty of the strokes left from which the rate is poorly known."""

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "clean before measuring",
        "Lapping compound left in the bore reads as metal and laps the gauge's tips: wash it out of bore, "
        "grooves and oil holes, dry, and let the part come to the gauge's temperature before measuring.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "expanding lap",
        "Expand the lap a little at a time and only at rest; a lap set too tight seizes, tears the bore and "
        "snatches at the hands. Keep it moving over the whole length, out of each end by a third of its own.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "loose abrasive",
        "Compound and its solvents: gloves, eye protection, air; keep them from bearings and slides, and "
        "dispose of them as local codes say.",
        "common practice",
        "common practice, no source",
    ),
)


class BoreSize(Struct, frozen=True):
    """A place of the bore in one stage, mm at 20 °C."""

    value: float
    u: float


class Stock(Struct, frozen=True):
    """What came off at a place between two stages, and what still has to."""

    spot: Spot
    size: float
    u: float
    removed: float | None
    """mm on diameter since the stage before; None where it was not measured then."""
    u_removed: float | None
    tight: float
    """How much smaller it is than the bore wants to be, mm; below 0 it is larger."""


class Guidance(Struct, frozen=True):
    """What to do next."""

    stocks: tuple[Stock, ...]
    goal: float
    """Diameter that the tight places are lapped to, mm."""
    removed: float | None
    """Mean over the places measured in both stages, mm."""
    u_removed: float | None
    per_stroke: float | None
    u_per_stroke: float | None
    per_minute: float | None
    strokes_left: float | None
    u_strokes_left: float | None
    minutes_left: float | None
    stop_at: float | None
    """Largest diameter that the plating plan allows, mm; None is not known."""
    stop: bool
    """Stop lapping: the bore is straight, or surely not under the limit any more."""
    said: tuple[Message, ...]
    cautions: tuple[Caution, ...] = CAUTIONS


class LapWork(Struct, frozen=True):
    """How much was lapped between the two stages; None is not known."""

    strokes: float | None = None
    minutes: float | None = None


def largest_bore(
    shaft: float, plated_most: float, clearance: float, *, u_shaft: float = 0.0, runout: float = 0.0
) -> float:
    """The largest bore that a plated shaft can still fill, mm.

    The shaft as it is now (stripped, or to be plated on) grows by the thickest chromium allowed on
    each side; where the ground surface runs out to the stripped one, the thickest side has half the
    runout more. The shaft's own uncertainty is kept away twice.

    Args:
        shaft: Diameter before plating, mm.
        plated_most: Thickest finished chromium allowed, mm per side.
        clearance: Aimed at, mm on diameter.
        u_shaft: Standard uncertainty of `shaft`, mm.
        runout: Full indicator movement of the stripped part, mm.
    """
    return shaft + 2.0 * (plated_most - runout / 2.0) + clearance - COVERAGE * u_shaft


def guidance(
    now: Mapping[Spot, BoreSize],
    before: Mapping[Spot, BoreSize] | None = None,
    work: LapWork = LapWork(),  # noqa: B008 - a frozen value
    *,
    goal: float | None = None,
    stop_at: float | None = None,
    enough: float = 0.001,
    open_places: int = 0,
) -> Guidance:
    """What the lap did, where it is still tight, and how far it is to the goal.

    Args:
        now: Sizes of the newest stage.
        before: Those of the stage before it.
        work: Strokes and minutes between the two.
        goal: Diameter to lap to; None: the largest place of the newest stage, which lapping the
            others to makes straight.
        stop_at: Largest diameter allowed, mm.
        enough: Difference from the goal that is as good as none, mm on diameter.
        open_places: Places of the plan that the newest stage has not measured yet: while there are any,
            and where only one was measured and no goal is known, nothing says that the bore is straight.

    Raises:
        ValueError: Nothing was measured in the newest stage.
    """
    if not now:
        raise ValueError("no place of the bore has been measured in this stage")
    aim = max(size.value for size in now.values()) if goal is None else goal
    stocks = tuple(_stock(spot, size, (before or {}).get(spot), aim) for spot, size in now.items())
    removed, u_removed = _mean([s for s in stocks if s.removed is not None])
    tightest = max(stocks, key=lambda stock: stock.tight)
    strokes, u_strokes = _left(tightest, removed, u_removed, work.strokes)
    minutes, _ = _left(tightest, removed, u_removed, work.minutes)
    full = stop_at is not None and max(s.size + COVERAGE * s.u for s in stocks) >= stop_at
    even = tightest.tight <= max(enough, COVERAGE * tightest.u)
    unseen = open_places if open_places or goal is not None else int(len(now) < 2)
    straight = even and not unseen
    return Guidance(
        stocks=stocks,
        goal=aim,
        removed=removed,
        u_removed=u_removed,
        per_stroke=_rate(removed, work.strokes),
        u_per_stroke=_rate(u_removed, work.strokes),
        per_minute=_rate(removed, work.minutes),
        strokes_left=strokes,
        u_strokes_left=u_strokes,
        minutes_left=minutes,
        stop_at=stop_at,
        stop=full or straight,
        said=_so_far(unseen)
        if even and unseen and not full
        else _said(tightest, aim, strokes, u_strokes, minutes, stop_at, full=full, straight=straight),
    )


def _stock(spot: Spot, now: BoreSize, before: BoreSize | None, goal: float) -> Stock:
    removed = None if before is None else now.value - before.value
    u_removed = None if before is None else hypot(now.u, before.u)
    return Stock(spot, now.value, now.u, removed, u_removed, goal - now.value)


def _mean(stocks: Sequence[Stock]) -> tuple[float | None, float | None]:
    if not stocks:
        return None, None
    n = len(stocks)
    return sum(s.removed or 0.0 for s in stocks) / n, hypot(*(s.u_removed or 0.0 for s in stocks)) / n


def _rate(removed: float | None, amount: float | None) -> float | None:
    return removed / amount if removed is not None and amount else None


def _left(
    tightest: Stock, removed: float | None, u_removed: float | None, amount: float | None
) -> tuple[float | None, float | None]:
    """How much more of the same work, by the rate where it is tight, else by that of the whole bore."""
    own = tightest.removed is not None and tightest.removed > COVERAGE * (tightest.u_removed or 0.0)
    rate, u_rate = (tightest.removed, tightest.u_removed) if own else (removed, u_removed)
    if not amount or rate is None or u_rate is None or rate <= COVERAGE * u_rate:
        return None, None
    tight = max(tightest.tight, 0.0)
    left = tight / rate * amount
    return left, amount * hypot(tightest.u / rate, tight * u_rate / rate**2)


def _so_far(unseen: int) -> tuple[Message, ...]:
    return (message("lap.so-far") if unseen == 1 else message("lap.so-far-more", places=unseen),)


def _said(
    tightest: Stock,
    goal: float,
    strokes: float | None,
    u_strokes: float | None,
    minutes: float | None,
    stop_at: float | None,
    *,
    full: bool,
    straight: bool,
) -> tuple[Message, ...]:
    if full and stop_at is not None:
        return (message("lap.full", limit=size(stop_at)),)
    if straight:
        return (message("lap.straight"),)
    room = min(goal, stop_at) if stop_at is not None else goal
    togo = message("lap.tightest", where=_where(tightest.spot), tight=small(tightest.tight), goal=size(room))
    past = (message("lap.past"),) if goal > room else ()
    return (togo, *past, _left_to_do(strokes, u_strokes, minutes))


def _where(spot: Spot) -> Message:
    z, angle = spot
    if z is None:
        return message("lap.nowhere") if angle is None else message("lap.angle", angle=angle)
    return (
        message("lap.at", z=place(z)) if angle is None else message("lap.at-angle", z=place(z), angle=angle)
    )


def _left_to_do(strokes: float | None, u_strokes: float | None, minutes: float | None) -> Message:
    if strokes is not None and u_strokes is not None:
        share = NEAR if strokes <= 0 or u_strokes / strokes > POORLY else USUAL
        after = max(strokes * share, 1.0)
        return message("lap.strokes", strokes=strokes, u=COVERAGE * u_strokes, after=after)
    return message("lap.unknown") if minutes is None else message("lap.minutes", minutes=minutes)
