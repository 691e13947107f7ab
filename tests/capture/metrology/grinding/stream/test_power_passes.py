"""Passes from the rises of a drive's power; the powers here are scripts, not the simulator's."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.metrology.grinding.stream import power_bumps, power_passes
from capture.metrology.grinding.stream.power_bumps import Bump, Bumps
from capture.metrology.grinding.stream.power_passes import PowerPass, PowerPasses

RATE = 8.0


def watts(script: Sequence[tuple[float, float]], *, scatter: float = 4.0) -> list[tuple[float, float]]:
    """Time and power of a script of (seconds, W); the scatter is a fixed pattern without a mean."""
    pattern = (1.0, -0.4, -1.3, 0.8, 0.2, -0.9, 1.1, -0.5)
    shown: list[tuple[float, float]] = []
    for seconds, level in script:
        for _ in range(round(seconds * RATE)):
            at = len(shown)
            shown.append((at / RATE, level + scatter * pattern[(at * 5 + at // 3) % 8]))
    return shown


def bumps_of(shown: Sequence[tuple[float, float]]) -> list[Bump]:
    state, found = Bumps(), []
    for at, value in shown:
        state = power_bumps.step(state, at, value, 1.0)
        found += state.done
    return found


def passes_of(found: Sequence[Bump], *, known_stroke: float | None = None) -> tuple[list[PowerPass], bool]:
    state, made, dressed = PowerPasses(known_stroke=known_stroke), [], False
    for bump in found:
        state = power_passes.step(state, bump)
        made += state.due
        dressed = dressed or state.dressed
    made += power_passes.settled(state).due if state.held is not None else ()
    return made, dressed


def stroke(level: float, seconds: float = 10.0) -> list[tuple[float, float]]:
    return [(seconds, level), (1.2, 900.0)]


def test_each_stroke_at_contact_is_a_rise_of_its_own():
    found = bumps_of(watts([(12.0, 900.0), *stroke(1050.0), *stroke(1080.0), *stroke(1000.0), (8.0, 900.0)]))

    assert [round(one.level, -1) for one in found] == [150.0, 180.0, 100.0]
    assert [one.lasts for one in found] == pytest.approx([10.0] * 3, abs=0.8)


def test_passes_without_infeed_are_those_whose_power_falls():
    levels = (1050.0, 1080.0, 990.0, 945.0, 1070.0)
    found = bumps_of(
        watts([(12.0, 900.0), *(one for level in levels for one in stroke(level)), (8.0, 900.0)])
    )

    made, _ = passes_of(found)

    assert [one.rest for one in made] == [False, False, True, True, False]


def test_a_pump_on_the_same_meter_is_no_pass_and_lifts_those_upon_it():
    script = [(12.0, 900.0), (4.0, 1000.0), (10.0, 1150.0), (1.2, 1000.0), (10.0, 1100.0), (4.0, 1000.0)]
    found = bumps_of(watts([*script, (10.0, 900.0)]))

    made, _ = passes_of(found)

    assert [round(one.level, -1) for one in made] == [150.0, 100.0]
    assert [bool(one.holds) for one in found] == [False, False, True]


def test_a_pump_alone_is_no_pass_once_it_is_known():
    grind = [(4.0, 1000.0), (10.0, 1150.0), (1.2, 1000.0), (10.0, 1100.0), (4.0, 1000.0), (15.0, 900.0)]
    made, _ = passes_of(bumps_of(watts([(12.0, 900.0), *grind, (10.0, 1000.0), (10.0, 900.0)])))

    assert len(made) == 2


def test_a_dresser_is_told_from_strokes_and_said():
    grind = [one for level in (1100.0, 1120.0, 1110.0) for one in stroke(level)]
    dress = [one for _ in range(3) for one in ((5.0, 950.0), (1.5, 900.0))]
    made, dressed = passes_of(
        bumps_of(watts([(12.0, 900.0), *grind, (15.0, 900.0), *dress, (10.0, 900.0), *stroke(1100.0)]))
    )

    assert len(made) == 4
    assert dressed


def test_a_dresser_as_long_as_a_stroke_is_told_by_rises_that_do_not_fade():
    grind = [one for level in (1100.0, 1120.0, 1110.0) for one in stroke(level)]
    dress = [one for _ in range(3) for one in ((10.0, 950.0), (1.5, 900.0))]
    made, dressed = passes_of(
        bumps_of(watts([(12.0, 900.0), *grind, (15.0, 900.0), *dress, (10.0, 900.0), *stroke(1100.0)]))
    )

    assert len(made) == 4
    assert dressed


def test_two_strokes_that_the_meter_did_not_part_are_two_by_their_length():
    one, two = Bump(0.0, 10.0, 150.0, 900.0, 2.0), Bump(0.0, 20.5, 150.0, 900.0, 2.0)

    assert power_passes.strokes_in(one, 10.0) == 1
    assert power_passes.strokes_in(two, 10.0) == 2
    assert power_passes.strokes_in(two, None) == 1
    assert power_passes.strokes_in(Bump(0.0, 4.0, 150.0, 900.0, 2.0), 10.0) == 0


def test_an_undercut_parts_no_stroke_whose_length_the_sheet_says():
    over = [(6.0, 1100.0), (1.0, 900.0), (4.0, 1100.0), (2.0, 900.0)]
    found = bumps_of(watts([(12.0, 900.0), *over, *over, (10.0, 900.0)]))

    assert len(passes_of(found, known_stroke=11.0)[0]) == 2


def test_a_stream_that_stops_ends_the_rise_in_hand_where_it_stopped():
    state = Bumps()
    for at, value in watts([(12.0, 900.0), (6.0, 1100.0)]):
        state = power_bumps.step(state, at, value, 1.0)
    (bump,) = power_bumps.lost(state).done

    assert bump.ended == pytest.approx(18.0, abs=0.5)


@given(st.lists(st.floats(0.0, 5000.0), min_size=5, max_size=300))
def test_whatever_comes_rises_end_after_they_began_and_little_is_kept(values: list[float]):
    """Law: bounded memory, and rises in order."""
    state, ended = Bumps(), 0.0
    for number, value in enumerate(values):
        state = power_bumps.step(state, number / RATE, value, 1.0)
        for bump in state.done:
            assert bump.begun <= bump.ended
            ended = max(ended, bump.ended)
        assert len(state.ticks) <= power_bumps.KEPT
        assert len(state.rises) <= power_bumps.DEEP
    assert ended <= len(values) / RATE + 1.0


@settings(max_examples=15)
@given(st.floats(0.5, 400.0), st.floats(0.5, 3.0))
def test_the_unit_of_the_power_makes_no_difference(scale: float, height: float):
    """Law: kW, W or % of rated, the same passes."""
    script = [(12.0, 900.0), *stroke(900.0 + 100.0 * height), *stroke(900.0 + 60.0 * height), (6.0, 900.0)]

    def lengths(by: float) -> list[float]:
        state, found = Bumps(), []
        for at, value in watts(script):
            state = power_bumps.step(state, at, by * value, 0.0)
            found += [(bump.begun, bump.ended) for bump in state.done]
        return found

    assert lengths(scale) == lengths(1.0)
