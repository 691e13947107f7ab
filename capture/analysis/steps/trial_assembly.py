"""Trial assemblies by hand, beside the clearance that the figures foretell at the depth that was tried."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, Final

from capture.events import Event, Tried
from capture.metrology.message import Message, message, place, small
from capture.sheet.job import Units
from capture.state.steps.step_words import FEELS, Feel
from capture.text.catalogue import sentences

FELT: Final[tuple[tuple[float, Feel], ...]] = (
    (0.0, "binds"),
    (0.002, "tight"),
    (0.006, "close"),
    (0.025, "free"),
)
"""Up to so much least clearance, mm on diameter, a clean oiled fit feels so; over it loose (common practice,
no source)."""
NEAR = 1
"""Words of feel by which a try may differ before it is asked about."""


def predicted_feel(clearance: float) -> Feel:
    """How a fit of that least clearance, mm, should feel (common practice, no source)."""
    return next((feel for most, feel in FELT if clearance <= most), "loose")


def tries_beside(
    tries: Sequence[Event], clearance: Mapping[str, Any] | None, units: Units
) -> list[dict[str, Any]]:
    """Each try with what was predicted there; *clearance* as `fit --json` has it, or None."""
    return [_row(event, event.fact, clearance, units) for event in tries if isinstance(event.fact, Tried)]


def _row(event: Event, tried: Tried, clearance: Mapping[str, Any] | None, units: Units) -> dict[str, Any]:
    here = _position(clearance, tried.depth)
    expected = None if here is None else predicted_feel(here["least"])
    apart = 0 if expected is None else FEELS.index(tried.feel) - FEELS.index(expected)
    tight = None if here is None else min(here["places"], key=lambda one: float(one["value"]))
    return {
        "seq": event.seq,
        "t": event.at.seconds,
        "depth": tried.depth,
        "angle": tried.angle,
        "feel": tried.feel,
        "temperature": tried.temperature,
        "text": tried.text,
        "foretold": expected,
        "offset": None if here is None else here["offset"],
        "least": None if here is None else here["least"],
        "bore": None if tight is None else tight["bore"],
        "shaft": None if tight is None else tight["shaft"],
        "differs": abs(apart) > NEAR,
        "said": sentences(_said(tried, here, apart, tight), units),
    }


def _position(clearance: Mapping[str, Any] | None, depth: float) -> Mapping[str, Any] | None:
    """The position worked out nearest to where it was tried; None where that is beyond the travel."""
    positions = [] if clearance is None else [each for each in clearance["positions"] if each["places"]]
    if not positions:
        return None
    nearest: Mapping[str, Any] = min(positions, key=lambda each: abs(float(each["offset"]) - depth))
    offsets = sorted(float(each["offset"]) for each in positions)
    reach = max((b - a for a, b in pairwise(offsets)), default=1.0)
    return nearest if offsets[0] - reach <= depth <= offsets[-1] + reach else None


def _said(
    tried: Tried, here: Mapping[str, Any] | None, apart: int, tight: Mapping[str, Any] | None
) -> list[Message]:
    figures: dict[str, Any] = {"at": place(tried.depth), "angle": tried.angle, "feel": tried.feel}
    if here is None or tight is None:
        return [message("try.unknown", **figures)]
    name = "try.as-predicted" if abs(apart) <= NEAR else "try.closer" if apart > 0 else "try.looser"
    said = [message(name, **figures, least=small(here["least"]))]
    if tried.feel in {"binds", "tight"}:
        said.append(message("try.place", bore=place(tight["bore"]), shaft=place(tight["shaft"])))
    return said
