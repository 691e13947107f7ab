"""The next infeed, and what is risked by it.

The law of one pass is the first-order machine spring (King and Hahn; Malkin and Guo): a faultless machine is
worked out here by itself, and the probabilities are held against simulated ends.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.coach.choose_infeed import choose_infeed, first_infeed
from capture.coach.final_size import Band, Feeding, FinalSizeForecast
from capture.coach.infeed_choice import InfeedChoice
from capture.metrology.grinding.judgement import foresee
from capture.metrology.grinding.outlook import GrindLimits, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior
from capture.metrology.grinding.wheel.grinding_data import HARD_CHROME, traverse
from capture.metrology.message import message
from capture.metrology.units import MM_PER_INCH

LIMITS = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005)
PRIOR = Prior(heat=0.01, failing=0.005, contact=0.010)
BAND = Band(-0.00125, 0.00125, 0.0)


def _advice(
    start: float,
    infeeds: Sequence[float],
    *,
    share: float = 0.5,
    u: float = 0.0002,
    band: Band = BAND,
    feeding: Feeding = Feeding(),  # noqa: B008 - a frozen value
    readings: int = 5,
    told: float = 1.0,
) -> InfeedChoice:
    """The advice on a faultless machine, after these infeeds."""
    size, spring = start, 0.002
    sizes = [SizeReading(after=0, value=size, u=u)]
    for number, infeed in enumerate(infeeds, 1):
        spring += infeed
        size, spring = size - share * spring, (1.0 - share) * spring
        sizes += [SizeReading(after=number, value=size, u=u)] * readings
    seen = foresee([Stroke(infeed * told) for infeed in infeeds], sizes, LIMITS, PRIOR)
    return choose_infeed(seen, band, feeding, infeeds=infeeds, readings=readings)


def test_the_deepest_passes_are_those_of_the_tables():
    """Machinery's Handbook, 31st edition, p. 1318, Table 3, hardened alloy steel; a trade text for chrome."""
    feeding = Feeding()

    assert feeding.finish == pytest.approx(
        traverse("alloy steel, hardened").finish[0] * MM_PER_INCH, abs=1e-4
    )
    assert feeding.rough == HARD_CHROME.deepest_pass


def test_far_from_size_a_rough_pass_is_advised_and_near_it_a_finishing_one():
    assert _advice(0.090, [0.01] * 3).infeed == pytest.approx(0.010)
    near = _advice(0.040, [0.01, 0.005, 0.005])
    assert (near.step, near.infeed) == ("feed", pytest.approx(0.005))
    assert near.finishing


def test_the_infeed_stops_before_it_is_too_late_and_says_what_will_still_come_off():
    """After five passes of 5 µm at a share of 0.4 the spring holds 5 µm (0.6 + 0.6² …) and more."""
    infeeds = [0.005] * 5
    held = 0.002 * 0.6**5 + sum(0.005 * 0.6 ** (5 - k) for k in range(5))
    taken = sum(infeeds) + 0.002 - held
    found = _advice(taken + held, infeeds, share=0.4)

    assert found.step == "rest"
    assert found.infeed == 0.0
    assert found.to_come == pytest.approx(held, abs=0.0015)
    assert found.u_final is not None
    assert found.final == pytest.approx(0.0, abs=2.0 * found.u_final)
    assert found.rests >= 2


def test_on_size_and_sparked_out_is_done():
    found = _advice(0.0225, [0.01, 0.01, 0.0, 0.0, 0.0, 0.0, 0.0])

    assert found.step == "stop"
    assert found.p_inside is not None
    assert found.p_inside > 0.9


def test_sparked_out_over_the_band_is_fed_again():
    found = _advice(0.0265, [0.01, 0.01, 0.0, 0.0, 0.0, 0.0, 0.0])

    assert found.step == "feed"
    assert 0.003 <= found.infeed <= 0.005


def test_a_wheel_too_deep_is_drawn_back_before_it_takes_too_much():
    found = _advice(0.024, [0.01, 0.01, 0.01])

    assert found.step == "draw back"
    assert found.infeed < 0.0
    assert found.final == pytest.approx(0.0, abs=0.0015)


def test_undersize_is_a_reason_to_draw_back_only_where_it_is_to_be_feared():
    """The simulated end if nobody draws back is some µm under the aim: outside 2 µm, well inside 100 µm."""
    near, wide = (_advice(0.024, [0.01, 0.01, 0.01], band=band) for band in (BAND, Band(-0.05, 0.05, 0.0)))

    assert [one.name for one in near.why] == ["infeed.too-deep"]
    assert "infeed.too-deep" not in [one.name for one in wide.why]


def test_a_dial_in_coarse_divisions_is_never_asked_for_a_part_of_one():
    for division in (0.002, 0.0025, 0.004):
        found = _advice(0.050, [0.01, 0.008, 0.004], feeding=Feeding(division=division))
        assert found.infeed / division == pytest.approx(round(found.infeed / division), abs=1e-6)


def test_a_taper_narrows_the_band_from_both_sides():
    band = Band(-0.002, 0.002, 0.0, lowest=-0.001, highest=0.0005)

    assert (band.least, band.most) == pytest.approx((-0.001, 0.0015))
    assert Band(-0.001, 0.001, 0.0, lowest=-0.003, highest=0.003).most == pytest.approx(0.002)


def test_half_the_infeed_told_is_noticed():
    """A dial on radius taken for one on diameter: the part answers twice what was told."""
    size, spring, told = 0.2, 0.002, [0.005] * 8
    sizes = [SizeReading(after=0, value=size, u=0.0002)]
    for number, infeed in enumerate(told, 1):
        spring += 2.0 * infeed
        size, spring = size - 0.5 * spring, 0.5 * spring
        sizes += [SizeReading(after=number, value=size, u=0.0002)] * 2
    seen = foresee([Stroke(infeed) for infeed in told], sizes, LIMITS, PRIOR)

    assert seen.weighed is not None
    assert seen.weighed.doubt == message("doubt.dial-half")


def test_with_no_infeed_known_nothing_is_advised():
    seen = foresee(
        [Stroke(None)] * 3, [SizeReading(after=n, value=-0.01 * n, u=0.001) for n in range(4)], LIMITS
    )

    assert choose_infeed(seen, BAND, Feeding(), infeeds=[None] * 3).step == "cannot tell"


def test_a_part_that_was_waited_for_is_not_waited_for_again():
    """Without a probe, and nothing told of coolant, heat may stand behind the last micrometres once."""
    size, spring, infeeds = 0.030, 0.002, [0.010, 0.005, 0.005, 0.0]
    sizes = [SizeReading(after=0, value=size, u=0.0004)]
    for number, infeed in enumerate(infeeds, 1):
        spring += infeed
        size, spring = size - 0.5 * spring, 0.5 * spring
        sizes += [SizeReading(after=number, value=size, u=0.0004)] * 5
    seen = foresee([Stroke(infeed) for infeed in infeeds], sizes, LIMITS, Prior(contact=0.010))
    once, again = (
        choose_infeed(seen, BAND, Feeding(), infeeds=infeeds, readings=5, waited=waited)
        for waited in (False, True)
    )

    assert once.step == "wait"
    assert again.step in {"feed", "rest"}


def test_a_misread_size_makes_wary_only_until_what_came_after_has_told():
    """6 µm too small after pass 3: an end is 2.5 times as unsure right then, and no more two passes later."""

    def wariness(after: int) -> float:
        """0 where an end is as unsure as the belief has it, 1 where 2.5 times."""
        size, spring, infeeds = 0.0400, 0.002, [0.010, *[0.005] * (after - 1)]
        sizes = [SizeReading(after=0, value=size, u=0.0006, growth=0.0)]
        for number, infeed in enumerate(infeeds, 1):
            spring += infeed
            size, spring = size - 0.4 * spring, 0.6 * spring
            shown = size - 0.006 * (number == 3)
            sizes += [SizeReading(after=number, value=shown, u=0.0006, growth=0.0)] * 5
        seen = foresee([Stroke(infeed) for infeed in infeeds], sizes, LIMITS, PRIOR)
        assert seen.weighed is not None
        assert seen.weighed.misread == 3
        landing = choose_infeed(seen, BAND, Feeding(), infeeds=infeeds, readings=5)
        usual, wide = (
            FinalSizeForecast(seen.weighed.pool, seen.reference, seen.u_growth, times).deviation(
                landing.infeed
            )
            for times in (1.0, 2.5)
        )
        assert landing.u_final is not None
        assert wide > 1.005 * usual
        return (landing.u_final - usual) / (wide - usual)

    assert wariness(4) == pytest.approx(1.0)
    assert wariness(5) == pytest.approx(0.0, abs=1e-9)


def test_a_wait_is_advised_before_passes_in_vain_where_it_saves_them():
    """Only heat that no probe sees forbids an infeed: passes without one would show it, but slower."""
    size, spring, infeeds = 0.0255, 0.002, [*[0.005] * 4, 0.0, 0.0]
    sizes = [SizeReading(after=0, value=size, u=0.0006)]
    for number, infeed in enumerate(infeeds, 1):
        spring += infeed
        size, spring = size - 0.5 * spring, 0.5 * spring
        sizes += [SizeReading(after=number, value=size, u=0.0006)] * 5
    strokes = [Stroke(infeed) for infeed in infeeds]
    feared, sure = (
        choose_infeed(
            foresee(strokes, sizes, LIMITS, Prior(contact=0.010, heat=heat, failing=0.5 * heat)),
            BAND,
            Feeding(),
            infeeds=infeeds,
            readings=5,
        )
        for heat in (0.05, 1e-6)
    )

    assert feared.step == "wait"
    assert feared.why == (message("infeed.may-be-warm"),)
    assert (sure.step, sure.infeed) == ("feed", pytest.approx(0.004, abs=0.0011))


@settings(max_examples=12, deadline=None)
@given(start=st.floats(0.030, 0.060), share=st.floats(0.3, 0.7))
def test_moving_all_sizes_and_the_band_moves_nothing_of_the_advice(start: float, share: float):
    """Law: the advice knows only what differs."""
    here = _advice(start, [0.01, 0.005, 0.005], share=share)
    moved = Band(BAND.low + 0.1, BAND.high + 0.1, BAND.aim + 0.1)
    there = _advice(start + 0.1, [0.01, 0.005, 0.005], share=share, band=moved)

    assert (here.step, here.infeed) == (there.step, pytest.approx(there.infeed))
    assert here.p_under == pytest.approx(there.p_under, abs=1e-6)


@settings(max_examples=12, deadline=None)
@given(left=st.floats(0.0, 0.1), fed=st.floats(0.0, 0.05))
def test_a_first_infeed_never_goes_under_the_aim_whatever_the_spring_holds(left: float, fed: float):
    """Law: even if all that was fed, and the deepest contact, is still to come off."""
    infeed = first_infeed(left, fed, BAND, Feeding())

    assert infeed == 0.0 or left - fed - 0.015 - infeed >= BAND.aim - 1e-9
    assert 0.0 <= infeed <= 0.010
