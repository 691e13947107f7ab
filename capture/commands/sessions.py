"""The recordings that a command is about: opened, brought to their end, and asked for their parts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from capture import sessions
from capture.analysis.fit.measured_part import CannotSay, Measured, measured
from capture.commands.look import with_settings
from capture.commands.terminal import echo
from capture.events import Instant, Part
from capture.host.disk import read_small_text
from capture.recording.reader import BadRecording, read
from capture.sessions import PARTS, Opened, newest_of
from capture.sheet.faults import BadSheet
from capture.sheet.job import Job
from capture.sheet.reader import job_of, read_sheet
from capture.state.stations import Warmth
from capture.text.catalogue import sentence

HAND = 0.5
"""Standard uncertainty of a temperature entered without one, K (common practice, no source)."""

STAGE = click.option(
    "--stage",
    "stages",
    multiple=True,
    metavar="PART=STAGE",
    help="Take this stage of a part instead of its newest, such as bore=lapped; may be given again.",
)
TEMPERATURE = click.option(
    "--temperature",
    "by_hand",
    multiple=True,
    metavar="PLACE=T[:U]",
    help="Temperature, °C, of bore, shaft, master or gauge where no probe measured it, and its u.",
)


def opened(path: Path) -> Opened:
    """The recording at *path* at its end, or a refusal in one line."""
    try:
        return sessions.opened(path)
    except BadRecording as error:
        raise click.UsageError(str(error)) from None


def job_at(path: Path, settings: tuple[str, ...]) -> Job:
    """The job of a sheet, or a refusal."""
    try:
        job, _ = read_sheet(read_small_text(path), str(path))
    except BadSheet as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{path}: cannot be read: {error.strerror or error}") from None
    return with_settings(job, settings)


def beside(sheet: Path, job: Job) -> list[Opened]:
    """The recordings of this job beside its sheet; one that cannot be read is passed over, aloud."""
    found = []
    for path in sorted(sheet.absolute().parent.glob("*.jsonl")):
        try:
            header = read(path).header
        except BadRecording as error:
            echo(f"tenths: passed over: {error}", err=True)
            continue
        if job_of(header.job).name == job.name:
            found.append(opened(path))
    return found


def sessions_of(recordings: Sequence[Path], sheet: Path, job: Job) -> list[Opened]:
    """The recordings named, else those beside the sheet; reports one that is of another job."""
    if not recordings:
        return beside(sheet, job)
    found = [opened(path) for path in recordings]
    for session in found:
        if session.state.job.name != job.name:
            echo(f"tenths: {session.path}: recorded for the job {session.state.job.name!r}", err=True)
    return found


def part_of(
    among: Sequence[Opened], part: Part, job: Job, stages: Sequence[str] = (), entered: Sequence[str] = ()
) -> tuple[Opened, Measured] | None:
    """The part by the session that has the newest readings of it, and by the stage that is asked for."""
    wanted = _stage_of(stages, part)
    staged = [] if wanted is None else [one for one in among if _has_stage(one, part, wanted)]
    session = newest_of(staged or among, part)
    if session is None:
        return None
    try:
        found = measured(
            session.state, part, job, source=session.path.name, stage=wanted, by_hand=by_hand(entered)
        )
    except CannotSay as error:
        raise click.UsageError(f"{session.path}: {sentence(error.said, job.units)}") from None
    return None if found is None else (session, found)


def _has_stage(session: Opened, part: Part, stage: str) -> bool:
    return any(one.part == part and one.stage == stage for one in session.state.stations.taken)


def _stage_of(stages: Sequence[str], part: Part) -> str | None:
    wanted = None
    for pair in stages:
        name, equals, stage = pair.partition("=")
        if not equals or name not in PARTS:
            raise click.UsageError(f"--stage: came {pair!r}, due bore=STAGE or shaft=STAGE")
        if name == part:
            wanted = stage
    return wanted


def by_hand(entered: Sequence[str]) -> dict[str, Warmth]:
    """Temperatures entered by hand, by place of heat."""
    places = ("bore", "shaft", "master", "gauge")
    found = {}
    for pair in entered:
        place, _, text = pair.partition("=")
        value, colon, u = text.partition(":")
        try:
            warmth = Warmth(float(value), float(u) if colon else HAND, Instant(0, 0))
        except ValueError:
            warmth = None
        if place not in places or warmth is None or not (-50 < warmth.value < 150 and warmth.u >= 0):
            raise click.UsageError(
                f"--temperature: came {pair!r}, due PLACE=T or PLACE=T:U in °C, such as bore=21.5:0.2; "
                f"places are {', '.join(places)}"
            )
        found[place] = warmth
    return found


def shop_of(among: Sequence[Opened], entered: Sequence[str]) -> dict[str, Warmth]:
    """The newest temperature of each place over all sessions; what was entered by hand comes first."""
    return {**sessions.shop_of(one.state for one in among), **by_hand(entered)}
