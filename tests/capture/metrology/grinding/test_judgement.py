"""The judge of a grind against worked cases, laws, and a part that warms.

SPARK-… are worked cases of the first-order machine spring (King and Hahn; Malkin and Guo): closed forms,
recomputed here where a line of arithmetic does it.
"""

from __future__ import annotations

from math import exp, log

import pytest
from hypothesis import given
from hypothesis import settings as tuned
from hypothesis import strategies as st
from msgspec import structs

from capture.metrology.grinding.judgement import judge
from capture.metrology.grinding.outlook import GrindLimits, Outlook, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior
from capture.metrology.grinding.spring.repeat_readings import SEATING
from capture.metrology.message import message

LIMITS = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005)
PLAN = (0.010, 0.010, 0.005, 0.005, 0.0025, 0.0025, 0.0, 0.0, 0.0, 0.0)
ERRORS = (0.3, -0.5, 0.1, 0.6, -0.2, -0.7, 0.4, 0.2, -0.3, 0.5, -0.1)
"""µm, drawn by hand."""
CLOSED = Prior(size_effect=0.0, size_effect_u=0.0)
"""The closed forms know of no share that falls with the depth."""


def ground(plan, share, spring=0.0, gain=1.0):
    """True sizes, mm, before and after each pass, and what is still to come."""
    size, sizes = 0.0, [0.0]
    for infeed in plan:
        spring += gain * infeed
        size -= share * spring
        spring -= share * spring
        sizes.append(size)
    return sizes, spring


def measured(sizes, u=1e-5, **more):
    return [SizeReading(after=number, value=size, u=u, **more) for number, size in enumerate(sizes)]


def noisy(plan=PLAN, share=0.5, u=0.0005):
    sizes, _ = ground(plan, share, spring=0.003)
    errors = [ERRORS[i % len(ERRORS)] / 1000.0 for i in range(len(sizes))]
    return [Stroke(u) for u in plan], measured([s + e for s, e in zip(sizes, errors, strict=True)], u=u)


def figures(outlook: Outlook):
    names = ("removed", "to_come", "next_removal", "p_below", "share", "u_share", "u_predicted", "p_growing")
    return [getattr(outlook, name) for name in names]


@pytest.mark.parametrize(
    ("share", "passes_to_5_percent"), [(0.3, 8.4), (0.4, 5.86), (0.5, 4.32), (0.7, 2.49)]
)
def test_the_share_gives_the_passes_to_five_per_cent(share, passes_to_5_percent):
    """SPARK-03: ln 0.05 / ln (1 - K)."""
    plan = (0.010,) * 4 + (0.0,) * 8
    sizes, _ = ground(plan, share)
    found = judge([Stroke(u) for u in plan], measured(sizes), LIMITS, CLOSED)

    assert log(0.05) / log(1.0 - found.share) == pytest.approx(passes_to_5_percent, abs=0.05)


def test_what_comes_off_by_itself_after_six_passes():
    """SPARK-04: K = 0.4, 5 µm on radius a pass: 14.3 µm of diameter comes off afterwards."""
    plan = (0.010,) * 6
    sizes, _ = ground(plan, 0.4)
    unknown = judge([Stroke(u) for u in plan], measured(sizes), LIMITS)
    exact = structs.replace(CLOSED, gain=1.0, gain_u=1e-4, scatter=1e-3, slip=1e-3)
    found = judge([Stroke(u) for u in plan], measured(sizes, growth=0.0), LIMITS, exact)

    assert abs(unknown.to_come - 0.0143) < 2.0 * unknown.u_to_come
    assert found.to_come == pytest.approx(0.0143, abs=0.0002)
    assert found.verdict == "cutting"


def test_a_decay_is_read_as_spring():
    """SPARK-05: 50.003 + 0.015 exp(-t/2 s), read every 0.5 s and rounded to 0.01 µm."""
    readings = [
        50.018, 50.01468, 50.0121, 50.01009, 50.00852, 50.0073, 50.00635, 50.00561, 50.00503, 50.00458,
        50.00423, 50.00396, 50.00375, 50.00358, 50.00345, 50.00335, 50.00327, 50.00321, 50.00317, 50.00313,
        50.0031, 50.00308, 50.00306, 50.00305, 50.00304,
    ]  # fmt: skip
    sizes = measured([r - 50.0 for r in readings], u=1e-6, resolution=1e-5, growth=0.0)
    found = judge([Stroke(0.0)] * 24, sizes, LIMITS)

    assert found.predicted == pytest.approx(0.003, abs=2e-5)
    assert found.share == pytest.approx(1.0 - exp(-0.25), abs=0.004)


def test_three_readings_predict_the_last():
    """SPARK-07: 18, 12.09796 and 8.518192 µm over nominal end at 3 µm."""
    sizes = measured([0.018, 0.01209796, 0.008518192], u=1e-6, growth=0.0)
    found = judge([Stroke(0.0)] * 2, sizes, LIMITS, CLOSED)

    assert found.predicted == pytest.approx(0.003, abs=max(3e-4, found.u_predicted))
    assert found.u_predicted < 0.0015


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7])
def test_two_removals_without_infeed_give_the_share(share):
    """SPARK-08: r2/r1 = 1 - K."""
    sizes, _ = ground((0.0,) * 5, share, spring=0.020)
    found = judge([Stroke(0.0)] * 5, measured(sizes, growth=0.0), LIMITS)

    assert (sizes[1] - sizes[2]) / (sizes[0] - sizes[1]) == pytest.approx(1.0 - share)
    assert found.share == pytest.approx(share, abs=0.02)


def test_a_part_that_warms_bottoms_out_and_is_called_growing_not_done():
    """SPARK-06: the trend of a warming part bottoms out and rises; the bottom is not the end."""
    plan = (0.005,) * 6 + (0.0,) * 14
    sizes, _ = ground(plan, 0.4)
    warm = [size + 0.0006 * max(0, number - 6) for number, size in enumerate(sizes)]
    readings = [w + ERRORS[i % len(ERRORS)] / 2500.0 for i, w in enumerate(warm)]
    verdicts = [
        judge([Stroke(u) for u in plan[:n]], measured(readings[: n + 1], u=0.0003), LIMITS).verdict
        for n in range(7, 21)
    ]

    assert verdicts[-1] == "growing"
    assert "at-size" not in verdicts


def test_a_warm_part_is_never_called_done():
    """The same grind with a probe: settled, yet warm, whatever the band."""
    strokes, sizes = noisy((*PLAN, 0.0, 0.0, 0.0))
    limits = structs.replace(LIMITS, band=(-1.0, 1.0))
    cool = judge(strokes, [structs.replace(s, growth=0.0004) for s in sizes], limits)
    warm = judge(strokes, [structs.replace(s, growth=0.0006) for s in sizes], limits)

    assert (cool.verdict, warm.verdict) == ("at-size", "warm")
    assert cool.settled
    assert warm.settled


def test_verdicts_follow_the_grind():
    strokes, sizes = noisy()
    verdicts = [judge(strokes[:n], sizes[: n + 1], LIMITS).verdict for n in range(1, 11)]

    assert verdicts[:6] == ["cutting"] * 6
    assert verdicts[6] == "sparking-out"
    assert verdicts[-1] == "sparked-out"


def test_a_size_outside_the_guarded_band_is_sparked_out_only():
    strokes, sizes = noisy()
    found = judge(strokes, sizes, structs.replace(LIMITS, band=(0.0, 0.001)))

    assert found.verdict == "sparked-out"


def test_infeed_that_takes_nothing_off_is_stalled():
    strokes = [Stroke(0.005)] * 6
    sizes = measured([e / 2000.0 for e in ERRORS[:7]], u=0.0003)
    found = judge(strokes, sizes, LIMITS)

    assert found.verdict == "stalled"
    assert message("outlook.not-touching") in found.why


def test_passes_in_the_air_do_not_hide_the_share():
    plan = (0.005,) * 10
    touching, spring = ground(plan[3:], 0.5)
    found = judge([Stroke(u) for u in plan], measured([0.0] * 3 + touching, u=0.0002, growth=0.0), LIMITS)

    assert found.share == pytest.approx(0.5, abs=3.0 * found.u_share)
    assert found.to_come == pytest.approx(spring, abs=3.0 * found.u_to_come)


def test_a_glazing_wheel_is_not_called_sparked_out():
    """The share falls by 30 % a pass: little comes off, but much is still to come."""
    size, spring, share = 0.0, 0.0, 0.5
    plan = (0.005,) * 10 + (0.0,) * 2
    sizes = [0.0]
    for infeed in plan:
        spring += infeed
        size -= share * spring
        spring -= share * spring
        share *= 0.7
        sizes.append(size)
    readings = measured([s + e / 2000.0 for s, e in zip(sizes, (*ERRORS, *ERRORS), strict=False)], u=0.0004)
    found = judge([Stroke(u) for u in plan], readings, LIMITS)

    assert spring * share < LIMITS.removal
    assert not found.settled


def test_a_mistyped_infeed_is_named_and_does_no_harm():
    plan = (0.010, 0.010, 0.005, 0.005, 0.005, 0.0025, 0.0025, 0.0, 0.0, 0.0, 0.0)
    sizes, spring = ground(plan, 0.5, spring=0.003)
    told = [Stroke(0.050 if number == 4 else u) for number, u in enumerate(plan, 1)]
    readings = measured([s + e / 2000.0 for s, e in zip(sizes, (*ERRORS, *ERRORS), strict=False)], u=0.0003)
    found = judge(told, readings, LIMITS)

    assert message("doubt.infeed", number=4) in found.why
    assert found.predicted == pytest.approx(sizes[-1] - spring, abs=0.001)


@pytest.mark.parametrize(("odd", "off"), [(3, -0.004), (4, -0.004), (5, -0.009), (4, 0.006)])
def test_readings_of_another_place_are_named_and_do_no_harm(odd, off):
    """Five readings after one pass err by the same: one wrong size, however well they agree."""
    plan = (0.010, *[0.005] * odd)
    sizes, spring = ground(plan, 0.3, spring=0.003)
    wrong = [size + off * (n == odd) for n, size in enumerate(sizes)]
    errors = iter(ERRORS * 3)
    readings = [
        SizeReading(after=n, value=size + next(errors) / 1000.0, u=0.0006, resolution=0.001, growth=0.0)
        for n, size in enumerate(wrong)
        for _ in range(5 if n else 1)
    ]
    found = judge([Stroke(infeed) for infeed in plan], readings, LIMITS)

    assert message("doubt.size", number=odd) in found.why
    assert found.to_come == pytest.approx(spring, abs=2.0 * found.u_to_come)
    assert found.to_come > 0.005


def test_without_infeeds_the_sizes_tell_when_the_feeding_stopped_and_what_is_to_come():
    """The spring's closed form after the last infeed: E (1 - K)^n comes off in all (King and Hahn)."""
    sizes, spring = ground(PLAN + (0.0,) * 8, 0.5)
    readings = measured([s + e / 4000.0 for s, e in zip(sizes, ERRORS * 2, strict=False)], u=0.0002)
    found = [judge([Stroke(None)] * n, readings[: n + 1], LIMITS) for n in range(2, 19)]

    assert {f.method for f in found} == {"model"}
    assert found[2].verdict == "cutting"
    assert found[-1].verdict == "sparked-out"
    assert message("outlook.untold") in found[-1].why
    for one in found:
        assert abs(one.predicted - one.size + one.to_come) < 1e-3
    for one in found[8:]:
        assert abs(one.predicted - (sizes[-1] - spring)) <= 2.5 * one.u_predicted
    assert found[-1].u_predicted < 0.0005


def test_while_the_feeding_goes_on_untold_the_prediction_is_wide_and_nothing_is_called():
    """Eight equal infeeds: E = u (1 - K) / K stands when each pass takes what was fed (steady state)."""
    sizes, spring = ground((0.006,) * 8, 0.5)
    readings = measured([s + e / 2000.0 for s, e in zip(sizes, ERRORS, strict=False)], u=0.0004)
    found = judge([Stroke(None)] * 8, readings, LIMITS)

    assert found.verdict == "cutting"
    assert abs(found.to_come - spring) <= 2.0 * found.u_to_come
    assert found.u_to_come > 0.001


def test_one_unknown_infeed_among_known_ones_leaves_the_model_in_place():
    plan = (0.010, 0.010, 0.005, 0.005, 0.005, 0.0, 0.0, 0.0, 0.0, 0.0)
    sizes, spring = ground(plan, 0.5)
    strokes = [Stroke(None if number == 3 else u) for number, u in enumerate(plan)]
    found = judge(strokes, measured(sizes, u=0.0002, growth=0.0), LIMITS)

    assert found.method == "model"
    assert found.predicted == pytest.approx(sizes[-1] - spring, abs=0.0005)


def test_too_few_sizes_give_no_figure():
    found = judge([Stroke(0.005)], measured([0.0, -0.002]), LIMITS)

    assert (found.verdict, found.method) == ("cutting", "none")
    assert figures(found) == [None] * 8
    assert found.size == -0.002
    assert judge([Stroke(0.0)], [], LIMITS).verdict == "sparking-out"


def test_a_size_of_a_pass_that_was_not_made_is_refused():
    with pytest.raises(ValueError, match="pass 3, where 2"):
        judge([Stroke(0.005)] * 2, measured([0.0] * 4), LIMITS)


def test_stations_measured_after_different_passes_are_taken_together():
    """Two places 4 µm apart, measured in turn, give what one place would."""
    plan = (0.010, 0.010, 0.005, 0.005, 0.005, 0.0025, 0.0, 0.0)
    sizes, spring = ground(plan, 0.5)
    turns = [
        SizeReading(after=n, place=n % 2, value=s + 0.004 * (n % 2), u=0.0002, growth=0.0)
        for n, s in enumerate(sizes)
    ]
    both = judge([Stroke(u) for u in plan], turns, LIMITS)

    assert both.to_come == pytest.approx(spring, abs=3.0 * both.u_to_come)
    assert both.predicted == pytest.approx(sizes[-1] - spring + 0.002, abs=3.0 * both.u_predicted)


@tuned(max_examples=8)
@given(shift=st.floats(-60.0, 60.0))
def test_what_moves_all_sizes_by_a_constant_moves_every_size_found(shift):
    strokes, sizes = noisy()
    here = judge(strokes, sizes, LIMITS)
    there = judge(strokes, [structs.replace(s, value=s.value + shift) for s in sizes], LIMITS)

    assert there.verdict == here.verdict
    assert there.predicted - shift == pytest.approx(here.predicted, abs=1e-9)
    assert there.size - shift == pytest.approx(here.size, abs=1e-9)
    assert figures(there) == pytest.approx(figures(here), rel=1e-4, abs=1e-9)


@tuned(max_examples=8)
@given(factor=st.floats(0.1, 50.0), passes=st.integers(3, 10))
def test_scaling_lengths_noise_and_limits_together_changes_no_verdict(factor, passes):
    """So mm and inch give the same answer."""
    strokes, sizes = noisy()
    limits = GrindLimits(removal=0.0005 * factor, confidence=0.95, warm=0.0005 * factor)
    scaled = [structs.replace(s, value=s.value * factor, u=s.u * factor) for s in sizes[: passes + 1]]
    here = judge(strokes[:passes], sizes[: passes + 1], LIMITS)
    there = judge([Stroke((s.infeed or 0.0) * factor) for s in strokes[:passes]], scaled, limits)

    assert there.verdict == here.verdict
    assert there.p_below == pytest.approx(here.p_below, abs=1e-6)
    assert there.to_come == pytest.approx(here.to_come * factor, rel=1e-6)


@tuned(max_examples=6)
@given(order=st.permutations(range(6)))
def test_the_order_of_replicate_readings_is_nothing(order):
    strokes, sizes = noisy()
    last = [structs.replace(sizes[-1], value=sizes[-1].value + e / 1000.0) for e in ERRORS[:6]]
    here = judge(strokes, [*sizes, *last], LIMITS)
    there = judge(strokes, [*(last[i] for i in order), *sizes], LIMITS)

    assert there == here


@tuned(max_examples=8)
@given(more=st.floats(0.0, 0.010))
def test_more_infeed_never_leaves_less_to_come(more):
    """Of a pass that is told and not yet measured."""
    strokes, sizes = noisy()
    known = [Stroke(0.005), Stroke(0.005 + more)]
    least, most = (judge([*strokes[:6], stroke], sizes[:7], LIMITS) for stroke in known)

    assert most.to_come >= least.to_come - 1e-9
    assert most.predicted <= least.predicted + 1e-9


def test_readings_of_one_seating_count_only_so_far():
    """A thousand readings at rest do not make the gauge a thousand times better."""
    strokes, sizes = noisy()
    few = judge(strokes, sizes + [sizes[-1]] * (SEATING - 1), LIMITS)
    many = judge(strokes, sizes + [sizes[-1]] * 1000, LIMITS)

    assert many.u_size == pytest.approx(few.u_size, rel=0.05)


def test_a_wheel_drawn_back_is_not_sparked_out():
    """Nothing comes off, yet the part was never done."""
    sizes, _ = ground((0.010,) * 6, 0.5)
    strokes = [Stroke(0.010)] * 6 + [Stroke(-0.100), Stroke(0.0), Stroke(0.0)]
    found = judge(strokes, measured(sizes + [sizes[-1]] * 3, u=0.0003, growth=0.0), LIMITS)

    assert not found.settled
    assert message("outlook.not-touching") in found.why


def test_a_long_grind_is_judged_by_its_last_passes_and_names_passes_by_their_number():
    plan = (0.005,) * 50 + (0.0,) * 8
    sizes, spring = ground(plan, 0.5)
    told = [Stroke(0.060 if number == 45 else u) for number, u in enumerate(plan, 1)]
    readings = measured([s + ERRORS[n % 11] / 2000.0 for n, s in enumerate(sizes)], u=0.0003, growth=0.0)
    found = judge(told, readings, LIMITS)

    assert found.number == 58
    assert message("doubt.infeed", number=45) in found.why
    assert found.predicted == pytest.approx(sizes[-1] - spring, abs=0.001)


def test_a_cooling_part_that_left_the_wheel_is_called_and_not_said_to_be_untouched():
    """Dry with a probe: the part shrinks away from the wheel as it cools (own figures, first-order laws)."""
    size, growth, wheel, strokes, sizes = (
        0.0,
        0.0,
        0.0,
        [],
        [SizeReading(after=0, value=0.0, u=3e-4, growth=0.0)],
    )
    for number, infeed in enumerate([0.010] * 8 + [0.0] * 5, 1):
        wheel -= infeed
        off = 0.5 * max(size + growth - wheel, 0.0)
        size, growth = size - off, 0.6 * (growth + 0.4 * off)
        strokes.append(Stroke(infeed))
        sizes.append(SizeReading(after=number, value=size, u=3e-4, growth=growth, u_growth=1e-4))

    outlooks = [judge(strokes[:n], sizes[: n + 1], LIMITS) for n in range(9, 14)]

    assert any(outlook.settled for outlook in outlooks)
    assert not any(message("outlook.not-touching") in outlook.why for outlook in outlooks)
    assert all(outlook.u_to_come is None or outlook.u_to_come > 1e-7 for outlook in outlooks)
