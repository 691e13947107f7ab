"""Settings of size gauges that send all the time; lengths are millimetres, times seconds."""

from __future__ import annotations

from typing import Annotated

from msgspec import Struct

from capture.sheet.schema import PRACTICE, Key, mm_key, s_key


class PlacingSettings(Struct, frozen=True):
    """When the stream of a diameter gauge held by hand or on a bench is a size of the place in hand."""

    dwell: Annotated[
        float,
        s_key("Settled for, at least", "a reading that has stood still for a shorter time is no size"),
    ] = 0.45
    hold: Annotated[
        float,
        s_key(
            "Taken at once after",
            "a size near the sizes before it is taken after standing still for this time; "
            "any other when the gauge is opened again",
        ),
    ] = 0.8
    near: Annotated[
        float,
        mm_key("Near the sizes before it", "a size no farther from the newest sizes, or from the nominal"),
    ] = 0.06
    reach: Annotated[
        float,
        mm_key("Not on the part beyond", "farther from the newest sizes and from the nominal it is no size"),
    ] = 0.4
    lift: Annotated[
        float,
        mm_key("Lifted beyond", "opened by so much the gauge has left the place; closed by less it has not"),
    ] = 0.04
    redo: Annotated[
        float,
        s_key(
            "Placed again within",
            "lifting and placing again within this time sets the last size of the gauge aside",
        ),
    ] = 2.0
    longest: Annotated[
        float,
        s_key(
            "On the part at most",
            "what stands still for longer, and is not near the sizes before it, lies on the bench",
        ),
    ] = 20.0


class SweepSettings(Struct, frozen=True):
    """When the sweep of a bore gauge at a station is a reading, and how the gauge is understood."""

    u: Annotated[
        float,
        mm_key(
            "Standard uncertainty to accept at",
            "a station is accepted at this uncertainty, or at a coarse gauge's own, if that is larger",
        ),
    ] = 0.0003
    points: Annotated[
        int, Key("Least turning points", "fewest turning points for a reading", least=3, source=PRACTICE)
    ] = 3
    tilt: Annotated[
        float,
        Key(
            "Least tilt to either side",
            "a smaller tilt to either side is no rock",
            "°",
            above=0,
            source=PRACTICE,
        ),
    ] = 0.75
    interval: Annotated[
        float,
        s_key(
            "Streams when faster than",
            "readings at most this far apart: the gauge streams, unless the sheet says otherwise",
        ),
    ] = 0.4
    redo: Annotated[
        float,
        s_key(
            "Entered again within",
            "withdrawing and entering again within this time sets the last accepted reading aside",
        ),
    ] = 2.0
    pause: Annotated[
        float,
        s_key("Held still for", "an accepted place may be held still this long without having been left"),
    ] = 1.5
    out: Annotated[
        float,
        mm_key(
            "Out of the bore beyond", "a reading this far from the bore's size: the gauge is out of the bore"
        ),
    ] = 0.25
    reach: Annotated[
        float,
        mm_key(
            "Not in the bore beyond",
            "a gauge of known zero this far from the nominal or the master is not in the bore",
        ),
    ] = 0.4
    aside: Annotated[
        float,
        Key(
            "Held off the middle, either way",
            "a hand may hold the gauge this far off the middle unseen; it is in the uncertainty; "
            "0.2 for a gauge without centring shoes",
            "mm",
            least=0,
            source=PRACTICE,
        ),
    ] = 0.05
