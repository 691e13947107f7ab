"""Starts the shop's page: ``python -m dashboard.shop --broker URL [--database URL]``."""

from __future__ import annotations

import asyncio
import socket
import sys
import tempfile
import threading
from pathlib import Path

import click

from capture.host.parent_watch import tie_to_input
from capture.shop.messages.broker import ADDRESS, BadBroker, Broker, Certificates, broker_of
from capture.text.printable import plain
from dashboard.web.access.guard import is_loopback
from dashboard.web.access.listening import address, listen
from dashboard.web.access.tls import Secured, TlsRefused, secured
from dashboard.web.access.tokens import BadToken, Tokens, tokens_of
from dashboard.web.entry import run_command


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--broker", "place", envvar=ADDRESS, required=True)
@click.option("--password-file", default="")
@click.option("--ca", default="")
@click.option("--cert", default="")
@click.option("--key", default="")
@click.option("--database", "url", envvar="TENTHS_DATABASE", default="")
@click.option("--host", default="127.0.0.1")
@click.option("--port", default=0, type=click.IntRange(0, 65535))
@click.option("--token", envvar="TENTHS_TOKEN")
@click.option("--viewer-token", "viewer", envvar="TENTHS_VIEWER_TOKEN")
@click.option("--token-file", "file", type=click.Path(path_type=Path))
@click.option("--tls", is_flag=True)
@click.option("--tls-cert", type=click.Path(path_type=Path))
@click.option("--tls-key", type=click.Path(path_type=Path))
@click.option("--open/--no-open", "show", default=False)
@click.option("--tied", is_flag=True, hidden=True)
def main(
    place: str,
    password_file: str,
    ca: str,
    cert: str,
    key: str,
    url: str,
    host: str,
    port: int,
    token: str | None,
    viewer: str | None,
    file: Path | None,
    tls: bool,
    tls_cert: Path | None,
    tls_key: Path | None,
    show: bool,
    tied: bool,
) -> None:
    """Show every machine of a shop, live, and its history."""
    if tied:
        tie_to_input()
    try:
        broker = broker_of(place, files=Certificates(ca, cert, key), password_file=password_file)
        tokens = tokens_of(token, viewer, file, reachable=not is_loopback(host))
        shown = secured(host, tls_cert, tls_key, made=tls)
        listening = listen(host, port)
    except (BadBroker, BadToken, TlsRefused) as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{host}:{port}: cannot listen there: {error.strerror or error}") from None
    with tempfile.TemporaryDirectory(prefix="tenths-shop-") as folder:
        asyncio.run(_serve(broker, url, listening, host, tokens, Path(folder), shown, show=show))


async def _serve(
    broker: Broker,
    url: str,
    listening: socket.socket,
    host: str,
    tokens: Tokens,
    folder: Path,
    shown: Secured | None,
    *,
    show: bool,
) -> None:
    from capture.shop.history.search import History  # noqa: PLC0415
    from capture.shop.live import LiveShop  # noqa: PLC0415
    from dashboard.shop.app import ShopPage  # noqa: PLC0415 - dash, 0.6 s
    from dashboard.shop.screens import MachineScreens  # noqa: PLC0415
    from dashboard.sources.scene_store import SceneStore  # noqa: PLC0415
    from dashboard.views.registry import draw  # noqa: PLC0415
    from dashboard.web.access.guard import Guard  # noqa: PLC0415
    from dashboard.web.server import serve  # noqa: PLC0415
    from dashboard.web.share import certificate_line  # noqa: PLC0415

    live = LiveShop(broker, folder, _say)
    screens = MachineScreens(host, shown)
    history = History(url) if url else None
    page = ShopPage(live, screens, history, name=broker.shop, place=broker.place)
    following = threading.Thread(target=live.run, name="shop")
    following.start()
    try:
        port, secure = listening.getsockname()[1], shown is not None
        app = Guard(page.build(), host=host, tokens=tokens, port=port, secure=secure)
        where = address(listening, tokens.speak, secure=secure)
        more, tls = ("", None) if shown is None else (certificate_line(shown.fingerprint), shown.context)
        await serve(app, listening, where, SceneStore(draw), show=show, more=more, tls=tls)
    finally:
        live.stop()
        screens.close()
        following.join()
        if history is not None:
            history.close()


def _say(sentence: str) -> None:
    sys.stderr.write(plain(sentence) + "\n")


def run() -> None:
    """Runs it; a wrong request is one line on standard error."""
    run_command(main, "tenths")


if __name__ == "__main__":
    run()
