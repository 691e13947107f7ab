"""Settings of size gauges that send all the time; lengths are millimetres, times seconds."""

from __future__ import annotations

from typing import Annotated

from msgspec import Struct

from capture.sheet.schema import PRACTICE, Key


def _mm(label: str, meaning: str) -> Key:
    return Key(label, meaning, "mm", above=0, source=PRACTICE)


def _s(label: str, meaning: str) -> Key:
    return Key(label, meaning, "s", above=0, source=PRACTICE)


class PlacingSettings(Struct, frozen=True):
    """When the stream of a diameter gauge held by hand or on a bench is a size of the place in hand."""

    dwell: Annotated[
        float,
        _s("Settled for, at least", "a reading that has stood still for a shorter time is no size"),
    ] = 0.45
    hold: Annotated[
        float,
        _s(
            "Taken at once after",
            "a size near the sizes before it is taken after standing still for this time; "
            "any other when the gauge is opened again",
        ),
    ] = 0.8
    near: Annotated[
        float,
        _mm("Near the sizes before it", "a size no farther from the newest sizes, or from the nominal"),
    ] = 0.06
    reach: Annotated[
        float,
        _mm("Not on the part beyond", "farther from the newest sizes and from the nominal it is no size"),
    ] = 0.4
    lift: Annotated[
        float,
        _mm("Lifted beyond", "opened by so much the gauge has left the place; closed by less it has not"),
    ] = 0.04
    redo: Annotated[
        float,
        _s(
            "Placed again within",
            "lifting and placing again within this time sets the last size of the gauge aside",
        ),
    ] = 2.0
    longest: Annotated[
        float,
        _s(
            "On the part at most",
            "what stands still for longer, and is not near the sizes before it, lies on the bench",
        ),
    ] = 20.0
