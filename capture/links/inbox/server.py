"""The inbox of a running capture: accepts commands from any window of the same user.

It listens on the loopback address only. A request is one line of JSON, ``{"token":…,"words":[…]}``,
and so is the answer, which is sent after the event is on disk.
"""

from __future__ import annotations

import asyncio
import hmac
import os
import secrets
import socket
import time
from asyncio import StreamReader, StreamWriter
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Final, TypeAlias

import msgspec
from msgspec.structs import replace

from capture.host.disk import OPEN, lock
from capture.host.private_files import runtime_folder, write_private
from capture.links.inbox.endpoint import (
    HOST,
    LOCK,
    LONGEST,
    NAME,
    PATIENCE,
    Endpoint,
    NoCapture,
    Reply,
    Request,
    read_endpoint,
)

MOST: Final = 16
"""Connections at a time."""


class AlreadyRunning(Exception):
    """Another capture runs for this folder, or the inbox cannot be opened there."""


TakeCommand: TypeAlias = Callable[[list[str], int], Awaitable[Reply]]
"""Takes the words of a command and the `time.monotonic_ns` of its arrival; answers when it is on disk."""


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
            if not _is_at(self._locks[-1], self._folder / LOCK):
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
    folder: Path, recording: Path, began: str, take: TakeCommand, files: InboxFiles | None = None
) -> AsyncIterator[Path]:
    """Listens while the context is open, and gives the path of the inbox's file.

    *files* are those of the folder where its lock is held already; they are closed at the end.

    Raises:
        AlreadyRunning: A capture runs for this folder already, or nothing can be written there.
    """
    files = files or InboxFiles(folder)
    token = secrets.token_urlsafe(32)
    try:
        with socket.create_server((HOST, 0)) as listener:
            files.announce(_place(listener.getsockname()[1], token, recording, began))
            async with _Server(token, take).listening(listener):
                yield files.path
    finally:
        files.close()


def _hold(folder: Path) -> int:
    try:
        held = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | OPEN, 0o600)
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
    return Endpoint(HOST, port, token, os.getpid(), str(recording.absolute()), began)


def _announce(folder: Path, place: Endpoint, written: list[Path]) -> None:
    text = msgspec.json.encode(place)
    try:
        write_private(folder / NAME, text)
    except OSError as error:
        raise AlreadyRunning(f"{folder / NAME}: cannot be written: {error.strerror or error}") from None
    if folder / NAME not in written:
        written.append(folder / NAME)
    with suppress(OSError):  # without it a client still finds the capture from its own folder
        registry = runtime_folder()
        registry.mkdir(mode=0o700, parents=True, exist_ok=True)
        entry = registry / f"{place.pid}-{place.port}.json"
        write_private(entry, text)
        if entry not in written:
            written.append(entry)


class _Server:
    """One request a connection; everything about it is bounded."""

    def __init__(self, token: str, take: TakeCommand) -> None:
        self._token = token
        self._take = take
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
                # A client that has sent nothing yet is not waited for; a request that arrived is answered.
                for task in self._listening:
                    task.cancel()

    def _accept(self, group: asyncio.TaskGroup, reader: StreamReader, writer: StreamWriter) -> None:
        if self._closing:  # the connection was accepted while the capture stops
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
            pass  # the client has gone; its command is recorded
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
            request = msgspec.json.decode(line, type=Request)
            words = [word.encode().decode() for word in request.words]
        except (msgspec.MsgspecError, UnicodeError, RecursionError):
            return Reply(ok=False, refused='no request came; due {"token":…,"words":[…]}')
        if not hmac.compare_digest(request.token.encode("utf-8", "replace"), self._token.encode()):
            return Reply(ok=False, refused="the token is not of this capture")
        task = asyncio.current_task()
        if task is not None:
            self._listening.discard(task)
        return await self._take(words, stamp)
