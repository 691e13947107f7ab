"""Prove a fit: `fit`, `plan` and `study`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from capture import __version__
from capture.analysis.fit.findings import FitQuestion, fit
from capture.analysis.gauge_findings import study
from capture.analysis.steps.plating_plan import plan
from capture.commands.look import with_settings
from capture.commands.options import AS_JSON, SETTINGS, job_argument, recording_argument
from capture.commands.papers.paper_files import now_text, write_paper
from capture.commands.sessions import STAGE, TEMPERATURE, job_at, opened, part_of, sessions_of, shop_of
from capture.commands.terminal import echo, echo_json
from capture.report.order import NoOrder, order_page
from capture.report.terminal.fit_text import fit_text
from capture.report.terminal.plan_text import plan_text
from capture.report.terminal.study_text import study_text
from capture.sessions import PARTS, Opened
from capture.sheet.job import Job, Units

RECORDINGS = click.argument(
    "recordings", nargs=-1, type=click.Path(path_type=Path, dir_okay=False, exists=True)
)
AT = click.option(
    "--at",
    "working",
    multiple=True,
    metavar="T|bore=T,shaft=T",
    help="Also give the clearance at this working temperature, °C; may be given again.",
)
ONE_MASTER = click.option(
    "--common-master",
    "one_master",
    is_flag=True,
    help="Both gauges were set on one and the same master: its error is then the same in both parts.",
)


@click.command("fit")
@job_argument
@RECORDINGS
@AS_JSON
@click.option("--strict", is_flag=True, help="Exit status 1 unless the fit is proven to conform.")
@STAGE
@TEMPERATURE
@AT
@ONE_MASTER
@SETTINGS
def fit_command(
    job: Path,
    recordings: tuple[Path, ...],
    as_json: bool,
    strict: bool,
    stages: tuple[str, ...],
    by_hand: tuple[str, ...],
    working: tuple[str, ...],
    one_master: bool,
    settings: tuple[str, ...],
) -> int:
    """Calculate the clearance at every place where the parts meet.

    Readings of bore and shaft come from RECORDINGS, else from those of the job beside its sheet:
    of each part the session with its newest readings, and of that the newest stage. Without readings
    of both, what can be said before grinding.
    """
    sheet = job_at(job, settings)
    sessions = sessions_of(recordings, job, sheet)
    about = asked(sessions, by_hand, working, one_master=one_master)
    found = fit_of(sheet, sessions, stages, by_hand, about, "mm" if as_json else sheet.units)
    if as_json:
        echo_json(json.dumps(found, allow_nan=False, ensure_ascii=False))
    else:
        echo(fit_text(found, sheet.units))
    proven = found["decision"] is not None and found["decision"]["answer"] == "conforms"
    return 1 if strict and not proven else 0


def fit_of(
    job: Job,
    sessions: list[Opened],
    stages: tuple[str, ...],
    by_hand: tuple[str, ...],
    about: FitQuestion,
    units: Units,
) -> dict[str, Any]:
    """The fit as plain data, by the newest session of each part; its sentences in *units*."""
    bore, shaft = (part_of(sessions, part, job, stages, by_hand) for part in PARTS)
    return fit(job, bore[1] if bore else None, shaft[1] if shaft else None, about, units=units)


def asked(
    sessions: list[Opened], by_hand: tuple[str, ...], working: tuple[str, ...], *, one_master: bool
) -> FitQuestion:
    """What is asked about the fit."""
    return FitQuestion(
        working=tuple(_working(text) for text in working),
        shop=shop_of(sessions, by_hand),
        one_master=one_master,
    )


def _working(text: str) -> dict[str, float]:
    try:
        if "=" not in text:
            return {"bore": float(text), "shaft": float(text)}
        pairs = dict(pair.strip().split("=", 1) for pair in text.split(","))
        return {"bore": float(pairs["bore"]), "shaft": float(pairs["shaft"])}
    except (ValueError, KeyError):
        raise click.UsageError(f"--at: came {text!r}, due a temperature in °C, or bore=T,shaft=T") from None


@click.command("plan")
@job_argument
@click.option(
    "--bore",
    "recording",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="The recording with the measured bore; without it the sheet's fit.bore, else the nominal size.",
)
@click.option(
    "--shaft",
    "shafts",
    multiple=True,
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="A recording with the shaft stripped or plated, to be held against the order; may be given again.",
)
@click.option(
    "--order",
    "out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the order to the plater, FILE.html or FILE.pdf.",
)
@AS_JSON
@STAGE
@TEMPERATURE
@SETTINGS
def plan_command(
    job: Path,
    recording: Path | None,
    shafts: tuple[Path, ...],
    out: Path | None,
    as_json: bool,
    stages: tuple[str, ...],
    by_hand: tuple[str, ...],
    settings: tuple[str, ...],
) -> int:
    """Work out plating and grinding sizes for the measured bore.

    Of the recordings beside the sheet, where neither --bore nor --shaft names one.

    Plating and stripping are for licensed platers: the table is what they are asked for. With recordings of
    the shaft stripped and plated (stages by these names), what came back is measured against it; exit status
    1 where the finish can surely not be reached.
    """
    sheet = job_at(job, settings)
    bore, beside = None, sessions_of((), job, sheet) if recording is None and not shafts else []
    if recording is not None:
        bore = part_of([opened(recording)], "bore", sheet, stages, by_hand)
        if bore is None:
            raise click.UsageError(f"{recording}: no readings of the bore in it, due a measured bore")
    elif any(one.part == "bore" for each in beside for one in each.state.stations.taken):
        bore = part_of(beside, "bore", sheet, stages, by_hand)
    units: Units = "mm" if as_json else sheet.units
    states = [each.state for each in beside] + [opened(path).state for path in shafts]
    found = plan(sheet, bore[1] if bore else None, states, units=units)
    if out is not None:
        _write_order(sheet, found, out)
    if as_json:
        echo_json(json.dumps(found, allow_nan=False, ensure_ascii=False))
    else:
        echo(plan_text(found, sheet.units))
    back = found["received"]
    return 1 if back is not None and back["reachable"] == "no" else 0


def _write_order(job: Job, found: dict[str, Any], out: Path) -> None:
    if out.suffix.lower() not in {".html", ".pdf"}:
        raise click.UsageError(f"--order: came {out.name!r}, due a name that ends in .html or .pdf")
    try:
        text = order_page(job, found, version=__version__, written=now_text())
    except NoOrder as error:
        raise click.UsageError(f"--order: {error}") from None
    write_paper(text, out)
    echo(f"{out}: written", err=True)


@click.command("study")
@recording_argument
@AS_JSON
@SETTINGS
def study_command(recording: Path, as_json: bool, settings: tuple[str, ...]) -> int:
    """Find what a gauge can do: repeatability, bias, several people.

    Readings repeated at one place show repeatability; readings on masters (mark: master) bias, and
    linearity with two sizes or more. For several people say a stage for each round, "study" with the
    person's name and the trial: stage study A 1; stage study B 1; and so on. The places read
    are the parts of the study.
    """
    session = opened(recording)
    job = with_settings(session.state.job, settings)
    found = study(session.state, job)
    if as_json:
        echo_json(json.dumps(found, allow_nan=False, ensure_ascii=False))
    else:
        echo(study_text(found, job.units))
    return 0
