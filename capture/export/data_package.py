"""The results of a job as a Tabular Data Package: CSV files and a descriptor that says what each column is.

The specification is open (Data Package and Table Schema, version 1: https://specs.frictionlessdata.io/);
a unit stands beside its column as a UCUM code, in a property `unit` of our own, for which it leaves room.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import zipfile
from collections.abc import Sequence
from typing import Any, Final

from capture.export.files import as_text
from capture.export.package_tables import PackagedRecording, PackageTable
from capture.export.tables import Column

TYPES: Final = {
    "int64": "integer",
    "float64": "number",
    "string": "string",
    "bool": "boolean",
    "date": "date",
}
"""Types of Table Schema."""
BEGINNING: Final = (1980, 1, 1, 0, 0, 0)
"""Of every file in the archive, so that the same results give the same bytes."""


def data_package(
    title: str,
    tables: Sequence[PackageTable],
    recordings: Sequence[PackagedRecording],
    *,
    program: str,
    written: str,
) -> bytes:
    """A ZIP archive with ``datapackage.json`` and a CSV file for each table.

    Args:
        title: Name of the job.
        tables: What `package_tables` made.
        recordings: That they rest on.
        program: Name and version of this program.
        written: When, ISO 8601 in UTC.
    """
    files = {f"{one.name}.csv": _csv(one) for one in tables}
    descriptor = {
        "profile": "tabular-data-package",
        "name": _name(title),
        "title": title,
        "description": f"Results of a sliding fit, written by {program}. Lengths in mm, temperatures in °C.",
        "created": written,
        "sources": [{"title": f"{one.name}, SHA-256 {one.sha256}", "path": one.name} for one in recordings],
        "resources": [_resource(one, files[f"{one.name}.csv"]) for one in tables],
    }
    text = json.dumps(descriptor, ensure_ascii=False, allow_nan=False, indent=2) + "\n"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, body in {"datapackage.json": text.encode(), **files}.items():
            entry = zipfile.ZipInfo(name, BEGINNING)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, body)
    return out.getvalue()


def _name(title: str) -> str:
    """A name as the specification has it: small letters, digits, ``-`` and ``.``."""
    return re.sub(r"[^a-z0-9.]+", "-", title.lower()).strip("-.") or "job"


def _resource(table: PackageTable, body: bytes) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "fields": [_field(column, required=column.name in table.key) for column in table.columns],
        "missingValues": [""],
    }
    if table.key:
        schema["primaryKey"] = list(table.key)
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "title": table.title,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(body),
        "hash": f"sha256:{hashlib.sha256(body).hexdigest()}",
        "schema": schema,
    }


def _field(column: Column, *, required: bool) -> dict[str, Any]:
    field: dict[str, Any] = {
        "name": column.name,
        "type": TYPES[column.kind],
        "description": column.text,
    }
    if column.unit:
        field["unit"] = column.unit
    constraints: dict[str, Any] = {"required": True} if required else {}
    if column.name == "u" or column.name.startswith("u_"):
        constraints["minimum"] = 0
    return {**field, "constraints": constraints} if constraints else field


def _csv(table: PackageTable) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([column.name for column in table.columns])
    for row in table.rows:
        writer.writerow([_cell(row[column.name]) for column in table.columns])
    return out.getvalue().encode()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value) if isinstance(value, float) else str(as_text(value))
