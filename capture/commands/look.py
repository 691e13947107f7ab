"""Look at a recording: `summary` and `check`."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from msgspec.structs import replace

from capture.analysis.grind.next_step import beside_of
from capture.analysis.grind.what_if import by_name, played
from capture.analysis.summary import summary
from capture.commands.options import AS_JSON, SETTINGS, recording_argument
from capture.commands.terminal import echo, echo_json
from capture.events import Event
from capture.recording.reader import BadRecording, Recording, read
from capture.recording.repair import check, mend
from capture.report.terminal.summary_text import summary_text
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.sheet.settings import with_setting
from capture.state import replay, session


@click.command("summary")
@recording_argument
@AS_JSON
@click.option("--afresh", "again", is_flag=True, help="Decide again, without the recorded decisions.")
@SETTINGS
def summary_command(recording: Path, as_json: bool, again: bool, settings: tuple[str, ...]) -> int:
    """Report what a recording shows: live, finished or damaged."""
    opened = opened_recording(recording)
    job = with_settings(job_of(opened.header.job), settings)
    counted = _Counted(opened)
    state = replay.redecided_state(job, counted) if again or settings else replay.state_at_end(job, counted)
    beside = beside_of(state)
    if (again or settings) and (game := played(state)) is not None:
        beside["played"] = by_name(game, job.units)
    found = {"recording": _about(opened, state, counted.events), **summary(state), "beside": beside}
    if as_json:
        echo_json(json.dumps(found, allow_nan=False, ensure_ascii=False))
    else:
        echo(summary_text(found, state))
    return 0


def opened_recording(path: Path) -> Recording:
    """The recording at *path*, or a refusal in one line."""
    try:
        return read(path)
    except BadRecording as error:
        raise click.UsageError(str(error)) from None


def with_settings(job: Job, settings: tuple[str, ...]) -> Job:
    """*job* with each ``key=value`` set."""
    for pair in settings:
        key, equals, value = pair.partition("=")
        if not equals:
            raise click.UsageError(f"--set: came {pair!r}, due key=value, such as spark_out.limit=0.0005")
        try:
            job = replace(job, settings=with_setting(job.settings, key.strip(), value.strip()))
        except ValueError as error:
            raise click.UsageError(f"--set: {error}") from None
    return job


class _Counted:
    """The events of a recording, counted as they are read."""

    def __init__(self, opened: Recording) -> None:
        self.events = 0
        self._opened = opened

    def __iter__(self) -> Iterator[Event]:
        self.events = 0
        for events in self._opened.batches():
            self.events += len(events)
            yield from events


def _about(opened: Recording, state: session.State, events: int) -> dict[str, Any]:
    return {
        "path": str(opened.path),
        "began": opened.header.began,
        "events": events,
        "readings": state.kinds.get("reading", 0),
        "garbled": state.kinds.get("garbled", 0),
        "whole": opened.whole,
        "damage": None if opened.damage is None else str(opened.damage),
        "job": state.job.name,
    }


@click.command("check")
@recording_argument
@click.option(
    "--mend", "mending", is_flag=True, help="Move a last line cut by a power failure to a side file."
)
@AS_JSON
def check_command(recording: Path, mending: bool, as_json: bool) -> int:
    """Check a recording line by line: exit status 1 if anything is wrong with it."""
    try:
        if mending:
            mended = mend(recording)
            if not as_json and mended is not None:
                echo(
                    f"{recording}: {mended.moved} bytes of a cut line moved to {mended.to}; "
                    f"{mended.events} events stay"
                )
        found = check(recording)
    except BadRecording as error:
        raise click.UsageError(str(error)) from None
    if as_json:
        rows = [{"line": one.line, "kind": one.kind, "why": one.why} for one in found]
        echo_json(json.dumps({"path": str(recording), "whole": not found, "findings": rows}))
    else:
        for one in found:
            echo(str(one))
        if not found:
            echo(f"{recording}: whole")
    return 1 if found else 0
