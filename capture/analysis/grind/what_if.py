"""What if: the coach's advice played from the pass on at which what was done first differed from it.

The machine is the one that the session had shown by its end: with its share S of a pass and gain g, the
law of `metrology.spring` is fitted to the sizes as they were, so that what stood in the spring at any pass is
known far better than it was then. From the pass in question on every advice is followed, and the part
answers by that law without scatter. It is an estimate: the machine that was not asked may have answered
otherwise. Lengths are mm on diameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import hypot, sqrt
from typing import Any, NamedTuple

import numpy as np
from msgspec import Struct, structs
from msgspec.structs import replace

from capture.coach.advice import Ground, coaching_of
from capture.metrology.grinding.judgement import GrindLimits
from capture.metrology.grinding.outlook import SizeReading, Stroke
from capture.metrology.message import Message, message
from capture.sheet.job import Units
from capture.state.grinding.passes import PassRow, ground_of, limits_of
from capture.state.session import State
from capture.state.target import target
from capture.text.catalogue import sentence

STEP = 1e-6
"""Difference of two infeeds that is none, mm."""
MOST = 40
"""Passes after which a game is given up."""
AGAIN = 8
"""Readings and waits after one pass, after which the next pass is made without infeed."""
PASS = 30.0
"""Seconds of a pass that is played; nothing but the order of the readings rests on it."""


class Played(Struct, frozen=True):
    """What following the advice would have come to; None where it can't be said."""

    after: int
    """Pass after which the advice is followed."""
    passes: int | None = None
    """All passes of the part, those before among them."""
    saved: int | None = None
    """Passes that were made, less `passes`; None where the part was not sparked out by them."""
    size: float | None = None
    """Where the part would have landed, cold."""
    u_size: float | None = None
    inside: bool | None = None
    """Inside the guarded band."""
    infeeds: tuple[float, ...] = ()
    """Of the passes that are played."""
    why: Message | None = None
    """What stands in the way, if anything."""


def by_name(game: Played, units: Units) -> dict[str, Any]:
    """The fields of *game* as plain data, obstacles as sentences."""
    return structs.asdict(game) | {"why": "" if game.why is None else sentence(game.why, units)}


def first_difference(state: State) -> int | None:
    """The pass after which what was advised was first not done; None where it always was."""
    rows = [row for row in state.grind.passes if row.number > state.grind.first]
    for row, after in pairwise(rows):
        advised = _advised(row)
        if advised is not None and after.infeed is not None and abs(after.infeed - advised) > STEP:
            return row.number
    return None


def _advised(row: PassRow) -> float | None:
    """The infeed of the next pass; a part that was done asks for none, so any pass more differs."""
    landing = None if row.coaching is None else row.coaching.landing
    if landing is None or landing.step not in {"feed", "rest", "draw back", "stop"}:
        return None
    return -1.0 if landing.step == "stop" else landing.infeed


def played(state: State) -> Played | None:
    """Follow the advice from the first difference on; None where nothing differed, or nothing was ground."""
    after = first_difference(state)
    wanted = target(state.job, state.stations)
    if after is None or wanted is None:
        return None
    ground = ground_of(state.grind)
    why: Message | None = None
    if ground.turns:
        why = message("played.table")
    elif any(stroke.infeed is None for stroke in ground.strokes):
        why = message("played.no-infeed")
    machine = None if why else _machine(state, ground)
    if machine is None:
        return Played(after, why=why or message("played.little"))
    limits = limits_of(state.job, state.stations, ground.reference)
    return _game(state, ground, machine, limits, wanted.aim - ground.reference, after)


class Machine(NamedTuple):
    """The law of one pass as a session showed it."""

    share: float
    u_share: float
    gain: float
    u_gain: float
    start: float
    """Fitted size before the first pass, in the terms of the sizes, mean over the places."""
    spring: float
    """To come before the first pass."""
    offsets: tuple[float, ...]
    """Of each place from that mean."""
    u: float
    """Standard uncertainty of a size on the fitted line."""

    def at(self, infeeds: Sequence[float]) -> tuple[float, float]:
        """Size and what is still to come after passes of *infeeds*."""
        size, spring = self.start, self.spring
        for infeed in infeeds:
            standing = spring + self.gain * infeed
            taken = self.share * max(standing, 0.0)
            size, spring = size - taken, standing - taken
        return size, spring


def _machine(state: State, ground: Ground) -> Machine | None:
    """Start and spring by least squares, with the share and the gain that the session ended with."""
    row, coaching = state.grind.row, state.grind.coaching
    outlook = None if row is None else row.outlook
    if outlook is None or outlook.share is None or outlook.u_share is None or outlook.method != "model":
        return None
    if coaching is None or coaching.gain is None or coaching.u_gain is None:
        return None
    fitted = fit(ground, share=outlook.share, gain=coaching.gain)
    return None if fitted is None else fitted._replace(u_share=outlook.u_share, u_gain=coaching.u_gain)


def fit(ground: Ground, *, share: float, gain: float) -> Machine | None:
    """The start of a grind by its sizes; None for fewer than three sizes more than there are unknowns.

    After n passes without drawing back, from the law:
    removed = E (1 - (1-S)^n) + g Σ u_k (1 - (1-S)^(n-k+1)).
    """
    infeeds = np.array([stroke.infeed or 0.0 for stroke in ground.strokes])
    places = len(ground.places)
    rows, values = [], []
    for size in ground.sizes:
        left = (1.0 - share) ** np.arange(size.after, 0, -1)
        fed = gain * float(infeeds[: size.after] @ (1.0 - left))
        row = np.zeros(places + 1)
        row[size.place], row[-1] = 1.0, -(1.0 - (1.0 - share) ** size.after)
        rows.append(row)
        values.append(size.value + fed)
    if len(rows) < places + 4:
        return None
    design, wanted = np.array(rows), np.array(values)
    found, _, rank, _ = np.linalg.lstsq(design, wanted, rcond=None)
    if rank < places + 1:
        return None
    misses = wanted - design @ found
    u = sqrt(float(misses @ misses) / (len(rows) - rank)) * sqrt(rank / len(rows))
    start = float(found[:places].mean())
    offsets = tuple(float(one) - start for one in found[:places])
    return Machine(share, 0.0, gain, 0.0, start, max(float(found[-1]), 0.0), offsets, u)


def _game(
    state: State, ground: Ground, machine: Machine, limits: GrindLimits, aim: float, after: int
) -> Played:
    """Every advice from pass *after* on, followed on *machine*."""
    begun = after - state.grind.first
    table = _Play(ground, machine, begun)
    while len(table.strokes) < begun + MOST:
        coaching = coaching_of(table.ground(), limits, aim, state.job)
        if coaching is None:
            break
        landing = coaching.landing
        if landing.step == "stop":
            return _ended(state, table, ground, machine, limits, after)
        if landing.step in {"measure again", "wait"} and table.readings < AGAIN:
            table.measure(1, coaching.wait or 0.0)
            continue
        table.make_pass(landing.infeed, max(1, landing.readings))
    return Played(after, why=message("played.not-landed", passes=MOST))


class _Play:
    """A part on the machine that is played."""

    def __init__(self, ground: Ground, machine: Machine, begun: int) -> None:
        self._ground, self._machine, self._begun = ground, machine, begun
        self.strokes: list[Stroke] = list(ground.strokes[:begun])
        self.sizes: list[SizeReading] = [size for size in ground.sizes if size.after <= begun]
        self._like = max(self.sizes, key=lambda size: (size.after, size.t))
        self._t = self._like.t
        self.readings = 0

    def ground(self) -> Ground:
        """What the advice is worked out from."""
        return self._ground._replace(strokes=self.strokes, sizes=self.sizes)

    def infeeds(self) -> list[float]:
        """Of all passes so far."""
        return [stroke.infeed or 0.0 for stroke in self.strokes]

    def make_pass(self, infeed: float, readings: int) -> None:
        """A pass, and its readings at every place."""
        self._t += PASS
        self.strokes.append(Stroke(infeed, self._t))
        self.readings = 0
        self.measure(readings, 0.0)

    def measure(self, readings: int, wait: float) -> None:
        """Readings at every place, all together so many, after a wait."""
        self._t += wait
        size, _ = self._machine.at(self.infeeds())
        places = len(self._ground.places)
        for _ in range(max(1, readings // places)):
            self._t += 1.0
            self.readings += 1
            for place, offset in enumerate(self._machine.offsets):
                read = replace(
                    self._like, after=len(self.strokes), value=size + offset, place=place, t=self._t
                )
                self.sizes.append(read)


def _ended(
    state: State, table: _Play, ground: Ground, machine: Machine, limits: GrindLimits, after: int
) -> Played:
    """Where the played passes ended; the uncertainty is the fit's, and what share and gain leave open."""
    infeeds = table.infeeds()
    size, _ = machine.at(infeeds)
    open_ = [machine.u, max((one.u_growth for one in ground.sizes), default=0.0)]
    for part, u in (("share", machine.u_share), ("gain", machine.u_gain)):
        near = {"share": machine.share, "gain": machine.gain}
        near[part] = min(near[part] + u, 0.98 if part == "share" else 1.2)
        other = fit(ground, share=near["share"], gain=near["gain"])
        open_.append(0.0 if other is None else other.at(infeeds)[0] - size)
    passes = state.grind.first + len(infeeds)
    row = state.grind.passes[-1]
    done = row.outlook is not None and row.outlook.settled
    low, high = limits.band or (-np.inf, np.inf)
    least, most = min(machine.offsets), max(machine.offsets)
    return Played(
        after,
        passes=passes,
        saved=row.number - passes if done else None,
        size=size + ground.reference,
        u_size=hypot(*open_),
        inside=bool(low <= size + least and size + most <= high),
        infeeds=tuple(round(infeed, 6) for infeed in infeeds[after - state.grind.first :]),
    )
