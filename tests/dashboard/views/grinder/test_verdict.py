from __future__ import annotations

from types import SimpleNamespace

import msgspec
import pytest

from capture.events import Master, Pass, Reading, Stage, Taken
from capture.metrology.message import message
from dashboard.sources.scene import Scene
from dashboard.views.elements.theme import VERDICT
from dashboard.views.grinder.verdict import verdict


def scene(state, **more):
    return Scene("live", "sleeve.jsonl", state, age=0.1, **more)


def judged(session, **figures):
    """The session's state with another outlook on its newest pass."""
    row = session.state.grind.row
    if "to_come" in figures and "predicted" not in figures:
        come = figures["to_come"]
        figures["predicted"] = None if come is None else row.outlook.size - come
    outlook = msgspec.structs.replace(row.outlook, **figures)
    if outlook.predicted is not None:  # the size less what is to come
        outlook = msgspec.structs.replace(outlook, size=outlook.predicted + (outlook.to_come or 0.0))
    row = msgspec.structs.replace(row, evidence=SimpleNamespace(outlook=outlook, on_part=False))
    return msgspec.structs.replace(session.state, grind=msgspec.structs.replace(session.state.grind, row=row))


def test_an_empty_page_says_what_to_do_next():
    shown = verdict(Scene("waiting"), "mm")

    assert shown["say"] == "Waiting for a recording"
    assert "tenths run" in shown["more"]


def test_a_session_without_a_size_asks_for_one(session):
    assert verdict(scene(session().state), "mm")["say"] == "No size yet"


def test_a_size_without_a_pass_is_ready_to_grind(session, grinding_session):
    assert "Ready" in verdict(scene(grinding_session(session(), infeeds=[]).state), "mm")["say"]


def test_the_first_passes_say_how_far_it_is(session, grinding_session):
    state = grinding_session(session(), infeeds=[0.006] * 3).state
    shown = verdict(scene(state), "mm")

    assert shown["banner@data-state"] == "cutting"
    assert shown["say"].startswith("Cutting: ")
    assert shown["say"].endswith("µm to go")


def test_infeed_is_to_stop_when_what_still_comes_reaches_the_aim(session, grinding_session):
    ground = grinding_session(session(), infeeds=[0.006] * 6)
    shown = verdict(scene(judged(ground, to_come=0.005)), "mm")

    assert shown["say"] == "Stop the infeed: 5.0 µm still comes off by itself"
    assert shown["banner@data-state"] == "stop"


def test_a_finished_session_says_its_cold_size(ground):
    shown = verdict(scene(ground.state), "mm")

    assert shown["banner@data-state"] == "at-size"
    assert shown["say"] == f"On size, cold size {ground.state.grind.row.outlook.predicted:.4f} mm"


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("sparking-out", "Sparking out: 3.0 µm still to come"),
        ("sparked-out", "Sparked out, cold size 54.9951 mm"),
        ("growing", "Growing: heat. Coolant?"),
        ("stalled", "Stalled: you fed and nothing came off"),
    ],
)
def test_each_verdict_has_its_sentence(ground, name, sentence):
    state = judged(ground, verdict=name, to_come=0.003, predicted=54.99512)

    assert verdict(scene(state), "mm")["say"] == sentence


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("sparking-out", "Sparking out: 1.2 tenths still to come"),
        ("sparked-out", "Sparked out, cold size 2.16516 in"),
        ("at-size", "On size, cold size 2.16516 in"),
        ("growing", "Growing: heat. Coolant?"),
        ("stalled", "Stalled: you fed and nothing came off"),
    ],
)
def test_each_verdict_has_its_sentence_in_inches(ground, name, sentence):
    """3 µm are 1.18 tenths, 54.99512 mm are 2.165162 in (1 in = 25.4 mm, exact)."""
    state = judged(ground, verdict=name, to_come=0.003, predicted=54.99512)

    assert verdict(scene(state), "in")["say"] == sentence


def test_warmth_and_the_stop_are_said_in_tenths(session, grinding_session):
    """2.03 µm are 0.8 tenths, 5 µm 2.0."""
    ground = grinding_session(session(), infeeds=[0.006] * 6)
    stop = verdict(scene(judged(ground, to_come=0.005)), "in")
    large = verdict(scene(warm(session, grinding_session, 23.0, 22.9)), "in")

    assert stop["say"] == "Stop the infeed: 2.0 tenths still comes off by itself"
    assert large["say"] == "Warm: 0.8 tenths larger than it will be"


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(
    "name", ["cutting", "sparking-out", "sparked-out", "at-size", "growing", "warm", "stalled"]
)
def test_a_verdict_is_one_sentence_without_a_word_of_software(ground, name, units):
    state = judged(ground, verdict=name, to_come=0.003, predicted=54.99512)
    said = verdict(scene(state), units)

    assert said["say"]
    assert len(said["say"]) <= 60
    words = set(f"{said['say']} {said['more']}".lower().replace(".", " ").split())
    assert not words & {"event", "state", "null", "none", "server", "data", "error", "log", "json", "model"}


def test_the_first_pass_too_is_to_be_measured(session, grinding_session):
    one = grinding_session(session(), infeeds=[])
    one.say("person", Pass(0.006), 60.0)

    assert verdict(scene(one.state), "mm")["say"] == "Pass 1 made: measure"


def warm(session, grinding_session, sheet_t, now_t):
    """A grind of three passes, last measured at *sheet_t* °C and called warm; the probe now says *now_t*."""
    one = grinding_session(session(), infeeds=[0.006] * 3)
    one.say("probe", Reading(sheet_t, "degC", 1, "x"), 900.0)
    one.say("mike", Reading(55.02, "mm", 4, "x"), 901.0)
    one.say("probe", Reading(now_t, "degC", 1, "x"), 902.0)
    return judged(one, verdict="warm", predicted=54.9951)


def test_a_warm_part_is_never_called_done(session, grinding_session):
    """12.3e-6/K × 55.02 mm × 3 K = 2.03 µm (4140 steel)."""
    shown = verdict(scene(warm(session, grinding_session, 23.0, 22.9)), "mm")

    assert shown["say"] == "Warm: 2.0 µm larger than it will be"
    assert "Let it cool" in shown["more"]


def test_a_part_that_has_cooled_is_to_be_measured_again(session, grinding_session):
    shown = verdict(scene(warm(session, grinding_session, 26.0, 20.4)), "mm")

    assert shown["say"] == "Cooled: measure again"
    assert shown["banner@data-state"] == "warm"


def test_after_a_new_pass_no_verdict_stands_until_it_is_measured(ground):
    """It said On size; ten micrometres of infeed later nobody knows."""
    ground.say("person", Pass(0.010), 900.0)
    shown = verdict(scene(ground.state), "mm")

    assert shown["say"] == "Pass 14 made: measure"
    assert shown["banner@data-state"] == "none"
    assert "On size" not in shown["more"]
    assert shown["more"] == "Next reading: shaft at 140 mm, 0°. The figures below are of the pass before."


def test_sparked_out_above_the_band_asks_for_more_infeed(ground):
    state = judged(ground, verdict="sparked-out", predicted=55.0101)

    assert "feed more" in verdict(scene(state), "mm")["more"]


def test_a_gauge_on_its_master_is_no_size(ground):
    ground.say("person", Master("mike", 55.0, 0.0003), 900.0)
    shown = verdict(scene(ground.state), "mm")

    assert shown["say"] == "On the master: mike"
    assert shown["banner@data-state"] == "none"


def test_a_bore_being_measured_says_where_next(session):
    bore = session()
    bore.say("person", Stage("lapped"), 1.0)
    bore.say("desk", Taken("bore", 40.0, 60.0, 0, 55.002, 0.0005, (0,)), 2.0)

    assert verdict(scene(bore.state), "mm")["say"] == "Measuring the bore"


def test_doubts_of_the_model_are_said(ground):
    state = judged(ground, verdict="sparking-out", why=(message("outlook.warming"),), method="model")
    sequential = judged(ground, verdict="sparking-out", method="sequential", to_come=None)

    assert "seems to be getting warm" in verdict(scene(state), "mm")["more"]
    assert "by the sizes alone" in verdict(scene(sequential), "mm")["more"]


def test_inch_and_mm_reach_the_same_verdict(ground):
    boards = {units: verdict(scene(ground.state), units)["banner@data-state"] for units in ("mm", "in")}

    assert boards["mm"] == boards["in"]
    assert " in" in verdict(scene(ground.state), "in")["say"]


def test_every_board_that_can_be_shown_has_its_look(ground):
    names = ["cutting", "sparking-out", "sparked-out", "at-size", "growing", "warm", "stalled"]
    boards = {verdict(scene(judged(ground, verdict=name)), "mm")["banner@data-state"] for name in names}

    assert boards <= set(VERDICT)


@pytest.mark.parametrize(
    ("measures", "said"), [("infeed", "found from the gauges"), (None, "Press a button")]
)
def test_before_the_first_pass_it_is_said_how_passes_come_to_be_known(
    session, sheet, reading, measures, said
):
    saddle = {"name": "saddle", "measures": measures, "link": {"serial": "c"}, "resolution": 0.001}
    one = session({**sheet, "gauge": [*sheet["gauge"], *([saddle] if measures else [])]})
    one.say("mike", reading(55.03), 1.0)
    shown = verdict(Scene("live", "a.jsonl", one.state, age=0.1), "mm")

    assert shown["say"] == "Ready: grind a pass, then measure"
    assert said in (shown["more"] or "")
