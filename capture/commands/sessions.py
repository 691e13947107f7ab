"""The recordings that a command is about: opened, brought to their end, and asked for their parts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click
from msgspec import Struct

from capture.commands.look import opened_recording, with_settings
from capture.events import Instant, Part
from capture.folds import retold
from capture.folds.desk import State
from capture.folds.measured import CannotSay, Measured, measured
from capture.folds.stations import Warmth
from capture.journal import BadRecording, Recording, read
from capture.sheet import Job
from capture.sheet_reader import BadSheet, job_of, read_sheet

PARTS: tuple[Part, ...] = ("bore", "shaft")
HAND = 0.5
"""Standard uncertainty of a temperature that a person told without one, K (common practice, no source)."""

STAGE = click.option(
    "--stage",
    "stages",
    multiple=True,
    metavar="PART=STAGE",
    help="Take this stage of a part instead of its newest, such as bore=lapped; may be given again.",
)
TEMPERATURE = click.option(
    "--temperature",
    "told",
    multiple=True,
    metavar="PLACE=T[:U]",
    help="Temperature, °C, of bore, shaft, master or gauge where no probe spoke for it, and its u.",
)


class Opened(Struct, frozen=True):
    """A recording brought to its end."""

    path: Path
    recording: Recording
    state: State

    @property
    def newest(self) -> dict[Part, int]:
        """Wall-clock time of the newest reading of each part."""
        return {reading.part: reading.at.wall for reading in self.state.stations.taken}


def opened(path: Path) -> Opened:
    """The recording at *path* at its end, or a refusal in one line."""
    recording = opened_recording(path)
    return Opened(path, recording, retold.end_of(job_of(recording.header.job), recording))


def job_at(path: Path, settings: tuple[str, ...]) -> Job:
    """The job of a sheet, or a refusal."""
    try:
        job, _ = read_sheet(path.read_text("utf-8"), str(path))
    except BadSheet as error:
        raise click.UsageError(str(error)) from None
    except (OSError, UnicodeDecodeError) as error:
        raise click.UsageError(f"{path}: cannot be read: {error}") from None
    return with_settings(job, settings)


def beside(sheet: Path, job: Job) -> list[Opened]:
    """The recordings of this job beside its sheet; one that cannot be read is passed over, aloud."""
    found = []
    for path in sorted(sheet.absolute().parent.glob("*.jsonl")):
        try:
            header = read(path).header
        except BadRecording as error:
            click.echo(f"tenths: passed over: {error}", err=True)
            continue
        if job_of(header.job).name == job.name:
            found.append(opened(path))
    return found


def told_of(recordings: Sequence[Path], sheet: Path, job: Job) -> list[Opened]:
    """The recordings that were named, else those beside the sheet; one of another job is said aloud."""
    if not recordings:
        return beside(sheet, job)
    sessions = [opened(path) for path in recordings]
    for session in sessions:
        if session.state.job.name != job.name:
            click.echo(f"tenths: {session.path}: recorded for the job {session.state.job.name!r}", err=True)
    return sessions


def part_of(
    sessions: Sequence[Opened], part: Part, job: Job, stages: Sequence[str] = (), told: Sequence[str] = ()
) -> tuple[Opened, Measured] | None:
    """The part by the session that has the newest readings of it, and by the stage that is asked for."""
    holding = [each for each in sessions if part in each.newest]
    wanted = _stage_of(stages, part)
    if wanted is not None:
        staged = [one for one in holding if _has_stage(one, part, wanted)]
        holding = staged or holding
    if not holding:
        return None
    session = max(holding, key=lambda each: each.newest[part])
    try:
        found = measured(
            session.state, part, job, source=session.path.name, stage=wanted, by_hand=by_hand(told)
        )
    except CannotSay as error:
        raise click.UsageError(f"{session.path}: {error}") from None
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


def by_hand(told: Sequence[str]) -> dict[str, Warmth]:
    """Temperatures that a person told, by place of heat."""
    places = ("bore", "shaft", "master", "gauge")
    found = {}
    for pair in told:
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


def shop_of(sessions: Sequence[Opened], told: Sequence[str]) -> dict[str, Warmth]:
    """The newest temperature of each place over all sessions."""
    found: dict[str, Warmth] = {}
    for session in sessions:
        for place, warmth in session.state.warmth.items():
            if place not in found or warmth.at.wall >= found[place].at.wall:
                found[place] = warmth
    return {**found, **by_hand(told)}
