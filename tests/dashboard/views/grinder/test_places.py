from __future__ import annotations

import copy

from capture.events import Pass, Stage
from dashboard.views.grinder.places import places


def walked(session, sheet, sizes):
    several = copy.deepcopy(sheet)
    several["shaft"] |= {"stations": [20, 140, 260], "angles": [0, 90]}
    one = session(several)
    for n, value in enumerate(sizes):
        one.say("mike", value, 3.0 * n + 1)
    return one


def test_stations_stand_side_by_side_in_their_order_on_the_part(session, sheet, reading):
    state = walked(session, sheet, [reading(55.001), reading(55.002)]).state
    names = [card[0][0] for card in places(state, "mm")["places[]"]]

    assert names == [
        "20 mm · 0°",
        "20 mm · 90°",
        "140 mm · 0°",
        "140 mm · 90°",
        "260 mm · 0°",
        "260 mm · 90°",
    ]


def test_each_says_how_far_it_is_from_the_aim_and_which_way(session, sheet, reading):
    """Aim 54.9971."""
    state = walked(session, sheet, [reading(55.0), reading(54.9961)]).state
    cards = places(state, "mm")["places[]"]

    assert cards[0][2][:2] == ["2.9 µm above", "above"]
    assert cards[1][2][:2] == ["1.0 µm below", "below"]
    assert cards[2][2] == ["–"]


def test_the_place_in_hand_and_the_next_are_named(session, sheet, reading):
    shown = places(walked(session, sheet, [reading(55.0)]).state, "mm")

    assert shown["here"] == "In hand: shaft at 20 mm, 90°, then 140 mm, 0°"
    assert [card[0][1] for card in shown["places[]"]].index("here") == 1


def test_a_reading_from_before_the_last_pass_says_so(session, sheet, reading):
    one = walked(session, sheet, [reading(55.01), reading(55.011)])
    one.say("person", Pass(0.004), 20.0)
    one.say("mike", reading(55.007), 25.0)
    cards = places(one.state, "mm")["places[]"]

    assert [card[3][0] for card in cards[:2]] == ["pass 1", "pass 0"]


def test_a_new_stage_starts_with_empty_stations(session, sheet, reading):
    one = walked(session, sheet, [reading(55.01)])
    one.say("person", Stage("finish"), 20.0)

    assert all(card[1] == ["–"] for card in places(one.state, "mm")["places[]"])
