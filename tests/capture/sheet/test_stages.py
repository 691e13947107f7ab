from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.sheet.stages import STAGES, NoSuchStage, is_early, stage_named, stages_of


@pytest.mark.parametrize("name", [*STAGES, "lapped 1", "lapped 12"])
def test_a_known_stage_is_taken_however_it_is_written(name):
    assert stage_named(name) == name
    assert stage_named(f"  {name.upper()} ") == name
    assert stage_named(name.replace(" ", "-")) == name


@pytest.mark.parametrize(
    ("came", "near"),
    [
        ("finnish", "finish"),
        ("strippd", "stripped"),
        ("laped", "lapped"),
        ("platted", "plated"),
        ("as fund", "as found"),
    ],
)
def test_a_slip_of_the_pen_is_refused_with_the_near_one(came, near):
    with pytest.raises(NoSuchStage) as refused:
        stage_named(came)

    assert near in refused.value.near
    assert f"did you mean {near}" in str(refused.value)


def test_a_persons_trial_of_a_gauge_study_is_a_stage_under_its_own_name():
    assert stage_named("study  Anna 2") == "study Anna 2"
    with pytest.raises(NoSuchStage):
        stage_named("study")


def test_grind_alone_may_be_rough_or_finish_and_is_asked_about():
    with pytest.raises(NoSuchStage, match="did you mean rough or finish"):
        stage_named("grind")


@given(st.text("abdeflnprstu 0123", min_size=1, max_size=9))
def test_every_word_is_a_stage_of_the_list_or_is_refused_with_the_list(came):
    try:
        taken = stage_named(came)
    except NoSuchStage as error:
        taken, told = "", str(error)
        missing = [stage for stage in STAGES if stage not in told]
    else:
        missing = []

    assert missing == []
    assert taken == "" or taken.startswith(STAGES)


def test_a_stage_of_the_jobs_own_is_taken_as_it_was_first_written():
    assert stage_named("HONED twice", ["Honed twice"]) == "Honed twice"
    assert stages_of(["Honed twice"])[-1] == "Honed twice"


@pytest.mark.parametrize(
    ("stage", "early"), [(None, False), ("finish", False), ("rough", True), ("plated", True)]
)
def test_only_the_last_stage_of_a_shaft_is_not_early(stage, early):
    assert is_early(stage, "shaft") is early
    assert is_early(stage, "bore") is False
