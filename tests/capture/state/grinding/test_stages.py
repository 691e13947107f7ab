"""A stage told in the middle of a grind: what the spring holds is not changed by a word.

The law of the spring (King and Hahn; Malkin and Guo, "Grinding Technology"): with share S and infeed u a pass
leaves (1 - S) of what stood, whatever the stage is called.
"""

from __future__ import annotations

import pytest

from capture.events import Stage


def _grind(session, *stages: str, fed: float = 0.010, passes: int = 6):
    """A part of share one half, measured after each pass; a stage is told after each third of the passes."""
    size, spring = 55.060, 0.0
    session.tell(("mike", size))
    for number in range(passes):
        if stages and number and number % 3 == 0 and number // 3 <= len(stages):
            session.tell(("person", stages[number // 3 - 1]))
        spring += fed
        size, spring = size - spring / 2, spring / 2
        session.tell(("person", f"pass {fed}"), ("mike", round(size, 3)))
    return session.state


def test_finishing_after_roughing_goes_on_from_what_the_roughing_showed(one_place):
    state = _grind(one_place, "stage rough", "stage finish", passes=9)

    assert len(state.grind.strokes) == 9
    assert state.stations.stage == "finish"
    assert abs(state.grind.row.outlook.share - 0.5) < 0.1


def test_the_outlook_is_the_same_whether_the_stage_was_told_or_not(one_place, new_session):
    untold = _grind(new_session(one_place.job), passes=9).grind.row.outlook
    told = _grind(one_place, "stage rough", "stage finish", passes=9).grind.row.outlook

    # a word takes 5 s, in which an unseen warmth may fade: nothing else is different
    assert told.predicted == pytest.approx(untold.predicted, abs=5e-5)
    assert told.share == pytest.approx(untold.share, abs=0.01)


def test_a_part_that_comes_back_from_the_plater_begins_anew(one_place):
    state = _grind(one_place, "stage stripped", "stage plated", passes=9)

    assert len(state.grind.strokes) == 3


def test_after_an_hour_without_a_pass_the_part_may_have_been_out_of_the_machine(one_place):
    _grind(one_place, passes=3)
    state = one_place.tell(("beat", 4000.0), ("person", Stage("finish")))

    assert state.grind.strokes == ()
    assert state.grind.first == 3
