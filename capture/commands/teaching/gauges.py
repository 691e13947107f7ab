"""Gauges: what is in sight, and how those of a sheet are."""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from capture.commands.live import job_of_sheet
from capture.commands.options import AS_JSON
from capture.commands.terminal import echo, echo_json
from capture.links.inbox.endpoint import NAME, NoCapture, read_endpoint
from capture.links.ports import Port, ports
from capture.recording.reader import BadRecording, follow
from capture.sheet.job import Job
from capture.state.fold import Fold
from capture.text.printable import plain

if TYPE_CHECKING:
    from capture.links.bluetooth.radio import FoundDevice
    from capture.report.terminal.gauge_watch import Watch

REFRESH = 0.25
"""Seconds between two looks at the recording."""


@click.command("gauges")
@AS_JSON
@click.option("--seconds", default=5.0, show_default=True, help="How long to listen for Bluetooth devices.")
@click.option("--bluetooth/--no-bluetooth", default=True, help="Whether to listen for them at all.")
@click.option(
    "--ask",
    metavar="DEVICE",
    help="Connect to this Bluetooth device (address or name) and list its values and battery.",
)
@click.option(
    "--watch",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="JOB",
    help="Show the gauges of this job sheet live, on the terminal.",
)
def gauges_command(
    as_json: bool, seconds: float, bluetooth: bool, ask: str | None, watch: Path | None
) -> int:
    """List ports and Bluetooth devices in sight, as a job sheet names them."""
    if watch is not None:
        return _watch(watch)
    if ask is not None:
        return _ask(ask, as_json=as_json)
    wired = ports()
    found, trouble = _in_the_air(seconds) if bluetooth else ([], "")
    if as_json:
        seen = {"ports": [_port(port) for port in wired], "bluetooth": _devices(found), "trouble": trouble}
        echo_json(json.dumps(seen))
        return 0
    from rich.console import Console  # noqa: PLC0415 - slow to load
    from rich.markup import escape  # noqa: PLC0415
    from rich.table import Table  # noqa: PLC0415

    console = Console()
    table = Table("port", "on the sheet", "what it says of itself", title="Ports")
    for port in wired:
        table.add_row(*(escape(plain(cell)) for cell in (port.device, _serial(port), port.description)))
    console.print(
        table if wired else "No serial port is in sight: is the cable in, and its driver installed?"
    )
    _print_devices(console, found, trouble, asked=bluetooth)
    return 0


def _print_devices(console: Any, found: list[FoundDevice], trouble: str, *, asked: bool) -> None:
    from rich.markup import escape  # noqa: PLC0415 - slow to load
    from rich.table import Table  # noqa: PLC0415

    if trouble:
        echo(trouble, err=True)
    elif found:
        from capture.links.bluetooth.radio import rows  # noqa: PLC0415 - bleak is slow to load

        table = Table("name", "on the sheet", "signal", "battery", "services", title="Bluetooth")
        for row in rows(found):
            table.add_row(*(escape(plain(cell)) for cell in row))
        console.print(table)
    elif asked:
        console.print("No Bluetooth device is in sight: is it on, and near?")


def _serial(port: Port) -> str:
    return f'serial = "{port.identity or port.device}"'


def _port(port: Port) -> dict[str, Any]:
    return {
        "device": port.device,
        "description": port.description,
        "identity": port.identity,
        "location": port.location,
    }


def _in_the_air(seconds: float) -> tuple[list[FoundDevice], str]:
    """The devices in sight, and what stood in the way."""
    from capture.links.bluetooth.radio import search  # noqa: PLC0415 - bleak is slow to load

    try:
        return asyncio.run(search(seconds)), ""
    except OSError as error:
        return [], str(error.strerror or error)


def _devices(found: list[FoundDevice]) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "identity": one.identity,
            "signal_dbm": one.signal,
            "battery": one.battery,
            "services": list(one.services),
        }
        for one in found
    ]


def _ask(device: str, *, as_json: bool) -> int:
    from capture.links.bluetooth.device import portray  # noqa: PLC0415 - bleak is slow to load
    from capture.links.bluetooth.values import listed, offers  # noqa: PLC0415

    try:
        portrait = asyncio.run(portray(device))
    except OSError as error:
        raise click.UsageError(str(error.strerror or error)) from None
    if as_json:
        about = {"name": portrait.name, "identity": portrait.identity, "battery": portrait.battery}
        values = listed(portrait.values).splitlines()
        echo_json(json.dumps({**about, "values": values, "offers": offers(portrait.values)}))
        return 0
    battery = "" if portrait.battery is None else f", battery {portrait.battery:.0f} %"
    echo(f"{portrait.name or '(no name)'} {portrait.identity}{battery}")
    echo(listed(portrait.values))
    return 0


def _watch(sheet: Path) -> int:
    """Follow the capture that runs for the sheet, or one that is begun for as long as one looks."""
    job = job_of_sheet(sheet)
    try:
        return _follow(job, Path(read_endpoint(sheet.absolute().parent / NAME).recording))
    except NoCapture:
        pass  # none runs: one of our own will do
    with tempfile.TemporaryDirectory(prefix="tenths-watch-") as folder:
        recording = Path(folder) / "watch.jsonl"
        command = [
            sys.executable,
            "-m",
            "capture.cli",
            "capture",
            str(sheet),
            "--out",
            str(recording),
            "--tied",
        ]
        capture = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, start_new_session=True
        )
        try:
            return _follow(job, recording, goes_on=lambda: capture.poll() is None)
        finally:
            capture.terminate()
            capture.wait()


def _follow(job: Job, recording: Path, goes_on: Callable[[], bool] = lambda: True) -> int:
    from rich.live import Live  # noqa: PLC0415 - slow to load

    from capture.report.terminal.gauge_watch import rows, table, watching  # noqa: PLC0415

    follower = follow(recording)
    fold: Fold[Watch] = watching(job)
    state = fold.start
    try:
        with Live(table(rows(state, job)), refresh_per_second=8) as live:
            while goes_on():
                while events := follower.poll():
                    state = fold.over(events, state)
                live.update(table(rows(state, job)))
                time.sleep(REFRESH)
    except BadRecording as error:
        raise click.UsageError(str(error)) from None
    except KeyboardInterrupt:
        return 0
    finally:
        follower.close()
    return 2
