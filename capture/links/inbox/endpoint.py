"""The address of a running capture: its file, and the messages that its inbox takes and gives."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import msgspec
from msgspec import Struct

from capture.host.private_files import read_private

NAME: Final = ".tenths-inbox.json"
LOCK: Final = ".tenths-inbox.lock"
HOST: Final = "127.0.0.1"
LONGEST: Final = 64 << 10
"""Bytes in a request."""
PATIENCE: Final = 5.0
"""Seconds that a request may take to arrive."""


class Endpoint(Struct, frozen=True):
    """Where a running capture accepts commands; the content of its file."""

    host: str
    port: int
    token: str
    pid: int
    recording: str
    began: str


class Reply(Struct, frozen=True, omit_defaults=True):
    """The capture's answer to a command."""

    ok: bool
    """Recorded and on disk."""
    seq: int | None = None
    """Number of the recorded event."""
    said: str = ""
    """The command as the capture understood it."""
    refused: str = ""
    """The reason, where it is not recorded."""


class Request(Struct, frozen=True):
    """One line of JSON from a client."""

    token: str
    words: list[str]


class NoCapture(Exception):
    """No running capture was found, or it did not answer."""


def read_endpoint(path: Path) -> Endpoint:
    """What an inbox's file says; raises `NoCapture`."""
    try:
        place = msgspec.json.decode(read_private(path), type=Endpoint)
    except OSError as error:
        raise NoCapture(f"{path}: no capture runs here: {error.strerror or error}") from None
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        raise NoCapture(f"{path}: this is not an inbox of a running capture") from None
    if place.host != HOST:
        raise NoCapture(
            f"{path}: names {place.host!r}, but a capture listens on {HOST} only: remove this file"
        )
    return place
