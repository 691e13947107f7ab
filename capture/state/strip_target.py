"""The diameter to strip or grind the shaft to before it is plated.

A part that is to be plated is not aimed at its finished size but at a chromium's thickness per side under it:
``S = F - 2 t``. It is good while the chromium between stripped and finished surface stays within the plating
on the sheet, less what the runout takes on one side (see `capture.metrology.plating.deposit`).
"""

from __future__ import annotations

from msgspec import Struct

from capture.metrology.fit.decision import SpecificationLimits, acceptance
from capture.metrology.message import NotPossible
from capture.metrology.plating.deposit import thickness_between
from capture.sheet.job import Job, Plating, Rule

STRIPPING = ("strip", "undersize", "as found", "worn")
"""A stage of the shaft with one of these in its name comes before plating (common practice, no source)."""


class StripSize(Struct, frozen=True):
    """Diameter before plating at 20 °C, mm."""

    aim: float
    least: float
    """The smallest whose chromium is not thicker than the sheet allows."""
    most: float
    """The largest that leaves the least chromium everywhere."""
    band: tuple[float, float] | None
    """What the sheet's rule leaves of least to most; None where it leaves nothing."""


def before_plating(stage: str | None) -> bool:
    """Whether the shaft is measured before it is plated.

    >>> before_plating("stripped"), before_plating("plated"), before_plating(None)
    (True, False, False)
    """
    return stage is not None and any(word in stage.lower() for word in STRIPPING)


def plating_of(job: Job) -> Plating | None:
    """What the plater is asked for, where the sheet says it."""
    return None if job.shaft is None else job.shaft.plating


def strip_size(
    wanted: Plating, finished: tuple[float, float, float], rule: Rule, u: float
) -> StripSize | None:
    """What to strip to; None where no thickness is left between the plating's limits and the runout.

    Args:
        wanted: The plating on the sheet, per side.
        finished: The finished diameter that is aimed at, its least and its most, mm.
        rule: How conformity is decided.
        u: Standard uncertainty of a stripped diameter, mm.
    """
    aimed, smallest, largest = finished
    try:
        aim = aimed - 2.0 * thickness_between(wanted.least, wanted.most, wanted.runout)
    except NotPossible:
        return None
    most = smallest - 2.0 * wanted.least - wanted.runout
    least = largest - 2.0 * wanted.most + wanted.runout
    if not least <= aim <= most:
        # the plating's limits are closer than those of the finished size: only its aim can be planned for
        most = aimed - 2.0 * wanted.least - wanted.runout
        least = aimed - 2.0 * wanted.most + wanted.runout
    if aim <= 0.0:
        return None
    if least >= most:
        return StripSize(aim, least, most, None)
    left = acceptance(rule, u, SpecificationLimits(least, most))
    band = None if left.least is None or left.most is None else (left.least, left.most)
    return StripSize(aim, least, most, band)
