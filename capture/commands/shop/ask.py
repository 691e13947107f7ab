"""Questions in SQL about a folder's recordings."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from capture.commands.options import AS_JSON
from capture.commands.terminal import echo, echo_json


@click.command("ask")
@click.argument("question")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False), default=".")
@AS_JSON
def ask_command(question: str, folder: Path, as_json: bool) -> int:
    """Answer a SELECT over the tables of a folder's recordings: jobs, gauges, readings, taken, passes."""
    from capture.shop.tables.ask import BadQuestion, asked  # noqa: PLC0415 - duckdb

    try:
        answer = asked(question, folder, lambda sentence: echo(sentence, err=True))
    except BadQuestion as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{folder}: the tables cannot be made: {error.strerror or error}") from None
    if as_json:
        rows = [dict(zip(answer.columns, map(_plain, row), strict=True)) for row in answer.rows]
        echo_json(json.dumps(rows, ensure_ascii=False))
        return 0
    echo("\t".join(answer.columns))
    for row in answer.rows:
        echo("\t".join(_shown(value) for value in row))
    return 0


def _plain(value: Any) -> Any:
    """A value as JSON has it."""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float) and not abs(value) < float("inf"):
        return None
    return value if isinstance(value, bool | int | float | str | list | dict | None) else str(value)


def _shown(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="milliseconds")
    return str(value).replace("\t", " ").replace("\n", " ")
