from __future__ import annotations

from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from capture.events import Battery, Beat, Down, Event, Garbled, Instant, Reading, Up
from capture.report.terminal.gauge_watch import KEPT, GaugeRow, Watch, duration, rows, table, watching
from capture.sheet.job import Gauge, Job

JOB = Job(
    "Jig-borer spindle sleeve",
    gauges=(
        Gauge("mike", "diameter", {"ble": "Sleeve mike"}, silence=10.0),
        Gauge("pyro", "temperature", {"serial": "/dev/ttyUSB0"}),
    ),
)
LOST = "ble Sleeve mike: the connection was lost"


def seen(*facts: object, job: Job = JOB, until: float | None = None) -> list[GaugeRow]:
    """The rows after facts of the mike or (name, fact), a second apart."""
    events = []
    for second, fact in enumerate(facts):
        source, what = fact if isinstance(fact, tuple) else ("mike", fact)
        events.append(Event(second, Instant(second * 10**9, second * 10**9), source, what))
    if until is not None:
        events.append(Event(len(facts), Instant(round(until * 1e9), 0), "daemon", Beat()))
    return rows(watching(job).over(events), job)


def mm(value: float) -> Reading:
    return Reading(value, "mm", 3, "")


def test_a_gauge_that_speaks_is_shown_with_all_that_it_says():
    mike, pyro = seen(
        Up("Sleeve mike"),
        Battery(87),
        mm(55.01),
        mm(55.012),
        ("pyro", Reading(20.34, "degC", 2, "")),
        until=7.5,
    )

    assert mike == GaugeRow(
        "mike", "55.012 mm", "1/s", "4.5 s", "0", "87 %", ("up 7.5 s: Sleeve mike",), well=True
    )
    assert (pyro.value, pyro.battery, pyro.age) == ("20.34 °C", "–", "3.5 s")


def test_a_gauge_that_was_never_heard_of_says_so():
    mike, _ = seen()

    assert mike == GaugeRow("mike", "–", "–", "–", "0", "–", ("not tried yet",), well=False)


def test_inches_are_shown_where_the_job_is_in_inches():
    job = Job(JOB.name, "in", gauges=JOB.gauges)

    assert seen(mm(25.4), job=job)[0].value == "1.0000 in"


def test_a_gauge_that_shows_inches_is_shown_with_the_decimals_that_it_has():
    job = Job(JOB.name, "in", gauges=JOB.gauges)
    inches = Reading(50.826162, "mm", 5, "2.00103\r\n", "in")

    assert seen(inches, job=job)[0].value == "2.00103 in"
    assert seen(inches)[0].value == "50.8262 mm"
    assert seen(Reading(50.8, "mm", 0, "2\r\n", "in"))[0].value == "51 mm"


def test_the_history_of_a_link_is_told_newest_first():
    mike, _ = seen(Up("Sleeve mike"), Down(LOST), Down("not in sight"), Up("Sleeve mike"), until=7)

    assert mike.link == (
        "up 4.0 s: Sleeve mike; lost 1×",
        "5.0 s ago down: not in sight",
        "6.0 s ago down: " + LOST,
        "7.0 s ago up: Sleeve mike",
    )


def test_the_same_refusal_at_every_try_is_told_once_and_since_when():
    mike, _ = seen(*[Down("not in sight")] * 9, until=60)

    assert mike.link == ("down 1 min: not in sight",)
    assert not mike.well


def test_old_changes_of_a_link_are_let_go():
    facts = [fact for turn in range(9) for fact in (Up(f"{turn}"), Down(LOST))]

    assert len(seen(*facts)[0].link) == KEPT


@pytest.mark.parametrize(
    ("facts", "until", "words"),
    [
        ([Up("Sleeve mike")], 10.5, "connected, but has never spoken; up 10 s"),
        ([Up("Sleeve mike"), mm(55)], 11.5, "silent; up 11 s"),
        ([Up("Sleeve mike"), mm(55)], 10.5, "up 10 s"),
        ([mm(55), Down(LOST), Up("Sleeve mike")], 12, "up 10 s"),
        ([Up("Sleeve mike"), mm(55), Down(LOST)], 99, "down 1 min"),
    ],
)
def test_a_gauge_that_says_nothing_for_longer_than_the_sheet_allows_is_called_silent(facts, until, words):
    mike, pyro = seen(*facts, ("pyro", Up("")), until=until)

    assert mike.link[0].startswith(words)
    assert mike.well == (words == "up 10 s")
    assert "silent" not in pyro.link[0]


def test_garbled_pieces_are_counted_and_the_last_is_named_until_a_reading_comes():
    assert seen(Up(""), Garbled("no number", "x"), Garbled("no sign", "y"))[0].garbled == "2 (no sign)"
    assert seen(Up(""), Garbled("no number", "x"), mm(55))[0].garbled == "1"


def test_a_word_of_somebody_else_changes_nothing_but_the_time():
    fold = watching(JOB)
    event = Event(0, Instant(5, 5), "person", Up("x"))

    assert fold.step(fold.start, event) == Watch(fold.start.gauges, Instant(5, 5))


@given(st.floats(0, 1e9))
def test_a_duration_never_says_more_than_there_was(seconds):
    """Whole units are rounded down; below ten seconds it says tenths."""
    number, unit = duration(seconds).split()
    length = {"s": 1, "min": 60, "h": 3600, "d": 86400}[unit]

    assert float(number) * length <= seconds + 0.05
    assert seconds < (float(number) + 1) * length


def test_what_a_gauge_says_is_never_markup():
    row = GaugeRow(
        "[red]mike",
        "55",
        "1/s",
        "1 s",
        "0 ([bold]no)",
        "–",
        ("up 1 s: [link=x]mike[/link]", "[/]"),
        well=False,
    )
    page = StringIO()

    Console(file=page, width=150).print(table([row]))

    for words in ("[red]mike", "([bold]no)", "[link=x]mike[/link]", "[/]"):
        assert words in page.getvalue()
