"""The fit and the plan of the recording that is shown, with the other part from beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from capture.events import Part
from capture.folds.desk import State
from capture.folds.fit import Asked, fit
from capture.folds.measured import CannotSay, Measured, measured
from capture.folds.plan import plan
from capture.folds.stations import Warmth
from capture.journal import BadRecording, read
from capture.sheet import Job
from capture.sheet_reader import job_of
from dashboard.shelf import Opened, Shelf, TooLarge

PARTS: tuple[Part, ...] = ("bore", "shaft")


class Sources(Struct, frozen=True):
    """Where the readings of both parts come from."""

    job: Job
    found: tuple[Measured | None, Measured | None]
    """The bore and the shaft."""
    shop: dict[str, Warmth]
    """The newest temperature of each place."""
    said: tuple[str, ...]
    """Why a recording or a part was passed over."""

    @property
    def bore(self) -> Measured | None:
        """The bore, where it was measured."""
        return self.found[0]


def sources(state: State, name: str, shelf: Shelf) -> Sources:
    """Bore and shaft of the recording *name* as it stands in *state*; a part that it lacks from beside it.

    Args:
        state: Of the recording that is shown.
        name: Its file name.
        shelf: The folder; of its recordings those of the same job are looked into.
    """
    said: list[str] = []
    beside: list[Opened] | None = None
    parts: list[Measured | None] = []
    heat = dict(state.warmth)
    for part in PARTS:
        found = _of(state, part, state.job, name, said)
        if found is None and not any(one.part == part for one in state.stations.taken):
            beside = _beside(state.job, name, shelf, said) if beside is None else beside
            found = _newest(beside, part, state.job, said)
        parts.append(found)
    for session in beside or ():
        for place, warmth in session.state.warmth.items():
            if place not in heat or warmth.at.wall > heat[place].at.wall:
                heat[place] = warmth
    return Sources(state.job, (parts[0], parts[1]), heat, tuple(said))


def _of(state: State, part: Part, job: Job, name: str, said: list[str]) -> Measured | None:
    try:
        return measured(state, part, job, source=name)
    except CannotSay as error:
        said.append(f"{name}: {error}")
        return None


def _beside(job: Job, name: str, shelf: Shelf, said: list[str]) -> list[Opened]:
    """The other recordings of this job; one that cannot be read is passed over, and said."""
    found = []
    for other, path in shelf.recordings().items():
        if other == name:
            continue
        try:
            if job_of(read(path).header.job).name == job.name:
                found.append(shelf.opened(other))
        except (BadRecording, TooLarge) as error:
            said.append(f"passed over: {error}")
    return found


def _newest(beside: Sequence[Opened], part: Part, job: Job, said: list[str]) -> Measured | None:
    holding = [(at, each) for each in beside if (at := each.newest(part)) is not None]
    if not holding:
        return None
    _, session = max(holding, key=lambda pair: pair[0])
    return _of(session.state, part, job, session.path.name, said)


def fit_of(found: Sources) -> dict[str, Any]:
    """The fit as plain data, with what was passed over among its conditions."""
    bore, shaft = found.found
    judged = fit(found.job, bore, shaft, Asked(shop=found.shop))
    return judged | {"conditions": [*judged["conditions"], *found.said]}


def plan_of(found: Sources, job: Job) -> dict[str, Any]:
    """The plan as plain data, by *job*, which may differ from the sheet in what is tried."""
    planned = plan(job, found.bore)
    return planned | {"conditions": [*planned["conditions"], *found.said]}
