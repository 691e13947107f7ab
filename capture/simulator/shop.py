"""A shop on loopback: a grinder of physics, gauges that send bytes over sockets, and an operator.

The gauges are reached as any gauge on the network is (``socket://``), so all that a real session
runs through runs here too. The operator follows a script and speaks through the
same inbox as a person does.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Sequence
from contextlib import asynccontextmanager
from typing import TypeAlias

from msgspec import Struct

from capture.simulator.grinder import HeatBalance, SimulatedGauge, SimulatedGrinder, Wheel, Workholding

Say: TypeAlias = Callable[[Sequence[str]], Awaitable[None]]
"""How the operator's words reach the capture."""

SLEEVE = """\
# A made-up job: nothing here was measured. The gauges are simulated.
[job]
name = "Jig-borer spindle sleeve (simulated)"
units = "mm"
simulated = true

[fit]
nominal = 55.0
clearance = {{ aim = 0.005, least = 0.003, most = 0.008 }}
engagement = {{ length = 160.0, from = 20.0, to = 120.0 }}
rule = "guarded"
bore = 55.0021
u_bore = 0.0005

[bore]
material = "grey cast iron"

[shaft]
material = "steel 4140"
stations = [30, 140, 250]
angles = [0]

[grinder]
dial = "diameter"
swivel = {{ pivot = 140.0, reading_at = 740.0, toward_wheel = "+" }}

[[gauge]]
name = "mike"
measures = "diameter"
part = "shaft"
link = {{ serial = "{mike}" }}
resolution = 0.001
repeatability = 0.0006
limits = 0.001

[[gauge]]
name = "probe"
measures = "temperature"
part = "shaft"
link = {{ serial = "{probe}" }}
resolution = 0.01
limits = 0.1
"""
"""The job sheet of the demo, with the addresses of its gauges left open."""

STATIONS = (30.0, 140.0, 250.0)
AIM = 55.0021 - 0.005


def sleeve_grinder(
    *, seed: int = 55, glazing: float = 0.0, coolant: bool = True, hot: bool = False
) -> SimulatedGrinder:
    """The sleeve between centres, 40 µm over size, on a machine with some spring.

    *hot*: the wheel rubs hard enough that a dry part grows faster than it is ground.
    """
    return SimulatedGrinder(
        work=Workholding(diameter=AIM + 0.040, length=280.0, taper=0.0012),
        wheel=Wheel(share=0.5, wear=0.03, glazing=glazing),
        warmth=HeatBalance(pushes=False, rubbing=6000.0 if hot else 1200.0),
        gauge=SimulatedGauge(noise=0.0006, resolution=0.001, probe_noise=0.02),
        coolant=coolant,
        interference=0.002,
        seed=seed,
    )


class OperatorStep(Struct, frozen=True):
    """One thing that the operator does."""

    words: tuple[str, ...] = ()
    """The command that is spoken."""
    measure: float | None = None
    """The station at which the button of the micrometer is pressed."""
    seconds: float = 0.0
    """Shop time that it takes."""


def grind_to(grinder: SimulatedGrinder, aim: float, *, deepest: float) -> Iterator[OperatorStep]:
    """Passes until the predicted cold size is *aim*, the stations measured after each.

    The operator knows this machine: what its spring still holds is counted before feeding on.
    """
    while (left := over_aim(grinder, aim)) > 0.001:
        fed = round(min(deepest, max(left * 0.6, 0.001)), 3)
        grinder.advance(fed)
        yield from _measured(fed)


def spark_out(grinder: SimulatedGrinder, passes: int) -> Iterator[OperatorStep]:
    """Passes without infeed, the stations measured after each."""
    for _ in range(passes):
        grinder.advance(0.0)
        yield from _measured(0.0)


def _measured(fed: float) -> Iterator[OperatorStep]:
    yield OperatorStep(words=("pass", f"{fed:.3f}"), seconds=30.0)
    for z in STATIONS:
        yield OperatorStep(measure=z, seconds=8.0)


def over_aim(grinder: SimulatedGrinder, aim: float) -> float:
    """How far the part will end over *aim* if nothing more is fed, mm."""
    return sum(grinder.size(z) - grinder.to_come(z) - aim for z in STATIONS) / len(STATIONS)


def good_session(grinder: SimulatedGrinder, *, rest: int = 8) -> Iterator[OperatorStep]:
    """Coolant on all the time, ground to size and sparked out in *rest* passes."""
    yield OperatorStep(words=("stage", "finish"))
    for z in STATIONS:
        yield OperatorStep(measure=z, seconds=8.0)
    yield from grind_to(grinder, AIM, deepest=0.005)
    yield from spark_out(grinder, rest)


def dry_session(grinder: SimulatedGrinder, *, rest: int = 8) -> Iterator[OperatorStep]:
    """The coolant never runs: the part grows, and is never done while it is warm."""
    grinder.coolant = False
    yield from good_session(grinder, rest=rest)


def failing_session(grinder: SimulatedGrinder) -> Iterator[OperatorStep]:
    """The demo: the coolant fails half way, the part grows and reads on size while it is warm."""
    yield OperatorStep(words=("stage", "finish"))
    for z in STATIONS:
        yield OperatorStep(measure=z, seconds=8.0)
    yield from grind_to(grinder, AIM + 0.020, deepest=0.005)
    yield OperatorStep(words=("note", "coolant has stopped"))
    grinder.coolant = False
    yield from grind_to(grinder, AIM + 0.008, deepest=0.004)
    yield from spark_out(grinder, 5)
    yield OperatorStep(words=("note", "coolant runs again; waiting for the part to cool"), seconds=5.0)
    grinder.coolant = True
    grinder.wait(240.0)
    yield OperatorStep(seconds=60.0)
    yield from grind_to(grinder, AIM, deepest=0.0025)
    yield from spark_out(grinder, 7)
    yield OperatorStep(words=("note", "sparked out; the part goes to the bench"), seconds=5.0)


def diameter_line(size: float) -> bytes:
    """What the micrometer sends."""
    return f"{size:+08.3f} mm\r\n".encode("ascii")


def temperature_line(temperature: float) -> bytes:
    """What the probe sends."""
    return f"{temperature:+07.2f} C\r\n".encode("ascii")


class Outlet:
    """A gauge's socket: every connection receives what it sends."""

    def __init__(self) -> None:
        self._writers: set[asyncio.StreamWriter] = set()
        self.connected = asyncio.Event()
        """Set as soon as somebody has connected."""

    @asynccontextmanager
    async def open(self) -> AsyncIterator[str]:
        """Listen while the context is open; the address as a job sheet has it."""
        server = await asyncio.start_server(self._accept, "127.0.0.1", 0)
        try:
            yield f"socket://127.0.0.1:{server.sockets[0].getsockname()[1]}"
        finally:
            server.close()
            for writer in self._writers:
                writer.close()

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.add(writer)
        self.connected.set()
        try:
            while await reader.read(1024):
                pass  # these gauges do not listen
        except OSError:
            pass  # the receiver has gone, as happens
        finally:
            self._writers.discard(writer)
            writer.close()

    def send(self, data: bytes) -> None:
        """Send to all who are connected."""
        for writer in list(self._writers):
            writer.write(data)


async def work(
    grinder: SimulatedGrinder,
    steps: Iterator[OperatorStep],
    mike: Outlet,
    probe: Outlet,
    say: Say,
    *,
    speed: float,
) -> None:
    """Do the steps, *speed* times as fast as in a shop; the probe speaks once a shop second at the most.

    Args:
        grinder: The machine and the part.
        steps: What the operator does; the machine moves as they are taken.
        mike: The micrometer's outlet.
        probe: The temperature probe's.
        say: How words reach the capture.
        speed: Shop seconds in one second.
    """
    await mike.connected.wait()
    await probe.connected.wait()
    for step in steps:
        probe.send(temperature_line(grinder.probe()))
        if step.words:
            await say(step.words)
        if step.measure is not None:
            mike.send(diameter_line(grinder.measure(step.measure)))
        await asyncio.sleep(step.seconds / speed)
    probe.send(temperature_line(grinder.probe()))
