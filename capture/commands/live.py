"""Live work: `capture` and `run`."""

from __future__ import annotations

import asyncio
import subprocess
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from capture.commands.look import with_settings
from capture.commands.machine import remembering
from capture.commands.options import AS_JSON, SETTINGS, job_argument
from capture.commands.screen import Serving, serving
from capture.commands.shop.publishing import PublishingBeside
from capture.commands.terminal import echo, echo_json
from capture.host.clock import Clock
from capture.host.disk import read_small_text
from capture.host.parent_watch import tie_to_input
from capture.ingest.daemon import capture
from capture.ingest.instruments import BadInstrument, instruments_of
from capture.ingest.sequencer import engine_of
from capture.ingest.writer_thread import NotWritten
from capture.links.inbox.server import AlreadyRunning, InboxFiles
from capture.recording.opening import CannotRecord, create, resume
from capture.recording.writer import Recorder
from capture.sheet.faults import BadSheet
from capture.sheet.job import Job
from capture.sheet.reader import job_of, read_sheet

OUT = click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The recording to begin or to go on with; else a new one beside the job sheet.",
)


@click.command("capture")
@job_argument
@OUT
@SETTINGS
@AS_JSON
@click.option("--tied", is_flag=True, hidden=True, help="Stop when standard input ends.")
def capture_command(job: Path, out: Path | None, settings: tuple[str, ...], as_json: bool, tied: bool) -> int:
    """Read the gauges of a job sheet into a recording until stopped (Ctrl-C)."""
    if tied:
        tie_to_input()
    ready = _Ready(as_json=as_json)
    return record(job, out, settings, ready.say, tied=tied)


@click.command("run")
@job_argument
@OUT
@SETTINGS
@serving
def run_command(job: Path, out: Path | None, settings: tuple[str, ...], screen: Serving) -> int:
    """Capture a job and show it in the browser, until stopped (Ctrl-C)."""
    beside = Screen(screen)
    try:
        return record(job, out, settings, beside.show)
    finally:
        beside.close()


def record(
    sheet: Path,
    out: Path | None,
    settings: tuple[str, ...],
    on_ready: Callable[[Path, Path], None],
    *,
    tied: bool = False,
) -> int:
    """Capture the job of *sheet*; a wrong request is refused before anything is opened.

    A *tied* capture does not say where its recording is: who started it knows, and may have removed it.
    """
    sheet = sheet.absolute()
    job, plain = sheet_of(sheet, settings)
    publishing = PublishingBeside((out.absolute() if out is not None else sheet).parent)

    def ready(recording: Path, inbox: Path) -> None:
        on_ready(recording, inbox)
        publishing.start()

    try:
        return guarded(lambda: asyncio.run(session(job, plain, sheet, out, ready, said=not tied)))
    finally:
        publishing.close()


async def session(
    job: Job,
    plain: dict[str, Any],
    sheet: Path,
    out: Path | None,
    on_ready: Callable[[Path, Path], None],
    stop: asyncio.Event | None = None,
    *,
    said: bool = True,
) -> None:
    """Capture *job* until stopped, into *out* or a new recording beside the sheet, which is then named."""
    instruments = instruments_of(job, sheet.parent)
    # The lock comes first: a second capture on the folder is refused before it makes a file.
    files = InboxFiles(sheet.parent)
    try:
        recorder, clock = _recorder(out or _new_recording(sheet), plain)
    except BaseException:
        files.close()
        raise
    await capture(
        instruments,
        recorder,
        clock,
        engine_of(job),
        folder=sheet.parent,
        on_ready=on_ready,
        on_trouble=_trouble,
        stop=stop,
        files=files,
    )
    if said:
        echo(f"stopped: {recorder.due} lines in {recorder.path}", err=True)


def guarded(work: Callable[[], None]) -> int:
    """Do *work*; a refusal is one line for a person."""
    try:
        work()
    except (BadInstrument, CannotRecord, AlreadyRunning) as error:
        raise click.UsageError(str(error)) from None
    except NotWritten as error:
        echo(f"tenths: {error}", err=True)
        return 1
    return 0


def job_of_sheet(path: Path) -> Job:
    """The job of a sheet, or a refusal with every fault in it."""
    return sheet_of(path, ())[0]


def sheet_of(path: Path, settings: tuple[str, ...]) -> tuple[Job, dict[str, Any]]:
    """The job of a sheet with *settings* in force, and the sheet as the recording will have it."""
    try:
        _, plain = read_sheet(read_small_text(path), str(path))
    except BadSheet as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{path}: cannot be read: {error.strerror or error}") from None
    plain = remembering(plain, path)
    job = with_settings(job_of(plain), settings)
    for pair in settings:
        group, _, leaf = pair.partition("=")[0].strip().partition(".")
        # What is in force must stand in the recording, or a replay would decide by other limits.
        plain.setdefault("settings", {}).setdefault(group, {})[leaf] = getattr(
            getattr(job.settings, group), leaf
        )
    return job, plain


def _new_recording(sheet: Path) -> Path:
    began = datetime.now().astimezone().strftime("%Y%m%d-%H%M%S")
    path = sheet.with_name(f"{sheet.stem}-{began}.jsonl")
    number = 2
    while path.exists():
        path = sheet.with_name(f"{sheet.stem}-{began}-{number}.jsonl")
        number += 1
    return path


def _recorder(path: Path, plain: dict[str, Any]) -> tuple[Recorder, Clock]:
    clock = Clock.start()
    try:
        there = path.exists()
    except OSError:
        there = False  # what stands in the way is reported when it is created
    if there:
        return resume(path, plain, clock)
    return create(path, plain, clock), clock


def _trouble(sentence: str) -> None:
    echo(sentence or "all is on disk again", err=True)


class _Ready:
    """Says once, in one line, where the recording and the inbox are."""

    def __init__(self, *, as_json: bool) -> None:
        self._as_json = as_json

    def say(self, recording: Path, inbox: Path) -> None:
        if self._as_json:
            import json  # noqa: PLC0415 - used here alone

            echo_json(json.dumps({"recording": str(recording), "inbox": str(inbox)}))
        else:
            echo(f"ready: recording {recording} inbox {inbox}")


class Screen:
    """The screen's process, beside the capture: it may die without harm to what is recorded."""

    def __init__(self, serving: Serving) -> None:
        self._serving = serving
        self._process: subprocess.Popen[bytes] | None = None
        self._closing = False

    def show(self, recording: Path, inbox: Path) -> None:
        """Say that the capture is ready, and start the screen on its recording."""
        _Ready(as_json=False).say(recording, inbox)
        # In a session of its own a Ctrl-C reaches only the capture, which stops the screen last.
        self._process = self._serving.start(recording, "--inbox", str(inbox), apart=True)
        threading.Thread(target=self._watch, args=(self._process, recording), daemon=True).start()

    def _watch(self, process: subprocess.Popen[bytes], recording: Path) -> None:
        status = process.wait()
        if not self._closing:
            echo(
                f"the screen has stopped (status {status}) and the capture goes on: "
                f"show it again with tenths dashboard {recording}",
                err=True,
            )

    def close(self) -> None:
        """Stop the screen."""
        self._closing = True
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            self._process.wait()
