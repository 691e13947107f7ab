"""A reading that no part can give beside its others is set aside, asked about, and nothing rests on it.

That a micrometer is misread by a turn of its thimble, 0.5 mm or 0.025 in, is common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.analysis.fit.clearances import side_of
from capture.analysis.fit.measured_part import measured
from capture.analysis.grind.headline import headline_of
from capture.events import Confirmation, Flag, Taken
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state.session import open_question
from capture.state.target import target
from capture.text.flag_sentences import flag_text
from tests.capture.state.conftest import SHEET, Session

PASSES = st.lists(st.sampled_from([0.0, 0.002, 0.005, 0.01]), min_size=1, max_size=2)
ERRORS = st.one_of(st.floats(0.2, 50.0), st.floats(-50.0, -0.2)).map(lambda error: round(error, 3))
"""mm; more than twice what a reading may be apart."""


def asked(session: Session) -> list[str]:
    return [one.fact.what for one in session.state.flags if isinstance(one.fact, Flag)]


def measure(session: Session, sizes: list[float]) -> None:
    for size in sizes:
        session.tell(("mike", size))


def test_a_reading_one_turn_of_the_thimble_off_moves_no_figure_and_is_asked_about(session):
    measure(session, [55.019, 55.02])
    before = headline_of(session.state)

    session.tell(("mike", 55.5))

    assert headline_of(session.state) == before
    assert [one.value for one in session.state.stations.doubted] == [55.5]
    question = open_question(session.state)
    assert question is not None
    assert flag_text(question.fact) == (
        "55.500 mm at 80 mm is 0.480 mm above the others, 55.020 mm. It is set aside: measure "
        "there again. Is it wrong? Say no if it is right"
    )


def test_its_place_is_still_to_be_measured_and_measuring_it_closes_the_question(session):
    measure(session, [55.021, 55.02, 55.5])
    place = session.state.stations.plan_of("shaft").here
    assert place == session.state.stations.doubted[-1].place

    session.tell(("mike", 55.021))

    assert session.state.stations.taken[-1].place == place
    assert open_question(session.state) is None


def test_no_takes_it_and_it_is_not_asked_about_again(session):
    measure(session, [55.021, 55.02, 55.5])

    state = session.tell(("person", "no"))

    assert isinstance(session.events[-1].fact, Confirmation)
    assert [one.value for one in state.stations.taken] == [55.021, 55.02, 55.5]
    assert open_question(state) is None


def test_yes_leaves_it_out(session):
    measure(session, [55.021, 55.02, 55.5])

    state = session.tell(("person", "yes"))

    assert [one.value for one in state.stations.taken] == [55.021, 55.02]
    assert open_question(state) is None


def test_undo_takes_it_back_and_the_question_with_it(session):
    measure(session, [55.021, 55.02, 55.5])

    state = session.tell(("person", "undo"))

    assert not state.stations.doubted
    assert open_question(state) is None


def test_a_wild_first_reading_is_left_out_once_two_others_agree(session):
    measure(session, [55.5, 55.02])
    assert asked(session) == ["wild-reading"]

    measure(session, [55.021])

    assert asked(session) == ["wild-reading", "wild-reading", "reading-agrees"]
    assert [one.value for one in session.state.stations.taken] == [55.02, 55.021]
    assert [one.value for one in session.state.stations.doubted] == [55.5]


def test_a_size_is_not_overruled_by_a_wrong_one_read_twice(session):
    measure(session, [55.021, 55.02, 55.5, 55.5])

    assert [one.value for one in session.state.stations.taken] == [55.021, 55.02]


def test_what_was_fed_may_come_off(session):
    measure(session, [55.5])
    session.tell(("person", "pass 0.1 x4"))
    measure(session, [55.1])

    assert asked(session) == []


def test_more_than_was_fed_does_not_come_off(session):
    measure(session, [55.5])
    session.tell(("person", "pass 0.004"))
    measure(session, [55.02])

    assert asked(session) == ["wild-reading"]


def test_of_passes_that_nobody_told_it_may_come_off_down_to_the_aim_and_no_further(one_place):
    measure(one_place, [55.3, 55.01])
    assert asked(one_place) == []

    measure(one_place, [54.7])

    assert asked(one_place) == ["wild-reading"]


@pytest.mark.parametrize("words", [["stage rough"], ["master mike 25", 24.3, "station"]])
def test_another_stage_or_a_master_begins_anew(session, words):
    measure(session, [55.021, 55.02])
    session.tell(*(("person" if isinstance(word, str) else "mike", word) for word in words))

    measure(session, [54.3])

    assert asked(session) == []


@pytest.mark.parametrize(("stage", "set_aside"), [("stripped", 0), ("plated", 0), ("finish", 1)])
def test_a_stripped_or_plated_part_may_be_further_out_of_shape(session, stage, set_aside):
    session.tell(("person", f"stage {stage}"))
    measure(session, [54.7, 54.85])

    assert len(session.state.stations.doubted) == set_aside


def test_parts_of_a_gauge_study_may_differ(session):
    session.tell(("person", "stage study A 1"))
    measure(session, [55.0, 57.0, 53.0])

    assert asked(session) == []


def test_a_recording_decided_again_asks_the_same_and_heeds_the_answer(session):
    measure(session, [55.021, 55.02, 55.5])
    session.tell(("person", "no"))

    again = replay.redecided_state(session.job, session.events)

    assert [one.value for one in again.stations.taken] == [55.021, 55.02, 55.5]


@settings(max_examples=12)  # each judges two grinds after every reading
@given(passes=PASSES, at=st.integers(1, 11), error=ERRORS)
def test_wherever_it_comes_the_grind_is_judged_by_the_others_alone(
    passes: list[float], at: int, error: float
):
    """And live is replay: what the recording says gives the same state."""
    with_it, without = Session(job_of(SHEET)), Session(job_of(SHEET))
    sizes = 0
    for n, infeed in enumerate([None, *passes]):
        for session in (with_it, without):
            if infeed is not None:
                session.tell(("person", f"pass {infeed}"))
        for place in range(4):
            size = round(55.03 - 0.002 * n + 0.001 * place, 3)
            if sizes == at:
                before = judged(with_it)
                with_it.tell(("mike", round(size + error, 3)))
                without.tell(("beat", 0.0))
                assert judged(with_it) == before
            with_it.tell(("mike", size))
            without.tell(("mike", size))
            sizes += 1

    assert judged(with_it) == judged(without)
    assert len(with_it.state.stations.doubted) == (1 if at < sizes else 0)
    *_, (_, replayed) = replay.replay_as_decided(with_it.job, with_it.events)
    assert replayed == with_it.state


def judged(session: Session) -> object:
    """All that the headline is made of."""
    state = session.state
    rows = [(row.number, row.infeed, row.evidence) for row in state.grind.passes]
    return rows, state.grind.sizes, state.stations.seen, state.stations.walks


@settings(max_examples=20)
@given(at=st.integers(1, 5), error=ERRORS)
def test_in_the_bore_it_moves_neither_the_aim_nor_the_fit(at: int, error: float):
    with_it, without = Session(job_of(SHEET)), Session(job_of(SHEET))
    for n in range(6):
        if n == at:
            with_it.tell(("plug", round(55.002 + error, 3)))
        for session in (with_it, without):
            session.tell(("plug", 55.002 + 0.001 * (n % 2)))
    for session in (with_it, without):
        measure(session, [54.997] * 4)

    assert [one.value for one in with_it.state.stations.doubted] == [round(55.002 + error, 3)]
    assert target(with_it.job, with_it.state.stations) == target(without.job, without.state.stations)
    assert clearance(with_it) == clearance(without)


def clearance(session: Session) -> object:
    """Of the clearance, each place with its uncertainty."""
    parts = [measured(session.state, part, session.job, source="here") for part in ("bore", "shaft")]
    sides = [side_of(part) for part in parts if part is not None]
    assert len(sides) == 2
    return [[(one.z, one.value, one.u) for one in side.mean] for side in sides]


def test_taken_stays_in_the_recording(session):
    measure(session, [55.021, 55.02, 55.5])

    facts = [event.fact for event in session.events]
    assert [fact.value for fact in facts if isinstance(fact, Taken)] == [55.021, 55.02, 55.5]
