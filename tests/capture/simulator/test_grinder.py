"""The simulated grinder against the closed forms of spring, taper and heat."""

from __future__ import annotations

from math import exp, log, pi

import numpy as np
import pytest

from capture.simulator.grinder import (
    HeatBalance,
    SimulatedGauge,
    SimulatedGrinder,
    SimulatedTable,
    Wheel,
    Workholding,
)

MIDDLE = 140.0
COLD = HeatBalance(into_part_wet=0.0, into_part_dry=0.0, pushes=False)
EXACT = SimulatedGauge(noise=0.0, resolution=0.0, probe_noise=0.0)


def grinder(**more):
    return SimulatedGrinder(**{"warmth": COLD, "gauge": EXACT, "seed": 1, **more})


@pytest.mark.parametrize(
    ("share", "to_5_percent", "to_1_percent"),
    [(0.3, 8.4, 12.91), (0.4, 5.86, 9.02), (0.5, 4.32, 6.64), (0.7, 2.49, 3.82)],
)
def test_the_spring_fades_by_its_share_a_pass(share, to_5_percent, to_1_percent):
    """SPARK-03: passes until 5 % and 1 % are left (King and Hahn; Malkin and Guo)."""
    shop = grinder(wheel=Wheel(share=share, wear=0.0), interference=0.010)
    left = [shop.to_come(MIDDLE)]
    for _ in range(14):
        shop.advance(0.0)
        left.append(shop.to_come(MIDDLE))
    passes = np.interp(-np.log([0.05, 0.01]), -np.log(np.array(left) / left[0]), range(15))

    assert passes == pytest.approx([to_5_percent, to_1_percent], abs=0.006)


def test_much_comes_off_by_itself():
    """SPARK-04: K = 0.4, six passes of 5 µm on radius: 14.3 µm of diameter is still to come."""
    shop = grinder(wheel=Wheel(share=0.4, wear=0.0))
    for _ in range(6):
        shop.advance(0.010)

    assert shop.to_come(MIDDLE) == pytest.approx(0.0143, abs=5e-5)


def test_what_is_to_come_is_what_then_comes():
    shop = grinder(wheel=Wheel(share=0.4, wear=0.08, glazing=0.02, loading=3.0), interference=0.008)
    shop.advance(0.005)
    before, due = shop.size(MIDDLE), shop.to_come(MIDDLE)
    for _ in range(400):
        shop.advance(0.0)

    assert before - shop.size(MIDDLE) == pytest.approx(due, abs=1e-9)


def test_worn_wheel_takes_less_than_the_infeed():
    """Wear w: of each infeed 1/(1+w) comes off in the end."""
    shop = grinder(wheel=Wheel(share=0.5, wear=0.10))
    for _ in range(3):
        shop.advance(0.010)

    assert 55.060 - shop.size(MIDDLE) + shop.to_come(MIDDLE) == pytest.approx(0.030 / 1.1, abs=1e-9)


def test_a_wheel_clear_of_the_part_takes_nothing_off():
    shop = grinder(interference=-0.012)
    shop.advance(0.010)

    assert (shop.removed, shop.size(MIDDLE), shop.next_removal(MIDDLE)) == (0.0, 55.060, 0.0)

    shop.advance(0.010)

    assert shop.removed == pytest.approx(0.5 * 0.008)

    shop.retract(0.020)
    shop.advance(0.0)

    assert shop.removed == 0.0


def test_a_pass_heats_the_part():
    """HEAT-06: 5 µm off 50 × 200 mm at 50 J/mm³ is 3927 J; 60 % into the part 1.609 K, 10 % 0.268 K."""
    work = Workholding(diameter=50.0, length=200.0, expansion=12.3e-6, heat_capacity=7.85e-3 * 0.475)
    wheel = Wheel(share=1.0, wear=0.0)
    rises = []
    for coolant in (False, True):
        warmth = HeatBalance(rubbing=0.0, time_constant_wet=1e12, time_constant_dry=1e12, pushes=False)
        shop = grinder(work=work, wheel=wheel, warmth=warmth, coolant=coolant)
        shop.advance(0.005)
        rises.append(shop.temperature - 20.0)

    assert rises == pytest.approx([1.609, 0.268], abs=0.002)
    assert 1000.0 * 50.0 * 12.3e-6 * rises[0] == pytest.approx(0.99, abs=0.001)


def test_a_warm_part_cools_by_its_time_constant():
    """Newton cooling, Cengel, Heat Transfer, lumped systems: exp(-t/τ); a lagging probe is late."""
    shop = grinder(warmth=HeatBalance(lag=20.0, time_constant_wet=60.0))
    shop.temperature = shop.probe_temperature = 30.0
    shop.wait(120.0)

    assert shop.temperature == pytest.approx(20.0 + 10.0 * exp(-2.0))
    assert shop.probe() > shop.temperature + 0.3
    assert shop.time == 120.0


def test_a_growing_part_is_pressed_into_the_wheel_if_it_pushes():
    sizes = []
    for pushes in (True, False):
        warmth = HeatBalance(rubbing=5000.0, pushes=pushes)
        shop = grinder(warmth=warmth, coolant=False, interference=0.005)
        for _ in range(10):
            shop.advance(0.0)
        sizes.append((shop.size(MIDDLE), shop.size(MIDDLE) + shop.growth))

    (pushed, _), (free, free_warm) = sizes

    assert pushed < free - 0.005
    assert free_warm > 55.060


def test_table_swivel_takes_a_taper_out():
    """X = R (D2 - D1) / (2 L): 10 µm over 280 mm, read 600 mm from the pivot, is 10.7 µm."""
    shop = grinder(
        work=Workholding(taper=0.010), table=SimulatedTable(pivot=140.0, reading_at=740.0), interference=0.020
    )
    shop.swivel(600.0 * 0.010 / (2.0 * 280.0))
    for _ in range(40):
        shop.advance(0.0)

    assert shop.size(280.0) - shop.size(0.0) == pytest.approx(0.0, abs=1e-6)


def test_play_is_lost_where_the_table_turns_back():
    shop = grinder(table=SimulatedTable(obeys=0.9, play=0.004))

    assert shop.swivel(0.010) == pytest.approx(0.009)
    assert shop.swivel(-0.010) == pytest.approx(-0.0054)


def test_gauge_shows_steps_of_its_resolution_and_scatters_as_told():
    shop = grinder(gauge=SimulatedGauge(noise=0.0006, resolution=0.001))
    readings = np.array([shop.measure(MIDDLE) for _ in range(4000)])

    assert np.abs(readings * 1000.0 - np.round(readings * 1000.0)).max() < 1e-6
    assert readings.mean() == pytest.approx(55.060, abs=5e-5)
    assert readings.std() == pytest.approx((0.0006**2 + 0.001**2 / 12.0) ** 0.5, rel=0.05)


def test_ovality_shows_across_and_along():
    shop = grinder(work=Workholding(ovality=0.004))

    assert shop.measure(MIDDLE, 0.0) - shop.measure(MIDDLE, 90.0) == pytest.approx(0.004)


def test_a_slender_part_is_left_thick_in_the_middle_until_it_sparks_out():
    shop = grinder(wheel=Wheel(share=0.5, wear=0.0, dip=0.4))
    for _ in range(5):
        shop.advance(0.010)

    assert shop.size(MIDDLE) > shop.size(0.0) + 0.002


def test_glazing_lowers_the_share_and_a_dress_brings_it_back():
    shop = grinder(wheel=Wheel(share=0.5, glazing=0.1, wear=0.0))
    for _ in range(5):
        shop.advance(0.005)

    assert log(shop.share / 0.5) == pytest.approx(5.0 * log(0.9))

    shop.dress(0.010, 0.5)

    assert shop.share == 0.5
    assert shop.next_removal(MIDDLE) < 0.01


def test_the_same_seed_gives_the_same_day():
    days = []
    for _ in range(2):
        shop = SimulatedGrinder(wheel=Wheel(scatter=0.1, slip=0.0003), seed=7, coolant=False)
        for _ in range(5):
            shop.advance(0.005)
        days.append((shop.measure(MIDDLE), shop.probe(), shop.size(20.0)))

    assert days[0] == days[1]
    assert days[0][2] != pytest.approx(55.060 - pi)
