"""Sends commands to a running capture, from any window of the same user."""

from __future__ import annotations

import socket
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

import msgspec

from capture.host.private_files import runtime_folder
from capture.links.inbox.endpoint import (
    LONGEST,
    NAME,
    PATIENCE,
    Endpoint,
    NoCapture,
    Reply,
    Request,
    read_endpoint,
)

_ANSWER: Final = 20.0
"""Seconds that a client waits for the disk."""


def find(folder: Path | None = None) -> Endpoint:
    """The capture that runs for *folder*, or else the only one that this user runs.

    Raises:
        NoCapture: None runs, or several do.
    """
    here = (folder or Path()) / NAME
    if here.exists():
        place = read_endpoint(here)
        if _alive(place):
            return place
    if folder is not None:
        raise NoCapture(f"{folder}: no capture runs for this folder: start one with tenths capture JOB")
    places = _running()
    if not places:
        raise NoCapture("no capture is running: start one with tenths capture JOB")
    if len(places) > 1:
        several = ", ".join(sorted(place.recording for place in places))
        raise NoCapture(f"{len(places)} captures are running ({several}): say it from the folder of one")
    return places[0]


def registered(place: Endpoint) -> bool:
    """Whether the user's own runtime folder has it too: the file beside a job may be anybody's."""
    return place in _running()


def say(words: Sequence[str], *, inbox: Path | None = None, folder: Path | None = None) -> Reply:
    """Says *words* to a running capture: that of *inbox*, of *folder*, or the only one there is.

    Raises:
        NoCapture: There is none, or it did not answer in time: look before saying it again.
    """
    place = read_endpoint(inbox) if inbox is not None else find(folder)
    request = msgspec.json.encode(Request(place.token, list(words))) + b"\n"
    if len(request) > LONGEST:
        raise NoCapture(f"{len(request)} bytes are too much to say at once: {LONGEST} is the most")
    try:
        with socket.create_connection((place.host, place.port), timeout=PATIENCE) as link:
            link.sendall(request)
            link.settimeout(_ANSWER)
            line = link.makefile("rb").readline(LONGEST)
    except ConnectionRefusedError:
        raise NoCapture(f"the capture into {place.recording} has stopped") from None
    except OSError as error:
        raise NoCapture(f"the capture into {place.recording} does not answer: {error}") from None
    try:
        return msgspec.json.decode(line, type=Reply)
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        raise NoCapture(
            f"the capture into {place.recording} gave no answer: look whether it took it"
        ) from None


def _alive(place: Endpoint) -> bool:
    try:
        socket.create_connection((place.host, place.port), timeout=PATIENCE).close()
    except OSError:
        return False
    return True


def _running() -> list[Endpoint]:
    places: list[Endpoint] = []
    for path in sorted(runtime_folder().glob("*.json")):
        with suppress(NoCapture):
            place = read_endpoint(path)
            if _alive(place):
                places.append(place)
            else:
                path.unlink(missing_ok=True)  # its capture was killed
    return places
