"""Soak: predictions against curves whose end is known, and against physics."""

from __future__ import annotations

from math import exp, inf, log, nan

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from capture.metrology.heat.cooling import still_air
from capture.metrology.heat.soak import soak
from capture.metrology.message import message

U = 0.0002


def cooling(times, *, end=55.0, above=0.006, tau=4000.0):
    return [end + above * exp(-t / tau) for t in times]


def every(seconds, count):
    return [seconds * n for n in range(count)]


@given(st.floats(-0.02, 0.02), st.floats(600.0, 9000.0), st.floats(10.0, 200.0))
def test_an_undisturbed_curve_gives_its_own_end(above, tau, end):
    """Law: exact readings of end + a exp(-t / tau) are continued exactly."""
    assume(abs(above) > 0.001)
    times = every(tau / 4.0, 12)
    found = soak(times, cooling(times, end=end, above=above, tau=tau), u=1e-6, within=1e-5, slowest=3e4)

    assert found.final == pytest.approx(end, abs=3e-6)
    assert found.tau == pytest.approx(tau, rel=0.01)
    assert found.to_come == pytest.approx(-above * exp(-times[-1] / tau), abs=3e-6)


def test_three_readings_are_the_closed_formula():
    """Derived: d_inf = (d0 d2 - d1^2) / (d0 + d2 - 2 d1), equal steps, deviations from nominal."""
    times, d = [0.0, 600.0, 1200.0], [0.0060, 0.0049, 0.0041]
    end = (d[0] * d[2] - d[1] ** 2) / (d[0] + d[2] - 2 * d[1])
    tau = 600.0 / log((d[0] - d[1]) / (d[1] - d[2]))
    found = soak(times, d, u=1e-7, within=0.0003, slowest=1e5)

    assert found.final == pytest.approx(end, abs=2e-6)
    assert found.tau == pytest.approx(tau, rel=0.002)


def test_the_wait_is_the_time_to_the_limit():
    """Derived: tau ln(still to come / limit); a shaft of 50 mm in still air."""
    tau = still_air(0.05, difference=5.0).tau
    times = every(900.0, 12)
    found = soak(times, cooling(times, above=0.003, tau=tau), u=1e-6, within=0.0003, slowest=2 * tau)

    assert found.verdict == "settling"
    assert found.wait == pytest.approx(tau * log(0.003 * exp(-times[-1] / tau) / 0.0003), rel=0.02)
    assert found.wait_most >= found.wait
    assert found.advice == message("soak.settling", minutes=int(found.wait // 60) + 1)


def test_readings_without_change_are_settled():
    found = soak(every(300, 20), [55.0001, 55.0, 54.9999, 55.0] * 5, u=0.0001, within=0.0005, slowest=4000.0)

    assert found.verdict == "settled"
    assert found.wait == 0.0
    assert found.final == pytest.approx(55.0, abs=3 * found.u)


def test_a_short_look_cannot_tell_and_has_a_wide_answer():
    """Five minutes of a curve of two hours: the true end lies within the wide answer."""
    times = every(60, 6)
    found = soak(times, cooling(times, tau=7200.0), u=U, within=0.0003, slowest=12000.0)

    assert found.verdict == "cannot tell"
    assert found.u > 0.001
    assert found.advice.name == "soak.short"


def test_two_readings_cannot_tell():
    found = soak([0.0, 60.0], [55.1, 55.0], u=U, within=0.0003, slowest=9000.0)

    assert (found.verdict, found.final) == ("cannot tell", None)
    assert found.advice == message("soak.few", readings=2)


def test_a_part_that_turns_round_follows_no_cooling_curve():
    times = every(300, 12)
    values = [55.0 + 0.01 * abs(n - 6) for n in range(12)]
    found = soak(times, values, u=U, within=0.0003, slowest=9000.0)

    assert found.verdict == "cannot tell"
    assert found.advice.name == "soak.stray"


def test_the_truth_lies_within_two_u_as_often_as_it_should():
    """Simulated, 120 noisy soaks: 95 % within 2 u, which is not idly large; none settled too early."""
    draw = np.random.default_rng(20)
    strays = []
    early = 0
    for _ in range(120):
        times = every(600, 16)
        values = [each + draw.normal(0.0, U) for each in cooling(times)]
        found = soak(times, values, u=U, within=0.0003, slowest=12000.0)
        strays.append((found.final - 55.0) / found.u)
        early += found.verdict == "settled" and 0.006 * exp(-times[-1] / 4000.0) > 0.0003

    assert np.mean(np.abs(strays) <= 2.0) >= 0.9
    assert 0.65 <= np.sqrt(np.mean(np.square(strays))) <= 1.25
    assert early == 0


def test_a_known_room_temperature_narrows_the_answer():
    times = every(300, 6)
    temperatures = [20.0 + 8.0 * exp(-t / 5000.0) for t in times]
    free = soak(times, temperatures, u=0.1, within=0.5, slowest=12000.0)
    tied = soak(times, temperatures, u=0.1, within=0.5, slowest=12000.0, end=(20.0, 0.3))

    assert tied.u < free.u / 2.0
    assert tied.final == pytest.approx(20.0, abs=2 * tied.u)


@given(st.floats(-50.0, 50.0))
def test_moving_all_readings_moves_the_end_by_as_much(shift):
    times = every(900, 10)
    values = cooling(times, end=5.0)
    one = soak(times, values, u=U, within=0.0003, slowest=12000.0)
    other = soak(times, [v + shift for v in values], u=U, within=0.0003, slowest=12000.0)

    assert other.final - shift == pytest.approx(one.final, abs=1e-6)
    assert other.verdict == one.verdict


def test_a_mirrored_soak_has_a_mirrored_answer():
    times = every(900, 10)
    values = cooling(times, end=0.0)
    one = soak(times, values, u=U, within=0.0003, slowest=12000.0)
    other = soak(times, [-v for v in values], u=U, within=0.0003, slowest=12000.0)

    assert other.final == pytest.approx(-one.final, abs=1e-12)
    assert (other.verdict, other.u, other.wait) == pytest.approx((one.verdict, one.u, one.wait))


def test_inches_give_the_same_wait():
    times = every(900, 10)
    values = cooling(times, end=55.0)
    mm = soak(times, values, u=U, within=0.0003, slowest=12000.0)
    inch = soak(times, [v / 25.4 for v in values], u=U / 25.4, within=0.0003 / 25.4, slowest=12000.0)

    assert inch.wait == pytest.approx(mm.wait, rel=1e-6)
    assert inch.final * 25.4 == pytest.approx(mm.final, abs=1e-8)


@pytest.mark.parametrize(
    ("times", "values", "u", "why"),
    [
        ([0.0, 1.0], [1.0], U, "each reading needs both"),
        ([0.0, 2.0, 1.0], [1.0, 1.0, 1.0], U, "rise from reading to reading"),
        ([0.0, 1.0, 2.0], [1.0, nan, 1.0], U, "must be finite"),
        ([0.0, 1.0, 2.0], [1.0, inf, 1.0], U, "must be finite"),
        ([0.0, 1.0, 2.0], [1.0, 1.0, 1.0], 0.0, "u is 0; it must be over 0"),
    ],
)
def test_what_cannot_be_a_soak_is_refused(times, values, u, why):
    with pytest.raises(ValueError, match=why):
        soak(times, values, u=u, within=0.0003, slowest=9000.0)


def test_no_readings_cannot_tell():
    assert soak([], [], u=U, within=0.0003, slowest=9000.0).verdict == "cannot tell"
