"""What an archive has stored: listed, and given out."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import psycopg

from capture.commands.terminal import echo
from capture.shop.database import Database
from capture.shop.schema import shown
from capture.shop.topics import stem_of


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
    echo(f"{out}: {out.stat().st_size} bytes")
    return 0


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
        database = Database(url)
        try:
            yield database
        finally:
            database.close()
    except psycopg.Error as error:
        raise click.UsageError(f"database {shown(url)}: {' '.join(str(error).split())}") from None
