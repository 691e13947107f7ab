"""Recordings begun and gone on with: what a crash left is mended first."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import msgspec

from capture.host.clock import Clock
from capture.host.disk import OPEN, lock, sync, sync_folder, write_all
from capture.recording.codec import LONGEST, Header, encode_header, first_chain
from capture.recording.reader import BadRecording, scan
from capture.recording.repair import chain_of, mend_open
from capture.recording.writer import Recorder, last_chain, open_new


class CannotRecord(Exception):
    """A recording that cannot be begun or gone on with: where, what came, what to do."""


def create(path: Path, job: dict[str, Any], clock: Clock) -> Recorder:
    """Begins a recording; never writes over a file.

    Raises:
        CannotRecord: The file is there already, or cannot be created.
    """
    try:
        file = open_new(path)
    except FileExistsError:
        raise CannotRecord(f"{path}: this file is there already, and nothing is ever written over") from None
    except OSError as error:
        raise _cannot(path, error) from None
    try:
        return _begin(file, path, job, clock)
    except OSError as error:
        os.close(file)
        path.unlink(missing_ok=True)
        raise _cannot(path, error) from None


def _begin(file: int, path: Path, job: dict[str, Any], clock: Clock) -> Recorder:
    header = Header.new(job, clock.began)
    line = encode_header(header)
    lock(file)
    os.ftruncate(file, 0)
    os.lseek(file, 0, os.SEEK_SET)
    write_all(file, line + b"\n")
    sync(file)
    sync_folder(path.parent)
    return Recorder(file, path, header, len(line) + 1, first_chain(line))


def resume(path: Path, job: dict[str, Any], clock: Clock) -> tuple[Recorder, Clock]:
    """Goes on with a recording, after mending what a crash left; with a clock that goes on too.

    Raises:
        CannotRecord: It is damaged as no crash does it, being written, of another job, or not
            writable.
    """
    try:
        file = os.open(path, os.O_RDWR | OPEN)
    except OSError as error:
        raise _cannot(path, error) from None
    try:
        return _go_on(file, path, job, clock)
    except BadRecording as error:
        os.close(file)
        raise CannotRecord(str(error)) from None
    except OSError as error:
        os.close(file)
        raise _cannot(path, error) from None
    except CannotRecord:
        os.close(file)
        raise


def _go_on(file: int, path: Path, job: dict[str, Any], clock: Clock) -> tuple[Recorder, Clock]:
    if not lock(file):
        raise CannotRecord(f"{path}: another capture is writing this recording")
    if _is_blank(file):
        return _begin(file, path, job, clock), clock
    scanned = scan(path)
    mended = mend_open(file, scanned)
    if scanned.header is None:
        raise BadRecording(f"{path}:1: there is no header")
    if scanned.header.job != msgspec.json.decode(msgspec.json.encode(job)):
        raise CannotRecord(f"{path}: the job sheet was changed since this recording began: begin a new one")
    chain = last_chain(file, scanned.offset) or chain_of(path)
    recorder = Recorder(file, path, scanned.header, scanned.offset, chain)
    recorder.mended, recorder.due = mended, scanned.due
    if scanned.last is not None:
        recorder.last = scanned.last.at
        clock = Clock.start(scanned.last.at, monotonic=clock.monotonic, wall=clock.wall)
    return recorder, clock


def _is_blank(file: int) -> bool:
    """Whether a crash left nothing but a beginning of the header."""
    os.lseek(file, 0, os.SEEK_SET)
    begin = os.read(file, LONGEST)
    return b"\n" not in begin and begin.startswith(b'{"format"'[: len(begin)])


def _cannot(path: Path, error: OSError) -> CannotRecord:
    return CannotRecord(
        f"{path}: cannot be written: {error.strerror or error}: choose another place with --out"
    )
