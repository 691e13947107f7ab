"""The screen: `dashboard` and `replay` start it as a process of its own, which capture never imports."""

from __future__ import annotations

import functools
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import click
from msgspec import Struct

from capture.commands.options import SETTINGS, recording_argument


class Serving(Struct, frozen=True):
    """How the screen is to be served."""

    host: str
    port: int
    token: str | None
    viewer: str | None
    browser: bool
    file: Path | None = None
    """Private file with the tokens."""
    tls: bool = False
    """Over TLS, with a certificate made on the spot."""
    tls_cert: Path | None = None
    """Over TLS, with this certificate."""
    tls_key: Path | None = None

    def start(
        self,
        path: Path | None,
        *more: str,
        module: str = "dashboard",
        apart: bool = False,
        stdout: int | None = None,
        secrets: Mapping[str, str] | None = None,
    ) -> subprocess.Popen[bytes]:
        """Start the screen's process, of *module*, on *path*, *apart* in a session of its own.

        It gets *secrets*, by the names of their variables, beside the tokens in its environment.
        It ends when its standard input does: so it outlives no command that is killed.
        """
        words = [sys.executable, "-m", module, *([] if path is None else [str(path)])]
        words += ["--host", self.host, "--port", str(self.port)]
        # Every user of this machine sees a process's words, and only its own its environment.
        tokens = {"TENTHS_TOKEN": self.token, "TENTHS_VIEWER_TOKEN": self.viewer, **(secrets or {})}
        given = {name: value for name, value in tokens.items() if value is not None}
        words += [] if self.file is None else ["--token-file", str(self.file)]
        words += ["--tls"] if self.tls else []
        words += [] if self.tls_cert is None else ["--tls-cert", str(self.tls_cert)]
        words += [] if self.tls_key is None else ["--tls-key", str(self.tls_key)]
        words += ["--open" if self.browser else "--no-open", "--tied", *more]
        return subprocess.Popen(
            words, stdin=subprocess.PIPE, stdout=stdout, start_new_session=apart, env={**os.environ, **given}
        )


SERVING_OPTIONS: Final = (
    click.option(
        "--host",
        default="127.0.0.1",
        show_default=True,
        help="Address to serve on; for other computers a token is needed.",
    ),
    click.option("--port", default=0, show_default="a free one", help="Port to serve on."),
    click.option(
        "--token",
        envvar="TENTHS_TOKEN",
        help="Token a browser needs, 12 characters or more. A file or TENTHS_TOKEN shows in no process list.",
    ),
    click.option(
        "--viewer-token",
        "viewer",
        envvar="TENTHS_VIEWER_TOKEN",
        help="Token for those who may only look; without it a new one is made.",
    ),
    click.option(
        "--token-file",
        "file",
        type=click.Path(path_type=Path),
        help="Private file: line 1 the token, line 2 the token for those who may only look.",
    ),
    click.option("--tls", is_flag=True, help="Serve over TLS, with a certificate made on the spot."),
    click.option("--tls-cert", type=click.Path(path_type=Path), help="Serve over TLS with this certificate."),
    click.option("--tls-key", type=click.Path(path_type=Path), help="Its key, if in a file of its own."),
    click.option("--open/--no-open", "browser", default=True, help="Open the browser."),
)
"""Options of every command that starts the screen; each gives the field of `Serving` of its name."""


def serving(command: Callable[..., int]) -> Callable[..., int]:
    """The options of a command that starts the screen; it gets them as its argument `screen`."""

    @functools.wraps(command)
    def with_screen(*args: object, **given: Any) -> int:
        screen = Serving(**{name: given.pop(name) for name in Serving.__struct_fields__})
        return command(*args, screen=screen, **given)

    for option in reversed(SERVING_OPTIONS):
        with_screen = option(with_screen)
    return with_screen


def show(screen: subprocess.Popen[bytes]) -> int:
    """Wait until the screen ends or is asked to; its exit status."""

    def stop(_number: int, _frame: object) -> None:
        screen.terminate()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
    status = screen.wait()
    return 0 if status in {0, -signal.SIGTERM, -signal.SIGINT} else status


@click.command("dashboard")
@click.argument("path", type=click.Path(path_type=Path, exists=True), default=".")
@serving
def dashboard_command(path: Path, screen: Serving) -> int:
    """Show a folder's newest recording, or one recording; it is followed while it grows."""
    return show(screen.start(path))


@click.command("open")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False), default=".")
@serving
def open_command(folder: Path, screen: Serving) -> int:
    """Show a folder's jobs in the browser: begin one, start and stop its capture, look at its recordings."""
    return show(screen.start(folder, "--page", "home"))


@click.command("replay")
@recording_argument
@click.option("--speed", default=1.0, show_default=True, type=click.FloatRange(min=0, min_open=True))
@SETTINGS
@serving
def replay_command(recording: Path, speed: float, settings: tuple[str, ...], screen: Serving) -> int:
    """Play a recording on the screen, with pause and a scrubber."""
    changed = [word for pair in settings for word in ("--set", pair)]
    return show(screen.start(recording, "--replay", "--speed", f"{speed:g}", *changed))
