"""A whole grind in which nobody says a word: a gauge rides on the sleeve, one size is measured by hand."""

from __future__ import annotations

from collections.abc import Iterator

from capture.simulator.gauge_lines import ONE_PLACE, GaugeLine
from capture.simulator.rider import Ride, samples_of
from capture.simulator.shop import AIM, diameter_line

RIDING = (
    ONE_PLACE.replace("NAME", "ground by itself")
    + """\
[[gauge]]
name = "rider"
measures = "diameter"
part = "shaft"
link = {{ serial = "{rider}" }}
resolution = 0.0001
rides = 140.0

[[gauge]]
name = "mike"
measures = "diameter"
part = "shaft"
link = {{ serial = "{mike}" }}
stream = false
resolution = 0.001
limits = 0.001
"""
)
"""The job sheet of the grind, with the addresses of its gauges left open."""

SIZE = AIM + 0.0202
BY_HAND = 8.0
"""Seconds at which the part is measured by hand."""


def sleeve_ride(stroke: float = 14.0) -> Ride:
    """The sleeve ground to its aim: five passes with infeed, nine without."""
    return Ride(
        size=SIZE,
        share=0.52,
        infeeds=(0.004, 0.004, 0.004, 0.004, 0.0042) + (0.0,) * 9,
        stroke=stroke,
        width=2.0,
        begins=14.0,
        resolution=0.0001,
        noise=0.0002,
        runout=0.0012,
        oval=0.0004,
        keyway=0.08,
        spikes=0.01,
        push=0.1,
        heat=0.0001,
        offset=-55.0,
    )


def ride_session(ride: Ride, seed: int = 55) -> Iterator[GaugeLine]:
    """All that the gauges send, in the order of its time."""
    by_hand = False
    for sample in samples_of(ride, seed):
        yield GaugeLine(sample.at, "rider", f"{sample.value:+09.4f} mm\r\n".encode("ascii"))
        if not by_hand and sample.at >= BY_HAND:
            by_hand = True
            yield GaugeLine(sample.at, "mike", diameter_line(ride.size))
