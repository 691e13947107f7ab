"""The inbox: a person's words into a running capture, from any window of the same user.

It listens on the loopback address only. Its address and a token stand in a file beside the
job that only the user can read, and once more in the user's own runtime folder, so that
words find the one running capture from any folder. A request is one line of JSON,
``{"token":…,"words":[…]}``, and so is the answer, which comes after the word is on disk.
"""

from __future__ import annotations

import asyncio
import hmac
import os
import secrets
import socket
import time
from asyncio import StreamReader, StreamWriter
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Final, TypeAlias

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from capture.host.disk import OPEN, lock
from capture.host.private_files import read_private, runtime_folder, write_private

NAME: Final = ".tenths-inbox.json"
_LOCK: Final = ".tenths-inbox.lock"
_HOST: Final = "127.0.0.1"
LONGEST: Final = 64 << 10
"""Bytes in a request."""
MOST: Final = 16
"""Connections at a time."""
PATIENCE: Final = 5.0
"""Seconds that a request may take to arrive."""
_ANSWER: Final = 20.0
"""Seconds that a client waits for the disk."""


class Endpoint(Struct, frozen=True):
    """Where a running capture hears words; the content of its file."""

    host: str
    port: int
    token: str
    pid: int
    recording: str
    began: str


class Reply(Struct, frozen=True, omit_defaults=True):
    """What became of the words."""

    ok: bool
    """Recorded and on disk."""
    seq: int | None = None
    """Number of the event that they became."""
    said: str = ""
    """What was understood."""
    refused: str = ""
    """Why not, for a person."""


class _Request(Struct, frozen=True):
    token: str
    words: list[str]


class AlreadyRunning(Exception):
    """Another capture runs for this folder, or the inbox cannot be opened there."""


class NoCapture(Exception):
    """No running capture was found, or it did not answer."""


Hear: TypeAlias = Callable[[list[str], int], Awaitable[Reply]]
"""Takes words and the `time.monotonic_ns` at which they came; answers when they are on disk."""


# -- in the capture ---------------------------------------------------------------------------


class InboxFiles:
    """The lock on the job's folder, and the files that say where its capture listens."""

    def __init__(self, folder: Path) -> None:
        """Takes the lock; raises `AlreadyRunning`."""
        self._folder = folder
        self._locks = [_hold(folder)]
        self._place: Endpoint | None = None
        self._written: list[Path] = []

    @property
    def path(self) -> Path:
        """The file beside the job."""
        return self._folder / NAME

    def announce(self, place: Endpoint) -> None:
        """Writes the files; raises `AlreadyRunning` where that beside the job cannot be."""
        self._place = place
        _announce(self._folder, place, self._written)

    def renew(self, recording: Path) -> str:
        """Makes lock and file again where the folder was moved or removed; why not, for a person.

        The lock on the folder that was moved is kept, so that no other capture begins there either. To be
        called in a thread of its own, since the disk may hang.
        """
        if self._place is None or not self._folder.is_dir():
            return ""  # the recording makes the folder again with its next write
        place = replace(self._place, recording=str(recording.absolute()))
        try:
            if not _is_at(self._locks[-1], self._folder / _LOCK):
                self._locks.append(_hold(self._folder))
            if place != self._place or not self.path.exists():
                self.announce(place)
        except (AlreadyRunning, OSError) as error:
            return (
                f"this folder was moved or removed while a capture ran in it, and is not its own now: {error}"
            )
        return ""

    def close(self) -> None:
        """Removes the files and lets go of the lock."""
        for path in self._written:
            with suppress(OSError):
                path.unlink()
        for held in self._locks:
            os.close(held)


def _is_at(held: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(held), path.stat())
    except OSError:
        return False


@asynccontextmanager
async def open_inbox(
    folder: Path, recording: Path, began: str, hear: Hear, files: InboxFiles | None = None
) -> AsyncIterator[Path]:
    """Listens while the context is open, and gives the path of the inbox's file.

    *files* are those of the folder where its lock is held already; they are closed at the end.

    Raises:
        AlreadyRunning: A capture runs for this folder already, or nothing can be written there.
    """
    files = files or InboxFiles(folder)
    token = secrets.token_urlsafe(32)
    try:
        with socket.create_server((_HOST, 0)) as listener:
            files.announce(_place(listener.getsockname()[1], token, recording, began))
            async with _Server(token, hear).listening(listener):
                yield files.path
    finally:
        files.close()


def _hold(folder: Path) -> int:
    try:
        held = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT | OPEN, 0o600)
    except OSError as error:
        raise AlreadyRunning(f"{folder}: no inbox can be opened here: {error.strerror or error}") from None
    if lock(held):
        return held
    os.close(held)
    try:
        other = read_endpoint(folder / NAME)
    except NoCapture:
        raise AlreadyRunning(
            f"{folder}: another capture is just starting or stopping here: try again"
        ) from None
    raise AlreadyRunning(
        f"{folder}: a capture runs here already, since {other.began} (process {other.pid}), into "
        f"{other.recording}: stop it first, or use another folder"
    )


def _place(port: int, token: str, recording: Path, began: str) -> Endpoint:
    return Endpoint(_HOST, port, token, os.getpid(), str(recording.absolute()), began)


def _announce(folder: Path, place: Endpoint, written: list[Path]) -> None:
    text = msgspec.json.encode(place)
    try:
        write_private(folder / NAME, text)
    except OSError as error:
        raise AlreadyRunning(f"{folder / NAME}: cannot be written: {error.strerror or error}") from None
    if folder / NAME not in written:
        written.append(folder / NAME)
    with suppress(OSError):  # without it words still find the capture from its own folder
        registry = runtime_folder()
        registry.mkdir(mode=0o700, parents=True, exist_ok=True)
        entry = registry / f"{place.pid}-{place.port}.json"
        write_private(entry, text)
        if entry not in written:
            written.append(entry)


class _Server:
    """One request a connection; everything about it is bounded."""

    def __init__(self, token: str, hear: Hear) -> None:
        self._token = token
        self._hear = hear
        self._listening: set[asyncio.Task[None]] = set()
        self._open = 0
        self._closing = False

    @asynccontextmanager
    async def listening(self, listener: socket.socket) -> AsyncIterator[None]:
        async with asyncio.TaskGroup() as group:
            server = await asyncio.start_server(
                lambda reader, writer: self._accept(group, reader, writer), sock=listener, limit=LONGEST
            )
            try:
                yield
            finally:
                self._closing = True
                server.close()
                # Whoever has not said anything yet is not waited for; what was heard is answered.
                for task in self._listening:
                    task.cancel()

    def _accept(self, group: asyncio.TaskGroup, reader: StreamReader, writer: StreamWriter) -> None:
        if self._closing:  # it was accepted in the very moment in which the capture is told to stop
            writer.close()
            return
        stamp = time.monotonic_ns()
        task = group.create_task(self._serve(reader, writer, stamp))
        self._listening.add(task)
        task.add_done_callback(self._listening.discard)

    async def _serve(self, reader: StreamReader, writer: StreamWriter, stamp: int) -> None:
        self._open += 1
        try:
            reply = await self._answer(reader, stamp)
            writer.write(msgspec.json.encode(reply) + b"\n")
            writer.close()
            async with asyncio.timeout(PATIENCE):
                await writer.wait_closed()
        except (OSError, TimeoutError):
            pass  # whoever asked has gone; what they said is recorded
        finally:
            self._open -= 1
            writer.close()

    async def _answer(self, reader: StreamReader, stamp: int) -> Reply:
        if self._open > MOST:
            return Reply(ok=False, refused=f"more than {MOST} are talking at once: try again")
        try:
            async with asyncio.timeout(PATIENCE):
                line = await reader.readuntil(b"\n")
        except (TimeoutError, asyncio.IncompleteReadError):
            return Reply(ok=False, refused="no whole line came")
        except asyncio.LimitOverrunError:
            return Reply(ok=False, refused=f"more than {LONGEST} bytes came")
        try:
            request = msgspec.json.decode(line, type=_Request)
            words = [word.encode().decode() for word in request.words]
        except (msgspec.MsgspecError, UnicodeError, RecursionError):
            return Reply(ok=False, refused='no request came; due {"token":…,"words":[…]}')
        if not hmac.compare_digest(request.token.encode("utf-8", "replace"), self._token.encode()):
            return Reply(ok=False, refused="the token is not of this capture")
        task = asyncio.current_task()
        if task is not None:
            self._listening.discard(task)
        return await self._hear(words, stamp)


# -- from outside -----------------------------------------------------------------------------


def read_endpoint(path: Path) -> Endpoint:
    """What an inbox's file says; raises `NoCapture`."""
    try:
        place = msgspec.json.decode(read_private(path), type=Endpoint)
    except OSError as error:
        raise NoCapture(f"{path}: no capture runs here: {error.strerror or error}") from None
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        raise NoCapture(f"{path}: this is not an inbox of a running capture") from None
    if place.host != _HOST:
        raise NoCapture(
            f"{path}: names {place.host!r}, but a capture listens on {_HOST} only: remove this file"
        )
    return place


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
    request = msgspec.json.encode(_Request(place.token, list(words))) + b"\n"
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
