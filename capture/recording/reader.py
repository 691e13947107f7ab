"""The recording: read and followed. `recorder` writes it, `mend` checks and mends it.

What stands before the first damage is trusted, and nothing after it.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from capture.events import Event
from capture.host.disk import open_regular
from capture.recording.codec import LONGEST, BadLine, Header, decode_event, decode_events, decode_header, show

PIECE: Final = 1 << 20
"""Most bytes that are ever written between two syncs, so only these can be torn by a power cut."""
_CHUNK: Final = 4 << 20
_END: Final = 1 << 63
"""Nanoseconds from here on are 292 years away and fit no column of a table."""

Kind: TypeAlias = Literal["cut", "hole", "line", "order", "chain"]
"""What is wrong: the last line has no end; zeros where a power cut left a hole; a line that
cannot be read; a number or a time out of order; a chain that does not fit."""


class Damage(Struct, frozen=True):
    """What is wrong with a recording, and where."""

    path: str
    line: int
    """Counted from 1, the header's line."""
    offset: int
    """Bytes before the damaged line."""
    kind: Kind
    why: str

    def __str__(self) -> str:
        """The sentence for a person."""
        return f"{self.path}:{self.line}: {self.why}"


class BadRecording(Exception):
    """A recording that cannot be used: where, what came, what was due."""


class Parser:
    """Turns the bytes of a recording into events, however they are cut; stops at the first damage."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.header: Header | None = None
        self.damage: Damage | None = None
        self.line = 1
        """The line that comes next."""
        self.offset = 0
        """Bytes in the lines taken so far."""
        self.due = 0
        """The `seq` that comes next."""
        self.last: Event | None = None
        self._mono = 0
        self._rest = b""

    def feed(self, data: bytes) -> list[Event]:
        """The events of all lines that *data* completes.

        Raises:
            BadRecording: The first line is not the header of a recording.
        """
        if self.damage is not None:
            return []
        data = self._rest + data
        end = data.rfind(b"\n") + 1
        self._rest = data[end:]
        lines = data[:end]
        if self.header is None and (end or len(self._rest) > LONGEST):
            lines = self._begin(lines)
        events = self._take(lines) if lines else []
        if self.damage is None and len(self._rest) > LONGEST:
            self._stop("line", f"a line of more than {LONGEST} bytes, and no end of it")
        return events

    def finish(self) -> None:
        """Says that no more bytes come: a line without its end is the damage of a crash."""
        if self.header is None and self.damage is None:
            self._check_beginning()
        if self._rest and self.damage is None:
            kind: Kind = "hole" if b"\0" in self._rest else "cut"
            self._stop(kind, f"the last line has no end after {len(self._rest)} bytes: {show(self._rest)}")

    def _check_beginning(self) -> None:
        due = 'a recording begins with {"format":1,…}'
        if not self._rest:
            raise BadRecording(f"{self.path}:1: the file is empty, but {due}")
        if not self._rest.startswith(b'{"format"'[: len(self._rest)]):
            raise BadRecording(f"{self.path}:1: not a recording: {show(self._rest)} came, but {due}")

    def _begin(self, lines: bytes) -> bytes:
        first = lines.partition(b"\n")[0] if lines else self._rest[:LONGEST]
        try:
            self.header = decode_header(first)
        except BadLine as error:
            raise BadRecording(f"{self.path}:1: {error}") from None
        self.line, self.offset = 2, len(first) + 1
        return lines[len(first) + 1 :]

    def _take(self, lines: bytes) -> list[Event]:
        events = decode_events(lines, lines.count(b"\n"))
        if events is None or not self._ordered(events):
            return self._take_singly(lines)
        if events:
            self._passed(events[-1])
        self.line += len(events)
        self.offset += len(lines)
        return events

    def _ordered(self, events: list[Event]) -> bool:
        mono = self._mono
        for due, event in enumerate(events, self.due):
            at = event.at
            if event.seq != due or not mono <= at.mono < _END or not -_END <= at.wall < _END:
                return False
            mono = at.mono
        return True

    def _passed(self, event: Event) -> None:
        self.last, self.due, self._mono = event, event.seq + 1, event.at.mono

    def _take_singly(self, lines: bytes) -> list[Event]:
        events: list[Event] = []
        for line in lines.split(b"\n")[:-1]:
            if b"\0" in line:
                self._stop("hole", f"zeros came, but event {self.due} was due: {show(line)}")
                break
            try:
                event = decode_event(line)
            except BadLine as error:
                self._stop("line", str(error))
                break
            if why := disorder(event, self.due, self._mono):
                self._stop("order", why)
                break
            events.append(event)
            self._passed(event)
            self.line += 1
            self.offset += len(line) + 1
        return events

    def _stop(self, kind: Kind, why: str) -> None:
        self.damage = Damage(str(self.path), self.line, self.offset, kind, why)


def disorder(event: Event, due: int, mono: int) -> str:
    """Why *event* cannot stand where event *due* was due, at *mono* or later; empty if it can."""
    if event.seq != due:
        return f"event {event.seq} came, but {due} was due"
    if not mono <= event.at.mono < _END:
        return f"event {event.seq} is at {event.at.mono} ns, but time had come to {mono} ns"
    if not -_END <= event.at.wall < _END:
        return f"event {event.seq} is at {event.at.wall} ns since 1970, which no clock shows"
    return ""


class Recording:
    """A recording on disk: iterate it for its events, as often as you like, in bounded memory.

    `damage` and `whole` speak of the last time that it was read to its end.
    """

    def __init__(self, path: Path, header: Header) -> None:
        self.path = path
        self.header = header
        self.damage: Damage | None = None

    @property
    def whole(self) -> bool:
        """Whether all of it could be read."""
        return self.damage is None

    def batches(self) -> Iterator[list[Event]]:
        """The events, some thousands at a time."""
        parser = Parser(self.path)
        yield from _parsed(parser)
        self.damage = parser.damage

    def __iter__(self) -> Iterator[Event]:
        for events in self.batches():
            yield from events


def read(path: Path) -> Recording:
    """Opens a recording, live, finished or damaged.

    Raises:
        BadRecording: It cannot be opened, is not a recording, or is of a newer format.
    """
    parser = Parser(path)
    try:
        with os.fdopen(open_regular(path), "rb", buffering=0) as file:
            while parser.header is None and (data := file.read(_CHUNK)):
                parser.feed(data)
    except OSError as error:
        raise unreadable(path, error) from None
    if parser.header is None:
        parser.finish()
        raise BadRecording(f"{path}:1: the header is cut short, so there is nothing in this recording")
    return Recording(path, parser.header)


def scan(path: Path) -> Parser:
    """Reads a recording through; the parser says how far it is good and what stopped it.

    Raises:
        BadRecording: It cannot be opened, is not a recording, or is of a newer format.
    """
    parser = Parser(path)
    for _ in _parsed(parser):
        pass
    return parser


def _parsed(parser: Parser) -> Iterator[list[Event]]:
    try:
        with os.fdopen(open_regular(parser.path), "rb", buffering=0) as file:
            while parser.damage is None and (data := file.read(_CHUNK)):
                yield parser.feed(data)
    except OSError as error:
        raise unreadable(parser.path, error) from None
    parser.finish()


def unreadable(path: Path, error: OSError) -> BadRecording:
    """A recording that the host cannot read, in words."""
    return BadRecording(f"{path}: the recording cannot be read: {error.strerror or error}")


class Follower:
    """Reads on in a recording as it grows; `follow` makes one."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.turn = 0
        """Goes up when the file was replaced or cut short and is read again from its start."""
        self._parser = Parser(path)
        self._file: int | None = None
        self._read = 0
        self._failed: int | None = None
        """When the file had last been changed as a sync of it failed: until it is written anew, what
        stands there may never have reached the disk, though a second sync succeeds."""

    @property
    def header(self) -> Header | None:
        """The header, once there is one."""
        return self._parser.header

    @property
    def damage(self) -> Damage | None:
        """What stopped the reading, if anything did."""
        return self._parser.damage

    def poll(self) -> list[Event]:
        """The events that came since the last call, at most a few MiB of them: call until none come.

        Nothing is given out that is not on disk: where the host allows, the file is
        synced first. A file that is not there (yet) has no events.

        Raises:
            BadRecording: The file is not a recording.
        """
        data = self.poll_bytes()
        return self._parser.feed(data) if data else []

    def poll_bytes(self) -> bytes:
        """The bytes that came since the last call, which are on disk; none where nothing came.

        Raises:
            BadRecording: The file cannot be read.
        """
        try:
            file = self._settled()
            size = os.fstat(file).st_size
            if size == self._read or not self._on_disk(file):
                return b""
            data = os.read(file, min(_CHUNK, size - self._read))
        except FileNotFoundError:
            return b""
        except OSError as error:
            raise unreadable(self.path, error) from None
        self._read += len(data)
        return data

    def parse(self, data: bytes) -> list[Event]:
        """The events that *data*, which `poll_bytes` gave, completes.

        Raises:
            BadRecording: The file is not a recording.
        """
        return self._parser.feed(data)

    def _on_disk(self, file: int) -> bool:
        """Whether all that stands in *file* is on disk, as far as the host lets a reader know."""
        changed = os.fstat(file).st_mtime_ns
        if changed == self._failed:
            return False
        try:
            getattr(os, "fdatasync", os.fsync)(file)
        except OSError as error:
            # A read-only file system has nothing to sync; Windows does not let a reader ask.
            if error.errno in {errno.EBADF, errno.EINVAL, errno.EROFS, errno.ENOTSUP, errno.EACCES}:
                return True
            self._failed = changed
            return False
        self._failed = None
        return True

    def close(self) -> None:
        """Lets go of the file."""
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def _settled(self) -> int:
        if self._file is not None:
            ours, there = os.fstat(self._file), self.path.stat()
            if (ours.st_dev, ours.st_ino) == (there.st_dev, there.st_ino) and ours.st_size >= self._read:
                return self._file
            self.close()
            self.turn += 1
        self._parser, self._read = Parser(self.path), 0
        self._file, self._failed = open_regular(self.path), None
        return self._file


def follow(path: Path) -> Follower:
    """Follows a recording, which need not exist yet."""
    return Follower(path)
