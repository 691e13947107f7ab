"""The steps beside the measuring as plain data, lengths in mm: what ``steps --json`` prints.

Set-up, wheel and work, relief and bake, lapping, how the part is held, trial assemblies, pictures; and what
is still open or has to be asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any, Final

from msgspec import to_builtins

from capture.analysis.calibrations import calibration_rows
from capture.analysis.grind.headline import headline
from capture.analysis.grind.wheel_and_work import wheel_and_work
from capture.analysis.steps.clamping import clamp_questions
from capture.analysis.steps.lapping_progress import laps_of, next_lap
from capture.analysis.steps.setup_runout import setup_runout
from capture.analysis.steps.trial_assembly import tries_beside
from capture.events import Checked, Event, Picture
from capture.metrology.grinding.wheel.wheel_and_work import Cut
from capture.metrology.message import Message, message, small, thickness
from capture.metrology.plating.relief import HeatTreatment, heat_treatment
from capture.sheet.job import Job, Units
from capture.state.session import State
from capture.state.steps.step_words import CHECKS
from capture.state.strip_target import before_plating, plating_of
from capture.text.catalogue import sentence, sentences

SETUP: Final = ("centres", "dog", "wheel", "guard", "coolant-flow")
"""Checked before the first pass; mandrel and steady rest where there is one (common practice, no source)."""
AGAIN: Final = ("centres", "dog")
"""Looked at once more before the part is taken off (common practice, no source)."""
AT_THE_END: Final = ("sparked-out", "at-size")
"""Verdicts after which the part is done or nearly."""
FORCE: Final = 10.0
"""N of the wheel against the work, for how far it bends: an estimate for light passes, no source."""


def steps_of(
    state: State,
    job: Job | None = None,
    clearance: Mapping[str, Any] | None = None,
    planned: Mapping[str, Any] | None = None,
    *,
    units: Units = "mm",
) -> dict[str, Any]:
    """Everything beside the measuring.

    Args:
        state: At the end of a recording, or of a job that has not begun.
        job: The sheet to go by; None for the recording's own.
        clearance: As ``fit --json`` has it, where a fit can be worked out.
        planned: As ``plan --json`` has it, where the sheet has plating: what a run-out costs in chromium.
        units: Of the sentences.
    """
    job = job or state.job
    stage = state.stations.stage
    shaft = shaft_stage(state)
    treated = None if job.shaft is None else heat_treatment(job.shaft.strength, job.shaft.hardness)
    work = wheel_and_work(job, stage=shaft, infeed=_newest_infeed(state), cut=cut_of(state), units=units)
    runout = setup_runout(state, job, planned, units)
    return {
        "stage": stage,
        "open": sentences(open_steps(state, job, work, treated, runout), units),
        "checks": [_check(what, state.steps.newest.get(what)) for what in CHECKS],
        "runout": runout,
        "work": work,
        "treatment": None if treated is None else to_builtins(treated),
        "lap": _lap(state, units),
        "laps": [
            {"seq": event.seq, "t": event.at.seconds, "strokes": lap.strokes, "minutes": lap.minutes}
            for event, lap in laps_of(state)
        ],
        "clamp": state.stations.clamp,
        "tries": tries_beside(state.steps.tries, clearance, units),
        "pictures": [_picture(event) for event in state.steps.pictures],
    }


def shaft_stage(state: State) -> str | None:
    """The stage that the shaft is in; while the bore is lapped, that in which the shaft was last measured."""
    stage = state.stations.stage
    if stage is None or "lap" not in stage.lower():
        return stage
    return next((one.stage for one in reversed(state.stations.taken) if one.part == "shaft"), None)


def cut_of(state: State) -> Cut:
    """Rough while more than the coach's last stock stands; where the stock is not known, by the stage."""
    advice = state.grind.coaching
    stock = None if advice is None else advice.landing.stock
    if stock is not None:
        return "rough" if stock > state.job.settings.coach.last_stock else "finish"
    return "rough" if (state.stations.stage or "").lower() == "rough" else "finish"


def _newest_infeed(state: State) -> float | None:
    """Of the newest pass that was fed, mm on diameter; passes without infeed after it are rests."""
    row = state.grind.row
    rows = (*state.grind.rows, *(() if row is None else (row,)))
    return next((one.infeed for one in reversed(rows) if one.infeed), None)


def open_steps(
    state: State,
    job: Job,
    work: Mapping[str, Any],
    treated: HeatTreatment | None,
    runout: Mapping[str, Any],
) -> list[Message]:
    """What is still to be done, and what has to be asked, the weightiest first."""
    return [
        *_wheel(work),
        *_found_wrong(state.steps.newest),
        *_setup(state, job),
        *_runout(state, job, runout),
        *_plating(state, job, treated),
        *_washing(state),
        *_overdue(state, job),
        *clamp_questions(state),
    ]


def _wheel(work: Mapping[str, Any]) -> Iterator[Message]:
    if work["too_fast"] is not None:
        yield message("ask.too-fast", times=work["too_fast"])
    slender = work["slender"]
    if slender is not None and slender["due"]:
        yield message("ask.steady", ratio=slender["ratio"], bends=small(FORCE * slender["bends"]))


def _found_wrong(newest: Mapping[str, Event]) -> Iterator[Message]:
    for what, event in newest.items():
        if isinstance(event.fact, Checked) and event.fact.result == "not ok":
            text = f" ({event.fact.text})" if event.fact.text else ""
            yield message("ask.not-ok", what=what, text=text)


def _setup(state: State, job: Job) -> Iterator[Message]:
    """Only of a job with a grinder, and until it is said or the first pass is long made."""
    due = (*SETUP, *(("steady-rest",) if job.work is not None and job.work.steady_rest else ()))
    missing = [what for what in due if what not in state.steps.newest]
    if job.grinder is not None and missing:
        yield message("ask.setup", open=", ".join(one.replace("-", " ") for one in missing))


def _runout(state: State, job: Job, runout: Mapping[str, Any]) -> Iterator[Message]:
    """Of chromium alone: before the first pass on it, and again when it is ground."""
    stage = shaft_stage(state)
    if job.grinder is None or plating_of(job) is None or stage is None or before_plating(stage):
        return
    ground = state.stations.passes > state.steps.passes_before
    worst = runout["worst"]
    if not ground and not any(one["of"] == "plated" for one in runout["rows"]):
        yield message("ask.runout")
    if not ground and worst is not None and not worst["enough"]:
        left, wanted = thickness(round(worst["left"], 4)), thickness(worst["wanted"])
        yield message("ask.runout-thin", left=left, wanted=wanted)
    if ground and headline(state).verdict in AT_THE_END:
        yield from _at_the_end(state, runout)


def _at_the_end(state: State, runout: Mapping[str, Any]) -> Iterator[Message]:
    made = state.grind.row
    since = -1 if made is None else made.seq
    if not any(one["of"] == "ground" and one["seq"] > since for one in runout["rows"]):
        yield message("ask.runout-end")
    missing = [one for one in AGAIN if one not in state.steps.newest or state.steps.newest[one].seq < since]
    if missing:
        yield message("ask.setup-end", open=", ".join(one.replace("-", " ") for one in missing))


def _plating(state: State, job: Job, treated: HeatTreatment | None) -> Iterator[Message]:
    if plating_of(job) is None:
        return
    newest, stage = state.steps.newest, shaft_stage(state)
    if treated is not None and treated.relief is not None and before_plating(stage):
        if "stress-relief" not in newest:
            yield message("ask.relief")
        return
    if stage is None or before_plating(stage):
        return
    if treated is not None and treated.bake is not None and "bake" not in newest:
        yield message("ask.bake")
    ground = state.grind.row is not None and state.grind.row.number > 0
    if ground and not {"cracks", "burn"} <= newest.keys():
        yield message("ask.cracks")


def _overdue(state: State, job: Job) -> Iterator[Message]:
    """Gauges and masters whose calibration was over when the session's newest event was recorded."""
    if state.at.wall <= 0:
        return
    today = datetime.fromtimestamp(state.at.wall / 1e9, UTC).date()
    for row in calibration_rows(job, today):
        if row["state"] == "overdue":
            what = row["gauge"] if row["of"] == "gauge" else f"the master of {row['gauge']}"
            yield message("ask.overdue", what=what, due=row["due"])


def _washing(state: State) -> Iterator[Message]:
    """After a lap, before the next measurement: washed, then waited."""
    laps = laps_of(state)
    if not laps:
        return
    newest = state.steps.newest
    if "washed" not in newest or newest["washed"].seq < laps[-1][0].seq:
        yield message("ask.washed")
    elif "waited" not in newest or newest["waited"].seq < newest["washed"].seq:
        yield message("ask.waited")


def _check(what: str, event: Event | None) -> dict[str, Any]:
    fact = None if event is None else event.fact
    known = fact if isinstance(fact, Checked) else None
    return {
        "what": what,
        "result": None if known is None else known.result,
        "text": "" if known is None else known.text,
        "seq": None if event is None else event.seq,
        "t": None if event is None else event.at.seconds,
    }


def _picture(event: Event) -> dict[str, Any]:
    fact = event.fact
    known = fact if isinstance(fact, Picture) else Picture("", "", 0)
    return {
        "file": known.file,
        "sha256": known.sha256,
        "size": known.size,
        "text": known.text,
        "seq": event.seq,
        "t": event.at.seconds,
    }


def _lap(state: State, units: Units) -> dict[str, Any] | None:
    """The lap for what is left of the bore; None while nothing of it is measured, or nothing is left."""
    chosen = next_lap(state)
    if chosen is None:
        return None
    return {**to_builtins(chosen), "strokes": sentence(message(chosen.pattern), units)}
