"""Drawings of the record."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from capture.report.plots import clearance_map, passes_plot, profile_plot

PART = {
    "stations": [{"z": z, "mean": 55.0 + d, "u": 0.0004} for z, d in ((0, 0.001), (50, 0.0), (100, -0.001))]
}
CLEARANCE = {
    "positions": [
        {"offset": 0.0, "places": [{"bore": 0.0, "value": 0.004}, {"bore": 100.0, "value": 0.006}]},
        {"offset": 30.0, "places": [{"bore": 0.0, "value": 0.001}, {"bore": 50.0, "value": 0.003}]},
    ]
}


def read(svg):
    return ET.fromstring(svg)  # noqa: S314 - our own drawing


def test_a_larger_diameter_is_drawn_higher():
    points = [float(y) for y in re.findall(r"[\d.]+,([\d.]+)", read_line(profile_plot(PART, [], "mm")))]

    assert points == sorted(points)
    assert points[1] - points[0] == pytest.approx(points[2] - points[1], abs=0.11)


def read_line(svg):
    return next(e.get("points") for e in read(svg).iter("polyline"))


def test_every_reading_is_a_dot():
    svg = read(profile_plot(PART, [(0, 55.001), (50, 55.0002), (50, 54.9998)], "mm"))

    assert len(list(svg.iter("circle"))) == 3


def test_a_map_has_every_clearance_and_what_lies_straight_between():
    """Half way between 4 and 6 µm is 5 µm; beyond the last place nothing is drawn."""
    svg = read(clearance_map(CLEARANCE, (0.002, 0.008), "mm"))
    cells = [e.text for e in svg.iter("text") if e.get("class") == "cell"]

    assert cells == ["4.0", "5.0", "6.0", "1.0", "3.0"]


def test_a_clearance_outside_its_limits_is_hatched():
    svg = read(clearance_map(CLEARANCE, (0.002, 0.008), "mm"))
    hatched = [e.get("fill") for e in svg.iter("rect") if e.get("fill") == "url(#outside)"]

    assert len(hatched) == 1


def test_a_map_in_inches_counts_tenths():
    """One tenth is 0.0001 in, 2.54 µm."""
    one = {"positions": [{"offset": 0.0, "places": [{"bore": 0.0, "value": 0.00508}]}]}
    svg = read(clearance_map(one, (0.002, 0.008), "in"))

    assert [e.text for e in svg.iter("text") if e.get("class") == "cell"] == ["2.0"]
    assert "tenths" in "".join(svg.itertext())


def test_passes_need_two_sizes_to_be_drawn():
    rows = [{"number": n, "value_20c": 55.0 - n * 0.001} for n in (1, 2, 3)]

    assert passes_plot(rows[:1], "mm") == ""
    assert len(list(read(passes_plot(rows, "mm")).iter("circle"))) == 3


def test_passes_before_and_after_plating_are_drawn_apart():
    """A shaft that is 0.4 mm larger after plating would press both slopes flat in one drawing."""
    sizes = (55.010, 55.006, 54.700, 55.109, 55.105, 55.101)
    drawn = passes_plot([{"number": n, "value_20c": one} for n, one in enumerate(sizes)], "mm")

    assert drawn.count("<svg") == 2
    assert [len(list(read(f"<svg{one}").iter("circle"))) for one in drawn.split("<svg")[1:]] == [3, 3]


def test_places_that_nobody_knows_are_not_drawn():
    assert profile_plot({"stations": [{"z": None, "mean": 55.0, "u": 0.001}]}, [], "mm") == ""
    assert clearance_map({"positions": []}, (0.002, 0.008), "mm") == ""


def test_the_place_that_bound_is_framed_where_it_lies():
    """Places 0 and 100 of the bore are the first and the last of three columns; 50 lies between."""
    tries = [
        {"offset": 30.0, "bore": 50.0, "feel": "binds"},
        {"offset": 0.0, "bore": 0.0, "feel": "free"},
        {"offset": None, "bore": None, "feel": "tight"},
    ]
    svg = read(clearance_map(CLEARANCE, (0.002, 0.008), "mm", tries))
    boxes = {(float(e.get("x")), float(e.get("y"))) for e in svg.iter("rect") if e.get("class") == "felt"}
    cells = [e for e in svg.iter("rect") if e.get("class") is None and e.get("x")]
    last = cells[-1]

    assert boxes == {(float(last.get("x")) + 1.5, float(last.get("y")) + 1.5)}
    assert {"binds", "free"} <= set(svg.itertext())
    assert "tight" not in set(svg.itertext())
