"""A simulated keyed shaft of known lobes that turns in two V-blocks under an indicator, and its sheet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.form.contacts import RoundnessSetup
from capture.simulator.turned_part import Spinning, turned

ROUND: Final = """\
[job]
name = "Keyed sleeve in V-blocks (simulated)"
units = "mm"
[shaft]
material = "steel 4140"
stations = [80]
[[gauge]]
name = "dial"
measures = "runout"
link = {{ serial = "{dial}" }}
resolution = 0.0005
"""
"""The sheet; the port is left open."""

LOBES: Final = {2: 0.0008, 3: 0.0021, 5: 0.0009, 7: 0.0006}
"""Amplitude of each lobe count, mm."""
PLACE = 80.0
KEYWAY: Final = (1.2, 0.14, 0.6)
"""Where, how wide, radians, and how deep, mm."""
TURNING: Final = Spinning(
    rpm=20.0,
    turns=12.0,
    rate=10.0,
    wander=0.004,
    noise=0.0003,
    resolution=0.0005,
    eccentric=0.0,
    keyways=(KEYWAY,),
    u_mark=0.04,
)


class RoundDoing(Struct, frozen=True):
    """A reading that the dial sends, or words that the operator says, and when."""

    at: float
    """Seconds since the session began."""
    value: float | None = None
    """mm."""
    words: tuple[str, ...] = ()


def round_session(
    seed: int = 20, setups: tuple[float, ...] = (90.0, 108.0), how: Spinning = TURNING, place: float = PLACE
) -> Iterator[RoundDoing]:
    """A run in each V, one after the other, with a pedal at every turn."""
    random = np.random.default_rng(seed)
    part = np.zeros(16, complex)
    for lobes, amplitude in LOBES.items():
        part[lobes] = amplitude * np.exp(1j * random.uniform(0, 2 * np.pi))
    begin = 2.0
    for angle in setups:
        shown = turned(random, part, replace(how, off=0.02), [RoundnessSetup("v", angle)])[0]
        words = ("round", "shaft", f"{place:g}", f"v{angle:g}", "dial", f"rpm={how.rpm:g}")
        yield RoundDoing(begin, words=words)
        doings = [
            RoundDoing(begin + 1 + float(t), float(v)) for t, v in zip(shown.times, shown.values, strict=True)
        ]
        doings += [RoundDoing(begin + 1 + float(t), words=("turn",)) for t in shown.marks]
        yield from sorted(doings, key=lambda one: one.at)
        begin += float(shown.times[-1]) + 4.0
        yield RoundDoing(begin - 2.0, words=("round", "done"))
