"""Slope of part and table followed through the spring.

The law of one pass is the first-order spring (King and Hahn; Malkin and Guo) at every place along the
part; the movement of the table is plane geometry, x = R b / 2 (see the tests of `taper`).
"""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.coaching import straightened
from capture.coach.table_correction import Obedience, Slope, Turn, follow, straighten
from capture.simulator.grinder import SimulatedGauge, SimulatedGrinder, SimulatedTable, Wheel, Workholding

ARM, SPAN = 600.0, 220.0


def _slopes(part, line, share, passes, first=0, u=1e-8):
    found = []
    for number in range(first, first + passes + 1):
        found.append(Slope(number, part, u))
        part += share * (line - part)
    return found


def test_where_the_slope_goes_is_known_before_it_is_there():
    """A part that is parallel on a table that is not: three slopes tell the wheel's line, mm/mm."""
    line, share = 0.010 / SPAN, 0.4
    found = follow(_slopes(0.0, line, share, 2), [], 2, share=share, arm=ARM, span=SPAN)

    assert found is not None
    assert found.now * SPAN == pytest.approx(0.010 * (1.0 - 0.6**2), abs=1e-5)
    assert found.final * SPAN == pytest.approx(0.010, abs=1e-5)


@pytest.mark.parametrize("obeys", [0.7, 0.9, 1.1])
def test_what_the_table_makes_of_a_movement_is_learnt_through_the_spring(obeys: float):
    share, moved = 0.5, 0.020
    turned = -2.0 * moved * obeys / ARM
    before = _slopes(0.012 / SPAN, 0.012 / SPAN, share, 3)
    after = _slopes(before[-1].slope, 0.012 / SPAN + turned, share, 5, first=3)[1:]
    found = follow(before + after, [Turn(3, moved)], 8, share=share, arm=ARM, span=SPAN)

    assert found is not None
    assert found.obeys == pytest.approx(obeys, abs=2.0 * found.u_obeys)
    assert found.final * SPAN == pytest.approx(0.012 + turned * SPAN, abs=2e-4)
    assert found.u_obeys < Obedience().u


def test_the_movement_advised_makes_a_simulated_part_parallel():
    """From outside: the simulator turns its table and grinds, and knows nothing of the filter."""
    shop = SimulatedGrinder(
        work=Workholding(diameter=55.1, taper=0.008),
        wheel=Wheel(share=0.5),
        gauge=SimulatedGauge(noise=0.0, resolution=0.0),
        table=SimulatedTable(),
        interference=0.005,
        seed=3,
    )
    slopes = []
    for number in range(3):
        slopes.append(Slope(number, (shop.measure(250.0) - shop.measure(30.0)) / SPAN, 1e-7))
        shop.advance(0.005)
    found = follow(slopes, [], 2, share=0.5, arm=ARM, span=SPAN)
    assert found is not None
    advice = straighten(found, arm=ARM, span=SPAN, share=0.5, stock=0.1, within=0.00125)
    assert advice.advice == "move"
    shop.swivel(advice.toward_wheel)
    for _ in range(25):
        shop.advance(0.002)

    assert shop.size(250.0) - shop.size(30.0) == pytest.approx(0.0, abs=2e-4)


def _known(taper: float, u: float = 1e-7, passes: int = 6):
    slope = taper / SPAN
    slopes = [Slope(number, slope, u / SPAN) for number in range(passes + 1)]
    found = follow(slopes, [], passes, share=0.5, arm=ARM, span=SPAN)
    assert found is not None
    return found


def test_a_large_correction_is_made_in_part_and_a_small_one_in_full():
    """80 to 90 % of a large first correction: common practice, no source."""
    large = straighten(_known(0.020), arm=ARM, span=SPAN, share=0.5, stock=0.1, within=0.00125)
    small = straighten(_known(0.006), arm=ARM, span=SPAN, share=0.5, stock=0.1, within=0.00125)

    assert large.advice == "move in part"
    assert 0.8 <= large.toward_wheel / (ARM * 0.020 / SPAN / 2.0) <= 0.9
    assert small.advice == "move"
    assert small.toward_wheel == pytest.approx(ARM * 0.006 / SPAN / 2.0, rel=1e-3)


def test_chasing_stops_where_the_part_is_parallel_or_the_gauge_sees_no_more():
    fine = straighten(_known(0.0008), arm=ARM, span=SPAN, share=0.5, stock=0.1, within=0.00125)

    assert (fine.advice, fine.toward_wheel) == ("leave it", 0.0)


def test_the_table_is_left_where_the_stock_does_not_allow_it():
    found = straighten(_known(0.020), arm=ARM, span=SPAN, share=0.5, stock=0.004, within=0.00125)

    assert (found.advice, found.toward_wheel) == ("no stock", 0.0)


def test_after_a_movement_a_pass_is_made_before_it_is_judged():
    found = follow([Slope(0, 0.02 / SPAN, 1e-7)], [Turn(0, 0.01)], 0, share=0.4, arm=ARM, span=SPAN)
    assert found is not None
    advice = straighten(found, arm=ARM, span=SPAN, share=0.4, stock=0.1, within=0.00125)

    assert advice.advice == "measure"
    assert advice.rounds_after >= 1


def test_nothing_is_followed_before_the_first_slope_and_nonsense_is_refused():
    assert follow([], [], 3, share=0.5, arm=ARM, span=SPAN) is None
    with pytest.raises(ValueError, match="share 1"):
        follow([], [], 3, share=1.0, arm=ARM, span=SPAN)


def test_a_movement_of_unknown_length_widens_what_is_known():
    slopes = [Slope(n, 0.001 / SPAN, 1e-6) for n in range(4)]
    still = follow(slopes, [], 3, share=0.5, arm=ARM, span=SPAN)
    moved = follow(slopes, [Turn(3, None)], 3, share=0.5, arm=ARM, span=SPAN)
    assert still is not None
    assert moved is not None

    assert moved.u_final > 10.0 * still.u_final


def test_by_advice_parts_get_parallel_with_fewer_moves_than_by_habit():
    """The bars are the job's own: 2.5 µm over the stations in nearly all of a hundred simulated parts."""
    found = straightened.run(100, seed=70)

    assert found.good >= 0.93
    assert found.good > found.habit_good + 0.1
    assert found.moves < 0.7 * found.habit_moves
