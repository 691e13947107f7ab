"""A choice of the next step at the wheel, and where it leads.

Lengths are mm; infeeds, removals and what is to come are on diameter.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.coach.final_size import Band, Feeding, FinalSizeForecast
from capture.metrology.message import Reasons, message

Step: TypeAlias = Literal["feed", "rest", "draw back", "measure again", "wait", "stop", "cannot tell"]

MOST_RESTS = 40
"""Passes that are looked ahead at most."""
DOUBT_OVER = 0.03
"""Chance of being outside the band from which on one more reading is asked for first."""
RECOURSE = 15.0
"""Times the allowed risk that the end of an infeed may carry: what is to come can be kept by drawing the
wheel back as long as it has not come off. What the next pass takes for good keeps to the risk itself."""
TOO_DEEP = (message("infeed.too-deep"),)
SOONER = (message("infeed.sooner"),)
RISK_HELD = 0.1
"""Of the allowed risk, under which undersize is no reason to draw back (common practice, no source)."""
SOME, ENOUGH = 3, 5
"""Readings after one pass on the way to the last stock, and in it: one more than these adds little."""


class InfeedChoice(Struct, frozen=True):
    """The next step and where it leads; None is not known."""

    step: Step
    infeed: float = 0.0
    """Of the next pass; less than 0: draw the wheel back by so much."""
    feeds: int = 0
    """Passes with infeed to come after the next."""
    rests: int = 0
    """Passes without infeed to come after those with."""
    to_come: float | None = None
    """By passes without infeed, if nothing is fed any more."""
    final: float | None = None
    """Cold size in the end, if the advice is followed and the wheel sparks out."""
    u_final: float | None = None
    p_next: float | None = None
    """Chance that the next pass takes the part under the band, for good: held under the limit."""
    p_under: float | None = None
    """Chance of ending there, if nothing is drawn back meanwhile."""
    p_inside: float | None = None
    p_over: float | None = None
    stock: float | None = None
    """Over the aim, what is still to come taken off."""
    readings: int = 1
    """Worth taking after the next pass, at all places together."""
    finishing: bool = False
    why: Reasons = ()

    @property
    def passes(self) -> int:
        """All passes still to make."""
        return self.feeds + self.rests + (self.step in {"feed", "draw back"})


def advised(
    ends: FinalSizeForecast, infeed: float, band: Band, feeding: Feeding, *, finishing: bool
) -> InfeedChoice:
    """A pass of *infeed*, and what follows it."""
    under, inside, over = ends.chances(infeed, band)
    feeds, rests = passes_to_come(ends, infeed, band, feeding, more=over > DOUBT_OVER)
    stock = ends.mean(0.0) - band.aim
    return InfeedChoice(
        "feed" if infeed > 0.0 else "draw back" if infeed < 0.0 else "rest",
        infeed=infeed,
        feeds=feeds,
        rests=max(rests, 1) if infeed == 0.0 else rests,
        to_come=ends.to_come(0.0),
        final=ends.mean(infeed),
        u_final=ends.deviation(infeed),
        p_next=ends.next_under(infeed, band),
        p_under=under,
        p_inside=inside,
        p_over=over,
        stock=stock,
        readings=ENOUGH if finishing else SOME if stock < 2.0 * feeding.last_stock else 1,
        finishing=finishing,
        why=why_back(band, feeding, ends) if infeed < 0.0 else held_back(infeed, band, feeding, ends),
    )


def why_back(band: Band, feeding: Feeding, ends: FinalSizeForecast) -> Reasons:
    """Why the wheel is drawn back: for fear of undersize, or, where the band is wide, to be done sooner."""
    return TOO_DEEP if ends.chances(0.0, band)[0] > RISK_HELD * feeding.undersize else SOONER


def held_back(infeed: float, band: Band, feeding: Feeding, ends: FinalSizeForecast) -> Reasons:
    """Why the infeed is not deeper, where a finishing pass could be: what might end undersize."""
    deeper = infeed + feeding.division
    if ends.mean(deeper) < band.middle or deeper > feeding.finish:
        return ()
    if ends.chances(deeper, band)[0] <= RECOURSE * feeding.undersize:
        return ()
    return (message("infeed.no-deeper"),)


def still(
    ends: FinalSizeForecast, step: Step, band: Band, stock: float, why: Reasons, *, finishing: bool
) -> InfeedChoice:
    """No pass for now."""
    under, inside, over = ends.chances(0.0, band)
    return InfeedChoice(
        step,
        to_come=ends.to_come(0.0),
        final=ends.mean(0.0),
        u_final=ends.deviation(0.0),
        p_next=ends.next_under(0.0, band),
        p_under=under,
        p_inside=inside,
        p_over=over,
        stock=stock,
        readings=ENOUGH,
        finishing=finishing,
        why=why,
    )


def deepest(stock: float, feeding: Feeding) -> tuple[float, bool]:
    """The deepest infeed, and whether it is a finishing pass: a rough one leaves the last stock alone."""
    over = stock - feeding.last_stock
    if over <= 0.0:
        return feeding.finish, True
    return max(min(feeding.rough, over), feeding.finish), False


def passes_to_come(
    ends: FinalSizeForecast, infeed: float, band: Band, feeding: Feeding, *, more: bool
) -> tuple[int, int]:
    """Passes with infeed after one of *infeed*, and without after those, by the mean of the belief."""
    share, standing = ends.share, ends.to_come(0.0)
    if infeed > 0.0 or more:
        standing = (standing + ends.gain * infeed) * (1.0 - share)
    feeds = 0
    left = ends.mean(infeed) - band.middle
    while more and feeds < MOST_RESTS and (left > 0.5 * feeding.division or not feeds):
        cap, _ = deepest(left, feeding)
        fed = max(min(cap, left), feeding.division)
        standing = (standing + ends.gain * fed) * (1.0 - share)
        left -= ends.gain * fed
        feeds += 1
    return feeds, rests_until(standing, share, feeding.removal)


def rests_until(standing: float, share: float, removal: float) -> int:
    """Passes without infeed until the next takes less than *removal* of what is *standing*."""
    count = 0
    while count < MOST_RESTS and share * standing >= removal:
        standing *= 1.0 - share
        count += 1
    return count
