"""The machine remembered: `machine` shows its file and learns from recordings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
from msgspec import structs

from capture.analysis.grind.machine_memory import (
    Agreement,
    BadMemory,
    agreed,
    agreement,
    key_of,
    learnt,
    memories_of,
    shown,
    text_of,
    with_memory,
)
from capture.commands.options import AS_JSON
from capture.commands.sessions import opened
from capture.commands.terminal import echo, echo_json
from capture.host.disk import read_small_text
from capture.sheet.job import Known

FILE = "machines.toml"
"""Beside the job sheet: what its jobs begin with."""


@click.command("machine")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--learn",
    "recordings",
    multiple=True,
    metavar="RECORDING",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="Add what this recording shows of its machine to FILE; may be given again.",
)
@AS_JSON
def machine_command(file: Path, recordings: tuple[Path, ...], as_json: bool) -> int:
    """Show what earlier jobs recorded of a grinder and its wheel, or learn from a recording.

    A job begins with what stands for its machine and wheel in machines.toml beside its sheet.
    """
    try:
        memories = memories_in(file)
        said = [_learn(memories, recording) for recording in recordings]
    except BadMemory as error:
        raise click.UsageError(str(error)) from None
    if recordings:
        _write(file, text_of(memories))
    if as_json:
        plain = {key: structs.asdict(known) for key, known in memories.items()}
        echo_json(json.dumps({"machines": plain, "learnt": said}, ensure_ascii=False))
        return 0
    for one in said:
        echo(_sentence(one))
    echo(text_of(memories), nl=False)
    return 0


def memories_in(file: Path) -> dict[str, Known]:
    """Every machine in *file*; none where there is no such file.

    Raises:
        BadMemory: It can't be read, or not as a memory.
    """
    try:
        return memories_of(read_small_text(file), str(file)) if file.exists() else {}
    except OSError as error:
        raise BadMemory(f"{file}: cannot be read: {error.strerror or error}") from None


def remembering(plain: dict[str, Any], sheet: Path) -> dict[str, Any]:
    """The sheet with what is remembered of its machine in the file beside it."""
    try:
        return with_memory(plain, memories_in(sheet.with_name(FILE)))
    except BadMemory as error:
        raise click.UsageError(str(error)) from None


def _learn(memories: dict[str, Known], recording: Path) -> dict[str, Any]:
    state = opened(recording).state
    grinder = state.job.grinder
    key = key_of("", "") if grinder is None else key_of(grinder.name, grinder.wheel)
    job = shown(state)
    before = memories.get(key)
    if job is not None:
        memories[key] = learnt(before, job)
    agreed = agreement(before, job) if before is not None and job is not None else ()
    return {
        "recording": str(recording),
        "units": state.job.units,
        "machine": key,
        "learnt": job is not None,
        "agreement": [structs.asdict(one) for one in agreed],
    }


def _sentence(said: dict[str, Any]) -> str:
    if not said["learnt"]:
        return f"{said['recording']}: no pass was judged by its infeed: nothing learnt of {said['machine']}"
    parts = [agreed(Agreement(**one), said["units"]) for one in said["agreement"]]
    return f"{said['recording']}: {said['machine']}: " + ("; ".join(parts) or "the first job of it")


def _write(file: Path, text: str) -> None:
    try:
        file.write_text(text, "utf-8")
    except OSError as error:
        raise click.UsageError(f"{file}: cannot be written: {error}") from None
