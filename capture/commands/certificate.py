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
from capture.commands.options import AS_JSON
from capture.commands.terminal import echo
from capture.sheet.job import Units
from capture.text.lengths import size

FINE: Final = 6
"""Decimals of a certified length."""


@click.command("certificate")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option(
    "--due", metavar="DAY", help="When it is due again, as 2027-05-04: the certificate itself does not say."
)
@click.option("--units", type=click.Choice(["mm", "in"]), default="mm", show_default=True, help="Of the job.")
@AS_JSON
def certificate_command(file: Path, due: str | None, units: str, as_json: bool) -> int:
    """Read a digital calibration certificate (XML): its lengths with their uncertainty, and its dates.

    What to say when a gauge is set on that master stands behind each length. Signature and schema are not
    checked. Exit status 1 where it is overdue.
    """
    try:
        if due is not None:
            date.fromisoformat(due)
        if file.stat().st_size > LARGEST:
            raise click.UsageError(f"{file}: too large, due at most {LARGEST} bytes")
        found = read_certificate(file.read_bytes())
    except BadCertificate as error:
        raise click.UsageError(f"{file}: {error}") from None
    except ValueError:
        raise click.UsageError(f"--due: came {due!r}, due a day such as 2027-05-04") from None
    except OSError as error:
        raise click.UsageError(f"{file}: cannot be read: {error.strerror or error}") from None
    late = overdue(due, datetime.now(UTC).date())
    if as_json:
        plain = msgspec.to_builtins(found) | {"due": due, "overdue": late}
        echo(msgspec.json.encode(plain).decode())
    else:
        echo(_text(found, due, cast("Units", units), late=late))
    return 1 if late else 0


def _text(found: CalibrationCertificate, due: str | None, units: Units, *, late: bool) -> str:
    lines = [f"Certificate {found.number or 'without a number'} of {found.item or 'an item without a name'}"]
    lines[0] += f" ({', '.join(found.marks)})" if found.marks else ""
    lines.append(f"calibrated {found.performed or 'on a day not told'}, issued {found.issued or 'not told'}")
    lines.append(
        f"OVERDUE since {due}"
        if late
        else f"due {due}"
        if due
        else "due: not told; the sheet has a key for it"
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
    certain = [one for one in found.lengths if one.expanded is not None and one.k is not None]
    if len(certain) != 1:
        return []
    one = certain[0]
    lines = [
        f"master_size = {one.value:.6f}",
        f"master_expanded = {one.expanded:.6f}",
        f"coverage = {one.k:g}",
    ]
    lines.append(f"master_certificate = {json.dumps(found.number, ensure_ascii=False)}")
    lines += [f'master_due = "{due}"'] if due else []
    return ["on a sheet in mm, under the gauge that is set on it:", *(f"  {line}" for line in lines)]
