"""Write papers: `report` and `export`."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import click
from msgspec import to_builtins

from capture import __version__
from capture.analysis.fit.findings import fit
from capture.analysis.grind.chatter_findings import chatter_rows
from capture.analysis.steps.plating_plan import plan
from capture.commands.fit import AT, ONE_MASTER, asked
from capture.commands.look import with_settings
from capture.commands.options import SETTINGS
from capture.commands.papers.paper_files import now_text, write_paper
from capture.commands.sessions import STAGE, TEMPERATURE, job_at, opened, part_of, sessions_of
from capture.commands.terminal import echo
from capture.export.data_package import data_package
from capture.export.files import write
from capture.export.package_tables import PackagedRecording, package_tables
from capture.export.tables import COLUMNS, What, rows
from capture.host.disk import open_regular
from capture.recording.pictures import shown_pictures
from capture.recording.repair import chain_of
from capture.report.page import CitedRecording, page
from capture.report.raws import raws_of
from capture.sessions import PARTS, Opened
from capture.sheet.job import Job

OUT = click.option("-o", "--out", required=True, type=click.Path(path_type=Path, dir_okay=False))
NO_QIF = (
    "QIF (ISO 23952) is not written: its results could not be validated against the published schema, which "
    "no package registry carries; due .csv, .parquet or .json, or a data package: tenths report -o FILE.zip"
)


@click.command("report")
@click.argument(
    "sources",
    nargs=-1,
    required=True,
    metavar="JOB|RECORDING…",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
)
@OUT
@STAGE
@TEMPERATURE
@AT
@ONE_MASTER
@SETTINGS
def report_command(
    sources: tuple[Path, ...],
    out: Path,
    stages: tuple[str, ...],
    by_hand: tuple[str, ...],
    working: tuple[str, ...],
    one_master: bool,
    settings: tuple[str, ...],
) -> int:
    """Write the customer's record: FILE.html, FILE.pdf, or as data FILE.zip.

    From a job sheet (.toml) with the recordings beside it, from a sheet and the recordings named, or
    from recordings alone, whose newest sheet then holds. A PDF is printed by a browser found on this
    computer. The data are a Tabular Data Package: CSV files, and datapackage.json with units and meanings.
    """
    kind = out.suffix.lower()
    if kind not in {".html", ".pdf", ".zip"}:
        raise click.UsageError(f"--out: came {out.name!r}, due a name that ends in .html, .pdf or .zip")
    job, sessions = _sources(sources, settings)
    found = [part_of(sessions, part, job, stages, by_hand) for part in PARTS]
    parts = [each for each in found if each is not None]
    bore, shaft = (each[1] if each else None for each in found)
    fitted = fit(job, bore, shaft, asked(sessions, by_hand, working, one_master=one_master), units=job.units)
    cited = list({each.path: each for each in [session for session, _ in parts] or sessions}.values())
    if kind == ".zip":
        _write_package(out, job, cited, fitted)
        return 0
    plating = job.shaft is not None and job.shaft.plating is not None
    plated = plan(job, bore, [each.state for each in sessions], units=job.units) if plating else None
    text = page(
        job,
        [_cited(each) for each in cited],
        fitted,
        [measured for _, measured in parts],
        plated,
        version=__version__,
        written=now_text(),
    )
    write_paper(text, out)
    echo(f"{out}: written")
    return 0


def _write_package(out: Path, job: Job, cited: Sequence[Opened], fitted: Mapping[str, Any]) -> None:
    """Writes the results as data."""
    recordings = [
        PackagedRecording(each.path.name, _sha256(each.path), list(each.recording), each.state)
        for each in cited
    ]
    written = datetime.now(UTC)
    tables = package_tables(job, recordings, fitted, written.date())
    body = data_package(
        job.name,
        tables,
        recordings,
        program=f"tenths {__version__}",
        written=written.isoformat(timespec="seconds").replace("+00:00", "Z"),
    )
    try:
        out.write_bytes(body)
    except OSError as error:
        raise click.UsageError(f"{out}: cannot be written: {error.strerror or error}") from None
    echo(f"{out}: {len(tables)} tables")


def _sources(sources: tuple[Path, ...], settings: tuple[str, ...]) -> tuple[Job, list[Opened]]:
    sheets = [path for path in sources if path.suffix.lower() == ".toml"]
    recordings = [path for path in sources if path not in sheets]
    if len(sheets) > 1:
        raise click.UsageError(f"came {len(sheets)} job sheets, due one")
    if sheets:
        job = job_at(sheets[0], settings)
        return job, sessions_of(recordings, sheets[0], job)
    sessions = [opened(path) for path in recordings]
    newest = max(sessions, key=lambda each: each.recording.header.began)
    return with_settings(newest.state.job, settings), sessions


def _cited(session: Opened) -> CitedRecording:
    header = session.recording.header
    damage = session.recording.damage
    return CitedRecording(
        name=session.path.name,
        began=header.began,
        program=header.program,
        events=session.state.seq + 1,
        sha256=_sha256(session.path),
        chain="" if damage else chain_of(session.path),
        damage="" if damage is None else str(damage),
        state=session.state,
        chatter=chatter_rows(session.recording, session.state.job),
        pictures=shown_pictures(session.path.parent, session.state.steps.pictures),
        raws=raws_of(session.recording, session.state),
    )


def _sha256(path: Path) -> str:
    with os.fdopen(open_regular(path), "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@click.command("export")
@click.argument("recording", required=False, type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option("-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The file to write.")
@click.option(
    "--what",
    type=click.Choice(tuple(COLUMNS)),
    default="stations",
    show_default=True,
    help="Station readings, every reading of every gauge, or passes.",
)
@click.option(
    "--columns", "show", is_flag=True, help="List what each column of the table means; write no file."
)
def export_command(recording: Path | None, out: Path | None, what: str, show: bool) -> int:
    """Write a recording's readings as FILE.csv, FILE.parquet or FILE.json.

    Lengths are millimetres and temperatures degrees Celsius, as the columns' names say; UCUM codes
    stand beside them in Parquet and JSON.
    """
    table = cast("What", what)
    if show:
        echo(_columns(table))
        return 0
    if recording is None or out is None:
        raise click.UsageError("due a recording and -o FILE, or --columns")
    if out.suffix.lower() == ".qif":
        raise click.UsageError(NO_QIF)
    session = opened(recording)
    about = {
        "program": f"tenths {__version__}",
        "recording": recording.name,
        "sha256": _sha256(recording),
        "job": session.state.job.name,
    }
    found = rows(table, session.recording, session.state)
    try:
        write(out, table, found, about)
    except ValueError as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{out}: cannot be written: {error.strerror or error}") from None
    echo(f"{out}: {len(found)} {what}")
    return 0


def _columns(table: What) -> str:
    listed: list[dict[str, Any]] = to_builtins(COLUMNS[table])
    return "\n".join(
        f"{one['name']:24} {one['kind']:8} {one['unit'] or '–':4} {one['text']}" for one in listed
    )
