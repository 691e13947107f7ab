"""A shop of many machines: `publish` and `archive`."""

from __future__ import annotations

import functools
import logging
import signal
import socket
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final
from urllib.parse import parse_qs, urlsplit

import click
from click.core import ParameterSource

from capture.commands.screen import Serving, serving, show
from capture.commands.terminal import echo
from capture.host.parent_watch import tie_to_input
from capture.shop.messages.broker import ADDRESS, BadBroker, Broker, Certificates, broker_of, machine_of

DATABASE: Final = "TENTHS_DATABASE"
"""Variable of the environment with the database's URL."""
NO_BROKER: Final = f"--broker is due, or {ADDRESS}"
LAST = 3.0
"""Seconds in which a publisher that is stopped may send what is left."""


def _kept_secret(context: click.Context, option: click.Parameter, url: str | None) -> str | None:
    """Refuses a password among a command's words, which every user of this machine can read."""
    source = context.get_parameter_source(option.name or "")
    if url is not None and source is ParameterSource.COMMANDLINE and _has_password(url):
        other = "--password-file" if option.envvar == ADDRESS else "~/.pgpass"
        raise click.BadParameter(
            "a password came in the address, where every user of this machine can read it: "
            f"due the address in {option.envvar}, or the password in {other}"
        )
    return url


def _has_password(url: str) -> bool:
    try:
        parts = urlsplit(url)
    except ValueError:
        return False  # refused where it is used, with what was due
    return bool(parts.password) or "password" in parse_qs(parts.query)


BROKER_OPTION: Final = click.option(
    "--broker",
    "place",
    envvar=ADDRESS,
    callback=_kept_secret,
    help="mqtt://user@host/shop; mqtts:// with TLS.",
)


def asking(*, required: bool) -> Callable[[Callable[..., int]], Callable[..., int]]:
    """The options of a command that asks a broker; it gets the broker as its argument `broker`."""
    options = [
        BROKER_OPTION,
        click.option("--password-file", default="", help="Holds the broker's password."),
        click.option("--ca", default="", help="Who signed the broker's certificate."),
        click.option("--cert", default="", help="Our own certificate, where the broker asks for one."),
        click.option("--key", default="", help="Its key."),
    ]

    def asked(command: Callable[..., int]) -> Callable[..., int]:
        @functools.wraps(command)
        def with_broker(
            *args: object,
            place: str | None,
            password_file: str,
            ca: str,
            cert: str,
            key: str,
            **others: object,
        ) -> int:
            if required and place is None:
                raise click.UsageError(NO_BROKER)
            try:
                files = Certificates(ca, cert, key)
                broker = broker_of(place, files=files, password_file=password_file) if place else None
            except BadBroker as error:
                raise click.UsageError(str(error)) from None
            return command(*args, broker=broker, **others)

        with_options: Callable[..., int] = with_broker
        for option in reversed(options):
            with_options = option(with_options)
        return with_options

    return asked


@click.command("publish")
@click.argument("path", type=click.Path(path_type=Path, exists=True))
@asking(required=True)
@click.option("--machine", default="", help="This machine's name; else the user's at the broker.")
@click.option("--once", is_flag=True, help="Stop when the broker has all that there is.")
@click.option("--stored", is_flag=True, help="With --once: stop when an archive has confirmed it.")
@click.option("--tied", is_flag=True, hidden=True, help="Stop when standard input ends.")
def publish_command(path: Path, broker: Broker, machine: str, once: bool, stored: bool, tied: bool) -> int:
    """Publish a recording, or a folder's recordings, to an MQTT broker, and follow them until stopped."""
    from capture.shop.publish.publisher import AlreadyPublished, Publisher  # noqa: PLC0415 - paho

    if tied:
        tie_to_input()
    try:
        publisher = Publisher(path, machine_of(machine, broker), broker, _say)
    except (BadBroker, AlreadyPublished) as error:
        raise click.UsageError(str(error)) from None
    stopping = Stopping()
    try:
        while not stopping.wanted:
            publisher.turn()
            if once and publisher.done and (publisher.stored or not stored):
                break
        end = time.monotonic() + LAST
        # Whoever stops us may have written its last lines after our last look.
        publisher.look_again()
        publisher.turn()
        while not publisher.done and publisher.connected and time.monotonic() < end:
            publisher.turn()
    finally:
        publisher.close()
    echo(f"published: {publisher.published} events to {broker.place}")
    # a program that calls this to empty a folder must not take a damaged recording for a published one
    return 1 if once and publisher.damaged else 0


class Stopping:
    """Whether a person wants a command to stop: Ctrl-C or the signal of an end."""

    def __init__(self) -> None:
        self.wanted = False
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._stop)

    def _stop(self, _number: int, _frame: object) -> None:
        self.wanted = True


def _say(sentence: str) -> None:
    echo(f"{time.strftime('%H:%M:%S')} {sentence}", err=True)


@click.command("archive")
@asking(required=False)
@click.option(
    "--database",
    "url",
    envvar=DATABASE,
    required=True,
    callback=_kept_secret,
    help="postgresql://user@host/name.",
)
@click.option("--name", default="", help="This archive's name at the broker; else this computer's.")
@click.option("--machine", "machines", multiple=True, help="Only this machine; may be given again.")
@click.option("--list", "listed", is_flag=True, help="List the recordings that are stored.")
@click.option(
    "--take-out", metavar="RECORDING", help="Give a recording out as it was recorded, byte for byte."
)
@click.option("--out", "-o", type=click.Path(path_type=Path, dir_okay=False), help="Where to; else printed.")
@click.option("--jobs", is_flag=True, hidden=True, help="Work out the rows of jobs, until input ends.")
@click.option("--tied", is_flag=True, hidden=True, help="Stop when standard input ends.")
def archive_command(
    broker: Broker | None,
    url: str,
    name: str,
    machines: tuple[str, ...],
    listed: bool,
    take_out: str | None,
    out: Path | None,
    jobs: bool,
    tied: bool,
) -> int:
    """Store what machines publish in a database, until stopped; or give it out again."""
    from capture.commands.shop.stored import WorkingBeside, give_out, list_stored, work_out  # noqa: PLC0415 - psycopg
    from capture.shop.archive.archive import Archive  # noqa: PLC0415
    from capture.shop.archive.schema import BadDatabase  # noqa: PLC0415

    # what the library notes of a lost connection is said in a sentence of our own
    logging.getLogger("psycopg").setLevel(logging.ERROR)
    if take_out is not None:
        return give_out(url, take_out, machines, out)
    if jobs:
        tie_to_input()
        return work_out(url)
    if listed:
        return list_stored(url)
    if broker is None:
        raise click.UsageError("--broker is due, or --list, or --take-out")
    if tied:
        tie_to_input()
    try:
        archive = Archive(broker, url, _say, name=name or socket.gethostname(), machines=machines)
    except BadDatabase as error:
        raise click.UsageError(str(error)) from None
    stopping, working = Stopping(), WorkingBeside(url)
    try:
        while not stopping.wanted:
            archive.turn()
            working.tend()
    finally:
        archive.close()
        working.close()
    return 0


@click.command("shop")
@BROKER_OPTION
@click.option("--password-file", default="", help="Holds the broker's password.")
@click.option("--ca", default="", help="Who signed the broker's certificate.")
@click.option("--cert", default="", help="Our own certificate, where the broker asks for one.")
@click.option("--key", default="", help="Its key.")
@click.option(
    "--database", "url", envvar=DATABASE, default="", callback=_kept_secret, help="For the history."
)
@serving
def shop_command(
    place: str | None, password_file: str, ca: str, cert: str, key: str, url: str, screen: Serving
) -> int:
    """Show every machine of a shop, live over the broker, and its history from the database."""
    if place is None:
        raise click.UsageError(NO_BROKER)
    given = {"--password-file": password_file, "--ca": ca, "--cert": cert, "--key": key}
    more = [word for name, value in given.items() if value for word in (name, value)]
    secrets = {ADDRESS: place, DATABASE: url}
    return show(screen.start(None, *more, module="dashboard.shop", secrets=secrets))
