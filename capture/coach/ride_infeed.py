"""The next infeed by what a gauge that rides on the part shows, where the infeeds are not known.

The size that the part would end at without infeed, and its uncertainty, are enough: what is fed takes it down
by as much. The limits, and what a pass may risk, are those of `choose_infeed`. Lengths are mm; infeeds,
removals and what is to come are on diameter.
"""

from __future__ import annotations

from math import floor, hypot, sqrt

from scipy.special import ndtr

from capture.coach.choose_infeed import PART, SURE_OVER
from capture.coach.final_size import Band, Feeding
from capture.coach.infeed_choice import (
    DOUBT_OVER,
    RECOURSE,
    TOO_DEEP,
    InfeedChoice,
    Step,
    deepest,
    rests_until,
)
from capture.metrology.grinding.outlook import Outlook
from capture.metrology.message import Reasons, message

U_FED = 0.03
"""Standard uncertainty of what a diameter gets of an infeed, as a share: wear and the dial (an estimate)."""


class _Ends:
    """Where the part ends after an infeed now, in the terms of the band."""

    def __init__(self, outlook: Outlook, band: Band) -> None:
        self.end, self.u = outlook.predicted or 0.0, outlook.u_predicted or 0.0
        self.to_come, self.share = outlook.to_come or 0.0, outlook.share or 0.5
        self.next, self.u_next = outlook.next_removal or 0.0, outlook.u_next or 0.0
        # the cold size now is known better than the end, which what is to come makes unsure
        now = self.u**2 - (outlook.u_to_come or 0.0) ** 2
        self.u_now = sqrt(max(now, (outlook.u_size or 0.0) ** 2))
        self._band = band

    def deviation(self, infeed: float) -> float:
        return hypot(self.u, U_FED * infeed, 1e-9)

    def chances(self, infeed: float) -> tuple[float, float]:
        """Of ending under the band, and over it."""
        mean, u = self.end - infeed, self.deviation(infeed)
        return (
            float(ndtr((self._band.least - mean) / u)),
            float(ndtr((mean - self._band.most) / u)),
        )

    def next_under(self, infeed: float) -> float:
        """Chance that the next pass takes the part under the band."""
        after = self.end + self.to_come - self.next - self.share * infeed
        u = hypot(self.u_now, self.u_next, U_FED * self.share * infeed, 1e-9)
        return float(ndtr((self._band.least - after) / u))

    def rests(self, infeed: float, removal: float) -> int:
        """Passes without infeed until the next takes less than *removal*, after one of *infeed*."""
        standing = self.to_come
        if infeed > 0.0:
            standing = (standing + infeed) * (1.0 - self.share)
        return rests_until(standing, self.share, removal)


def infeed_by_ride(outlook: Outlook, band: Band, feeding: Feeding) -> InfeedChoice:
    """The next step after a pass that a riding gauge saw.

    Args:
        outlook: By that gauge, its sizes in the terms of *band*.
        band: Where the cold size is to end.
        feeding: What a pass may be, and what the dial can set.
    """
    if outlook.predicted is None or outlook.u_predicted is None:
        return InfeedChoice("cannot tell", why=outlook.why)
    ends = _Ends(outlook, band)
    under, over = ends.chances(0.0)
    cap, finishing = deepest(ends.end - band.aim, feeding)
    if outlook.settled and over < SURE_OVER:
        unsure = under + over > DOUBT_OVER
        step: Step = "measure again" if unsure else "stop"
        why: Reasons = (message("infeed.not-sure-inside"),) if unsure else ()
        return _choice(ends, step, 0.0, band, feeding, finishing=finishing, why=why)
    if ends.next_under(0.0) > feeding.undersize:
        back = -floor(ends.to_come / feeding.division + 0.5) * feeding.division
        step = "draw back" if back < 0.0 else "stop"
        return _choice(ends, step, back, band, feeding, finishing=True, why=TOO_DEEP)
    infeed = _deepest_safe(ends, min(cap, ends.end - band.middle), feeding)
    if infeed > 0.0:
        return _choice(ends, "feed", infeed, band, feeding, finishing=finishing)
    if outlook.settled:
        why = (message("infeed.not-sure-to-feed"),)
        return _choice(ends, "measure again", 0.0, band, feeding, finishing=finishing, why=why)
    return _choice(ends, "rest", 0.0, band, feeding, finishing=finishing)


def _deepest_safe(ends: _Ends, most: float, feeding: Feeding) -> float:
    """The deepest infeed in whole divisions of which pass and end are as safe as they must be."""
    for number in range(floor(most / feeding.division + 0.5), 0, -1):
        tried = round(number * feeding.division, 9)
        safe = ends.next_under(tried) <= PART * feeding.undersize
        if safe and ends.chances(tried)[0] <= RECOURSE * feeding.undersize:
            return tried
    return 0.0


def _choice(
    ends: _Ends,
    step: Step,
    infeed: float,
    band: Band,
    feeding: Feeding,
    *,
    finishing: bool,
    why: Reasons = (),
) -> InfeedChoice:
    under, over = ends.chances(infeed)
    rests = ends.rests(infeed, feeding.removal)
    return InfeedChoice(
        step,
        infeed=infeed,
        rests=max(rests, 1) if step == "rest" else rests,
        to_come=ends.to_come,
        final=ends.end - infeed,
        u_final=ends.deviation(infeed),
        p_next=ends.next_under(infeed),
        p_under=under,
        p_inside=max(0.0, 1.0 - under - over),
        p_over=over,
        stock=ends.end - band.aim,
        finishing=finishing,
        why=why,
    )
