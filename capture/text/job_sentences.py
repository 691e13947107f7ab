"""Sentences of the job beside the grinding: what came back from the plater, wheel and work, lapping."""

from __future__ import annotations

from typing import Final

JOB_SENTENCES: Final[dict[str, str]] = {
    # what came back from the plater
    "received.anywhere": "at the worst place",
    "received.at": "at {z}, {angle:g}°",
    "received.cleans": "the finish of {finished} can be reached: at least {stock} per side comes off, {at}",
    "received.cleans-unsure": (
        "it is not sure that the finish of {finished} can be reached: {stock} per side is over it {at}, "
        "which the gauge cannot tell from none"
    ),
    "received.short": (
        "the finish of {finished} cannot be reached: {stock} per side is over it {at}, runout taken off; "
        "do not grind, talk to the plater"
    ),
    "received.little": (
        "little stock: {stock} per side where {due} is due for taper, spring and margin: make it parallel "
        "first"
    ),
    "received.left": (
        "ground to it, at least {left} per side of chromium stays everywhere; {wanted} is wanted"
    ),
    "received.left-unsure": (
        "ground to it, {left} per side of chromium stays {at}; that {wanted} is left everywhere is not sure"
    ),
    "received.thin": (
        "ground to it, only {left} per side of chromium stays {at}, under the {wanted} wanted: it was not "
        "stripped far enough there"
    ),
    "received.unstripped": (
        "no place was measured stripped: how much chromium stays is not known (say stage stripped before "
        "plating, and measure the same places)"
    ),
    "received.deposit": "{least} to {most} per side were deposited; {ordered} was ordered",
    "received.less": "less was deposited than ordered {at}",
    "received.taper": "taper as plated {taper}: it comes out of the same stock",
    "received.parallel": "taper as plated {taper}, less than the places can tell",
}
