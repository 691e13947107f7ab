"""The screen: `dashboard` and `replay` start it as a process of its own, which capture never imports."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import click

from capture.commands.options import SETTINGS, recording_argument


def screen_arguments(
    path: Path, *, host: str, port: int, browser: bool, token: str | None = None, more: tuple[str, ...] = ()
) -> list[str]:
    """The command line of the screen's process."""
    words = [sys.executable, "-m", "dashboard", str(path), "--host", host, "--port", str(port)]
    if token is not None:
        words += ["--token", token]
    return [*words, "--open" if browser else "--no-open", *more]


def show(arguments: list[str]) -> int:
    """Run the screen until it ends or is told to; its status."""
    screen = subprocess.Popen(arguments)

    def stop(_number: int, _frame: object) -> None:
        screen.terminate()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
    status = screen.wait()
    return 0 if status in {0, -signal.SIGTERM, -signal.SIGINT} else status


HOST = click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to serve on; any but this computer's own asks for a token.",
)
PORT = click.option("--port", default=0, show_default="a free one", help="Port to serve on.")
TOKEN = click.option("--token", help="What viewers beyond this machine must bring.")
BROWSER = click.option("--open/--no-open", "browser", default=True, help="Open the browser.")


@click.command("dashboard")
@click.argument("path", type=click.Path(path_type=Path, exists=True), default=".")
@HOST
@PORT
@TOKEN
@BROWSER
def dashboard_command(path: Path, host: str, port: int, token: str | None, browser: bool) -> int:
    """Show a folder's newest recording, or one recording; it is followed while it grows."""
    return show(screen_arguments(path, host=host, port=port, browser=browser, token=token))


@click.command("replay")
@recording_argument
@click.option("--speed", default=1.0, show_default=True, type=click.FloatRange(min=0, min_open=True))
@SETTINGS
@HOST
@PORT
@TOKEN
@BROWSER
def replay_command(
    recording: Path,
    speed: float,
    settings: tuple[str, ...],
    host: str,
    port: int,
    token: str | None,
    browser: bool,
) -> int:
    """Play a recording on the screen, with pause and a scrubber."""
    more = ["--replay", "--speed", f"{speed:g}"]
    for pair in settings:
        more += ["--set", pair]
    arguments = screen_arguments(
        recording, host=host, port=port, browser=browser, token=token, more=tuple(more)
    )
    return show(arguments)
