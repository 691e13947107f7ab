"""The least clearance at other temperatures."""

from __future__ import annotations

import pytest

from capture.analysis.fit.at_temperatures import closes_at, size_at, temperatures
from capture.analysis.fit.clearances import Side
from capture.events import Instant
from capture.metrology.fit.clearance import PlaceClearance, StationSize
from capture.sheet.reader import job_of
from capture.state.stations import Warmth

PLACE = PlaceClearance(0.005, 0.0004, 40.0, 40.0, 0.0)


def side(value):
    sizes = (StationSize(0.0, value, 0.0003), StationSize(80.0, value, 0.0003))
    return Side(sizes, sizes, (), placed=True, conditions=(), blocks=())


@pytest.fixture
def rows(fit_sheet):
    def of(shop=None, working=()):
        return temperatures(job_of(fit_sheet), side(50.005), side(50.0), PLACE, 0.005, shop or {}, working)

    return of


def test_iron_and_steel_at_one_temperature_come_nearer_by_their_difference(rows):
    """(11.4 - 12.3)e-6 /K x 50 mm x 10 K = -0.45 µm (Callister, Table B.6)."""
    cold, warm = rows(working=[{"bore": 30.0, "shaft": 30.0}])

    assert warm["least"] - cold["least"] == pytest.approx(-0.00045, abs=1e-6)
    assert warm["u"] > cold["u"]


def test_the_room_stands_in_where_no_probe_is_on_the_parts(rows):
    warmth = Warmth(22.0, 0.1, Instant(0, 0))

    assert [row["what"] for row in rows({"room": warmth})] == [
        "at 20 °C",
        "in the shop, both as warm as the room",
    ]
    assert [row["what"] for row in rows({"bore": warmth, "shaft": warmth})] == ["at 20 °C", "in the shop"]
    assert [row["what"] for row in rows({"bore": warmth})] == ["at 20 °C"]


def test_heat_that_closes_the_clearance(fit_sheet):
    """5 µm over 50 mm of 12.3e-6 /K: 8.13 K (derived)."""
    assert closes_at(job_of(fit_sheet), PLACE, side(50.0), 0.005) == pytest.approx(8.130, abs=1e-3)


def test_a_size_between_stations_lies_on_the_straight_line():
    assert size_at([StationSize(0.0, 50.0, 0.0), StationSize(80.0, 50.004, 0.0)], 20.0) == pytest.approx(
        50.001
    )
