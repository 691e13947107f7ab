"""Questions to a folder of recordings in SQL: read only, over tables that are kept up to date."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import duckdb
from msgspec import Struct

from capture.shop.tables.parquet import tables_of
from capture.shop.tables.rows import VIEWS

_TYPES: Final = {
    "text": "VARCHAR",
    "float8": "DOUBLE",
    "int8": "BIGINT",
    "bool": "BOOLEAN",
    "timestamptz": "TIMESTAMPTZ",
}


class BadQuestion(ValueError):
    """SQL that cannot be answered: why."""


class Answer(Struct, frozen=True):
    """A table: the names of its columns, and its rows."""

    columns: list[str]
    rows: list[tuple[Any, ...]]


def asked(question: str, folder: Path, say: Callable[[str], None]) -> Answer:
    """The answer to *question*, one SELECT over the views of `VIEWS`.

    The SQL reaches no other file, sets nothing and writes nothing.

    Raises:
        BadQuestion: It is no single SELECT, or fails.
        OSError: The tables cannot be written.
    """
    with duckdb.connect() as connection:
        _check(connection, question)
        _lay_views(connection, tables_of(folder, say))
        try:
            found = connection.sql(question)
            if found is None:
                raise BadQuestion("nothing came of it; due a SELECT")
            table = found.to_arrow_table()
        except duckdb.Error as error:
            raise BadQuestion(str(error)) from None
    rows = list(zip(*(column.to_pylist() for column in table.columns), strict=True))
    return Answer(list(table.column_names), rows)


def _check(connection: duckdb.DuckDBPyConnection, question: str) -> None:
    try:
        statements = connection.extract_statements(question)
    except duckdb.Error as error:
        raise BadQuestion(str(error)) from None
    if len(statements) != 1 or statements[0].type != duckdb.StatementType.SELECT:
        raise BadQuestion("due one SELECT: questions read, and change nothing")


def _lay_views(connection: duckdb.DuckDBPyConnection, tables: dict[str, list[Path]]) -> None:
    """The views, and then no way to any file but those behind them."""
    paths: list[str] = []
    for name, files in tables.items():
        columns = ", ".join(f'CAST(NULL AS {_TYPES[kind]}) AS "{column}"' for column, kind in VIEWS[name])
        command = f"CREATE VIEW {name} AS SELECT {columns} WHERE false"
        if files:
            listed = ", ".join(_quoted(str(file)) for file in files)
            command = f"CREATE VIEW {name} AS SELECT * FROM read_parquet([{listed}])"  # noqa: S608 - quoted
        connection.execute(command)
        paths += map(str, files)
    connection.execute(f"SET allowed_paths = [{', '.join(map(_quoted, paths))}]")
    connection.execute("SET enable_external_access = false")
    connection.execute("SET lock_configuration = true")


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
