"""The page of the record: state and findings laid into the template, in the job's own units."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from capture.analysis.fit.masterings import zeros_of
from capture.analysis.fit.measured_part import Measured
from capture.analysis.roundness.roundness_findings import roundness_rows
from capture.analysis.steps.job_steps import steps_of
from capture.analysis.steps.trial_assembly import tries_beside
from capture.analysis.summary import summary
from capture.events import Instant
from capture.metrology.cautions import CAUTIONS
from capture.report.letters import face
from capture.report.plots import clearance_map, passes_plot, profile_plot
from capture.report.raws import Raw
from capture.report.setup_drawing import setup_drawing
from capture.report.shown_passes import HEAD, shown_passes
from capture.report.terminal.chatter_text import chatter_text
from capture.report.terminal.fit_text import cause_text, findings, place_text
from capture.report.terminal.steps_text import WORK_HEAD, treatment_text, work_rows
from capture.sheet.job import Job, Units
from capture.state.session import State
from capture.state.strip_target import plating_of
from capture.text.lengths import size, small, small_band, sure, within
from capture.text.printable import undirected

if TYPE_CHECKING:
    from jinja2 import Environment


class CitedRecording(Struct, frozen=True):
    """A recording as the record cites it."""

    name: str
    began: str
    program: str
    events: int
    sha256: str
    chain: str
    """At the end of it; empty where it is damaged."""
    damage: str
    state: State
    raws: Mapping[int, Raw]
    """Of every reading that a taken one rests on, and of what was set aside, by its number."""
    chatter: Mapping[str, Any] | None = None
    """What `capture.analysis.grind.chatter_findings.chatter_rows` found in its streams."""
    pictures: Mapping[str, str] = {}
    """Of every picture that lies beside it unchanged, its data URI by its file name."""


def page(
    job: Job,
    sessions: Sequence[CitedRecording],
    fit: Mapping[str, Any],
    parts: Sequence[Measured],
    plan: Mapping[str, Any] | None,
    *,
    version: str,
    written: str,
) -> str:
    """One HTML page with its own style and drawings, that refers to nothing outside itself.

    Args:
        job: The job sheet.
        sessions: The recordings that it rests on.
        fit: What `capture.analysis.fit.findings.fit` found.
        parts: The measured parts of that fit.
        plan: What `capture.analysis.steps.plating_plan.plan` found, where the sheet has plating.
        version: Of this program.
        written: When, for a person.
    """
    units = job.units
    made = [event for each in sessions for event in each.state.steps.tries]
    tries = tries_beside(made, fit["clearance"], units)
    return undirected(
        _environment(units)
        .get_template("page.html.jinja")
        .render(
            job=job,
            fit=fit,
            plan=plan,
            sessions=[_session(each, units, fit, plan) for each in sessions],
            profiles=[(each.part, fit[each.part], _profile(each, fit, units)) for each in parts],
            map=_map(fit, units, tries),
            tries=tries,
            cautions=CAUTIONS,
            face=face(),
            pass_head=HEAD,
            version=version,
            written=written,
        )
    )


def _environment(units: Units) -> Environment:
    """The templates beside this module, with filters that write lengths in the job's units."""
    import jinja2  # noqa: PLC0415 - only records need it

    loader = jinja2.PackageLoader("capture.report", ".")
    environment = jinja2.Environment(loader=loader, autoescape=True, undefined=jinja2.StrictUndefined)
    words = _Words(units)
    environment.filters |= {
        "size": words.size,
        "small": words.small,
        "within": words.within,
        "small_band": words.small_band,
        "place": words.place,
        "findings": words.findings,
        "cause": words.cause,
        "instant": utc,
        "clock": clock,
        "sure": sure,
    }
    return environment


class _Words:
    """How the template says lengths, in the job's units."""

    def __init__(self, units: Units) -> None:
        self._units = units

    def size(self, value: float | None, places: int = 4, *, step: float | None = None) -> str:
        return size(value, self._units, places, step=step)

    def small(self, value: float | None, signed: bool = False, *, step: float | None = None) -> str:
        return small(value, self._units, signed=signed, step=step)

    def within(self, value: float | None, *, step: float | None = None) -> str:
        return within(value, self._units, step)

    def small_band(self, ends: Sequence[float], step: float | None) -> str:
        return " and ".join(small_band((ends[0], ends[1]), self._units, step))

    def place(self, place: Mapping[str, float | None]) -> str:
        return place_text(place, self._units)

    def cause(self, row: Mapping[str, Any]) -> str:
        return cause_text(row, self._units)

    def findings(self, row: Mapping[str, Any]) -> list[str]:
        return findings(row, self._units)


def utc(at: Instant) -> str:
    """The wall clock of an instant, ISO 8601 in UTC to the second."""
    return datetime.fromtimestamp(at.wall / 1e9, UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def clock(at: Instant) -> str:
    """The time of day of an instant in UTC, to the second; the recording says on which day it began.

    >>> clock(Instant(0, 1_772_442_847_120_000_000))
    '09:14:07'
    """
    return datetime.fromtimestamp(at.wall / 1e9, UTC).strftime("%H:%M:%S")


def _same(rows: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """What all readings have in common, in words by its column: it is said once and needs no column."""
    words: dict[str, Callable[[Any], str]] = {
        "part": lambda it: f"the {it}",
        "angle": lambda it: "no angle given" if it is None else f"{it:g}°",
        "stage": lambda it: f"stage {it}" if it else "no stage",
        "gauge": lambda it: f"by {it}" if it else "gauge not given",
        "clamp": lambda it: f"held “{it}”" if it else "",
    }
    found = {key: {row[key] for row in rows} for key in words}
    return {key: words[key](*each) for key, each in found.items() if len(each) == 1}


def _profile(part: Measured, fit: Mapping[str, Any], units: Units) -> str:
    points = [(row.reading.place.z, row.cold.value) for row in part.rows if row.reading.place.z is not None]
    return profile_plot(fit[part.part], points, units)


def _map(fit: Mapping[str, Any], units: Units, tries: Sequence[Mapping[str, Any]]) -> str:
    if fit["clearance"] is None:
        return ""
    return clearance_map(fit["clearance"], fit["decision"]["limits"], units, tries)


def _session(
    session: CitedRecording, units: Units, fit: Mapping[str, Any], plan: Mapping[str, Any] | None
) -> dict[str, Any]:
    state = session.state
    found = summary(state)
    steps = steps_of(state, clearance=fit["clearance"], planned=plan, units=units)
    ground = state.job.wheel is not None or state.job.work is not None
    return {
        "about": session,
        "job": state.job,
        "stations": [_reading(row, session) for row in found["stations"]],
        "same": _same(found["stations"]),
        "passes": shown_passes(found["passes"], units),
        "plot": passes_plot(found["passes"], units),
        "masterings": [{"gauge": gauge, "zero": zero} for gauge, zero in zeros_of(state)],
        "rounds": [row for row in roundness_rows(state, state.job, units) if row["runs"]],
        "heat": [{"place": place, "warmth": warmth} for place, warmth in sorted(state.warmth.items())],
        "aside": [session.raws[seq] for seq in sorted(state.aside) if seq in session.raws],
        "notes": list(state.notes),
        "flags": found["flags"],
        "steps": steps,
        "work": [WORK_HEAD, *work_rows(steps["work"], units)] if ground else [],
        "treatment": "" if plating_of(state.job) is None else treatment_text(steps["treatment"]),
        "chatter": "" if session.chatter is None else chatter_text(session.chatter, units),
        "drawing": setup_drawing(state.job, units),
    }


def _reading(row: Mapping[str, Any], session: CitedRecording) -> dict[str, Any]:
    raws = [session.raws[seq] for seq in row["of"] if seq in session.raws]
    shown = " ".join(raw.shown for raw in raws[:3]) + (f" … ({len(raws)})" if len(raws) > 3 else "")
    return {**row, "raw": shown, "at": raws[0].at if raws else None}
