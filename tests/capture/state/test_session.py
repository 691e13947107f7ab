"""The desk: readings are taken for the place in hand, decisions are facts, and replay shows what was live."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import takewhile
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.summary import summary
from capture.events import Flag, Garbled, Reading, Taken, Up
from capture.metrology.grinding.judgement import call_bound
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace
from capture.sheet.reader import job_of
from capture.state import decisions, replay
from capture.state import session as session_of
from capture.text.flag_sentences import flag_text


def places(state: session_of.State) -> list[tuple[float | None, float | None]]:
    return [(reading.place.z, reading.place.angle) for reading in state.stations.taken]


def flags(state: session_of.State) -> list[str]:
    return [event.fact.what for event in state.flags if isinstance(event.fact, Flag)]


def test_readings_walk_the_plan_by_themselves(session):
    state = session.tell(("mike", 55.01), ("mike", 55.02), ("mike", 55.03), ("mike", 55.04), ("mike", 55.05))

    assert places(state) == [(20, 0), (20, 90), (80, 0), (80, 90), (20, 0)]


def test_a_taken_reading_is_a_recorded_fact_that_names_what_it_rests_on(session):
    session.tell(
        ("person", "stage finish"),
        ("person", "pass 0.004"),
        ("person", "station shaft 80 0"),
        ("mike", 55.01),
    )

    reading, taken = session.events[-2:]
    assert isinstance(taken.fact, Taken)
    assert taken.source == "desk"
    assert taken.seq == reading.seq + 1
    assert taken.at == reading.at
    assert (taken.fact.part, taken.fact.z, taken.fact.angle) == ("shaft", 80, 0)
    assert (taken.fact.pass_, taken.fact.value, taken.fact.of) == (1, 55.01, (reading.seq,))
    assert session.state.stations.taken[-1].stage == "finish"


def test_bore_and_shaft_walk_their_own_plans(session):
    state = session.tell(("plug", 55.002), ("mike", 55.01), ("plug", 55.003))

    assert [(r.part, r.place.z, r.place.angle) for r in state.stations.taken] == [
        ("bore", 10, 0),
        ("shaft", 20, 0),
        ("bore", 10, 60),
    ]


def test_after_a_pass_measuring_starts_where_a_person_pointed(session):
    state = session.tell(
        ("person", "station shaft 80 0"),
        ("mike", 55.01),
        ("mike", 55.01),
        ("person", "pass 0.002"),
        ("mike", 55.0),
    )

    assert places(state) == [(80, 0), (80, 90), (80, 0)]


def test_without_a_plan_each_reading_is_the_size_after_the_newest_pass(sheet, new_session):
    del sheet["shaft"]
    sheet["gauge"] = [gauge for gauge in sheet["gauge"] if gauge["name"] == "mike"]
    session = new_session(job_of(sheet))

    state = session.tell(
        ("person", "pass 0.004"), ("mike", 55.01), ("person", "pass 0.004"), ("mike", 55.006)
    )

    assert [(r.place, r.pass_) for r in state.stations.taken] == [(PlannedPlace(), 1), (PlannedPlace(), 2)]


def test_undo_sets_the_newest_reading_aside_and_its_place_is_measured_again(session):
    state = session.tell(("mike", 55.01), ("mike", 55.99), ("person", "undo"), ("mike", 55.02))

    assert [r.value for r in state.stations.taken] == [55.01, 55.02]
    assert places(state) == [(20, 0), (20, 90)]
    assert sum(isinstance(event.fact, Taken) for event in session.events) == 3


def test_undo_of_a_pass_gives_the_pass_before(one_place):
    state = one_place.tell(
        ("person", "pass 0.004"), ("mike", 55.0), ("person", "pass 0.4"), ("person", "undo"), ("mike", 55.0)
    )

    assert [r.pass_ for r in state.stations.taken] == [1, 1]
    assert [row.infeed for row in state.grind.passes] == [0.004]


def test_a_rejected_reading_takes_the_station_reading_that_rests_on_it_along(session):
    session.tell(("mike", 55.01), ("mike", 55.09), ("mike", 55.03))
    chip = next(e.seq for e in session.events if isinstance(e.fact, Reading) and e.fact.value == 55.09)

    state = session.tell(("person", f"reject {chip} chip under anvil"))

    assert [r.value for r in state.stations.taken] == [55.01, 55.03]
    assert places(state) == [(20, 0), (80, 0)]
    assert chip in state.aside


def test_a_rejection_can_be_undone(session):
    session.tell(("mike", 55.01), ("mike", 55.02))
    before = session.state.stations.taken
    session.tell(("person", "undo"))

    state = session.tell(("person", "undo"))

    assert state.stations.taken == before


def test_readings_on_the_master_correct_what_follows_and_are_taken_for_no_place(session):
    """The correction is the master's size less the mean of the readings on it."""
    state = session.tell(
        ("person", "master mike 55.000 0.0002"),
        ("mike", 55.003),
        ("mike", 55.005),
        ("person", "station"),
        ("mike", 55.01),
    )

    (taken,) = state.stations.taken
    assert taken.value == pytest.approx(55.01 - 0.004)
    assert taken.place == PlannedPlace(20, 0)
    assert taken.u > 0.0002


def test_a_gauge_whose_reading_falls_as_the_part_grows_is_turned_round(sheet, new_session):
    sheet["gauge"][1] = {**sheet["gauge"][1], "sign": "-", "zero": 55.0}
    session = new_session(job_of(sheet))

    state = session.tell(("plug", -0.0021))

    assert state.stations.taken[-1].value == pytest.approx(55.0021)


def test_a_spark_out_is_said_once_and_a_new_infeed_is_cutting_again(one_place, grind):
    state = one_place.tell(*grind([0.006] * 5 + [0.0] * 8))

    assert flags(state).count("sparked-out") == 1
    told = next(e for e in state.flags if e.fact.what == "sparked-out")
    assert told.fact.figures["p_below"] >= call_bound(0.95)
    assert told.fact.settings["spark_out.limit"] == 0.0005

    state = one_place.tell(("person", "pass 0.005"), ("mike", 54.998))

    assert flags(state)[-1] == "cutting"


def test_a_warm_part_is_never_called_done(one_place, grind):
    """4140 expands 12.3e-6 per kelvin (Callister, Table B.6): 8 K on 55 mm are 5.4 µm."""
    warm = [
        ("probe", 28.0),
        *[line for pair in grind([0.006] * 5 + [0.0] * 10) for line in (pair, ("probe", 28.0))],
    ]

    state = one_place.tell(*warm)

    assert "sparked-out" not in flags(state)
    assert "warm" in flags(state)
    row = summary(state)["passes"][-1]
    assert row["value"] - row["value_20c"] == pytest.approx(55.0 * 12.3e-6 * 8, abs=2e-5)


def test_an_infeed_gauge_tells_the_passes_that_nobody_said(session):
    state = session.tell(
        ("saddle", 0.0),
        ("mike", 55.03),
        ("saddle", 0.005),
        ("mike", 55.0275),
        ("saddle", 0.010),
        ("mike", 55.024),
    )

    assert [(row.number, row.infeed, row.found) for row in state.grind.passes] == [
        (1, pytest.approx(0.005), True),
        (2, pytest.approx(0.005), True),
    ]


def test_a_decision_that_a_crash_cut_short_is_gone_on_with(session):
    """Wherever a recording ends among the desk's own events, the desk decides the rest as it had."""
    session.tell(("saddle", 0.0), ("mike", 55.03), ("saddle", 0.005), ("mike", 55.0275), ("probe", 20.0))
    state, cuts = session_of.start(session.job), 0
    for number, event in enumerate(session.events):
        state = session_of.step(state, event)
        rest = list(takewhile(lambda later: later.source == "desk", session.events[number + 1 :]))
        cuts += bool(rest)

        assert decisions.apply_decisions(state, event.at)[1] == rest
    assert cuts == 3, "before the first reading was taken, before the pass was found, and after that"


def test_a_dial_on_radius_feeds_twice_on_diameter(sheet, new_session):
    """Infeed is always on diameter inside the program; one on radius moves the size twice as far."""
    sheet["grinder"]["dial"] = "radius"
    session = new_session(job_of(sheet))

    state = session.tell(
        ("person", "pass 0.004"), ("saddle", 0.0), ("mike", 55.0), ("saddle", 0.003), ("mike", 54.99)
    )

    assert [row.infeed for row in state.grind.passes] == [0.008, pytest.approx(0.006)]


def test_a_place_measured_again_is_a_pass_with_unknown_infeed_where_none_was_told(one_place):
    state = one_place.tell(("mike", 55.03), ("mike", 55.02), ("mike", 55.01))

    assert [(row.infeed, row.found) for row in state.grind.passes] == [(None, True), (None, True)]


def test_a_part_measured_again_outside_grinding_is_not_a_pass(one_place):
    state = one_place.tell(("person", "stage as found"), ("mike", 55.03), ("mike", 55.03))

    assert state.grind.passes == []


def test_a_gauge_in_another_unit_than_the_sheets_is_said_once(session):
    inch = Reading(55.0, "mm", 4, "2.1654 in\r\n", "in")

    state = session.tell(("mike", inch), ("mike", inch))

    (flag,) = [e.fact for e in state.flags if e.fact.what == "unit-differs"]
    assert flag.gauge == "mike"
    assert "the sheet says mm" in flag_text(flag)


def test_a_gauge_on_its_coarse_step_is_told_the_sheets_step_in_the_gauges_own_unit(sheet, new_session):
    """The sheet is in millimetres, the gauge shows inches: a step of 0.00127 mm is 0.00005 in (exact)."""
    sheet["gauge"] = [{**sheet["gauge"][0], "unit": "in", "resolution": 0.00127}]
    state = new_session(job_of(sheet)).tell(("mike", Reading(55.0, "mm", 4, "2.1654 in\r\n", "in")))

    (flag,) = [e.fact for e in state.flags if e.fact.what == "digits-fewer"]
    assert "shows 4 decimals and the sheet promises a resolution of 0.00005 in:" in flag_text(flag)


def test_twenty_garbled_lines_in_a_row_bring_a_hint_at_the_settings(session):
    state = session.tell(*[("mike", Garbled("no number", "\x00\xff"))] * 20)

    assert flags(state) == ["garbled"]
    assert "baud rate" in flag_text(state.flags[-1].fact)
    assert flags(session.tell(*[("mike", Garbled("no number", "?"))] * 20)) == ["garbled"]
    assert flags(session.tell(("mike", 55.0), *[("mike", Garbled("x", "?"))] * 20)).count("garbled") == 2


def test_a_gauge_that_falls_silent_is_said_by_the_beat(sheet, new_session):
    sheet["gauge"][2] = {**sheet["gauge"][2], "silence": 10.0}
    session = new_session(job_of(sheet))

    assert flags(session.tell(("probe", 20.0), ("beat", 2.0))) == []
    assert flags(session.tell(("beat", 20.0), ("beat", 1.0))) == ["silent"]


def test_a_gauge_on_the_air_that_connects_and_never_speaks_is_said(sheet, new_session):
    sheet["gauge"][2] = {**sheet["gauge"][2], "link": {"ble": "probe of the sleeve"}}
    session = new_session(job_of(sheet))

    assert flags(session.tell(("probe", Up("probe of the sleeve")), ("beat", 30.0))) == []
    state = session.tell(("beat", 40.0), ("beat", 1.0))

    assert flags(state) == ["silent"]
    assert "probe has sent nothing" in flag_text(state.flags[-1].fact)


def test_a_gauge_that_counts_the_other_way_is_said_on_a_second_master(session):
    """A bore gauge that counts down reads less in the larger ring; its sheet's sign says otherwise."""
    session.tell(("person", "master plug 55.000 0.0002"), ("plug", 55.004), ("person", "station bore 10 0"))
    state = session.tell(("person", "master plug 55.020 0.0002"), ("plug", 54.985), ("plug", 54.984))

    assert flags(state) == ["sign-differs"]


def test_a_gauge_that_counts_as_its_sheet_says_is_not_complained_of(session):
    session.tell(("person", "master plug 55.000 0.0002"), ("plug", 55.004), ("person", "station bore 10 0"))
    state = session.tell(("person", "master plug 55.020 0.0002"), ("plug", 55.024))

    assert flags(state) == []


WORDS = st.sampled_from(
    [
        "pass 0.004",
        "pass 0",
        "pass",
        "station shaft 80 0",
        "stage finish",
        "undo",
        "skip shaft",
        "back shaft",
        "note x",
    ]
)
LINES = st.lists(
    st.one_of(
        st.tuples(st.just("mike"), st.floats(54.99, 55.05).map(lambda v: round(v, 3))),
        st.tuples(st.just("plug"), st.floats(54.99, 55.05).map(lambda v: round(v, 3))),
        st.tuples(st.just("probe"), st.floats(18, 30).map(lambda v: round(v, 2))),
        st.tuples(st.just("saddle"), st.floats(0, 0.02).map(lambda v: round(v, 3))),
        st.tuples(st.just("person"), WORDS),
        st.tuples(st.just("beat"), st.just(1.0)),
    ),
    max_size=25,
)


def spoken(session: Any, lines: Iterable[tuple[str, Any]]) -> None:
    from capture.state.words.commands import CommandRejected

    for line in lines:
        try:
            session.tell(line)
        except CommandRejected:
            continue  # a person hears why, and nothing is recorded


@given(lines=LINES)
def test_replay_gives_the_live_state_bit_for_bit(lines: list[tuple[str, Any]]):
    """Law: live = replay."""
    session = _session()
    spoken(session, lines)

    replayed = session_of.start(session.job)
    for event in session.events:
        replayed = session_of.step(replayed, event)

    assert replayed == session.state


@given(lines=LINES, cut=st.integers(0, 60))
def test_a_fold_stopped_anywhere_and_gone_on_gives_the_same_state(lines: list[tuple[str, Any]], cut: int):
    session = _session()
    spoken(session, lines)
    state = session_of.start(session.job)
    for event in session.events[:cut]:
        state = session_of.step(state, event)
    kept = summary(state)
    for event in session.events:  # another session on the same beginnings must not disturb the kept state
        session_of.step(state, event)
    assert summary(state) == kept

    for event in session.events[cut:]:
        state = session_of.step(state, event)

    assert state == session.state


OF_EVENTS = {
    *("at", "seq", "newest_gauge", "health", "history", "notes", "kinds", "aside", "candidate"),
    *("flags", "raised"),  # what was raised has been said
    *("infeed", "sweeps", "placings", "rides"),  # of what the gauges show, not of words
}
"""Fields of the state that tell of events, set aside or not; every other is worked out from what stands."""


@given(
    lines=LINES,
    undone=st.sampled_from(
        [
            ("plug", 55.003),
            ("person", "pass 0.004"),
            ("person", "station shaft 80 0"),
            ("person", "stage rough"),
        ]
    ),
)
def test_what_is_undone_leaves_nothing_behind(lines: list[tuple[str, Any]], undone: tuple[str, Any]):
    """Law: nothing that is worked out remembers what was set aside."""
    session = _session()
    spoken(session, lines)
    before = session.state
    session.tell(undone)
    assert session.state != before

    session.tell(("person", "undo"))

    worked_out = [field for field in before.__struct_fields__ if field not in OF_EVENTS]
    assert [getattr(session.state, field) for field in worked_out] == [
        getattr(before, field) for field in worked_out
    ]


@given(lines=LINES)
def test_deciding_afresh_with_the_same_settings_finds_the_same(lines: list[tuple[str, Any]]):
    """Without rejections, what is decided again is what was decided."""
    session = _session()
    spoken(session, [line for line in lines if line[1] != "undo"])

    again = replay.redecided_state(session.job, session.events)

    mine, live = summary(again), summary(session.state)
    assert [_unnumbered(row) for row in mine["stations"]] == [_unnumbered(row) for row in live["stations"]]
    assert [_unnumbered(row) for row in mine["passes"]] == [_unnumbered(row) for row in live["passes"]]
    assert [row["what"] for row in mine["flags"]] == [row["what"] for row in live["flags"]]


def _unnumbered(row: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key != "seq"}


@given(shift=st.floats(-1, 1))
def test_what_moves_all_diameters_by_a_constant_moves_every_size_by_it(shift: float):
    """Law; verdicts and removals stay as they are."""
    before, after = _ground(0.0), _ground(shift)

    for one, two in zip(before, after, strict=True):
        assert two["verdict"] == one["verdict"]
        if one["predicted"] is not None:
            assert two["predicted"] - one["predicted"] == pytest.approx(shift, abs=1e-6)
            assert two["removed"] == pytest.approx(one["removed"], abs=1e-6)


def _ground(shift: float) -> list[dict[str, Any]]:
    session = _session(fit=False)
    size, spring = 55.03, 0.0
    session.tell(("mike", size + shift))
    for infeed in [0.006] * 4 + [0.0] * 4:
        spring += infeed
        size, spring = size - spring / 2, spring / 2
        session.tell(("person", f"pass {infeed}"), ("mike", size + shift))
    return summary(session.state)["passes"]


def _session(*, fit: bool = True) -> Any:
    return _made(job_of(SHEET if fit else {k: v for k, v in SHEET.items() if k != "fit"}))


@pytest.fixture(autouse=True)
def _known(new_session: Callable[[Job], Any]) -> None:
    global _made  # noqa: PLW0603 - hypothesis examples need a new session each, which a fixture can't give
    _made = new_session


_made: Callable[[Job], Any]
SHEET: dict[str, Any] = {
    "job": {"name": "sleeve"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "shaft": {"material": "steel 4140", "stations": [20, 80]},
    "grinder": {"dial": "diameter"},
    "gauge": [
        {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 0.001},
        {"name": "plug", "measures": "bore", "link": {"serial": "b"}, "resolution": 0.001},
        {"name": "probe", "measures": "temperature", "link": {"serial": "c"}},
        {"name": "saddle", "measures": "infeed", "link": {"serial": "d"}, "resolution": 0.001},
    ],
}


def test_a_size_read_warm_is_judged_as_it_is_at_20_degrees(one_place):
    """4140 expands 12.3e-6 per kelvin (Callister, Table B.6): 4 K on 55 mm are 2.7 µm."""
    growth = 55.0 * 12.3e-6 * 4
    lines: list[tuple[str, Any]] = [("probe", 24.0), ("mike", round(55.030 + growth, 4))]
    for cold in (55.027, 55.0255, 55.0247):
        lines += [("person", "pass 0"), ("probe", 24.0), ("mike", round(cold + growth, 4))]

    row = summary(one_place.tell(*lines))["passes"][-1]

    assert row["value_20c"] == pytest.approx(55.0247, abs=5e-4)
    assert row["predicted"] < 55.0247 + 5e-4


def test_a_gauge_that_falls_silent_is_said_although_another_speaks(sheet, new_session):
    sheet["gauge"][2] = {**sheet["gauge"][2], "silence": 10.0}
    session = new_session(job_of(sheet))

    state = session.tell(("probe", 20.0), *[("saddle", 0.0), ("beat", 1.0)] * 4)

    assert flags(state) == ["silent"]


REPEAT = 0.2
"""Default of `readings.repeat`, s."""


def _sent(session: Any, seconds: float, value: float, raw: str | None = None) -> None:
    """A reading of the micrometer, *seconds* after the one before it."""
    session.seconds += seconds - 5.0  # `tell` waits 5 s before each
    session.tell(("mike", Reading(value, "mm", 3, f"{value}\r\n" if raw is None else raw)))


@given(
    gaps=st.lists(st.sampled_from([0.0, 0.003, REPEAT / 2, REPEAT - 1e-6]), max_size=3),
    values=st.lists(st.sampled_from([55.01, 55.02, 55.03]), min_size=1, max_size=5),
)
def test_a_gauge_that_sends_everything_again_walks_like_one_that_does_not(
    gaps: list[float], values: list[float]
):
    """Law: every reading is recorded, and each is taken once, however often it is sent within the time."""
    once, again = _session(), _session()
    for value in values:
        _sent(once, 5.0, value)
        _sent(again, 5.0, value)
        for gap in gaps:
            _sent(again, gap, value)

    assert [(r.place, r.value) for r in again.state.stations.taken] == [
        (r.place, r.value) for r in once.state.stations.taken
    ]
    assert again.state.kinds["reading"] == len(values) * (1 + len(gaps))


@pytest.mark.parametrize(
    ("seconds", "value", "raw", "taken"),
    [
        (REPEAT - 1e-6, 55.01, None, 1),
        (REPEAT, 55.01, None, 1),
        (REPEAT + 1e-6, 55.01, None, 2),
        (0.0, 55.011, None, 2),
        (0.0, 55.01, "55.010 \r\n", 2),
    ],
)
def test_only_the_same_bytes_sooner_than_a_hand_can_move_are_the_same_reading(
    session, seconds: float, value: float, raw: str | None, taken: int
):
    _sent(session, 5.0, 55.01)
    _sent(session, seconds, value, raw)

    assert len(session.state.stations.taken) == taken


def test_a_word_in_between_makes_it_a_reading_of_its_own(session):
    _sent(session, 5.0, 55.01)
    session.seconds -= 5.0
    session.tell(("person", "pass 0"))
    _sent(session, 0.0, 55.01)

    assert [reading.pass_ for reading in session.state.stations.taken] == [0, 1]


def test_a_reading_on_the_master_that_is_sent_again_counts_once(session):
    session.tell(("person", "master mike 55"))
    _sent(session, 5.0, 55.001)
    _sent(session, 0.01, 55.001)

    assert session.state.stations.zeros["mike"].n == 1


def test_two_gauges_that_say_the_same_are_two_readings(sheet, new_session):
    sheet["gauge"].append({**sheet["gauge"][0], "name": "second", "link": {"serial": "e"}})
    session = new_session(job_of(sheet))
    _sent(session, 5.0, 55.01)
    session.seconds -= 5.0
    session.tell(("second", Reading(55.01, "mm", 3, "55.01\r\n")))

    assert len(session.state.stations.taken) == 2
