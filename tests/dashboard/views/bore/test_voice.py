from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest

from capture.events import Taken
from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay, session
from dashboard.sources.scene import Scene
from dashboard.text import voice as voice_words
from dashboard.text.voice import SPOKEN
from dashboard.views.bore.voice import voice

RECORDING = Path(__file__).parents[4] / "recordings" / "bore.jsonl"
VOICE_JS = Path(voice_words.__file__).parents[1] / "assets" / "voice.js"


@pytest.fixture(scope="module")
def heard():
    """Every occasion of the recorded bore session once, in order, each with the event that it followed."""
    recording = read(RECORDING)
    found = {}
    for event, state in replay.replay_as_decided(job_of(recording.header.job), recording):
        said = voice(Scene("live", "bore.jsonl", state), "mm")["voice"]
        if said is not None and said["id"] not in found:
            found[said["id"]] = (said, event)
    return list(found.values())


def test_every_reading_taken_is_said_once_with_what_comes_next(heard):
    """Place, deviation from the nominal in micrometres, and the next place of the plan."""
    taken = [said["text"] for said, _ in heard if said["tone"] == "accepted"]
    events = [event.fact for event in read(RECORDING) if isinstance(event.fact, Taken)]

    assert taken[0] == "zero taken; withdraw"
    assert len(taken) == 1 + len(events)
    for text, fact in zip(taken[1:], events, strict=True):
        assert text.startswith(
            f"{fact.z:g}, {fact.angle:g} degrees: plus {(fact.value - 55) * 1000:.1f}; next "
        )


def test_what_is_said_of_a_reading_follows_its_fact_and_never_comes_before(heard):
    said_after = [event for said, event in heard if said["tone"] == "accepted"]

    assert {event.source for event in said_after} == {session.PROGRAM}


def test_how_many_more_is_said_at_each_turning_point(heard):
    counts = [said["text"] for said, _ in heard if not said["tone"]]

    assert "2 more" in counts
    assert "1 more" in counts
    assert not any(re.search(r"\d{3,} more", text) for text in counts)


def test_a_redo_is_heard_as_try_again(heard):
    assert any(said["tone"] == "again" and "try again" in said["text"] for said, _ in heard)


@pytest.mark.parametrize("kind", ["replay", "old", "loading"])
def test_only_what_is_live_is_said(kind):
    recording = read(RECORDING)
    *_, (_, state) = replay.replay_as_decided(job_of(recording.header.job), recording)
    shown = voice(Scene(kind, "bore.jsonl", state), "mm")

    assert shown["voice"] is None
    assert shown["bore-said"]


def test_a_deviation_is_said_in_the_units_of_the_screen():
    recording = read(RECORDING)
    *_, (_, state) = replay.replay_as_decided(job_of(recording.header.job), recording)
    newest = state.stations.taken.last

    text = voice(Scene("live", "bore.jsonl", state), "in")["voice"]["text"]

    assert f"plus {(newest.value - 55) / 0.00254:.1f}" in text
    assert f"{newest.place.z / 25.4:.3f}" in text


def test_every_tone_has_its_own_sound():
    """Told apart by pitch and rhythm, as the words of the script have them."""
    tones = dict(re.findall(r"^\s+(\w+): (\[\[.*?\]\]),$", VOICE_JS.read_text("utf-8"), re.MULTILINE))
    notes = {name: msgspec.json.decode(text) for name, text in tones.items()}

    assert notes.keys() == {"accepted", "again", "slower", "question", "limits", "lost"}
    assert len({msgspec.json.encode(one) for one in notes.values()}) == len(notes)


def test_every_word_that_is_spoken_is_used():
    code = "".join(path.read_text("utf-8") for path in VOICE_JS.parents[1].glob("views/**/*.py"))

    assert [key for key in SPOKEN if f'"{key}"' not in code] == []


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_deviation_that_reads_as_nothing_is_called_zero(units):
    """Nobody wants to hear "zero point zero"."""
    recording = read(RECORDING)
    *_, (_, state) = replay.replay_as_decided(job_of(recording.header.job), recording)
    fit = msgspec.structs.replace(state.job.fit, nominal=state.stations.taken.last.value)
    state = msgspec.structs.replace(state, job=msgspec.structs.replace(state.job, fit=fit))

    assert ": zero" in voice(Scene("live", "bore.jsonl", state), units)["voice"]["text"]
