"""What the program says of an infeed gauge: figures in mm become a sentence in the units that are read."""

from __future__ import annotations

import msgspec
import pytest

from capture.events import Event, Flag, Instant
from capture.shop.tables.rows import row_of
from capture.state.grinding import infeed_doubts
from capture.text.flag_sentences import FLAG_SENTENCES, flag_text

OLD = "saddle leapt by 0.0005 in to 0 while the head stood: it is taken to be set to 0 there."


def test_lengths_are_in_the_units_of_the_reader_and_else_in_those_of_the_job():
    """An inch is 25.4 mm by definition (the international yard and pound agreement of 1959, from memory)."""
    flag = Flag("infeed-zeroed", 0, (), {"moved": -0.0127}, {"unit": "in"}, gauge="saddle")

    assert "leapt by 0.0005 in to 0" in flag_text(flag)
    assert "leapt by 0.0127 mm to 0" in flag_text(flag, "mm")


def test_an_infeed_too_large_says_both_lengths():
    flag = Flag("infeed-beyond", 3, (7,), {"moved": 2.54, "most": 0.0508}, {"unit": "mm"}, gauge="saddle")

    assert "saddle moved 2.54 mm, more than the largest infeed of one pass (0.0508 mm)" in flag_text(flag)
    assert "saddle moved 0.1 in, more than the largest infeed of one pass (0.002 in)" in flag_text(flag, "in")


@pytest.mark.parametrize("what", sorted(infeed_doubts.ASKED))
def test_a_recording_of_an_older_program_says_what_it_said_then(what: str):
    line = {"what": what, "pass": 0, "of": [], "figures": {"moved": 0.0127}, "gauge": "saddle", "text": OLD}

    flag = msgspec.convert({"kind": "flag", **line}, Flag)

    assert flag_text(flag) == flag_text(flag, "mm") == OLD


def test_the_table_of_verdicts_has_the_sentence_of_new_and_old_flags():
    new = Flag("infeed-zeroed", 0, (), {"moved": 0.0127}, {"unit": "mm"}, gauge="saddle")
    old = Flag("infeed-zeroed", 0, (), {"moved": 0.0127}, gauge="saddle", text=OLD)

    rows = [row_of(Event(1, Instant(0, 0), "desk", flag)) for flag in (new, old)]

    assert [row[1][-1] for row in rows if row is not None] == [flag_text(new), OLD]


@pytest.mark.parametrize("what", ["infeed-zeroed", "infeed-beyond", "passes-unsure"])
def test_a_flag_without_its_figures_says_no_length_that_is_not_known(what: str):
    assert what in FLAG_SENTENCES
    assert flag_text(Flag(what, 0, (), gauge="saddle")) is None


@pytest.mark.parametrize(("passes", "due"), [(1.0, "1 pass before"), (3.0, "3 passes before")])
def test_the_count_that_is_asked_about(passes: float, due: str):
    assert due in flag_text(Flag("passes-unsure", 0, (4,), {"passes": passes, "instead": 2.0}))
