"""The fit and the plan of the recording that is shown, with the other part from beside it."""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from capture.analysis.fit.findings import FitQuestion, fit
from capture.analysis.fit.measured_part import CannotSay, Measured, measured
from capture.analysis.steps.plating_plan import plan
from capture.analysis.steps.received_part import plated_alone
from capture.events import Part
from capture.metrology.message import Sentence, message
from capture.recording.reader import BadRecording, read
from capture.sessions import PARTS, Opened, newest_of, shop_of
from capture.sheet.job import Job, Units
from capture.sheet.reader import job_of
from capture.state.session import State
from capture.state.stations import Warmth
from capture.text.catalogue import sentences
from dashboard.sources.recording_library import RecordingLibrary, TooLarge


class Sources(Struct, frozen=True):
    """Where the readings of both parts come from."""

    job: Job
    found: tuple[Measured | None, Measured | None]
    """The bore and the shaft."""
    shop: dict[str, Warmth]
    """The newest temperature of each place."""
    said: tuple[Sentence, ...]
    """Why a recording or a part was passed over."""
    states: tuple[State, ...] = ()
    """Of the recordings that may hold the shaft stripped and plated."""

    @property
    def bore(self) -> Measured | None:
        """The bore, where it was measured."""
        return self.found[0]


def sources(state: State, name: str, library: RecordingLibrary) -> Sources:
    """Bore and shaft of the recording *name* as it stands in *state*; a part that it lacks from beside it.

    Args:
        state: Of the recording that is shown.
        name: Its file name.
        library: The folder; of its recordings those of the same job are looked into.
    """
    remarks: list[Sentence] = []
    beside: list[Opened] | None = None
    parts: list[Measured | None] = []
    for part in PARTS:
        found = _of(state, part, state.job, name, remarks)
        if found is None and not any(one.part == part for one in state.stations.taken):
            beside = _beside(state.job, name, library, remarks) if beside is None else beside
            session = newest_of(beside, part)
            if session is not None:
                found = _of(session.state, part, state.job, session.path.name, remarks)
        parts.append(found)
    if beside is None and plated_alone(state):
        beside = _beside(state.job, name, library, remarks)
    states = (state, *(session.state for session in beside or ()))
    return Sources(state.job, (parts[0], parts[1]), shop_of(states), tuple(remarks), states)


def _of(state: State, part: Part, job: Job, name: str, remarks: list[Sentence]) -> Measured | None:
    try:
        return measured(state, part, job, source=name)
    except CannotSay as error:
        remarks.append(message("measured.from", recording=name, why=error.said))
        return None


def _beside(job: Job, name: str, library: RecordingLibrary, remarks: list[Sentence]) -> list[Opened]:
    """The other recordings of this job; one that cannot be read is passed over, and said."""
    found = []
    for other, path in library.recordings().items():
        if other == name:
            continue
        try:
            if job_of(read(path).header.job).name == job.name:
                found.append(library.opened(other))
        except (BadRecording, TooLarge) as error:
            remarks.append(f"passed over: {error}")
    return found


def fit_of(found: Sources, units: Units) -> dict[str, Any]:
    """The fit as plain data, with what was passed over among its conditions; sentences in *units*."""
    bore, shaft = found.found
    judged = fit(found.job, bore, shaft, FitQuestion(shop=found.shop), units=units)
    return judged | {"conditions": [*judged["conditions"], *sentences(found.said, units)]}


def plan_of(found: Sources, job: Job, units: Units) -> dict[str, Any]:
    """The plan as plain data, by *job*, which may differ from the sheet in what is tried; as `fit_of`."""
    planned = plan(job, found.bore, found.states, units=units)
    return planned | {"conditions": [*planned["conditions"], *sentences(found.said, units)]}
