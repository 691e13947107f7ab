"""Steps beside the measuring: said, recorded, undone, and the same in a replay."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.events import Checked, Clamp, Event, Instant, Picture, Tried
from capture.recording.codec import decode_event, encode_event
from capture.sheet.reader import job_of
from capture.state import session as live
from capture.state.steps.step_words import CHECKS, FEELS
from capture.state.words.commands import CommandRejected, parse_command

NAME, DIGEST = "0123456789abcdef.jpg", "0123456789abcdef" * 4


@pytest.mark.parametrize(
    ("words", "fact"),
    [
        ("checked centres ok lapped clean", Checked("centres", "ok", "lapped clean")),
        ("checked cracks no two at the keyway", Checked("cracks", "not ok", "two at the keyway")),
        ("checked bake none", Checked("bake", "not due")),
        ("clamp locked by hand", Clamp("locked by hand")),
        ("tried 60 90 close 21.5 spindle oil", Tried(60.0, 90.0, "close", 21.5, "spindle oil")),
        ("tried 60 0 binds dry", Tried(60.0, 0.0, "binds", None, "dry")),
        (f"picture {NAME} {DIGEST} 1000 keyway", Picture(NAME, DIGEST, 1000, "keyway")),
    ],
)
def test_a_step_is_said_in_one_line(session, words, fact):
    assert parse_command(words.split(), session.state) == fact


@pytest.mark.parametrize(
    "words",
    [
        "checked",
        "checked centres",
        "checked moon ok",
        "checked centres perhaps",
        "clamp",
        "tried 60 0",
        "tried x 0 free",
        "tried nan 0 free",
        "tried 60 0 lovely",
        "tried 60 0 free 900",
        f"picture ../../etc/passwd {DIGEST} 10",
        f"picture {NAME} {'f' * 64} 10",
        f"picture {NAME} {DIGEST} 0",
        f"picture {NAME} {DIGEST} 999999999999",
        f"picture {NAME} {DIGEST} -1",
        f"picture {NAME} {DIGEST} ²",
    ],
)
def test_a_step_that_makes_no_sense_is_refused_with_what_was_due(session, words):
    with pytest.raises(CommandRejected, match=r"due|beginning"):
        parse_command(words.split(), session.state)


@given(st.lists(st.text(max_size=30), max_size=6), st.sampled_from(["checked", "clamp", "tried", "picture"]))
def test_whatever_comes_behind_the_word_is_taken_or_refused(words, verb):
    state = live.start(job_of({"job": {"name": "any"}}))

    with suppress(CommandRejected):
        assert isinstance(parse_command([verb, *words], state), Checked | Clamp | Tried | Picture)


def test_inches_are_inches(new_session, sheet):
    sheet["job"]["units"] = "in"
    state = live.start(job_of({**sheet, "fit": {**sheet["fit"]}}))

    assert parse_command(["tried", "2", "0", "free"], state) == Tried(50.8, 0.0, "free")


def test_what_was_said_stands_in_the_state_and_undo_takes_it_out(session):
    session.tell(
        ("person", "checked dog ok"), ("person", "checked dog no loose"), ("person", "tried 60 0 free")
    )
    steps = session.state.steps

    assert steps.newest["dog"].fact.result == "not ok"
    assert len(steps.tries) == 1

    loose = steps.newest["dog"].seq
    session.tell(("person", "undo"))

    assert len(session.state.steps.tries) == 0

    session.tell(("person", f"reject {loose} wrong dog"))

    assert session.state.steps.newest["dog"].fact.result == "ok"


def test_how_the_part_is_held_stays_with_each_reading(session):
    session.tell(("person", "clamp free"), ("person", "stage lapped"), ("plug", 55.002))
    session.tell(("person", "clamp clamped"), ("plug", 55.001))

    assert [one.clamp for one in session.state.stations.taken] == ["free", "clamped"]


@pytest.mark.parametrize(
    "fact", [Checked("bake", "ok", "190 °C, 8 h"), Clamp("free"), Tried(1.0, 2.0, "tight")]
)
def test_steps_are_read_back_as_they_were_written(fact):
    event = Event(3, Instant(1, 2), "person", fact)

    assert decode_event(encode_event(event)) == event


def test_the_five_words_of_feel_and_the_checks_stand_in_the_usage(session):
    with pytest.raises(CommandRejected) as refused:
        parse_command(["tried"], session.state)

    assert all(feel in str(refused.value) for feel in FEELS)
    assert len(FEELS) == 5
    assert {"centres", "mandrel", "dog", "steady-rest", "cracks", "burn", "bake", "washed"} <= set(CHECKS)
