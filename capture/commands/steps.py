"""`steps`: the steps beside the measuring, what is open, and what is usual for wheel, work and lap."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from capture.analysis.steps.job_steps import steps_of
from capture.analysis.steps.plating_plan import plan
from capture.analysis.steps.setup_runout import runouts_of
from capture.commands.fit import asked, fit_of
from capture.commands.options import AS_JSON, SETTINGS
from capture.commands.sessions import job_at, opened, part_of, sessions_of
from capture.commands.terminal import echo_json
from capture.report.terminal.steps_text import steps_text
from capture.sessions import Opened
from capture.sheet.job import Job, Units
from capture.state.session import start
from capture.state.strip_target import plating_of


@click.command("steps")
@click.argument(
    "source", metavar="JOB|RECORDING", type=click.Path(path_type=Path, dir_okay=False, exists=True)
)
@AS_JSON
@SETTINGS
def steps_command(source: Path, as_json: bool, settings: tuple[str, ...]) -> int:
    """List open steps, and usual figures for wheel, work, heat treatment and lap.

    Of a sheet, by the newest recording beside it. Exit status 1 where something must not go on: a wheel over
    its marked speed, or a check that was found not ok.
    """
    if source.suffix.lower() == ".toml":
        job = job_at(source, settings)
        sessions = sessions_of((), source, job)
    else:
        sessions = [opened(source)]
        job = sessions[0].state.job
    newest = max(sessions, key=lambda each: each.recording.header.began, default=None)
    state = start(job) if newest is None else newest.state
    units: Units = "mm" if as_json else job.units
    clearance, planned = _clearance(job, sessions, units), _planned(job, sessions, units)
    found = steps_of(state, job, clearance, planned, units=units)
    echo_json(
        json.dumps(found, allow_nan=False, ensure_ascii=False) if as_json else steps_text(found, job.units)
    )
    wrong = any(one["result"] == "not ok" for one in found["checks"])
    return 1 if wrong or found["work"]["too_fast"] is not None else 0


def _planned(job: Job, sessions: list[Opened], units: Units) -> dict[str, Any] | None:
    """What a run-out is held against; None where none was read or nothing is plated."""
    if plating_of(job) is None or not any(runouts_of(each.state, job) for each in sessions):
        return None
    found = part_of(sessions, "bore", job, (), ())
    bore = None if found is None else found[1]
    return plan(job, bore, [each.state for each in sessions], units=units)


def _clearance(job: Job, sessions: list[Opened], units: Units) -> dict[str, Any] | None:
    """What a fit gives to hold a trial assembly against; None where there is none yet."""
    if not any(len(each.state.steps.tries) for each in sessions):
        return None
    found: dict[str, Any] | None = fit_of(
        job, sessions, (), (), asked(sessions, (), (), one_master=False), units
    )["clearance"]
    return found
