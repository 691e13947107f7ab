"""Readings that were typed."""

from __future__ import annotations

import pytest

from capture.sheet.job import Gauge
from capture.state.words.commands import CommandRejected, parse_command, source_of
from capture.state.words.typed_reading import typed


@pytest.mark.parametrize(
    ("text", "unit", "value", "digits"),
    [
        ("55.012", "mm", 55.012, 3),
        ("+55,012", "mm", 55.012, 3),
        ("-.5", "mm", -0.5, 1),
        ("2.1654", "in", 55.00116, 4),
        ("68", "degF", 20.0, 0),
    ],
)
def test_a_typed_reading_is_in_the_unit_of_its_gauge(text, unit, value, digits):
    """25.4 mm to the inch and 68 °F at 20 °C, both exact by definition."""
    reading = typed(Gauge("any", "temperature" if unit == "degF" else "diameter", {}, unit=unit), text)

    assert (reading.value, reading.digits, reading.raw) == (value, digits, text)
    assert reading.shown == ("" if unit == "mm" else unit)


@pytest.mark.parametrize("text", ["", "nan", "1e3", "55.012 mm", "5 5", "1.2.3", "0x10", "²"])
def test_anything_else_is_refused(text):
    with pytest.raises(ValueError, match="due a decimal number"):
        typed(Gauge("mike", "diameter", {}), text)


def test_a_typed_reading_is_its_gauges_and_is_taken_as_any_other(session):
    fact = parse_command(["read", "mike", "55.012"], session.state)
    state = session.tell((source_of(["read", "mike", "55.012"], fact), fact))

    assert [(r.gauge, r.value) for r in state.stations.taken] == [("mike", 55.012)]


def test_a_gauge_that_is_not_on_the_sheet_is_refused(session):
    with pytest.raises(CommandRejected, match="due one of mike, plug"):
        parse_command(["read", "moon", "55"], session.state)
