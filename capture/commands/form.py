"""Form of a part that turned under gauges: `roundness`."""

from __future__ import annotations

import json
from pathlib import Path

import click

from capture.analysis.roundness_findings import roundness_rows
from capture.commands.look import with_settings
from capture.commands.options import AS_JSON, SETTINGS, recording_argument
from capture.commands.sessions import opened
from capture.commands.terminal import echo
from capture.report.terminal.roundness_text import roundness_text


@click.command("roundness")
@recording_argument
@AS_JSON
@SETTINGS
def roundness_command(recording: Path, as_json: bool, settings: tuple[str, ...]) -> int:
    r"""Say how round a part is: its lobes, and those that the set-up cannot see.

    A part turns between centres, in a V or under two points while a gauge reads; words during the session
    say how:

    \b
    round shaft 140 v90 dial rpm=40   it turns in a V of 90 degrees under the gauge dial
    turn                              its mark comes by (a pedal, each turn); or turn 30: it rests at 30
    degrees mask 40 58                        there is a keyway between these angles round done
    it turns no longer
    """
    session = opened(recording)
    job = with_settings(session.state.job, settings)
    rows = roundness_rows(session.state, job, "mm" if as_json else job.units)
    if as_json:
        click.echo(json.dumps({"job": job.name, "places": rows}, allow_nan=False, ensure_ascii=False))
    else:
        echo(roundness_text(rows, job.units))
    return 0
