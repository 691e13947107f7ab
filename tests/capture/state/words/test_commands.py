"""A person's words: what they mean, and what is refused with what was due."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.events import Coolant, Dress, Master, Note, Pass, Reject, Round, RoundEnd, Stage, Station, Table
from capture.sheet.reader import job_of
from capture.state import session as session_of
from capture.state.words.commands import CommandRejected, parse_command
from capture.text.command_replies import said


@pytest.mark.parametrize(
    ("words", "fact"),
    [
        ("pass 0.004", Pass(0.004)),
        ("pass 0,004", Pass(0.004)),
        ("pass 0", Pass(0.0)),
        ("pass", Pass(None)),
        ("PASS 0.004", Pass(0.004)),
        ("station shaft 80 0", Station("shaft", 80.0, 0.0)),
        ("station bore 40", Station("bore", 40.0, 0.0)),
        ("stage as found", Stage("as found")),
        ("master mike 55.000 0.0003", Master("mike", 55.0, 0.0003)),
        ("note dressed the wheel <b>", Note("dressed the wheel <b>")),
    ],
)
def test_words_mean_one_fact(session, words, fact):
    assert parse_command(words.split(), session.state) == fact


def test_an_inch_job_is_spoken_to_in_inches(sheet):
    """The international inch is exactly 25.4 mm: two tenths are 5.08 µm."""
    sheet["job"]["units"] = "in"

    fact = parse_command(["pass", "0.0002"], session_of.start(job_of(sheet)))

    assert isinstance(fact, Pass)
    assert fact.infeed == pytest.approx(0.00508, abs=1e-12)


def test_a_dial_on_radius_is_doubled(sheet):
    """Common practice, no source: a dial on radius moves the diameter twice as far."""
    sheet["grinder"]["dial"] = "radius"

    assert parse_command(["pass", "0.004"], session_of.start(job_of(sheet))) == Pass(0.008)


def test_a_pass_without_a_figure_takes_it_from_the_infeed_gauge(session):
    session.tell(("saddle", 0.1), ("mike", 55.0), ("saddle", 0.106))

    fact = parse_command(["pass"], session.state)

    assert isinstance(fact, Pass)
    assert fact.infeed == pytest.approx(0.006)


@pytest.mark.parametrize(
    ("words", "due"),
    [
        ("", "nothing said"),
        ("pss 0.004", "came 'pss', due one of pass, station"),
        ("pass a", "infeed: came 'a', due a number"),
        ("pass nan", "due a finite number"),
        ("pass 0.00_4", "came .0.00_4., due a number"),
        ("station shaft 1e200", "due less than 1e.09"),
        ("pass 4", "due at most"),
        ("pass 1 2", "came 2 words after it"),
        ("station moon 80", "part: came 'moon', due bore or shaft"),
        ("station shaft here", "station: came 'here', due a number"),
        ("stage", "came nothing after it"),
        ("master probe 55", "due one of mike, plug"),
        ("master mike -55", "due the master's size, above 0"),
        ("reject x chip", "reject: came 'x'"),
        ("reject 99 chip", "due the number of a reading or a word"),
        ("undo", "there is nothing to take back"),
        ("undo 4", "came 1 words after it"),
        ("note", "came nothing after it"),
        ("note " + "x" * 3000, "due at most 2000"),
    ],
)
def test_what_is_no_mark_is_refused_with_what_was_due(session, words, due):
    with pytest.raises(CommandRejected, match="(?i)" + due.replace("(", r"\(").replace("'", ".")):
        parse_command(words.split(), session.state)


def test_an_event_is_rejected_once(session):
    session.tell(("mike", 55.0), ("person", "reject 0 chip under anvil"))

    with pytest.raises(CommandRejected, match="reject: 0 is already set aside"):
        parse_command(["reject", "0", "again"], session.state)


def test_undo_names_what_it_sets_aside(session):
    session.tell(("person", "pass 0.004"))

    assert parse_command(["undo"], session.state) == Reject(
        0, "taken back: pass, infeed 0.0040 mm on diameter", undo=True
    )


def test_skip_and_back_move_along_the_plan(session):
    session.tell(("mike", 55.0))

    assert parse_command(["skip"], session.state) == Station("shaft", 80.0, 0.0)
    assert parse_command(["back"], session.state) == Station("shaft", 20.0, 0.0)
    assert parse_command(["skip", "bore"], session.state) == Station("bore", 10.0, 60.0)


def test_what_was_understood_is_said_in_the_jobs_units(session):
    assert said(Pass(0.004), session.job) == "pass, infeed 0.0040 mm on diameter"
    assert said(Pass(None), session.job) == "pass, infeed not known"
    assert said(Reject(4, "chip"), session.job) == "set aside: chip"
    assert said(Reject(4, "taken back: chip", undo=True), session.job) == "taken back: chip"


@given(st.lists(st.text(max_size=12), max_size=5))
def test_no_words_however_odd_do_anything_but_mean_a_fact_or_be_refused(words):
    state = session_of.start(job_of({"job": {"name": "x"}}))
    try:
        answer = said(parse_command(words, state), state.job)
    except CommandRejected as refused:
        answer = str(refused)

    assert answer


def test_what_is_done_at_the_machine_is_told(session):
    state = session.state

    assert parse_command(["table", "+0.012"], state) == Table(0.012)
    assert parse_command(["table"], state) == Table(None)
    assert parse_command(["dress"], state) == Dress()
    assert parse_command(["coolant", "off"], state) == Coolant(on=False)
    assert said(Table(-0.012), session.job) == "table moved −0.0120 mm"
    assert said(Table(None), session.job) == "table moved, how far is not known"
    assert said(Dress(), session.job).startswith("wheel dressed")
    assert said(Coolant(on=True), session.job) == "coolant runs"


@pytest.mark.parametrize(
    ("words", "due"),
    [
        (["table", "12"], "due at most 2.0000 mm"),
        (["table", "far"], "due a number"),
        (["dress", "it"], "due dress"),
        (["coolant"], "due coolant on"),
        (["coolant", "half"], "came 'half'"),
    ],
)
def test_what_cannot_be_done_at_the_machine_is_refused(session, words: list[str], due: str):
    with pytest.raises(CommandRejected, match=due):
        parse_command(words, session.state)


def test_a_table_without_a_swivel_on_the_sheet_is_refused(sheet, new_session):
    sheet["grinder"] = {"dial": "diameter"}
    session = new_session(job_of(sheet))

    with pytest.raises(CommandRejected, match="has no swivel"):
        parse_command(["table", "0.01"], session.state)


@pytest.mark.parametrize(
    ("words", "fact"),
    [
        ("pass 0.004 x3 rest 2", Pass(0.004, times=3, rests=2)),
        ("pass 3x 0.004", Pass(0.004, times=3)),
        ("pass 0.004 rest", Pass(0.004, rests=1)),
        ("pass rest 2", Pass(0.0, times=2)),
        ("rest", Pass(0.0)),
        ("rest 4", Pass(0.0, times=4)),
        ("pass x2", Pass(None, times=2)),
    ],
)
def test_a_group_of_passes_is_one_word(one_place, words, fact):
    assert parse_command(words.split(), one_place.state) == fact


@pytest.mark.parametrize(
    ("words", "due"),
    [
        ("pass 0.004 x0", "passes: came '0', due 1 to 99"),
        ("pass x100", "due 1 to 99"),
        ("rest 0.5", "rests: came '0.5', due 1 to 99"),
        ("rest 2 3", "came 2 words after it"),
        ("pass 0.004 x3 x2", "came 2 words after it"),
    ],
)
def test_a_group_that_cannot_be_counted_is_refused(one_place, words, due):
    with pytest.raises(CommandRejected, match=due):
        parse_command(words.split(), one_place.state)


@pytest.fixture
def with_dial(sheet):
    sheet["gauge"].append(
        {"name": "dial", "measures": "runout", "link": {"serial": "e"}, "resolution": 0.001}
    )
    return session_of.start(job_of(sheet))


@pytest.mark.parametrize(
    ("words", "fact"),
    [
        ("round shaft 80 v90", Round("shaft", 80.0, "v", ("dial",))),
        ("round shaft 80 saddle60 dial rpm=40", Round("shaft", 80.0, "saddle", ("dial",), v=60.0, rpm=40.0)),
        ("round bore 40 two-point plug", Round("bore", 40.0, "two-point", ("plug",))),
        (
            "round shaft 80 centres dial@0 mike@180 turned=180",
            Round("shaft", 80.0, "centres", ("dial", "mike"), (0.0, 180.0), turned=180.0),
        ),
        ("round done", RoundEnd()),
    ],
)
def test_words_of_a_part_that_turns(with_dial, words, fact):
    assert parse_command(words.split(), with_dial) == fact


@pytest.mark.parametrize(
    ("words", "due"),
    [
        ("round", "due round PART"),
        ("round shaft 80 v200", "due centres, v90"),
        ("round shaft 80 v90 probe", "due one of the gauges"),
        ("round shaft 80 v90 dial rpm=0", "due more than 0"),
        ("round shaft x v90", "due a number"),
        ("round shaft 80 v90 dial dial", "one gauge came twice"),
        ("turn", "no part turns under a gauge"),
        ("mask 10 20", "no part turns under a gauge"),
    ],
)
def test_words_of_turning_that_cannot_be_taken_say_what_was_due(with_dial, words, due):
    with pytest.raises(CommandRejected, match=due):
        parse_command(words.split(), with_dial)


def test_a_word_that_is_no_stage_is_refused_with_the_near_ones(session):
    with pytest.raises(CommandRejected, match="did you mean finish"):
        parse_command(["stage", "finsh"], session.state)


def test_a_stage_of_ones_own_is_said_once_and_known_from_then_on(session):
    session.tell(("person", "stage own honed"))

    assert parse_command(["stage", "Honed"], session.state) == Stage("honed")
