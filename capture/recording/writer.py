"""The recorder: writes a recording so that what it says is written is on disk."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Beat, Event, Instant, Other, Reading
from capture.host.disk import OPEN, lock, sync, sync_folder, write_all
from capture.recording.codec import (
    LONGEST,
    Header,
    decode_event,
    encode_event,
    encode_header,
    first_chain,
    join_chain,
    next_chain,
    split_chain,
)
from capture.recording.reader import PIECE, BadRecording, Parser
from capture.recording.repair import Mended

_RECENT: Final = 1 << 20
"""Bytes of the newest lines on disk that are kept in memory, in case somebody cuts the file."""
BOUND: Final = 64 << 20
"""Bytes that are kept in memory while the disk takes none."""


class _Kept(Struct, frozen=True):
    """Lines that are not on disk yet."""

    data: bytes
    events: int
    readings: int


class Recorder:
    """Appends to one recording; `opening` makes one. To be used by one thread at a time."""

    def __init__(self, file: int, path: Path, header: Header, size: int, chain: str) -> None:
        self.path = path
        self.header = header
        self.due = 0
        """The `seq` of the next event."""
        self.last: Instant | None = None
        """When the last event was."""
        self.chain = chain
        """The chain at the end, which names the state of the recording."""
        self.trouble = ""
        """Why events are kept in memory, for a person; empty when all is on disk."""
        self._error = ""
        """What the system said of the newest write that failed."""
        self.notice = ""
        """What somebody else did to the file meanwhile, for a person; newest only."""
        self.mended: Mended | None = None
        """What a crash had left and `resume` moved aside."""
        self.kept = 0
        """Bytes that are not on disk."""
        self._file = file
        self._size = size
        self._kept: deque[_Kept] = deque()
        self._recent: deque[bytes] = deque()
        """What went to the disk last, for `_bridge`."""
        self._size_recent = 0
        self._added: list[bytes] = []
        self._size_added = self._readings = 0
        self._look = True
        """The next write first looks whether the recording still stands where its path says."""

    def append(self, events: Sequence[Event]) -> bool:
        """Writes events, in one go; True when they and all before them are on disk.

        Otherwise they are kept for the next call, in order, and `trouble` says so.

        Raises:
            ValueError: An event has another number than is due, or is too large to be a line.
        """
        for event in events:
            self.add(event)
        return self.flush()

    def add(self, event: Event) -> None:
        """Makes an event the next line, to be written by the next `flush`.

        Raises:
            ValueError: It has another number than is due, or is too large to be a line.
        """
        if event.seq != self.due:
            raise ValueError(f"event {event.seq} was given to write, but {self.due} is due")
        body = encode_event(event)
        self.chain = next_chain(self.chain, body)
        line = join_chain(body, self.chain)
        if self._size_added + len(line) > PIECE:
            self._keep()
        self._added.append(line)
        self._size_added += len(line)
        self._readings += isinstance(event.fact, Reading)
        self._look |= isinstance(event.fact, Beat)
        self.kept += len(line)
        self.due, self.last = event.seq + 1, event.at

    def flush(self) -> bool:
        """Writes what was added; True when all is on disk."""
        self._keep()
        try:
            self._find_again()
            while self._kept:
                size = self._write()
                self._size += size
        except OSError as error:
            self.trouble = self._why(error)
            # What did not reach the disk must not be read as if it had.
            with suppress(OSError):
                if os.fstat(self._file).st_size > self._size:
                    os.ftruncate(self._file, self._size)
        else:
            self.trouble = ""
        return not self.trouble

    def close(self) -> None:
        """Lets go of the file."""
        os.close(self._file)

    def _keep(self) -> None:
        """Makes what was added since the last call one thing to write, of a `PIECE` at most."""
        if self._added:
            self._kept.append(_Kept(b"".join(self._added), len(self._added), self._readings))
            self._added, self._size_added, self._readings = [], 0, 0

    def _write(self) -> int:
        """Writes up to a `PIECE` of what is kept, and drops it only when it is on disk."""
        count = size = 0
        for kept in self._kept:
            if count and size + len(kept.data) > PIECE:
                break
            count, size = count + 1, size + len(kept.data)
        os.lseek(self._file, self._size, os.SEEK_SET)
        first = self._kept[0].data
        write_all(self._file, first if count == 1 else b"".join(self._kept[n].data for n in range(count)))
        sync(self._file)
        for _ in range(count):
            self._remember(self._kept.popleft().data)
        self.kept -= size
        return size

    def _why(self, error: OSError) -> str:
        self._error = error.strerror or str(error)
        return self._unwritten("kept in memory")

    def _unwritten(self, where: str) -> str:
        events = sum(kept.events for kept in self._kept)
        readings = sum(kept.readings for kept in self._kept)
        return (
            f"not on disk: {events} lines ({readings} of them readings), {where}: {self.path}: {self._error}"
        )

    @property
    def loss(self) -> str:
        """What a person is told where the capture ends and the disk never took the last events."""
        return self._unwritten("and now lost")

    def _find_again(self) -> None:
        """Sees to it that the recording is where its path says, and writes it again if it is not.

        One that was removed has no name left, which costs nothing to see; whether one was moved is
        looked at with every beat, since a path takes the host as long as all the rest of a write.
        """
        ours = os.fstat(self._file)
        try:
            if (ours.st_nlink and not self._look) or os.path.samestat(ours, self.path.stat()):
                self._look = False
                if ours.st_size > self._size:
                    # A failed sync left these, or somebody else wrote: the host may call pages clean that
                    # never reached the disk, so what follows the last good sync is written anew.
                    os.ftruncate(self._file, self._size)
                elif ours.st_size < self._size:
                    self._go_on_after_cut(ours.st_size)
                return
        except FileNotFoundError:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        was = self.path
        file, path = _create_beside(was)
        try:
            self._copy_to(file, self._size)
            sync_folder(path.parent)
            lock(file)
        except OSError:
            os.close(file)
            path.unlink(missing_ok=True)
            raise
        os.close(self._file)
        self._file, self.path = file, path
        self.notice = f"{was} was removed or moved while it was being written; all of it is now in {path}"

    def _go_on_after_cut(self, size: int) -> None:
        """Goes on in a whole file beside one that somebody else cut to *size* bytes.

        It has what still stands whole in the stump, then the newest lines from memory, and for each event
        that is in neither a line that says that it was lost: so every reader can read on to what comes.
        """
        stump = self.path
        file, path = _create_beside(stump)
        try:
            lock(file)
            lost, end = self._bridge(file)
            sync(file)
            sync_folder(path.parent)
        except OSError:
            os.close(file)
            path.unlink(missing_ok=True)
            raise
        was = self._size
        os.close(self._file)
        self._file, self.path, self._size = file, path, end
        self.notice = (
            f"{stump} was cut from {was} to {size} bytes by somebody else while it was being written: "
            f"it is left as it is, and all goes on in {path}"
            + (f"; {lost} events that stood there are lost" if lost else "")
        )

    def _bridge(self, file: int) -> tuple[int, int]:
        """Writes all up to what is kept into *file*; how many events are lost, and the size that it has."""
        good = self._good_of_stump()
        copied = 0
        if good.header is None:
            write_all(file, encode_header(self.header) + b"\n")
            copied = len(encode_header(self.header)) + 1
        else:
            self._copy_to(file, good.offset)
            copied = good.offset
        chain = last_chain(file, copied) or first_chain(encode_header(self.header))
        at = good.last.at if good.last is not None else Instant(0, 0)
        first = self.due - sum(kept.events for kept in self._kept)
        recent = [event for event in self._recalled() if good.due <= event.seq < first]
        here = recent[0].seq if recent else first
        missing = [Event(seq, at, "recorder", Other("lost", {})) for seq in range(good.due, here)]
        os.lseek(file, copied, os.SEEK_SET)
        for event in (*missing, *recent):
            body = encode_event(event)
            chain = next_chain(chain, body)
            line = join_chain(body, chain)
            write_all(file, line)
            copied += len(line)
        self._chain_anew(chain)
        return len(missing), copied

    def _good_of_stump(self) -> Parser:
        parser, offset = Parser(self.path), 0
        with suppress(BadRecording):
            while parser.damage is None and (piece := _read_at(self._file, PIECE, offset)):
                offset += len(piece)
                parser.feed(piece)
        return parser

    def _recalled(self) -> Iterator[Event]:
        for line in b"".join(self._recent).split(b"\n")[:-1]:
            yield decode_event(split_chain(line)[0])

    def _chain_anew(self, chain: str) -> None:
        """Chains what is kept to another line before it."""
        for n, kept in enumerate(self._kept):
            lines = []
            for line in kept.data.split(b"\n")[:-1]:
                body = split_chain(line)[0]
                chain = next_chain(chain, body)
                lines.append(join_chain(body, chain))
            self._kept[n] = replace(kept, data=b"".join(lines))
        self.kept = sum(len(kept.data) for kept in self._kept)
        self.chain = chain

    def _remember(self, data: bytes) -> None:
        self._recent.append(data)
        self._size_recent += len(data)
        while self._size_recent > _RECENT and len(self._recent) > 1:
            self._size_recent -= len(self._recent.popleft())

    def _copy_to(self, file: int, size: int) -> None:
        os.lseek(self._file, 0, os.SEEK_SET)
        left = size
        while left and (piece := os.read(self._file, min(PIECE, left))):
            write_all(file, piece)
            left -= len(piece)
        sync(file)


def _read_at(file: int, size: int, offset: int) -> bytes:
    os.lseek(file, offset, os.SEEK_SET)
    return os.read(file, size)


def open_new(path: Path) -> int:
    """A new file, open to read and write.

    Raises:
        FileExistsError: There is one.
        OSError: The disk does not take it.
    """
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | OPEN, 0o666)


def _create_beside(path: Path) -> tuple[int, Path]:
    number = 1
    while True:
        name = path.with_name(f"{path.stem}-{number}{path.suffix}") if number > 1 else path
        try:
            return open_new(name), name
        except FileExistsError:
            number += 1


def last_chain(file: int, end: int) -> str | None:
    """The chain of the line that ends at byte *end*; None where it has none."""
    start = max(0, end - LONGEST)
    os.lseek(file, start, os.SEEK_SET)
    return split_chain(os.read(file, end - start)[:-1])[1]
