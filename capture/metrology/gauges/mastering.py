"""Mastering: a gauge set on a ring, disc or block of known size, and its drift from check to check.

A check is a reading on the master; its error is reading minus size. Between two checks
the error is interpolated in time; what the gauge did in between is not known, so half
the drift stays as the half-width of a rectangular distribution (GUM 4.3.7).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import hypot, sqrt

from msgspec import Struct

from capture.metrology.message import Length, Message, message, small

FARTHEST = 0.025
"""Distance, mm, from the master up to which a comparison stands (common practice, no source)."""
MOST_DRIFT = 0.001
"""Drift, mm, between two checks at which the run between is rejected (common practice, no source)."""


class MasterCheck(Struct, frozen=True):
    """One reading of a gauge on a master."""

    at: float
    """Seconds."""
    reading: float
    size: float
    """Size of the master, mm, at the temperature it had."""
    u_reading: float
    """Standard uncertainty of the reading, mm."""
    u_master: float

    @property
    def error(self) -> float:
        """Reading minus size, mm: what the gauge reads too much."""
        return self.reading - self.size


class ReadingCorrection(Struct, frozen=True):
    """What to take off a reading, mm, and how well it is known."""

    error: float
    """Interpolated error of the gauge; corrected = reading - error."""
    u_zero: float
    """From reading the master."""
    u_drift: float
    """From not knowing how it drifted between the checks."""
    u_master: float
    """From the master's size: common to all readings set on it."""
    note: str = ""
    """What is missing, if anything, for the person."""

    @property
    def u(self) -> float:
        """Standard uncertainty of the correction, mm."""
        return hypot(self.u_zero, self.u_drift, self.u_master)


class Run(Struct, frozen=True):
    """The time between two checks, and what the gauge drifted in it."""

    start: float
    end: float
    drift: float
    """Error at the end minus error at the start, mm."""
    exceeded: bool
    """Whether the drift is over its limit: readings in between do not stand."""
    limit: float
    """mm."""

    @property
    def said(self) -> Message:
        """From when to when (h:mm:ss since the recording began), how far, and the limit."""
        name = "drift.over" if self.exceeded else "drift.within"
        drift, limit = small(self.drift, 2, signed=True), Length(self.limit, "short")
        return message(name, start=_since(self.start), end=_since(self.end), drift=drift, limit=limit)


def correction(
    checks: Sequence[MasterCheck], at: float, *, most_drift: float = MOST_DRIFT
) -> ReadingCorrection | None:
    """The gauge's error at a time, or None without any check before or after.

    Before the first and after the last check the nearest check's error holds, and the
    drift may be as much as *most_drift* either way, because a later check would find more.

    Args:
        checks: In any order.
        at: Seconds, on the clock of the checks.
        most_drift: Largest drift that is let pass, mm.
    """
    ordered = sorted(checks, key=lambda check: check.at)
    before = [check for check in ordered if check.at <= at]
    after = [check for check in ordered if check.at > at]
    if before and before[-1].at == at:
        return _on(before[-1], 0.0, "")
    if before and after:
        return _between(before[-1], after[0], at)
    if before:
        return _on(before[-1], most_drift, "master not checked afterwards: drift not known")
    if after:
        return _on(after[0], most_drift, "master not checked before: drift not known")
    return None


def corrected(reading: float, found: ReadingCorrection) -> float:
    """The reading with the gauge's error taken off, mm."""
    return reading - found.error


def runs(checks: Sequence[MasterCheck], *, most_drift: float = MOST_DRIFT) -> list[Run]:
    """Each time between two checks with its drift; those over the limit are marked and named."""
    ordered = sorted(checks, key=lambda check: check.at)
    return [_run(first, second, most_drift) for first, second in pairwise(ordered)]


def far_from_master(reading: float, size: float, *, farthest: float = FARTHEST) -> bool:
    """Whether a reading is so far from the master that the gauge's own scale error comes in."""
    return abs(reading - size) > farthest


def _run(first: MasterCheck, second: MasterCheck, most_drift: float) -> Run:
    drift = second.error - first.error
    exceeded = abs(drift) > most_drift
    return Run(start=first.at, end=second.at, drift=drift, exceeded=exceeded, limit=most_drift)


def _between(first: MasterCheck, second: MasterCheck, at: float) -> ReadingCorrection:
    share = (at - first.at) / (second.at - first.at)
    return ReadingCorrection(
        error=(1.0 - share) * first.error + share * second.error,
        u_zero=hypot((1.0 - share) * first.u_reading, share * second.u_reading),
        u_drift=abs(second.error - first.error) / 2.0 / sqrt(3.0),
        u_master=max(first.u_master, second.u_master),
    )


def _on(check: MasterCheck, most_drift: float, note: str) -> ReadingCorrection:
    return ReadingCorrection(
        error=check.error,
        u_zero=check.u_reading,
        u_drift=most_drift / sqrt(3.0),
        u_master=check.u_master,
        note=note,
    )


def _since(seconds: float) -> str:
    """Hours, minutes and seconds, as a replay's bar counts them."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
