"""The table of machines and the sentences of the history, as functions of what is known."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from capture.sessions import opened
from capture.shop.history.findings import ENOUGH, HistoryFinding, JudgedChanges, Series, judged_changes
from capture.shop.history.search import FoundJob
from capture.shop.history.trends import LongTrend
from capture.shop.live import MachineNow
from dashboard.shop.changes import change_sentences, sentence
from dashboard.shop.history import BadSearch, found_jobs, search_of
from dashboard.shop.machines import OLD, gauge_health, machine_table
from dashboard.sources.scene import Scene
from dashboard.views.grinder.verdict import verdict
from dashboard.views.size import figures

RECORDINGS = Path(__file__).parents[3] / "recordings"


@pytest.fixture(scope="module")
def good():
    return opened(RECORDINGS / "good.jsonl").state


def texts(component) -> list[str]:
    """Every text of a component, in its order."""
    if isinstance(component, str):
        return [component] if component else []
    children = getattr(component, "children", component)
    if isinstance(children, list | tuple):
        return [text for one in children for text in texts(one)]
    return [] if children is component or children is None else texts(children)


def machine(state, **more):
    known = {"name": "g1", "online": True, "recording": "good~0", "path": Path("good"), "state": state}
    return MachineNow(**{**known, "behind": False, "refused": "", **more})


def test_a_machine_is_shown_with_what_it_says_its_size_its_way_to_go_and_its_gauges(good):
    said = texts(machine_table([machine(good)], good.at.wall + 2_000_000_000))

    own = figures(good, "mm")
    assert said[7:] == [
        "g1",
        verdict(Scene("live", state=good), "mm")["say"],
        f"{own['size']} {own['size-unit']}",
        f"{own['togo']} {own['togo-unit']}",
        "2 s",
        "2 well",
        "Jig-borer spindle sleeve (simulated)",
    ]
    assert "54.997" in said[9]


def test_what_was_said_long_ago_is_shown_as_said_then(good):
    table = machine_table([machine(good)], good.at.wall + int((OLD + 1) * 1e9))

    assert any(text.startswith("Last: ") and "54.997" in text for text in texts(table))
    assert "none" in str(table)


def test_a_machine_that_is_away_without_a_recording_or_refused_says_so(good):
    away = texts(machine_table([machine(good, online=False)], good.at.wall))
    bare = texts(machine_table([machine(None, path=None, recording="")], 0))
    forged = texts(machine_table([machine(good, refused="event 7: no chain came")], good.at.wall))

    assert "Sends nothing now" in away
    assert "Waiting for a recording" in bare
    assert "Part of it is damaged: event 7: no chain came" in forged
    assert texts(machine_table([], 0)) == ["No machine has sent anything yet."]


def test_the_gauge_that_is_not_well_is_named():
    state = opened(RECORDINGS / "unplugged.jsonl").state
    down = opened(RECORDINGS / "bore.jsonl").state

    assert gauge_health(state, 1.0) == "2 well"
    health = {"plug": down.health["plug"].__class__(up=False)}
    assert gauge_health(down.__class__(**{**_fields(down), "health": health}), 1.0) == "plug is down"
    assert gauge_health(down.__class__(**{**_fields(down), "health": {}}), 1.0) == "nothing yet from plug"


def _fields(state):
    return {name: getattr(state, name) for name in state.__struct_fields__}


def test_each_kind_of_change_has_its_sentence_with_the_interval():
    trend = LongTrend(slope=0.0002, low=0.0001, high=0.0003, months=24.0, jobs=50, now=0.01)

    assert sentence(HistoryFinding("gauge-drifts", "g1 / mike", trend)) == (
        "g1 / mike drifts: +4.8 µm in 24 months, by 50 masterings (+0.1 µm to +0.3 µm a month)"
    )
    for what in ENOUGH:
        assert "50" in sentence(HistoryFinding(what, "g1", trend)), what


def test_a_change_is_drawn_with_its_jobs_and_its_interval():
    days = tuple(float(day) for day in range(0, 600, 20))
    series = [Series("gauge-drifts", "g1 / mike", days, tuple(day * 1e-5 for day in days))]
    found = judged_changes(series)

    drawn = change_sentences(found, series)

    figure = drawn.children[0].children[1].figure
    assert len(found.found) == 1
    assert [len(trace.x) for trace in figure.data] == [30, 2, 2, 2]
    assert figure.data[1].y[-1] == pytest.approx(5.8, abs=0.01)
    assert texts(change_sentences(JudgedChanges([], []), series)) == [
        "Nothing sure at 99 % and large enough to be said, in 1 series of jobs."
    ]


def test_what_lots_and_seasons_may_have_done_is_named_as_undecided():
    """Half a year of a gauge that goes 1.2 µm one way: the season alone may do that (common practice)."""
    days = tuple(float(day) for day in range(0, 180, 5))
    series = [Series("gauge-drifts", "g1 / mike", days, tuple(day * 1.2e-3 / 180 for day in days))]

    shown = texts(change_sentences(judged_changes(series), series))

    assert judged_changes(series).found == []
    assert any(one.startswith("Too little to say yet: g1 / mike.") for one in shown)


def test_fields_become_a_search_and_a_date_that_is_none_is_said():
    wanted = search_of({"words": " sleeve ", "since": "2026-03-01", "until": "2026-03-31", "machine": None})

    assert (wanted.words, wanted.machine) == ("sleeve", "")
    assert wanted.since == datetime(2026, 3, 1, tzinfo=UTC)
    assert wanted.until == datetime(2026, 4, 1, tzinfo=UTC)
    with pytest.raises(BadSearch, match="is no date"):
        search_of({"since": "March"})


def test_jobs_that_were_found_are_listed_and_counted():
    job = FoundJob(
        "g1", "r~0", "sleeve", "60 J", datetime(2026, 3, 1, tzinfo=UTC), 12, "at-size", 55.0, 0.5, 0.002
    )
    bare = FoundJob("g1", "r~1", "sleeve", "", None, None, None, None, None, None)

    said = texts(found_jobs([job, bare], 2, 0.123))

    assert said[0] == "2 jobs in 0.12 s"
    assert {"55.0000 mm", "50 %", "2.0 µm", "12"} <= set(said)
    assert texts(found_jobs([], 0, 0.1)) == ["No job is like that."]
    assert "More than 10000 jobs" in texts(found_jobs([job], 10_000, 0.1))[0]
