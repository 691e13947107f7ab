"""What the advice begins with: the machine as it is remembered, the coolant as it was told.

The probabilities are the rules of the module; what a dry part's heat does is the physics of the simulator.
"""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from capture.coach.advice import Ground, as_gauged, coaching_of, outlook_of, prior_of
from capture.metrology.grinding.outlook import GrindLimits, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior
from capture.metrology.heat.cooling import still_air
from capture.sheet.job import Grinder, Job, Known
from capture.sheet.measuring_plan import PlannedPlace

LIMITS = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005, band=(-0.0015, 0.0015))


def _job(**known: float) -> Job:
    remembered = Known(**known) if known else None  # type: ignore[arg-type] # jobs is a whole number
    return Job("sleeve", grinder=Grinder("diameter", known=remembered))


def _ground(coolant: bool | None = True, *, later: float | None = None) -> Ground:
    """Four passes on a faultless machine of a share of a half, and readings after *later* seconds more."""
    size, spring, t = 0.030, 0.002, 0.0
    strokes, sizes = [], [SizeReading(after=0, value=size, u=0.0004, t=t)]
    for number, infeed in enumerate((0.010, 0.005, 0.005, 0.0), 1):
        t += 30.0
        spring += infeed
        size, spring = size - 0.5 * spring, 0.5 * spring
        strokes.append(Stroke(infeed, t))
        sizes += [SizeReading(after=number, value=size, u=0.0004, t=t + n) for n in range(3)]
    if later is not None:
        sizes += [SizeReading(after=4, value=size, u=0.0004, t=t + later + n) for n in range(3)]
    return Ground(strokes, sizes, (PlannedPlace(80.0),), (), 55.0, True, True, coolant, 0)


def test_a_machine_whose_parts_stay_cold_is_less_feared_and_one_whose_get_warm_more():
    usual = prior_of(_ground(None), _job()).heat

    assert prior_of(_ground(None), _job(heat=0.0, jobs=8)).heat == pytest.approx(0.2 * usual)
    assert prior_of(_ground(None), _job(heat=1.0, jobs=8)).heat > 2.0 * usual
    # one job says little: the estimate for any machine counts as two
    assert prior_of(_ground(None), _job(heat=0.0, jobs=1)).heat == pytest.approx(2.0 / 3.0 * usual)


def test_wear_is_begun_with_as_it_was_learnt():
    prior = prior_of(_ground(), _job(gain=0.91, u_gain=0.02, jobs=3))

    assert (prior.gain, prior.gain_u) == (0.91, 0.02)


def test_a_gauge_is_begun_with_as_it_scattered_but_not_beyond_all_belief():
    sizes = as_gauged(_ground(), _job(scatter=0.0007, jobs=3)).sizes
    assert {size.u for size in sizes} == {0.0007}

    wild = as_gauged(_ground(), _job(scatter=0.1, jobs=3)).sizes
    assert [size.u for size in wild] == pytest.approx([2.6 * 0.0004] * len(wild))
    assert as_gauged(_ground(), _job()) == _ground()
    assert prior_of(_ground(), _job(scatter=0.0007, jobs=3)).gauge_u < Prior().gauge_u


@pytest.mark.parametrize("coolant", [True, None])
def test_two_minutes_of_coolant_show_that_a_part_is_cold(coolant: bool | None):
    found = coaching_of(_ground(coolant, later=130.0), LIMITS, 0.0, _job())

    assert found is not None
    assert found.pause is not None
    assert found.pause.cold


def test_two_minutes_show_nothing_of_a_dry_part_and_hours_do():
    """Still air round 55 mm of steel takes two thirds of the heat in 2.7 h (Churchill and Chu)."""
    soon = coaching_of(_ground(coolant=False, later=130.0), LIMITS, 0.0, _job())
    late = coaching_of(_ground(coolant=False, later=4.0 * 3600.0), LIMITS, 0.0, _job())

    assert soon is not None
    assert soon.pause is None
    assert late is not None
    assert late.pause is not None
    assert prior_of(_ground(coolant=False), _job()).heat > 2.0 * Prior().heat


def test_what_a_diameter_gets_of_an_infeed_is_learnt_from_the_job():
    found = coaching_of(_ground(), LIMITS, 0.0, _job())

    assert found is not None
    assert found.gain is not None
    assert found.u_gain is not None
    assert found.gain == pytest.approx(1.0, abs=2.0 * found.u_gain)


def test_without_coolant_and_without_a_probe_the_verdict_is_unsure_of_the_cold_size():
    """What grows into the wheel looks like a part at rest; a dressing in between does not cool it."""
    wet, dry = (outlook_of(_ground(coolant), LIMITS, _job()) for coolant in (True, False))
    dressed = outlook_of(_ground(coolant=False)._replace(cut=0.060), LIMITS, _job())

    assert wet.u_predicted is not None
    assert dry.u_predicted is not None
    assert dressed.u_predicted is not None
    assert dry.u_predicted > 1.5 * wet.u_predicted
    assert dressed.u_predicted > 1.5 * dry.u_predicted


@pytest.mark.parametrize("seed", [2, 7, 10, 11])
def test_a_part_in_still_air_is_not_called_settled_on_the_way(seed: int):
    """Physics: a part left to the air, by Churchill and Chu at every difference, with 0.3 µm of noise.

    Read every quarter of an hour until what is to come is 1.1 times the limit.
    """
    warm, t, random = 0.008, 200.0, np.random.default_rng(seed)
    sizes = []
    while warm > 1.1 * LIMITS.warm:
        sizes.append(SizeReading(after=4, value=warm + random.normal(0.0, 0.0003), u=0.0003, t=t))
        for _ in range(15):
            warm *= exp(-60.0 / still_air(0.055, difference=warm / (55.0 * 12e-6)).tau)
        t += 900.0
    ground = _ground(coolant=False)
    found = coaching_of(ground._replace(sizes=[*ground.sizes[:10], *sizes]), LIMITS, 0.0, _job())

    assert found is not None
    assert found.soak is not None
    assert found.soak.verdict != "settled"


def test_a_wheel_dressed_between_two_passes_is_fed_on_by_what_came_after():
    """20 µm of wheel gone and nobody told: passes in the air must not end in a part called done.

    A faultless machine of a share of 0.6; the gauge shows whole tenths of a micrometre.
    """
    size, spring, t = 0.045, 0.002, 0.0
    strokes: list[Stroke] = []
    sizes = [SizeReading(after=0, value=size, u=0.0004, t=t, growth=0.0)]
    steps = []
    for number in range(1, 25):
        found = coaching_of(_so_far(strokes, sizes), LIMITS, 0.0, _job()) if strokes else None
        steps.append("feed" if found is None else found.landing.step)
        if steps[-1] == "stop":
            break
        infeed = 0.005 if found is None else found.landing.infeed
        spring += infeed - (0.020 if number == 5 else 0.0)
        taken = 0.6 * max(spring, 0.0)
        size, spring, t = size - taken, spring - taken, t + 30.0
        strokes.append(Stroke(infeed, t))
        sizes += [
            SizeReading(after=number, value=round(size, 4), u=0.0004, t=t + n, growth=0.0) for n in range(5)
        ]

    assert steps[-1] == "stop"
    assert LIMITS.band is not None
    assert LIMITS.band[0] <= size <= LIMITS.band[1]


def _so_far(strokes: list[Stroke], sizes: list[SizeReading]) -> Ground:
    return Ground(strokes, sizes, (PlannedPlace(80.0),), (), 55.0, True, True, True, 0)
