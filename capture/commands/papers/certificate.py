"""`certificate`: what a digital calibration certificate says of a master or a gauge."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final, cast

import click
import msgspec

from capture.analysis.calibration_certificate import (
    LARGEST,
    BadCertificate,
    CalibrationCertificate,
    overdue,
    read_certificate,
)
from capture.analysis.calibrations import Calibrated, calibration_rows, sheet_keys
from capture.commands.options import AS_JSON
from capture.commands.sessions import job_at
from capture.commands.terminal import echo, echo_json
from capture.host.disk import read_small, read_small_text
from capture.report.terminal.calibrations_text import calibrations_text
from capture.sheet.faults import BadSheet
from capture.sheet.gauges.gauge import Gauge
from capture.sheet.gauges.keys import with_keys
from capture.sheet.job import Units
from capture.sheet.reader import read_sheet
from capture.text.lengths import size

FINE: Final = 6
"""Decimals of a certified length."""


@click.command("certificate")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option(
    "--due", metavar="DAY", help="When it is due again, as 2027-05-04: the certificate itself does not say."
)
@click.option("--units", type=click.Choice(["mm", "in"]), default="mm", show_default=True, help="Of the job.")
@click.option(
    "--sheet",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="Write it onto this job sheet, under --gauge.",
)
@click.option("--gauge", default="", help="With --sheet: the gauge.")
@click.option(
    "--of",
    type=click.Choice(["master", "gauge"]),
    default="master",
    show_default=True,
    help="With --sheet: whether it is of the gauge's master or of the gauge itself.",
)
@click.option("--length", type=int, default=0, help="With --sheet: which length of the certificate, from 1.")
@AS_JSON
def certificate_command(
    file: Path,
    due: str | None,
    units: str,
    sheet: Path | None,
    gauge: str,
    of: str,
    length: int,
    as_json: bool,
) -> int:
    """Read a digital calibration certificate (XML), or list the calibrations of a job sheet (.toml).

    Of a certificate: its lengths with their uncertainty, its dates, and what to say when a gauge is set on
    that master; --sheet writes it onto a job sheet. Signature and schema are not checked. Exit status 1
    where something is overdue.
    """
    if file.suffix.lower() == ".toml":
        return _list(file, as_json=as_json)
    try:
        if due is not None:
            date.fromisoformat(due)
        found = read_certificate(read_small(file, LARGEST))
    except BadCertificate as error:
        raise click.UsageError(f"{file}: {error}") from None
    except ValueError:
        raise click.UsageError(f"--due: came {due!r}, due a day such as 2027-05-04") from None
    except OSError as error:
        raise click.UsageError(f"{file}: cannot be read: {error.strerror or error}") from None
    if sheet is not None:
        return _write(found, sheet, gauge, cast("Calibrated", of), due, length)
    late = overdue(due, _today())
    if as_json:
        plain = msgspec.to_builtins(found) | {"due": due, "overdue": late}
        echo_json(msgspec.json.encode(plain).decode())
    else:
        echo(_text(found, due, cast("Units", units), late=late))
    return 1 if late else 0


def _today() -> date:
    return datetime.now(UTC).date()


def _list(sheet: Path, *, as_json: bool) -> int:
    """Every calibration that the job of a sheet rests on."""
    job = job_at(sheet, ())
    rows = calibration_rows(job, _today())
    if as_json:
        echo_json(json.dumps({"job": job.name, "calibrations": rows}, ensure_ascii=False))
    else:
        echo(calibrations_text(rows, job.units))
    return 1 if any(row["state"] == "overdue" for row in rows) else 0


def _write(
    found: CalibrationCertificate, sheet: Path, name: str, of: Calibrated, due: str | None, length: int
) -> int:
    """Writes what a certificate says onto a sheet, as far as it then is one."""
    job = job_at(sheet, ())
    gauge = job.gauge(name)
    if gauge is None:
        names = ", ".join(one.name for one in job.gauges) or "none"
        raise click.UsageError(f"--gauge: came {name!r}, due one of the sheet: {names}")
    if not (0 <= length <= len(found.lengths)) or (of == "master" and not length and len(found.lengths) != 1):
        raise click.UsageError(f"--length: due which of the {len(found.lengths)} lengths, from 1")
    chosen = found.lengths[length - 1] if length else next(iter(found.lengths), None)
    keys = sheet_keys(found, chosen, of, due, gauge, job.units)
    try:
        text = with_keys(read_small_text(sheet), name, keys)
        read_sheet(text, str(sheet))
        draft = sheet.with_name(f".{sheet.name}.new")
        draft.write_text(text, "utf-8")
        draft.replace(sheet)
    except BadSheet as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{sheet}: cannot be written: {error.strerror or error}") from None
    said = ", ".join(f"{key} = {value}" for key, value in keys.items())
    echo(f"{sheet}: {name}: {said}")
    return 1 if overdue(due, _today()) else 0


def _text(found: CalibrationCertificate, due: str | None, units: Units, *, late: bool) -> str:
    lines = [f"Certificate {found.number or 'without a number'} of {found.item or 'an item without a name'}"]
    lines[0] += f" ({', '.join(found.marks)})" if found.marks else ""
    lines.append(
        f"calibrated {found.performed or 'on a day not given'}, issued {found.issued or 'not given'}"
    )
    lines.append(
        f"OVERDUE since {due}"
        if late
        else f"due {due}"
        if due
        else "due: not given; the sheet has a key for it"
    )
    for one in found.lengths:
        name, value = one.name or "length", size(one.value, units, FINE)
        if one.u is None or one.expanded is None:
            lines.append(f"{name}: {value}, without an uncertainty")
            continue
        expanded, u = size(one.expanded, units, FINE), size(one.u, units, FINE)
        words = f"master GAUGE {value.split()[0]} {u.split()[0]}"
        lines.append(f"{name}: {value}, U {expanded} (k = {one.k:g}), u {u}; on this master say {words}")
    lines += _sheet_lines(found, due)
    if not found.lengths:
        lines.append("no length is in it that can be read")
    lines.append("signed; the signature was not checked" if found.signed else "not signed")
    return "\n".join(lines)


def _sheet_lines(found: CalibrationCertificate, due: str | None) -> list[str]:
    """What to write under the gauge on the sheet: of the one length of a master, in mm."""
    certain = [one for one in found.lengths if one.u is not None]
    if len(certain) != 1:
        return []
    keys = sheet_keys(found, certain[0], "master", due, Gauge(name="", measures="diameter", link={}), "mm")
    lines = [f"  {key} = {json.dumps(value, ensure_ascii=False)}" for key, value in keys.items()]
    return ["on a sheet in mm, under the gauge that is set on it:", *lines]
