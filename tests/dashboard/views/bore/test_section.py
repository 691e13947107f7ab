"""The section of the bore: what stands where on it, and that what is said of it is so."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.events import Stage, Taken
from dashboard.views.bore.section import DIRECTIONS, section
from dashboard.views.elements.figure import figures

STATIONS = (10.0, 40.0, 70.0)
OPEN, GAUGE, NEWEST, SMALLEST = range(4 + DIRECTIONS, 8 + DIRECTIONS)
"""Places of the traces behind the bodies, the limits, the axis and the walls."""


def sheet(angles: tuple[int, ...], units: str = "mm") -> dict[str, Any]:
    gauge = {"name": "plug", "measures": "bore", "link": {"serial": "a"}}
    fit = {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}}
    bore = {"material": "grey cast iron", "stations": list(STATIONS), "angles": list(angles)}
    return {"job": {"name": "Sleeve", "units": units}, "fit": fit, "bore": bore, "gauge": [gauge]}


@pytest.fixture
def bored(session):
    """The state of a bore measured at some places: sizes in micrometres above 55 mm by station and angle."""

    def measure(sizes: dict[tuple[float, float], float], angles: tuple[int, ...] = (0, 60, 120)) -> Any:
        one = session(sheet(angles))
        one.say("person", Stage("as found"), 1.0)
        for t, ((z, angle), size) in enumerate(sizes.items(), 2):
            taken = Taken("bore", z, angle, 0, 55.0 + size / 1000, 0.0002, (0,), "plug")
            one.say("desk", taken, float(t))
        return one.state

    return measure


def drawn(state: Any, units: Any = "mm") -> Any:
    return section(state, units)["bore-section#figure"]


def walls(figure: Any) -> dict[str, tuple[list[float], list[float], list[float]]]:
    """Of each direction the stations, the upper wall and the lower one."""
    found = {}
    for trace in figure["traces"][4 : 4 + DIRECTIONS]:
        if trace["x"]:
            half = len(trace["x"]) // 2
            found[trace["name"]] = (trace["x"][:half], trace["y"][:half], trace["y"][half + 1 :])
    return found


def test_both_walls_are_drawn_in_each_direction_as_mirrors(bored):
    state = bored({(10, 0): 4.0, (40, 0): 1.0, (10, 60): 5.0, (40, 60): 2.0})
    found = walls(drawn(state))

    assert list(found) == ["0°", "60°"]
    for x, upper, lower in found.values():
        assert x == [10, 40]
        assert lower == [-y for y in upper]


def test_a_wall_departs_by_half_of_what_the_diameter_does(bored):
    """Half on diameter each: geometry, no source is due."""
    (_, (first, second), _) = walls(drawn(bored({(10, 0): 4.0, (40, 0): 1.0})))["0°"]

    assert first - second == pytest.approx(1.5)


def test_the_exaggeration_that_is_said_is_the_one_that_is_drawn(bored):
    """A scale is a ratio: 1 µm of departure as drawn, to 1 µm of the diameter as drawn."""
    shown = section(bored({(10, 0): 4.0, (40, 0): 1.0}), "mm")
    told = float(re.search(r"enlarged ([\d ]+) times", shown["bore-section-title"])[1].replace(" ", ""))
    (_, upper, lower) = walls(shown["bore-section#figure"])["0°"]
    hollow = [up - down for up, down in zip(upper, lower, strict=True)]
    by_departure = (hollow[0] - hollow[1]) / 3.0
    by_diameter = sum(hollow) / 2 / 55_002.5

    assert by_departure / by_diameter == pytest.approx(told, rel=0.001)


def test_the_smallest_and_the_newest_place_are_marked_with_what_was_measured(bored):
    figure = drawn(bored({(10, 0): 4.0, (40, 0): 1.0, (70, 0): 3.0}))
    smallest, newest = figure["traces"][SMALLEST], figure["traces"][NEWEST]

    assert (smallest["x"][0], smallest["text"][0]) == (40, "smallest +1.0")
    assert (newest["x"][0], newest["text"][1]) == (70, "newest +3.0")
    assert newest["textposition"].endswith("left")
    assert smallest["y"][0] == walls(figure)["0°"][1][1]


def test_the_cut_goes_through_the_direction_of_the_newest_reading_and_no_further_than_is_known(bored):
    figure = drawn(bored({(10, 0): 4.0, (40, 0): 1.0, (10, 60): 5.0, (40, 60): 2.0}))
    body = figure["traces"][0]

    assert min(body["x"]) > figure["x"][0]
    assert max(body["x"]) < 70
    assert walls(figure)["60°"][1][0] in body["y"]
    assert walls(figure)["0°"][1][0] not in body["y"]


def test_the_gauge_stands_at_the_place_in_hand_and_what_is_open_is_marked(bored):
    figure = drawn(bored({(10, 0): 4.0, (10, 60): 4.0}))
    gauge, still = figure["traces"][GAUGE], figure["traces"][OPEN]

    assert gauge["x"] == [10, 10, 10]
    assert gauge["text"][1].strip() == "120°"
    assert sorted(set(still["x"])) == list(STATIONS)


def test_the_size_to_lap_to_is_drawn_on_both_walls(bored):
    """What is tight is lapped to the largest place, here the one at 10 mm."""
    figure = drawn(bored({(10, 0): 4.0, (40, 0): 1.0, (70, 0): 3.9}))
    line = figure["traces"][2]
    largest = walls(figure)["0°"][1][0]

    assert {round(abs(y), 1) for y in line["y"] if y is not None} == {round(largest, 1)}
    assert {y > 0 for y in line["y"] if y is not None} == {True, False}


def test_ticks_on_both_walls_tell_the_departure_from_the_nominal(bored):
    figure = drawn(bored({(10, 0): 4.0, (40, 0): 0.0, (70, 0): -4.0}))
    places, texts = figure["ticks"]
    (_, upper, _) = walls(figure)["0°"]

    assert upper[1] == pytest.approx(places[texts.index("0")])
    assert upper[0] == pytest.approx(places[texts.index("+4")])
    assert upper[2] == pytest.approx(places[texts.index("−4")])


def test_inches_are_told_in_tenths_and_inches_along(bored):
    """0.00254 mm is a tenth of a thousandth of an inch, 25.4 mm an inch, exact."""
    figure = drawn(bored({(10, 0): 2.54, (40, 0): 0.0}), "in")
    (x, (first, second), _) = walls(figure)["0°"]

    assert first - second == pytest.approx(0.5, abs=0.01)
    assert x == [pytest.approx(10 / 25.4, abs=1e-4), pytest.approx(40 / 25.4, abs=1e-4)]


def test_before_anything_is_measured_the_stations_stand_and_words_say_so(bored):
    shown = section(bored({}), "mm")

    assert "as places are accepted" in shown["bore-section-none"]
    assert sorted(set(shown["bore-section#figure"]["traces"][OPEN]["x"])) == list(STATIONS)
    assert walls(shown["bore-section#figure"]) == {}


def test_a_job_without_stations_has_no_section(ground):
    shown = section(ground.state, "mm")

    assert shown["bore-section#figure"] is None
    assert shown["bore-section-none"]


def test_more_directions_than_looks_are_said_to_be_on_the_map(bored):
    angles = (0, 20, 40, 60, 80, 100, 120)
    shown = section(bored({(10, a): float(a) / 100 for a in angles}, angles), "mm")

    assert len(walls(shown["bore-section#figure"])) == DIRECTIONS
    assert "120°" in walls(shown["bore-section#figure"])
    assert shown["bore-section-none"].startswith("Drawn are 6 of 7")


def test_no_direction_is_told_by_colour_alone():
    for theme in ("light", "dark"):
        looks = figures()[theme]["bore-section"]["data"][4 : 4 + DIRECTIONS]
        assert len({look["line"]["dash"] for look in looks}) == DIRECTIONS
        assert len({look["marker"]["symbol"] for look in looks}) == DIRECTIONS


@settings(max_examples=60, deadline=None)
@given(
    sizes=st.dictionaries(
        st.tuples(st.sampled_from(STATIONS), st.sampled_from((0.0, 60.0, 120.0))),
        st.floats(-80, 80),
        min_size=1,
    )
)
def test_walls_never_meet_and_never_leave_their_bodies(sizes):
    from tests.dashboard.conftest import Session

    one = Session(sheet((0, 60, 120)))
    for t, ((z, angle), size) in enumerate(sizes.items(), 2):
        one.say("desk", Taken("bore", z, angle, 0, 55.0 + size / 1000, 0.0002, (0,), "plug"), float(t))
    figure = drawn(one.state)
    for _, upper, _ in walls(figure).values():
        assert all(0 < y <= figure["y"][1] for y in upper)
    for line in figure["traces"][:2]:
        assert all(abs(y) <= figure["y"][1] + 1e-6 for y in line["y"])


def test_a_button_chooses_each_direction_where_there_is_a_choice(bored):
    def buttons(state):
        shown = section(state, "mm")
        names = [shown[f"bore-section-direction-{n}"] for n in range(DIRECTIONS)]
        hidden = [shown[f"bore-section-direction-{n}@hidden"] for n in range(DIRECTIONS)]
        assert [bool(name) for name in names] == [one is None for one in hidden]
        return [name for name in names if name], shown["bore-section-directions@hidden"]

    assert buttons(bored({(10, 120): 4.0, (10, 0): 5.0})) == (["0°", "120°"], None)
    assert buttons(bored({(10, 0): 4.0, (40, 0): 5.0})) == ([], "")
    assert buttons(bored({})) == ([], "")
