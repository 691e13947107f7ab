"""A rebuilder's session with a bore gauge: mastering, two stages of a bore, a redo, a pause and a knock."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Iterator
from math import cos, radians
from typing import TypeAlias

from msgspec import Struct

from capture.simulator.bore import BoreGauge, BoreSample, Hand, Wire
from capture.simulator.shop import Outlet, Say

BORE = """\
# A made-up job: nothing here was measured. The gauge is simulated.
[job]
name = "Jig-borer spindle sleeve: its bore (simulated)"
units = "mm"
simulated = true

[fit]
nominal = 55.0
clearance = {{ aim = 0.005, least = 0.003, most = 0.008 }}
engagement = {{ length = 160.0, from = 20.0, to = 120.0 }}
rule = "guarded"

[bore]
material = "grey cast iron"
stations = [20, 80, 140]
angles = [0, 90]

[shaft]
material = "steel 4140"
plating = {{ least = 0.10, most = 0.20, stock = 0.06, runout = 0.01 }}

[[gauge]]
name = "plug"
measures = "bore"
link = {{ serial = "{plug}" }}
stream = true
resolution = 0.001
repeatability = 0.0004
"""
"""The job sheet of the bore session, with the address of its gauge left open."""

STATIONS = (20.0, 80.0, 140.0)
ANGLES = (0.0, 90.0)
RING = 55.0
SHOWN_ZERO = 55.0042
"""Size at which the gauge shows 0, until it is set on the ring."""
RATE = 20.0
STROKES = 60.0


class Spoken(Struct, frozen=True):
    """The operator speaks."""

    at: float
    words: tuple[str, ...]


class Sent(Struct, frozen=True):
    """The gauge sends a line."""

    at: float
    data: bytes


Doing: TypeAlias = Spoken | Sent
_Sizes: TypeAlias = Callable[[float, float], float]


def as_found(z: float, angle: float) -> float:
    """The bore before lapping, mm: tight in the middle, bell-mouthed, and a little oval."""
    return 55.0012 + 0.0028 * ((z - 80.0) / 60.0) ** 2 + 0.0005 * cos(2 * radians(angle - 30.0))


def lapped(z: float, angle: float) -> float:
    """The bore after lapping: more has come off where it was tight."""
    before = as_found(z, angle)
    return before + 0.0006 + 0.45 * (55.0045 - before)


def line(sample: BoreSample) -> bytes:
    """What the gauge sends of a reading."""
    return f"{sample.value:+08.3f} mm\r\n".encode("ascii")


def bore_session(seed: int = 55) -> Iterator[Doing]:
    """All that happens, in the order of its time (seconds); it is to be played as fast as it is, no faster.

    A hand has its own pace: what is played at several times its speed is no rocking any more.
    """
    gauge = BoreGauge(
        Hand(frequency=0.75, amplitude=3.0, pauses=0.0), Wire(rate=RATE, zero=SHOWN_ZERO, air=0.9), seed
    )
    yield Spoken(0.0, ("master", "plug", f"{RING:.3f}", "0.0003"))
    yield from _sent(gauge.air(1.5, RING))
    yield from _sent(gauge.enter(RING))
    yield from _sent(gauge.rock(RING, 4))
    yield from _sent(gauge.leave(RING))
    yield from _stage(gauge, "as found", as_found, redo=2)
    yield Spoken(gauge.seconds, ("lap", f"{STROKES:g}", "3", "min"))
    yield from _stage(gauge, "lapped 1", lapped, knock=3)


def _stage(
    gauge: BoreGauge, name: str, size: _Sizes, *, redo: int | None = None, knock: int | None = None
) -> Iterator[Doing]:
    """All places of the plan, one after the other."""
    places = [(z, angle) for z in STATIONS for angle in ANGLES]
    sizes = [size(z, angle) for z, angle in places]
    yield Spoken(gauge.seconds, ("stage", name))
    yield from _sent(gauge.air(3.0, sizes[0]))
    yield from _sent(gauge.enter(sizes[0]))
    for number, here in enumerate(sizes):
        if number == knock:
            yield from _sent(gauge.rock(here, 0.5))
            yield from _sent(gauge.bump(here))
        yield from _sent(gauge.rock(here, 4))
        if number == redo:
            yield from _sent(gauge.leave(here, 0.5))
            yield from _sent(gauge.air(0.6, here))
            yield from _sent(gauge.enter(here, 0.6))
            yield from _sent(gauge.rock(here, 4))
        if number + 1 < len(sizes):
            yield from _sent(gauge.move(2.0, here, sizes[number + 1]))
    yield from _sent(gauge.leave(sizes[-1]))
    yield from _sent(gauge.air(2.5, sizes[-1]))


def _sent(samples: Iterable[BoreSample]) -> Iterator[Sent]:
    return (Sent(sample.at, line(sample)) for sample in samples)


async def play(session: Iterable[Doing], plug: Outlet, say: Say) -> None:
    """Play a session at the pace of its hand: lines through *plug*, words through *say*."""
    await plug.connected.wait()
    loop = asyncio.get_running_loop()
    began = loop.time()
    for doing in session:
        await asyncio.sleep(max(0.0, began + doing.at - loop.time()))
        if isinstance(doing, Spoken):
            await say(doing.words)
        else:
            plug.send(doing.data)
