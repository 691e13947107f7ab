"""What an archive has stored: listed, and given out."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import psycopg

from capture.commands.terminal import echo
from capture.recording.pictures import FOLDER, BadPicture, keep_picture, picture_bytes
from capture.shop.archive.database import Database
from capture.shop.archive.schema import BadDatabase, check_address, migrate, shown
from capture.shop.archive.troubles import why_of
from capture.shop.archive.working import Working
from capture.shop.messages.topics import stem_of

AGAIN = 5.0
"""Seconds until the process that works out jobs is begun, and begun again; no job is due sooner."""
PAUSE = 3.0


def list_stored(url: str) -> int:
    """List machine, recording and number of events of all that is stored."""
    with _opened(url) as database:
        for machine, name, events in database.recordings():
            echo(f"{machine}\t{name}\t{events}")
    return 0


def give_out(url: str, wanted: str, machines: tuple[str, ...], out: Path | None) -> int:
    """Write a recording as it was recorded; *wanted* is its name, or the name of its file."""
    with _opened(url) as database:
        found = [
            (machine, name)
            for machine, name, _ in database.recordings()
            if wanted.removesuffix(".jsonl") in {name, stem_of(name)}
            and (not machines or machine in machines)
        ]
        if len(found) != 1:
            there = ", ".join(f"--machine {machine} --take-out {name}" for machine, name in found)
            raise click.UsageError(
                f"{wanted}: {there or 'no such recording is stored: --list says which are'}"
            )
        lines = database.take_out(found[0])
        if lines is None:
            raise click.UsageError(f"{wanted}: it is no longer stored")
        if out is None:
            sys.stdout.buffer.writelines(lines)
            return 0
        _write(lines, out)
        pictures = [_put(file, body, out.parent) for file, body in database.pictures_of(found[0])]
    echo(f"{out}: {out.stat().st_size} bytes")
    if pictures:
        echo(f"{out.parent / FOLDER}: {sum(pictures)} of {len(pictures)} pictures")
    return 0 if all(pictures) else 1


def _put(file: str, body: bytes | None, beside: Path) -> bool:
    """Writes a picture beside the recording that names it; whether it lies there as it was recorded."""
    if body is None:
        echo(f"{file}: this picture is not stored yet; its machine is asked for it", err=True)
        return False
    try:
        kept = keep_picture(body, beside).file
        if picture_bytes(beside, kept, hashlib.sha256(body).hexdigest()) is not None:
            return True
        why = "another file of this name is there"
    except (OSError, BadPicture) as error:
        why = str(getattr(error, "strerror", "") or error)
    echo(f"{beside / FOLDER / Path(file).name}: cannot be written: {why}", err=True)
    return False


class WorkingBeside:
    """The process beside an archive that works out rows of jobs, begun again where it ends."""

    def __init__(self, url: str) -> None:
        self._environment = {**os.environ, "TENTHS_DATABASE": url}
        self._process: subprocess.Popen[bytes] | None = None
        self._due = time.monotonic() + AGAIN

    def tend(self) -> None:
        """Begins it where it is not running, at most every few seconds."""
        now = time.monotonic()
        if now < self._due or (self._process is not None and self._process.poll() is None):
            return
        self._due = now + AGAIN
        self._process = subprocess.Popen(
            [sys.executable, "-m", "capture.cli", "archive", "--jobs"],
            env=self._environment,
            stdin=subprocess.PIPE,
            start_new_session=True,
        )

    def close(self) -> None:
        """Stops it; what it was at is worked out by the next."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()


def work_out(url: str) -> int:
    """Work out rows of jobs until stopped; a database that is away is tried again by who began this."""
    if sys.platform != "win32":
        os.nice(10)
    try:
        migrate(url)
        working = Working(url)
        while True:
            if not working.turn():
                time.sleep(PAUSE)
    except (psycopg.Error, BadDatabase):
        return 1  # the archive beside it says what is wrong with the database


def _write(lines: Iterator[bytes], out: Path) -> None:
    """Writes beside the name that is wanted and renames: half a recording never bears it."""
    draft = out.with_name(out.name + ".new")
    try:
        with draft.open("wb") as file:
            file.writelines(lines)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(out)
    except OSError as error:
        raise click.UsageError(f"{out}: cannot be written: {error.strerror or error}") from None


@contextmanager
def _opened(url: str) -> Iterator[Database]:
    try:
        check_address(url)
        database = Database(url)
        try:
            yield database
        finally:
            database.close()
    except BadDatabase as error:
        raise click.UsageError(str(error)) from None
    except psycopg.Error as error:
        raise click.UsageError(f"database {shown(url)}: {why_of(error)}") from None
