"""Recordings in PostgreSQL: lines stored once, in order, in one transaction with what is made of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

import psycopg
from msgspec import Struct, structs
from psycopg import sql

from capture.events import Event
from capture.recording.codec import BadLine, Header, decode_header, first_chain, split_chain
from capture.recording.lines import HEADER
from capture.shop.archive import pictures
from capture.shop.archive.gaps import Key
from capture.shop.archive.intake import Admitted, Held, Sorted, admit, ahead_of, sort
from capture.shop.archive.schema import make_partitions, month_of
from capture.shop.messages import topics
from capture.shop.tables.rows import TABLES, about, at, clean, moment, row_of

MOST_REFUSED: Final = 1000
"""Refused lines that are kept of one recording."""


class RecordingRow(Struct, frozen=True):
    """A recording's row, locked until the transaction ends."""

    id: int
    month: Any
    held: Held


class StoreOutcome(Struct, frozen=True):
    """What became of the lines of one recording."""

    next: int
    """The number that comes next; `HEADER` where not even the header is there."""
    chain: str
    missing: int
    """Where the lines that are missing from there on end; 0: none is known to be missing."""
    refused: tuple[str, ...]


class Database:
    """One connection; `store` is all or nothing."""

    def __init__(self, url: str) -> None:
        """Raises `psycopg.Error` where it cannot be reached."""
        self._connection = psycopg.connect(
            url,
            connect_timeout=10,
            keepalives_idle=10,
            keepalives_interval=5,
            keepalives_count=3,
            tcp_user_timeout=20000,
            application_name="tenths archive",
            autocommit=True,
        )

    def close(self) -> None:
        """Ends the connection."""
        self._connection.close()

    def store(self, came: Mapping[Key, list[bytes]]) -> dict[Key, StoreOutcome]:
        """Stores the lines that *came*; on return they are on the database's disk, each once.

        Raises:
            psycopg.Error: Nothing of them was stored.
        """
        found = {key: sort(lines) for key, lines in came.items()}
        known = self._known(list(came))
        new = [key for key, one in found.items() if key not in known and self._register(key, one.header)]
        with self._connection.transaction():
            known = self._known(list(came), lock=True)
            done = {key: _admitted(known.get(key), one) for key, one in found.items()}
            moved = [key for key, one in done.items() if one.lines or key in new]
            for key, lines in self._waiting(moved).items():
                for seq, same in sort(lines).events.items():
                    found[key].events.setdefault(seq, []).extend(same)
                done[key] = _admitted(known.get(key), found[key])
            grown = {key: one for key, one in done.items() if one.lines}
            self._copy([(known[key], one.lines) for key, one in grown.items()])
            self._advance(known, grown)
            for key, one in done.items():
                self._wait(key, one)
                self._refuse(key, _refused(key, found[key], one))
        return {key: _outcome(key, found[key], one) for key, one in done.items()}

    def store_pictures(self, came: Mapping[Key, list[bytes]]) -> list[Key]:
        """Stores files of pictures; the recordings among whose files is one that no line of theirs names.

        Raises:
            psycopg.Error: Nothing of them was stored.
        """
        return pictures.store(self._connection, came) if came else []

    def lacking_pictures(self, keys: Iterable[Key]) -> dict[Key, list[int]]:
        """Numbers of lines that name a picture whose file is not there; of those recordings that have any."""
        return pictures.lacking(self._connection, list(keys))

    def pictures_of(self, key: Key) -> Iterator[tuple[str, bytes | None]]:
        """The pictures that a recording names: the file's name, and its bytes where they are there."""
        return pictures.of(self._connection, key)

    def held(self, keys: Iterable[Key]) -> dict[Key, Held]:
        """How far recordings are held; those that are not there are left out."""
        return {key: row.held for key, row in self._known(list(keys)).items()}

    def recordings(self) -> list[tuple[str, str, int]]:
        """Machine, name and number of events of every recording, by machine and beginning."""
        return self._connection.execute(
            "SELECT machine, name, next FROM store.recordings ORDER BY machine, began, name"
        ).fetchall()

    def take_out(self, key: Key) -> Iterator[bytes] | None:
        """A recording's lines with their ends, byte for byte as recorded; None where there is none."""
        row = self._connection.execute(
            "SELECT id, month, header FROM store.recordings WHERE machine = %s AND name = %s", key
        ).fetchone()
        return None if row is None else self._lines(*row)

    def chain_at(self, key: Key, number: int) -> str | None:
        """The chain after the event before *number*; None where that is not there."""
        row = self._connection.execute(
            "SELECT l.line FROM store.lines l"
            " JOIN store.recordings r ON r.id = l.recording AND r.month = l.month"
            " WHERE r.machine = %s AND r.name = %s AND l.seq = %s",
            (*key, number - 1),
        ).fetchone()
        return None if row is None else split_chain(bytes(row[0]))[1]

    def _lines(self, number: int, month: Any, header: bytes) -> Iterator[bytes]:
        yield bytes(header) + b"\n"
        with (
            self._connection.transaction(),
            self._connection.cursor("take_out", binary=True) as cursor,
        ):
            cursor.itersize = 5000
            cursor.execute(
                "SELECT line FROM store.lines WHERE recording = %s AND month = %s ORDER BY seq",
                (number, month),
            )
            for (line,) in cursor:
                yield bytes(line) + b"\n"

    def _known(self, keys: list[Key], *, lock: bool = False) -> dict[Key, RecordingRow]:
        command = (
            "SELECT machine, name, id, month, next, chain, chained, mono FROM store.recordings"
            " WHERE (machine, name) IN (SELECT * FROM unnest(%s::text[], %s::text[])) ORDER BY id"
        )
        rows = self._connection.execute(
            f"{command} FOR UPDATE" if lock else command,
            ([key[0] for key in keys], [key[1] for key in keys]),
        )
        return {(row[0], row[1]): RecordingRow(row[2], row[3], Held(*row[4:])) for row in rows}

    def _register(self, key: Key, headers: list[bytes]) -> bool:
        """Makes the row of a recording and the partitions that its lines go to, if a header is its own."""
        for line in headers:
            header = _own_header(key, line)
            if header is None:
                continue
            said, month = about(header), month_of(header.began)
            make_partitions(self._connection, month)
            values = (month, first_chain(line), moment(said.began), said.job, said.grinder, said.wheel)
            self._connection.execute(
                "INSERT INTO store.recordings (machine, name, header, month, chain, began, job, grinder,"
                " wheel, nominal, program, simulated)"
                " VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s) ON CONFLICT DO NOTHING",
                (*key, line, *values, said.nominal, said.program, said.simulated),
            )
            return True
        return False

    def _waiting(self, keys: list[Key]) -> dict[Key, list[bytes]]:
        rows = self._connection.execute(
            "SELECT machine, name, line FROM store.waiting"
            " WHERE (machine, name) IN (SELECT * FROM unnest(%s::text[], %s::text[]))",
            ([key[0] for key in keys], [key[1] for key in keys]),
        )
        found: dict[Key, list[bytes]] = {}
        for machine, name, line in rows:
            found.setdefault((machine, name), []).append(bytes(line))
        return found

    def _advance(self, known: Mapping[Key, RecordingRow], grown: Mapping[Key, Admitted]) -> None:
        """Notes how far recordings are held now, in one command: each costs a way there and back."""
        if not grown:
            return
        rows = [
            (known[key].id, *structs.astuple(one.held), at(one.lines[-1][0])) for key, one in grown.items()
        ]
        self._connection.execute(
            "UPDATE store.recordings r SET next = x.next, chain = x.chain, chained = x.chained,"
            " mono = x.mono, ended = x.ended, stored_at = now()"
            " FROM unnest(%s::bigint[], %s::bigint[], %s::text[],"
            " %s::boolean[], %s::bigint[], %s::timestamptz[]) AS x (id, next, chain, chained, mono, ended)"
            " WHERE r.id = x.id",
            tuple(map(list, zip(*rows, strict=True))),
        )
        self._connection.execute(
            "DELETE FROM store.waiting w"
            " USING unnest(%s::text[], %s::text[], %s::bigint[]) AS x (machine, name, next)"
            " WHERE w.machine = x.machine AND w.name = x.name AND w.seq < x.next",
            (
                [key[0] for key in grown],
                [key[1] for key in grown],
                [one.held.next for one in grown.values()],
            ),
        )

    def _wait(self, key: Key, done: Admitted) -> None:
        if not done.ahead:
            return
        with self._connection.cursor() as cursor:
            cursor.executemany(
                "INSERT INTO store.waiting (machine, name, seq, line) VALUES (%s, %s, %s, %s)"
                " ON CONFLICT DO NOTHING",
                [(*key, seq, line) for seq, line in done.ahead],
            )

    def _refuse(self, key: Key, refused: list[tuple[int, bytes, str]]) -> None:
        if not refused:
            return
        there = self._connection.execute(
            "SELECT count(*) FROM store.refused WHERE machine = %s AND name = %s", key
        ).fetchone()
        room = MOST_REFUSED - (there[0] if there is not None else 0)
        with self._connection.cursor() as cursor:
            cursor.executemany(
                "INSERT INTO store.refused (machine, name, seq, why, line) VALUES (%s, %s, %s, %s, %s)"
                " ON CONFLICT DO NOTHING",
                [(*key, seq, clean(why), line) for seq, line, why in refused[: max(room, 0)]],
            )

    def _copy(self, found: list[tuple[RecordingRow, list[tuple[Event, bytes]]]]) -> None:
        """Adds the rows of new events: to the raw lines, and to the table of their kind."""
        if not found:
            return
        with self._connection.cursor() as cursor:
            with cursor.copy(
                "COPY store.lines (month, recording, seq, line) FROM STDIN (FORMAT binary)"
            ) as copy:
                copy.set_types(["date", "int8", "int8", "bytea"])
                for row, lines in found:
                    for event, line in lines:
                        copy.write_row((row.month, row.id, event.seq, line))
            by_table: dict[str, list[tuple[Any, ...]]] = {}
            for row, lines in found:
                for event, _ in lines:
                    made = row_of(event)
                    if made is not None:
                        times = (row.month, row.id, event.seq, at(event), event.at.mono / 1e9)
                        by_table.setdefault(made[0], []).append((*times, *made[1]))
            for table, rows in by_table.items():
                columns = [name for name, _ in TABLES[table]]
                command = sql.SQL("COPY {} (month, recording, seq, at, t, {}) FROM STDIN (FORMAT binary)")
                named = sql.SQL(", ").join(map(sql.Identifier, columns))
                with cursor.copy(command.format(sql.Identifier("store", table), named)) as copy:
                    copy.set_types(
                        [
                            "date",
                            "int8",
                            "int8",
                            "timestamptz",
                            "float8",
                            *(kind for _, kind in TABLES[table]),
                        ]
                    )
                    for values in rows:
                        copy.write_row(values)


def _admitted(row: RecordingRow | None, found: Sorted) -> Admitted:
    """What can be added to a recording; while its header is not there all waits."""
    if row is None:
        return Admitted(Held(HEADER, ""), [], ahead_of(HEADER, found.events), [])
    return admit(row.held, found.events)


def _refused(key: Key, found: Sorted, done: Admitted) -> list[tuple[int, bytes, str]]:
    forged = [line for line in found.header if _own_header(key, line) is None]
    why = "it is not the header of a recording of this name, or of a newer program"
    return [*found.refused, *done.refused, *((HEADER, line, why) for line in forged)]


def _outcome(key: Key, found: Sorted, done: Admitted) -> StoreOutcome:
    missing = done.ahead[0][0] if done.ahead else 0
    whys = tuple(why for _, _, why in _refused(key, found, done))
    return StoreOutcome(done.held.next, done.held.chain, missing, whys)


def _own_header(key: Key, line: bytes) -> Header | None:
    """The header that *line* is, if it is that of the recording so named."""
    try:
        return decode_header(line) if topics.belongs(key[1], line) else None
    except BadLine:
        return None
