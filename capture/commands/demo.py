"""`demo`: a simulated shop, captured and shown as a real one is."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, AsyncExitStack, asynccontextmanager
from pathlib import Path
from typing import TypeAlias

import click

from capture.commands.live import Screen, guarded, session, sheet_of
from capture.commands.screen import Serving, serving
from capture.commands.terminal import echo
from capture.links.inbox.client import say
from capture.links.inbox.endpoint import NoCapture
from capture.simulator import shop, untold_shop
from capture.simulator.gauge_lines import send
from capture.simulator.sessions import bore_session, power_session, ride_session

Work: TypeAlias = Callable[[], Awaitable[None]]
"""What the simulated operator does from beginning to end."""
JobAt: TypeAlias = AbstractAsyncContextManager[tuple[Path, Work]]
"""A sheet, and the work that is done while the context is open."""


@click.command("demo")
@click.option("--riding", is_flag=True, help="A gauge rides on the shaft; no commands.")
@click.option("--power", is_flag=True, help="Passes are found from the spindle's power; no commands.")
@click.option("--bore", is_flag=True, help="Measure a bore, hands free, instead of grinding a shaft.")
@click.option(
    "--untold", is_flag=True, help="Grind to size without commands: passes are found from an infeed gauge."
)
@click.option(
    "--speed",
    default=10.0,
    show_default=True,
    type=click.FloatRange(0.1, 1000),
    help="Shop seconds in one second, while grinding; hands that rock a gauge are not hurried.",
)
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the job and its recording.",
)
@click.option("--stay/--leave", default=True, help="Keep the page open when the part is done.")
@serving
def demo_command(
    riding: bool,
    power: bool,
    bore: bool,
    untold: bool,
    speed: float,
    folder: Path | None,
    stay: bool,
    screen: Serving,
) -> int:
    """Grind a simulated part: nothing to connect, everything else is real.

    The gauges are simulated and speak over loopback sockets. Half way the coolant
    fails: watch the page when the part reads on size while it is warm.
    """
    folder = folder or Path(tempfile.mkdtemp(prefix="tenths-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    beside = Screen(screen)
    try:
        at_own_pace = _riding if riding else _power if power else None
        job = at_own_pace(folder) if at_own_pace else _job(folder, speed, bore=bore, untold=untold)
        return guarded(lambda: asyncio.run(_demo(job, beside, stay=stay)))
    finally:
        beside.close()


async def _demo(job_at: JobAt, screen: Screen, *, stay: bool) -> None:
    ready, stop = asyncio.Event(), asyncio.Event()

    def on_ready(recording: Path, inbox: Path) -> None:
        screen.show(recording, inbox)
        ready.set()

    async def operate(work: Work) -> None:
        await ready.wait()
        await work()
        if not stay:
            stop.set()

    async with job_at as (sheet, work):
        job, plain = sheet_of(sheet, ())
        operator = asyncio.create_task(operate(work))
        try:
            await session(job, plain, sheet, None, on_ready, stop)
        finally:
            operator.cancel()
            await asyncio.wait([operator])
    if not operator.cancelled() and (error := operator.exception()) is not None:
        raise error


def _job(folder: Path, speed: float, *, bore: bool, untold: bool) -> JobAt:
    """The sheet that is made, and what is done by it."""
    if bore:
        return _bore(folder)
    return _untold(folder, speed) if untold else _shaft(folder, speed)


@asynccontextmanager
async def _outlets(*names: str) -> AsyncIterator[tuple[dict[str, shop.Outlet], dict[str, str]]]:
    """Gauges by name, and the address of each."""
    outlets = {name: shop.Outlet() for name in names}
    async with AsyncExitStack() as opened:
        yield outlets, {name: await opened.enter_async_context(one.open()) for name, one in outlets.items()}


@asynccontextmanager
async def _untold(folder: Path, speed: float) -> AsyncIterator[tuple[Path, Work]]:
    async with _outlets("mike", "probe", "saddle") as (outlets, ways):
        sheet = _written(folder / "untold.toml", _pressed(untold_shop.UNTOLD.format(**ways)))
        yield sheet, lambda: send(untold_shop.untold_session(), outlets, speed=speed)


@asynccontextmanager
async def _shaft(folder: Path, speed: float) -> AsyncIterator[tuple[Path, Work]]:
    mike, probe = shop.Outlet(), shop.Outlet()
    async with mike.open() as mike_at, probe.open() as probe_at:
        sheet = _written(folder / "sleeve.toml", _pressed(shop.SLEEVE.format(mike=mike_at, probe=probe_at)))
        grinder = shop.sleeve_grinder()
        steps = shop.failing_session(grinder)
        yield sheet, lambda: shop.work(grinder, steps, mike, probe, _voice(folder), speed=speed)


def _pressed(sheet: str) -> str:
    """*sheet* with a micrometer whose button is pressed, however fast the demo goes."""
    return sheet.replace('measures = "diameter"\n', 'measures = "diameter"\nstream = false\n', 1)


@asynccontextmanager
async def _bore(folder: Path) -> AsyncIterator[tuple[Path, Work]]:
    plug = shop.Outlet()
    async with plug.open() as plug_at:
        sheet = _written(folder / "bore.toml", bore_session.BORE.format(plug=plug_at))
        yield sheet, lambda: bore_session.play(bore_session.bore_session(), plug, _voice(folder))


@asynccontextmanager
async def _riding(folder: Path) -> AsyncIterator[tuple[Path, Work]]:
    async with _outlets("rider", "mike") as (outlets, ways):
        sheet = _written(folder / "riding.toml", ride_session.RIDING.format(**ways))
        yield sheet, lambda: send(ride_session.ride_session(ride_session.sleeve_ride()), outlets)


@asynccontextmanager
async def _power(folder: Path) -> AsyncIterator[tuple[Path, Work]]:
    async with _outlets("spindle", "mike") as (outlets, ways):
        sheet = _written(folder / "power.toml", power_session.POWER.format(**ways))
        yield sheet, lambda: send(power_session.power_session(), outlets)


def _written(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path.absolute()


def _voice(folder: Path) -> Callable[[Sequence[str]], Awaitable[None]]:
    """The operator's words, through the inbox as a person's are."""

    async def speak(words: Sequence[str]) -> None:
        try:
            reply = await asyncio.to_thread(say, list(words), folder=folder)
        except NoCapture as error:
            echo(f"tenths: {error}", err=True)
            return
        if not reply.ok:
            echo(f"tenths: {reply.refused}", err=True)

    return speak
