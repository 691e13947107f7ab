"""Every page, text and paper of the kept recordings in one unit alone: the one that the person chose.

Millimetres and micrometres, or inches and tenths; never one where the other is due. Left out is what is
itself in a unit: what a gauge sent, the name of a switch, and figures of a source in brackets.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from capture.analysis.gauge_findings import study
from capture.analysis.summary import summary
from capture.recording.reader import read
from capture.report.page import CitedRecording, page
from capture.report.raws import raws_of
from capture.report.terminal.fit_text import fit_text
from capture.report.terminal.plan_text import plan_text
from capture.report.terminal.study_text import study_text
from capture.report.terminal.summary_text import summary_text
from capture.sheet.job import Units
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state.session import State
from dashboard.sources.fit_findings import fit_of, plan_of, sources
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene import Scene
from dashboard.text.screen import WORDS
from dashboard.views.analysis.compare import OverlaidRecording, decisions, overlay
from dashboard.views.analysis.fit import fit_body
from dashboard.views.analysis.plan import plan_body
from dashboard.views.registry import PAGES, draw

ROOT = Path(__file__).parents[1]
RECORDINGS = sorted((ROOT / "recordings").glob("*.jsonl"))
MOMENTS = 6
"""States of each recording that are looked at, the last among them."""

WRONG = {
    "in": re.compile(r"(?<![\w'\"/])(?:mm|µm|micrometres?|millimetres?)(?![\w'\"])"),
    "mm": re.compile(r"(?<![A-Za-z\d.,])[\d.,–]*\d ?(?:in|tenths?|thou|millionths?|µin)\b"),
}
SOURCE = re.compile(r"\[[^\]]*\]")


@cache
def states(path: Path) -> tuple[State, ...]:
    """The recording after shares of its events."""
    recording = read(path)
    job = job_of(recording.header.job)
    whole = sum(1 for _ in recording)
    each = replay.replay_as_decided(job, recording)
    marks = [whole * (i + 1) // MOMENTS - 1 for i in range(MOMENTS)]
    return tuple(state for i, (_, state) in enumerate(each) if i in marks)


def in_units(state: State, units: Units) -> State:
    return replace(state, job=replace(state.job, units=units))


def texts(shown: Any) -> Iterator[str]:
    """Every text in what a page shows, or in its components."""
    if isinstance(shown, str):
        yield shown
    elif isinstance(shown, dict):
        for key, value in shown.items():
            if not str(key).endswith(("-raw", "@placeholder")):
                yield from texts(value)
    elif isinstance(shown, list | tuple):
        for value in shown:
            yield from texts(value)
    elif hasattr(shown, "children"):
        yield from texts(shown.children)
        figure = getattr(shown, "figure", None)
        yield from texts(figure if isinstance(figure, dict) else None)


def wrong(said: Iterable[str], units: Units) -> list[str]:
    """What is said in the other unit; the figures of a source stand in brackets, in its own."""
    ours = (SOURCE.sub("", text) for text in said if not text.startswith("sent: "))
    return [text for text in ours if WRONG[units].search(text)]


def session_of(path: Path, state: State) -> CitedRecording:
    raws = raws_of(read(path), state)
    return CitedRecording(path.name, "then", "tenths", state.seq + 1, "0", "0", "", state, raws)


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_live_page_speaks_one_unit(path, units):
    for state in states(path):
        scene = Scene("live", path.name, state, age=1.0)
        for one in PAGES:
            shown = draw(one.name, scene, units)
            assert wrong(texts(shown), units) == [], one.name


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_page_of_the_desk_speaks_one_unit(path, units, tmp_path):
    state = states(path)[-1]
    found = sources(state, path.name, RecordingLibrary(tmp_path))

    fit = fit_body(fit_of(found, units), units, "light")
    plan = plan_body(plan_of(found, found.job, units), units, tried=False)

    compared = [
        *overlay([OverlaidRecording(path.name, state)], units, "light"),
        *decisions(state, state, units),
    ]

    assert wrong(texts(fit), units) == []
    assert wrong(texts(plan), units) == []
    assert wrong(texts(compared), units) == []


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_text_of_the_terminal_speaks_one_unit(path, units, tmp_path):
    state = in_units(states(path)[-1], units)
    found = sources(state, path.name, RecordingLibrary(tmp_path))
    about = {"job": "x", "path": "x", "events": 0, "readings": 0, "garbled": 0, "whole": True}
    said = [
        summary_text({"recording": about, **summary(state)}, state),
        fit_text(fit_of(found, units), units),
        plan_text(plan_of(found, found.job, units), units),
        study_text(study(state, state.job), units),
    ]

    assert wrong([line for text in said for line in text.splitlines()], units) == []


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_the_record_on_paper_speaks_one_unit(path, units, tmp_path):
    state = in_units(states(path)[-1], units)
    found = sources(state, path.name, RecordingLibrary(tmp_path))
    parts = [part for part in found.found if part is not None]
    plan = plan_of(found, state.job, units)
    paper = page(
        state.job, [session_of(path, state)], fit_of(found, units), parts, plan, version="0", written="now"
    )
    body = re.sub(r"<style>.*?</style>|<td class=\"raw\">.*?</td>", "", paper, flags=re.DOTALL)
    lines = re.sub(r"<[^>]*>", "\n", body).splitlines()

    assert wrong(lines, units) == []


SAYS_ITSELF = {"capture/text/lengths.py", "dashboard/views/lengths.py"}
"""The two places that put a unit behind a number."""


def test_no_other_module_puts_a_unit_behind_a_number():
    """A number with "mm" written behind it is a sentence that one of both trades reads wrong."""
    unit = re.compile(r"^ ?(?:(?:mm|µm|tenths)\b|in(?=$|[,.;:)]))")
    found = []
    for folder in (
        "capture/state",
        "capture/analysis",
        "capture/coach",
        "capture/report",
        "capture/commands",
        "dashboard",
    ):
        for path in sorted((ROOT / folder).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.JoinedStr):
                    found += [
                        f"{path.relative_to(ROOT)}:{node.lineno}"
                        for before, after in pairwise(node.values)
                        if isinstance(before, ast.FormattedValue)
                        and isinstance(after, ast.Constant)
                        and unit.match(str(after.value))
                    ]

    assert [one for one in found if one.rpartition(":")[0] not in SAYS_ITSELF] == []


def test_no_word_of_the_screen_carries_a_unit_but_those_that_are_units():
    """The switch of units, the unit of an example, and limits to decide by: in mm, as with ``--set``."""
    unit = re.compile(
        r"\b(?:mm|µm|micrometres?|inch|inches|tenths)\b(?! (?:run|dashboard|demo|teach|gauges)\b)"
    )
    named = {key for key, text in WORDS.items() if unit.search(re.sub(r"\{[^}]*\}", "", text))}
    units = {key for key in named if key.startswith(("unit.", "display.", "taper.over-", "home.example-"))}

    assert named - units <= {"page.units", "compare.settings"}
