"""Files of pictures in PostgreSQL, each once by its hash, if a stored line names it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from typing import Any, Final

import psycopg

from capture.recording.pictures import LARGEST_KEPT
from capture.shop.archive.gaps import Key

MOST_LACKING: Final = 500
"""Pictures of one recording that are asked for."""


def store(connection: psycopg.Connection[Any], came: Mapping[Key, list[bytes]]) -> list[Key]:
    """Stores files whose hash a line of their recording names; gives the recordings of the others."""
    others = []
    with connection.transaction():
        for key, bodies in came.items():
            for body in bodies:
                digest = hashlib.sha256(body).hexdigest()
                if len(body) > LARGEST_KEPT or not _named(connection, key, digest):
                    others.append(key)
                    continue
                connection.execute(
                    "INSERT INTO store.picture_files (sha256, body) VALUES (%s, %s) ON CONFLICT DO NOTHING",
                    (digest, body),
                )
    return others


def lacking(connection: psycopg.Connection[Any], keys: list[Key]) -> dict[Key, list[int]]:
    """Of each recording the numbers of the lines that name a picture whose file is not there."""
    rows = connection.execute(
        "SELECT r.machine, r.name, (array_agg(p.seq ORDER BY p.seq))[:%s] FROM store.recordings r"
        " JOIN store.pictures p ON p.recording = r.id AND p.month = r.month"
        " LEFT JOIN store.picture_files f ON f.sha256 = p.sha256"
        " WHERE (r.machine, r.name) IN (SELECT * FROM unnest(%s::text[], %s::text[])) AND f.sha256 IS NULL"
        " GROUP BY r.machine, r.name",
        (MOST_LACKING, [key[0] for key in keys], [key[1] for key in keys]),
    )
    return {(machine, name): numbers for machine, name, numbers in rows}


def of(connection: psycopg.Connection[Any], key: Key) -> Iterator[tuple[str, bytes | None]]:
    """The pictures that a recording names, in order: name of the file, and its bytes where they are there."""
    named = connection.execute(
        "SELECT p.file, p.sha256 FROM store.pictures p"
        " JOIN store.recordings r ON r.id = p.recording AND r.month = p.month"
        " WHERE r.machine = %s AND r.name = %s ORDER BY p.seq",
        key,
    ).fetchall()
    for file, sha256 in named:
        row = connection.execute(
            "SELECT body FROM store.picture_files WHERE sha256 = %s", (sha256,)
        ).fetchone()
        yield file, None if row is None else bytes(row[0])


def _named(connection: psycopg.Connection[Any], key: Key, digest: str) -> bool:
    row = connection.execute(
        "SELECT 1 FROM store.pictures p JOIN store.recordings r ON r.id = p.recording AND r.month = p.month"
        " WHERE r.machine = %s AND r.name = %s AND p.sha256 = %s LIMIT 1",
        (*key, digest),
    ).fetchone()
    return row is not None
