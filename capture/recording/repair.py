"""Checks a recording line by line, and mends the one damage that an honest crash can do."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from msgspec import Struct

from capture.host.disk import OPEN, lock, open_regular, sync, sync_folder, write_all
from capture.recording.codec import (
    LONGEST,
    BadLine,
    decode_event,
    decode_header,
    first_chain,
    next_chain,
    show,
    split_chain,
)
from capture.recording.reader import PIECE, BadRecording, Damage, Kind, Parser, disorder, read, scan

MOST: Final = 1000
"""Findings of one check; a file with more is not mended by reading on."""


class Mended(Struct, frozen=True):
    """What mending did."""

    events: int
    """Events that stay."""
    moved: int
    """Bytes moved away."""
    to: str
    """The side file that holds them now."""


def check(path: Path) -> list[Damage]:
    """Everything that is wrong with a recording, in order of lines; empty if it is whole.

    Raises:
        BadRecording: It cannot be opened, is not a recording, or is of a newer format.
    """
    read(path)
    check = _Check(path)
    try:
        with os.fdopen(open_regular(path), "rb") as file:
            while len(check.found) < MOST and (line := file.readline(LONGEST + 1)):
                check.take(line)
    except OSError as error:
        raise BadRecording(f"{path}: the recording cannot be read: {error.strerror or error}") from None
    return check.found


class _Check:
    """A check in the middle of a file; goes on after each damage with what came."""

    def __init__(self, path: Path) -> None:
        self.found: list[Damage] = []
        self._path = path
        self._line = 1
        self._offset = 0
        self._due = 0
        self._mono = 0
        self._chain = ""
        self._chained = False
        self._long = False

    def take(self, line: bytes) -> None:
        for kind, why in self._wrong_with(line):
            self.found.append(Damage(str(self._path), self._line, self._offset, kind, why))
        self._offset += len(line)
        self._line += line.endswith(b"\n")

    def _wrong_with(self, line: bytes) -> Iterator[tuple[Kind, str]]:
        if self._long or len(line) > LONGEST:
            if not self._long:
                yield "line", f"a line of more than {LONGEST} bytes"
            self._long = not line.endswith(b"\n")
        elif b"\0" in line:
            yield "hole", f"zeros came, but event {self._due} was due: {show(line)}"
        elif not line.endswith(b"\n"):
            yield "cut", f"the last line has no end after {len(line)} bytes: {show(line)}"
        elif self._line == 1:
            decode_header(line[:-1])
            self._chain = first_chain(line[:-1])
        else:
            yield from self._event(line[:-1])

    def _event(self, line: bytes) -> Iterator[tuple[Kind, str]]:
        body, chain = split_chain(line)
        due = next_chain(self._chain, body)
        if chain not in {due, None}:
            yield (
                "chain",
                f"chain {chain} came, but {due} was due: this line or what stood before it was changed",
            )
        elif chain is None and self._chained:
            yield "chain", "no chain came, but the lines before have one: this line was added or changed"
        self._chain = chain or due
        self._chained = self._chained or chain is not None
        try:
            event = decode_event(line)
        except BadLine as error:
            yield "line", str(error)
            self._due += 1
            return
        if why := disorder(event, self._due, self._mono):
            yield "order", why
        self._due, self._mono = event.seq + 1, event.at.mono


def chain_of(path: Path) -> str:
    """The chain at the end of a recording, which names its state; computed where it carries none.

    Raises:
        BadRecording: The recording is not whole.
    """
    chain = ""
    parser = Parser(path)
    with os.fdopen(open_regular(path), "rb") as file:
        while parser.damage is None and (line := file.readline(LONGEST + 2)):
            parser.feed(line)
            if parser.damage is None and line.endswith(b"\n"):
                chain = next_chain(chain, split_chain(line[:-1])[0]) if chain else first_chain(line[:-1])
    parser.finish()
    if parser.damage is not None:
        raise BadRecording(str(parser.damage))
    return chain


def mend(path: Path) -> Mended | None:
    """Moves what a crash left unfinished at the end into a side file; None if there is nothing to mend.

    Raises:
        BadRecording: A running capture is writing it, it cannot be written, or it has a
            damage that no crash does; nothing was changed then.
    """
    if scan(path).damage is None:
        return None
    try:
        file = os.open(path, os.O_RDWR | OPEN)
        try:
            if not lock(file):
                raise BadRecording(f"{path}: a running capture is writing this recording: stop it first")
            return mend_open(file, scan(path))
        finally:
            os.close(file)
    except OSError as error:
        raise BadRecording(f"{path}: cannot be mended: {error.strerror or error}") from None


def mend_open(file: int, scanned: Parser) -> Mended | None:
    """As `mend`, for a scanned recording that is locked and open for writing; raises OSError too."""
    damage, path = scanned.damage, scanned.path
    if damage is None:
        return None
    moved = os.fstat(file).st_size - damage.offset
    if damage.kind not in {"cut", "hole"} or moved > PIECE + LONGEST:
        raise BadRecording(f"{damage}; this is not what a crash leaves, so it is not mended")
    beside, name = _beside(path)
    try:
        os.lseek(file, damage.offset, os.SEEK_SET)
        while piece := os.read(file, PIECE):
            write_all(beside, piece)
        sync(beside)
    finally:
        os.close(beside)
    sync_folder(path.parent)
    # The side file is on disk before anything leaves the recording.
    os.ftruncate(file, damage.offset)
    sync(file)
    return Mended(scanned.due, moved, str(name))


def _beside(path: Path) -> tuple[int, Path]:
    number = 1
    while True:
        name = path.with_name(f"{path.name}.tail" + (f"-{number}" if number > 1 else ""))
        try:
            return os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | OPEN, 0o666), name
        except FileExistsError:
            number += 1
