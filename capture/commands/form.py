"""Form of a part that turned under gauges, and chatter: `roundness` and `chatter`."""

from __future__ import annotations

import json
from pathlib import Path

import click
import numpy as np

from capture.analysis.grind.chatter_findings import findings, speeds_of
from capture.analysis.roundness.roundness_findings import roundness_rows
from capture.commands.look import opened_recording, with_settings
from capture.commands.options import AS_JSON, SETTINGS, recording_argument
from capture.commands.sessions import opened
from capture.commands.terminal import echo, echo_json
from capture.events import Reading
from capture.report.terminal.chatter_text import chatter_text
from capture.report.terminal.roundness_text import roundness_text
from capture.sheet.reader import job_of


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
        echo_json(json.dumps({"job": job.name, "places": rows}, allow_nan=False, ensure_ascii=False))
    else:
        echo(roundness_text(rows, job.units))
    return 0


@click.command("chatter")
@recording_argument
@AS_JSON
@click.option("--gauge", "name", help="Whose stream; without it the gauge with the most readings of length.")
@click.option(
    "--wheel", type=click.FloatRange(1, 60_000), help="Turns a minute of the wheel, for the sheet's."
)
@click.option("--work", type=click.FloatRange(0.1, 3000), help="Turns a minute of the work, for the sheet's.")
@click.option("--drive", "drives", multiple=True, metavar="NAME=RPM", help="A belt, motor or pump.")
@click.option("--from", "start", type=float, default=0.0, help="Look from this second of the recording on.")
@click.option("--to", "stop", type=float, help="Look up to this second.")
def chatter_command(
    recording: Path,
    as_json: bool,
    name: str | None,
    wheel: float | None,
    work: float | None,
    drives: tuple[str, ...],
    start: float,
    stop: float | None,
) -> int:
    """Find chatter in a gauge's stream: frequency, lobes, likely cause, and every alias of it."""
    opened_one = opened_recording(recording)
    job = job_of(opened_one.header.job)
    streams: dict[str, tuple[list[float], list[float]]] = {}
    for event in opened_one:
        fact, at = event.fact, event.at.seconds
        if isinstance(fact, Reading) and fact.unit == "mm" and at >= start and (stop is None or at <= stop):
            stream = streams.setdefault(event.source, ([], []))
            stream[0].append(at)
            stream[1].append(fact.value)
    chosen = name or max(streams, key=lambda one: len(streams[one][0]), default="")
    if chosen not in streams:
        known = ", ".join(streams) or "none"
        raise click.UsageError(f"--gauge: came {chosen!r}, due one whose readings are in it: {known}")
    speeds = speeds_of(job, wheel, work, dict(_drive(one) for one in drives))
    times, values = (np.array(one) for one in streams[chosen])
    try:
        found = findings(chosen, times, values, speeds)
    except ValueError as error:
        raise click.UsageError(f"{recording}: {chosen}: {error}") from None
    if as_json:
        echo_json(json.dumps(found, allow_nan=False))
    else:
        echo(chatter_text(found, job.units))
    return 0


def _drive(pair: str) -> tuple[str, float]:
    name, equals, text = pair.partition("=")
    try:
        rpm = float(text)
    except ValueError:
        rpm = 0.0
    if not equals or not name or not 0 < rpm <= 60_000:
        raise click.UsageError(f"--drive: came {pair!r}, due NAME=RPM, such as belt=640")
    return name, rpm
