"""Pauses: what a wait shows of a part that no probe watches."""

from __future__ import annotations

import pytest

from capture.coach.pauses import after_pause, newest_pause
from capture.metrology.grinding.outlook import SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior
from capture.simulator.grinder import SimulatedGauge, SimulatedGrinder, Wheel, Workholding

STROKES = [Stroke(0.005, 30.0 * n) for n in range(1, 4)]


def _sizes(before: float, later: float, growth: float | None = None) -> list[SizeReading]:
    early = [SizeReading(after=2, value=0.02, u=0.0005, t=60.0, growth=growth)]
    early += [SizeReading(after=3, value=before, u=0.0005, t=90.0 + n, growth=growth) for n in range(3)]
    return early + [SizeReading(after=3, value=later, u=0.0005, t=220.0 + n, growth=growth) for n in range(3)]


def test_a_part_that_does_not_fall_was_cold_and_heat_is_feared_less():
    _, sizes, prior, found = after_pause(STROKES, _sizes(0.0101, 0.0100), Prior())

    assert found is not None
    assert found.cold
    assert len(sizes) == 7
    assert prior.heat < 0.2 * Prior().heat


def test_a_part_that_falls_was_warm_and_its_warm_sizes_are_forgotten():
    strokes, sizes, prior, found = after_pause(STROKES, _sizes(0.0130, 0.0100), Prior())

    assert found is not None
    assert not found.cold
    assert found.fall == pytest.approx(0.003)
    assert list(strokes) == []
    assert [(size.after, size.value) for size in sizes] == [(0, 0.0100)] * 3
    assert prior == Prior()


def test_with_a_probe_a_pause_changes_nothing():
    sizes = _sizes(0.0130, 0.0100, growth=0.001)

    assert after_pause(STROKES, sizes, Prior()) == (STROKES, sizes, Prior(), None)


def test_readings_in_one_go_are_no_pause():
    assert newest_pause([SizeReading(after=1, value=0.0, u=0.001, t=t) for t in (0.0, 20.0, 40.0)]) is None


def test_a_simulated_dry_part_is_found_warm_by_how_far_it_is():
    """From outside: heat of 50 J/mm³ and rubbing by the simulator; coolant takes it out in 2 minutes."""
    shop = SimulatedGrinder(
        work=Workholding(diameter=55.06),
        wheel=Wheel(),
        gauge=SimulatedGauge(noise=0.0001, resolution=0.0),
        coolant=False,
        seed=4,
    )
    for _ in range(6):
        shop.advance(0.01)
    warm = shop.growth
    sizes = [SizeReading(after=6, value=shop.measure(140.0), u=0.0001, t=shop.time)]
    shop.coolant = True
    shop.wait(240.0)
    sizes.append(SizeReading(after=6, value=shop.measure(140.0), u=0.0001, t=shop.time))
    found = newest_pause(sizes)

    assert found is not None
    assert not found.cold
    assert found.fall == pytest.approx(warm - shop.growth, abs=0.0004)


def test_right_after_a_cold_pause_next_to_nothing_of_the_suspicion_is_left_and_a_pass_later_some():
    """The part is cold now, whatever else is odd; the next passes may warm it."""
    sizes = _sizes(0.0101, 0.0100)
    _, _, now, _ = after_pause(STROKES, sizes, Prior())
    _, _, later, _ = after_pause([*STROKES, Stroke(0.005, 240.0)], sizes, Prior())

    assert now.heat < 0.01 * later.heat
    assert later.heat < Prior().heat


def test_a_gauge_that_scatters_more_than_stated_does_not_make_a_part_warm():
    """A fall of 1.2 µm: 2.9 standard uncertainties as stated, 1.5 as the ten readings scatter about means."""
    around = (-0.0010, -0.0005, 0.0, 0.0005, 0.0010)

    def found(spread: float):
        sizes = [SizeReading(after=0, value=0.02, u=0.00065, t=0.0)]
        for t, mean in ((90.0, 0.0112), (220.0, 0.0100)):
            sizes += [
                SizeReading(after=3, value=mean + spread * e, u=0.00065, t=t + n)
                for n, e in enumerate(around)
            ]
        return newest_pause([*sizes, *_before(spread)])

    def _before(spread: float) -> list[SizeReading]:
        return [
            SizeReading(after=n, value=0.02 + 2.0 * spread * e, u=0.00065, t=30.0 * n + i)
            for n in (1, 2)
            for i, e in enumerate(around)
        ]

    steady, loose = found(0.0), found(0.9)
    assert steady is not None
    assert loose is not None
    assert not steady.cold
    assert loose.cold
    assert loose.fall == pytest.approx(steady.fall)
