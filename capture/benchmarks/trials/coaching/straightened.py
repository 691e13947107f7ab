"""Trials of straightening: simulated parts with a taper, on tables with play, by advice and by habit.

A part is 10 to 40 µm larger at one end, the table obeys 75 to 110 %, loses up to 5 µm when the screw turns
back, and the share is 0.3 to 0.75; two stations 220 mm apart are measured after each of 12 passes of
5 µm by a gauge of 0.6 µm scatter that shows whole micrometres. The table is moved as `parallel` says, or
by habit by the whole of what the slope as measured asks for after every pass, until it is under 2 µm.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from capture.coach.table_correction import Slope, Turn, follow, straighten
from capture.simulator.grinder import SimulatedGauge, SimulatedGrinder, SimulatedTable, Wheel, Workholding

HEAD, TAIL = 30.0, 250.0
SPAN = TAIL - HEAD
PASSES = 12
INFEED = 0.005
U = sqrt(0.0006**2 + 0.001**2 / 12.0)
"""Of one reading."""
WITHIN = 0.00125
GOOD = 0.0025
"""Taper over the stations that a part may be left with."""
HABIT = 0.002


class Straightened(NamedTuple):
    """How one part ended."""

    taper: float
    """True, once sparked out, mm over the stations."""
    moves: int
    obeys: float
    """What the table was found to do of a movement set."""
    u_obeys: float
    truth: float


class StraighteningFigures(Struct, frozen=True):
    """What a trial found."""

    parts: int
    good: float
    """Share of the parts left with less than `GOOD`."""
    moves: float
    taper: float
    """Root mean square, mm."""
    habit_good: float
    habit_moves: float
    habit_taper: float


def _machine(seed: int) -> SimulatedGrinder:
    rng = np.random.default_rng(seed)
    way = 1.0 if rng.integers(2) else -1.0
    return SimulatedGrinder(
        work=Workholding(diameter=55.100, taper=way * float(rng.uniform(0.010, 0.040))),
        wheel=Wheel(share=float(rng.uniform(0.3, 0.75)), scatter=0.02),
        gauge=SimulatedGauge(noise=0.0006),
        table=SimulatedTable(obeys=float(rng.uniform(0.75, 1.1)), play=float(rng.uniform(0.0, 0.005))),
        interference=0.002,
        seed=int(rng.integers(2**31)),
    )


def by_advice(seed: int) -> Straightened:
    """Straighten one part as advised, the share known as far as sizes have shown it."""
    shop = _machine(seed)
    arm = shop.table.reading_at - shop.table.pivot
    share = float(
        np.clip(shop.wheel.share + 0.06 * np.random.default_rng(seed + 1).standard_normal(), 0.2, 0.9)
    )
    slopes, moves = [_slope(shop, 0)], 0
    turns: list[Turn] = []
    obeys = u_obeys = 0.0
    for number in range(PASSES + 1):
        found = follow(slopes, turns, number, share=share, arm=arm, span=SPAN)
        if found is None:
            continue
        obeys, u_obeys = found.obeys, found.u_obeys
        advice = straighten(found, arm=arm, span=SPAN, share=share, stock=0.1, within=WITHIN)
        if advice.advice in {"move", "move in part"} and number < PASSES - 2:
            # in whole micrometres, as an indicator is read
            moved = round(advice.toward_wheel, 3)
            shop.swivel(moved)
            turns.append(Turn(number, moved))
            moves += 1
        if number < PASSES:
            shop.advance(INFEED)
            slopes.append(_slope(shop, number + 1))
    return Straightened(_sparked_out(shop), moves, obeys, u_obeys, shop.table.obeys)


def by_habit(seed: int) -> Straightened:
    """Straighten one part by the slope as it is measured, until it is small."""
    shop = _machine(seed)
    arm = shop.table.reading_at - shop.table.pivot
    moves = 0
    for number in range(PASSES):
        slope = _slope(shop, number).slope
        if number < PASSES - 2 and abs(slope * SPAN) >= HABIT:
            shop.swivel(round(arm * slope / 2.0, 3))
            moves += 1
        shop.advance(INFEED)
    return Straightened(_sparked_out(shop), moves, 0.0, 0.0, shop.table.obeys)


def _slope(shop: SimulatedGrinder, after: int) -> Slope:
    return Slope(after, (shop.measure(TAIL) - shop.measure(HEAD)) / SPAN, U * sqrt(2.0) / SPAN)


def _sparked_out(shop: SimulatedGrinder) -> float:
    for _ in range(25):
        shop.advance(0.0)
    return shop.size(TAIL) - shop.size(HEAD)


def run(count: int, *, seed: int = 0) -> StraighteningFigures:
    """Straighten *count* parts both ways.

    Raises:
        ValueError: There is nothing to straighten.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 part, got {count}")
    ours = [by_advice(seed + number) for number in range(count)]
    habit = [by_habit(seed + number) for number in range(count)]
    return StraighteningFigures(
        count,
        float(np.mean([abs(one.taper) < GOOD for one in ours])),
        float(np.mean([one.moves for one in ours])),
        float(np.sqrt(np.mean([one.taper**2 for one in ours]))),
        float(np.mean([abs(one.taper) < GOOD for one in habit])),
        float(np.mean([one.moves for one in habit])),
        float(np.sqrt(np.mean([one.taper**2 for one in habit]))),
    )
