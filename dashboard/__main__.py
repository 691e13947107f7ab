"""Starts the dashboard: ``python -m dashboard FOLDER|RECORDING``."""

from __future__ import annotations

import asyncio
import socket
import sys
import threading
from pathlib import Path
from typing import Any

import click

from capture.host.parent_watch import tie_to_input
from capture.recording.reader import BadRecording
from capture.sheet.job import Job
from dashboard.sources.feed import Feed, with_settings
from dashboard.web.access.guard import is_loopback
from dashboard.web.access.listening import address, listen
from dashboard.web.access.tls import Secured, TlsRefused, secured
from dashboard.web.access.tokens import BadToken, Tokens, tokens_of
from dashboard.web.entry import run_command


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("path", type=click.Path(path_type=Path), default=Path())
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port", default=0, show_default=True, type=click.IntRange(0, 65535), help="0: any that is free."
)
@click.option(
    "--token",
    envvar="TENTHS_TOKEN",
    help="What a browser must know; needed with a --host that others can reach.",
)
@click.option(
    "--viewer-token",
    "viewer",
    envvar="TENTHS_VIEWER_TOKEN",
    help="What a browser that may only see must know; else a new one.",
)
@click.option(
    "--token-file",
    "file",
    type=click.Path(path_type=Path),
    help="Private file with the token in its first line, and in the second that of who may only see.",
)
@click.option("--tls", is_flag=True, help="Serve over TLS, with a certificate made on the spot.")
@click.option("--tls-cert", "cert", type=click.Path(path_type=Path), help="Serve over TLS with this one.")
@click.option("--tls-key", "key", type=click.Path(path_type=Path), help="Its key, if in a file of its own.")
@click.option("--replay", is_flag=True, help="Play the recording instead of following it.")
@click.option(
    "--speed", default=1.0, show_default=True, type=click.FloatRange(0.1, 10000), help="Of a replay."
)
@click.option("--open/--no-open", "show", default=False, help="Open the browser.")
@click.option("--inbox", type=click.Path(path_type=Path), help="Where words go, if not beside the recording.")
@click.option("--tied", is_flag=True, hidden=True, help="End when standard input ends.")
@click.option("--page", default="", help="Page to begin with, such as home; else the grinder's.")
@click.option("--set", "settings", multiple=True, metavar="KEY=VALUE", help="Decide with another setting.")
def main(
    path: Path,
    host: str,
    port: int,
    token: str | None,
    viewer: str | None,
    file: Path | None,
    tls: bool,
    cert: Path | None,
    key: Path | None,
    replay: bool,
    speed: float,
    show: bool,
    inbox: Path | None,
    tied: bool,
    page: str,
    settings: tuple[str, ...],
) -> None:
    """Show a folder's newest recording, or one recording, in the browser."""
    if tied:
        tie_to_input()
    try:
        tokens = tokens_of(token, viewer, file, reachable=not is_loopback(host))
        shown = secured(host, cert, key, made=tls)
    except BadToken as error:
        raise click.UsageError(f"--host {host}: {error}") from None
    except TlsRefused as error:
        raise click.UsageError(str(error)) from None
    if not path.exists() and (replay or not path.parent.is_dir()):
        raise click.UsageError(f"{path}: no such file or folder")
    source = _source(path, _settings(settings), inbox=inbox, replay=replay, speed=speed)
    try:
        listening = listen(host, port)
    except OSError as error:
        raise click.UsageError(f"{host}:{port}: cannot listen there: {error.strerror or error}") from None
    asyncio.run(_serve(source, listening, host, tokens, shown, show=show, page=page))


def _settings(given: tuple[str, ...]) -> dict[str, str]:
    settings = dict(pair.partition("=")[::2] for pair in given)
    try:
        with_settings(Job("any"), settings)
    except ValueError as error:
        raise click.UsageError(f"--set {error}") from None
    return settings


def _source(path: Path, settings: dict[str, str], *, inbox: Path | None, replay: bool, speed: float) -> Any:
    from dashboard.sources.feed import newest  # noqa: PLC0415
    from dashboard.sources.player import Player  # noqa: PLC0415
    from dashboard.sources.scene_store import SceneStore  # noqa: PLC0415 - after the arguments are known to be good
    from dashboard.views.registry import draw  # noqa: PLC0415

    store = SceneStore(draw)
    if not replay:
        return Feed(path, store, settings, inbox=inbox)
    recording = newest(path) if path.is_dir() else path
    if recording is None:
        raise click.UsageError(f"{path}: no recording (*.jsonl) in this folder")
    try:
        return Player(recording, store, settings, speed)
    except BadRecording as error:
        raise click.UsageError(str(error)) from None


async def _serve(
    source: Any,
    listening: socket.socket,
    host: str,
    tokens: Tokens,
    shown: Secured | None,
    *,
    show: bool,
    page: str,
) -> None:
    from dashboard.app import build  # noqa: PLC0415 - dash, 0.6 s
    from dashboard.web.access.guard import Guard  # noqa: PLC0415
    from dashboard.web.server import serve  # noqa: PLC0415
    from dashboard.web.share import Share, certificate_line, in_terminal, share_of  # noqa: PLC0415

    reading = threading.Thread(target=source.run, name="feed")
    source.store.open()
    reading.start()
    try:
        port = listening.getsockname()[1]
        shared, fingerprint = Share(), "" if shown is None else shown.fingerprint
        if tokens.view is not None and not is_loopback(host):
            shared = share_of(host, port, token=tokens.speak, viewer=tokens.view, fingerprint=fingerprint)
        app = Guard(build(source, shared), host=host, tokens=tokens, port=port, secure=shown is not None)
        more = certificate_line(fingerprint)
        more += in_terminal(shared) if shared.watch and sys.stdout.isatty() else ""
        where = address(listening, tokens.speak, page, secure=shown is not None)
        tls = None if shown is None else shown.context
        await serve(app, listening, where, source.store, show=show, more=more, tls=tls)
    finally:
        source.stop()
        reading.join()


def run() -> None:
    """Runs it; a wrong request is one line on standard error."""
    run_command(main, "dashboard")


if __name__ == "__main__":
    run()
