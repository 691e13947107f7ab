"""Invented people and displays for the trials of passes that nobody tells.

Ranges were written down before the first run.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.infeed_head import InfeedDisplay, InfeedHand

MIDDLE = 140.0
"""The place where the part is measured, mm."""


class Habits(Struct, frozen=True):
    """How one job is done."""

    pass_seconds: float
    uneven: float
    feeds: tuple[int, int]
    """Fewest and most feeds before a size."""
    rests: tuple[int, int]
    wind_back: float
    """mm by which the head is wound back to measure; 0: it stays."""
    measuring: float
    thinking: float
    again: float
    """Share of the sizes that are taken twice."""
    radius: bool


def habits_of(rng: np.random.Generator) -> Habits:
    """Some person's way to grind."""
    most = int(rng.integers(1, 4))
    return Habits(
        pass_seconds=float(np.exp(rng.uniform(np.log(6.0), np.log(90.0)))),
        uneven=float(rng.uniform(0.03, 0.10)),
        feeds=(int(rng.integers(1, most + 1)), most),
        rests=(0, int(rng.integers(0, 3))),
        wind_back=float(np.exp(rng.uniform(np.log(0.3), np.log(15.0)))),
        measuring=float(rng.uniform(6.0, 40.0)),
        thinking=float(rng.uniform(1.0, 30.0)),
        again=0.1,
        radius=bool(rng.integers(2)),
    )


def display_of(rng: np.random.Generator) -> InfeedDisplay:
    """Some gauge's display."""
    step = float(rng.choice([0.0005, 0.001, 0.001, 0.001]))
    return InfeedDisplay(
        step=step,
        noise=0.3 * step,
        rate=float(np.exp(rng.uniform(0.0, np.log(20.0)))),
        on_change=bool(rng.uniform() < 0.3),
        gaps=float(rng.choice([0.0, 0.0, 4.0])),
        spikes=float(rng.choice([0.0, 0.0, 0.001])),
    )


def hand_of(rng: np.random.Generator) -> InfeedHand:
    """Some person's hand."""
    return InfeedHand(
        speed=float(np.exp(rng.uniform(np.log(0.002), np.log(0.03)))),
        rapid=float(np.exp(rng.uniform(np.log(0.5), np.log(20.0)))),
        overshoot=float(rng.uniform(0.0, 0.3)),
        halting=float(rng.uniform(0.0, 0.15)),
        bounce=float(rng.choice([0.0, 0.003])),
        misses=float(rng.uniform(0.0, 0.0007)),
    )


def sheet_of(*, radius: bool, step: float) -> Job:
    """The sheet of a job; *step*: of the infeed gauge's display, mm."""
    sheet = {
        "job": {"name": "untold"},
        "shaft": {"material": "steel 4140", "stations": [MIDDLE]},
        "grinder": {"dial": "radius" if radius else "diameter"},
        "gauge": [
            {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 0.001},
            {"name": "saddle", "measures": "infeed", "link": {"serial": "b"}, "resolution": step},
        ],
    }
    return job_of(sheet)
