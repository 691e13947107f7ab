"""Tables written into files: CSV, Parquet, JSON."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from msgspec import to_builtins

from capture.export.tables import COLUMNS, FORMAT, What

KINDS = {"int64": "Int64", "float64": "Float64", "string": "string", "bool": "boolean"}
_NUMBER: Final = re.compile(r"[+-]?[0-9.]+")


def write(path: Path, what: What, rows: Sequence[Mapping[str, Any]], about: Mapping[str, str]) -> None:
    """Write a table by the file's ending: ``.csv``, ``.parquet`` or ``.json``.

    Args:
        path: The file.
        what: Which table.
        rows: Its rows.
        about: Program, recording and its SHA-256; kept in Parquet and JSON, for which CSV has no place.

    Raises:
        OSError: It cannot be written.
        ValueError: The ending is none of these.
    """
    writers = {".csv": _csv, ".parquet": _parquet, ".json": _json}
    if path.suffix.lower() not in writers:
        raise ValueError(f"{path.name}: due a name that ends in {', '.join(writers)}")
    writers[path.suffix.lower()](path, what, rows, about)


def _json(path: Path, what: What, rows: Sequence[Mapping[str, Any]], about: Mapping[str, str]) -> None:
    document = {
        "format": FORMAT,
        "table": what,
        **about,
        "columns": to_builtins(COLUMNS[what]),
        "rows": list(rows),
    }
    path.write_text(json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n", "utf-8")


def _csv(path: Path, what: What, rows: Sequence[Mapping[str, Any]], _about: Mapping[str, str]) -> None:
    frame = _frame(what, [{key: as_text(value) for key, value in row.items()} for row in rows])
    frame.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")


def as_text(value: Any) -> Any:
    """*value*, with a quote before text that a spreadsheet would take for a formula; numbers stay numbers."""
    if not isinstance(value, str) or not value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return value
    return value if _NUMBER.fullmatch(value) else f"'{value}"


def _parquet(path: Path, what: What, rows: Sequence[Mapping[str, Any]], about: Mapping[str, str]) -> None:
    import pyarrow as pa  # noqa: PLC0415 - heavy, and only Parquet needs it
    import pyarrow.parquet as pq  # noqa: PLC0415 - as above

    table = pa.Table.from_pandas(_frame(what, rows), preserve_index=False)
    fields = [
        field.with_metadata({"unit_ucum": column.unit, "description": column.text})
        for field, column in zip(table.schema, COLUMNS[what], strict=True)
    ]
    schema = pa.schema(
        fields, metadata={**(table.schema.metadata or {}), "format": FORMAT, "table": what, **about}
    )
    pq.write_table(table.cast(schema), path)


def _frame(what: What, rows: Sequence[Mapping[str, Any]]) -> Any:
    import pandas as pd  # noqa: PLC0415 - heavy, and only files of tables need it

    columns = COLUMNS[what]
    frame = pd.DataFrame([dict(row) for row in rows], columns=[column.name for column in columns])
    return frame.astype({column.name: KINDS[column.kind] for column in columns})
