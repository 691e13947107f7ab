"""Inch fit classes against the handbook's tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.fit.inch_fits import CLASSES, InchFit, closest_running, inch_fit, inch_range

RUNNING = [
    ("RC1", 1.19, 1.97, 0.4, (-0.7, -0.4), (0.4, 1.1)),
    ("RC3", 1.19, 1.97, 1.0, (-1.6, -1.0), (1.0, 2.6)),
    ("RC4", 1.19, 1.97, 1.6, (-2.0, -1.0), (1.0, 3.6)),
    ("RC6", 1.19, 1.97, 2.5, (-3.6, -2.0), (2.0, 6.1)),
    ("RC7", 1.19, 1.97, 2.5, (-4.6, -3.0), (3.0, 7.1)),
    ("RC8", 1.19, 1.97, 4.0, (-7.5, -5.0), (5.0, 11.5)),
    ("RC9", 1.19, 1.97, 6.0, (-12.0, -8.0), (8.0, 18.0)),
    ("RC1", 1.97, 3.15, 0.5, (-0.7, -0.4), (0.4, 1.2)),
    ("RC2", 1.97, 3.15, 0.7, (-0.9, -0.4), (0.4, 1.6)),
    ("RC4", 1.97, 3.15, 1.8, (-2.4, -1.2), (1.2, 4.2)),
    ("RC5", 1.97, 3.15, 1.8, (-3.7, -2.5), (2.5, 5.5)),
    ("RC6", 1.97, 3.15, 3.0, (-4.3, -2.5), (2.5, 7.3)),
    ("RC8", 1.97, 3.15, 4.5, (-9.0, -6.0), (6.0, 13.5)),
    ("RC9", 1.97, 3.15, 7.0, (-13.5, -9.0), (9.0, 20.5)),
]
"""B4.1-RC*, published: ANSI/ASME B4.1-1967 Tables 8a, 8b in Machinery's Handbook, 31st edition, thou."""

MORE_RUNNING = [
    ("RC1", 0.00, 0.12, 0.2, (-0.25, -0.1), (0.1, 0.45)),
    ("RC2", 4.73, 7.09, 1.0, (-1.3, -0.6), (0.6, 2.3)),
    ("RC3", 3.15, 4.73, 1.4, (-2.3, -1.4), (1.4, 3.7)),
    ("RC4", 0.40, 0.71, 1.0, (-1.3, -0.6), (0.6, 2.3)),
    ("RC4", 7.09, 9.85, 2.8, (-3.8, -2.0), (2.0, 6.6)),
    ("RC5", 7.09, 9.85, 2.8, (-5.8, -4.0), (4.0, 8.6)),
    ("RC6", 3.15, 4.73, 3.5, (-5.2, -3.0), (3.0, 8.7)),
    ("RC7", 0.71, 1.19, 2.0, (-3.7, -2.5), (2.5, 5.7)),
    ("RC8", 0.40, 0.71, 2.8, (-5.1, -3.5), (3.5, 7.9)),
    ("RC9", 7.09, 9.85, 12.0, (-22.0, -15.0), (15.0, 34.0)),
]
"""Published: the same pages, other ranges; clearances as printed there."""

LOCATIONAL = [
    ("LC1", 1.19, 1.97, 0.6, (-0.4, 0.0)),
    ("LC2", 1.19, 1.97, 1.0, (-0.6, 0.0)),
    ("LC3", 1.19, 1.97, 1.6, (-1.0, 0.0)),
    ("LC4", 1.19, 1.97, 4.0, (-2.5, 0.0)),
    ("LC5", 1.19, 1.97, 1.0, (-1.0, -0.4)),
    ("LC1", 1.97, 3.15, 0.7, (-0.5, 0.0)),
    ("LC2", 1.97, 3.15, 1.2, (-0.7, 0.0)),
    ("LC3", 1.97, 3.15, 1.8, (-1.2, 0.0)),
    ("LC4", 1.97, 3.15, 4.5, (-3.0, 0.0)),
    ("LC5", 1.97, 3.15, 1.2, (-1.1, -0.4)),
]
"""B4.1-LC1-5, from memory: ANSI/ASME B4.1 Table 9a, thou."""

LOOSE_READ = [
    ("LC6", 0.00, 0.12, 1.0, (-0.9, -0.3), (0.3, 1.9)),
    ("LC6", 0.12, 0.24, 1.2, (-1.1, -0.4), (0.4, 2.3)),
    ("LC6", 0.40, 0.71, 1.6, (-1.6, -0.6), (0.6, 3.2)),
    ("LC6", 1.19, 1.97, 2.5, (-2.6, -1.0), (1.0, 5.1)),
    ("LC7", 0.71, 1.19, 3.5, (-3.6, -1.6), (1.6, 7.1)),
    ("LC7", 1.19, 1.97, 4.0, (-4.5, -2.0), (2.0, 8.5)),
    ("LC8", 0.24, 0.40, 2.2, (-3.0, -1.6), (1.6, 5.2)),
    ("LC8", 0.71, 1.19, 3.5, (-4.5, -2.5), (2.5, 8.0)),
    ("LC9", 0.00, 0.12, 2.5, (-4.1, -2.5), (2.5, 6.6)),
    ("LC9", 0.40, 0.71, 4.0, (-6.3, -3.5), (3.5, 10.3)),
    ("LC10", 0.12, 0.24, 5.0, (-9.5, -4.5), (4.5, 14.5)),
    ("LC10", 0.71, 1.19, 8.0, (-15.0, -7.0), (7.0, 23.0)),
    ("LC11", 0.00, 0.12, 6.0, (-11.0, -5.0), (5.0, 17.0)),
    ("LC11", 0.71, 1.19, 12.0, (-22.0, -10.0), (10.0, 34.0)),
]
"""B4.1-LC6-11, published: ANSI B4.1-1967 (R1987), Table 9b, as a public copy of it prints it, thou."""

LOOSE_REMEMBERED = [
    ("LC6", 1.97, 3.15, 3.0, (-3.0, -1.2), (1.2, 6.0)),
    ("LC6", 7.09, 9.85, 4.5, (-4.8, -2.0), (2.0, 9.3)),
    ("LC9", 1.19, 1.97, 6.0, (-9.0, -5.0), (5.0, 15.0)),
    ("LC10", 1.97, 3.15, 12.0, (-22.0, -10.0), (10.0, 34.0)),
    ("LC10", 7.09, 9.85, 18.0, (-34.0, -16.0), (16.0, 52.0)),
    ("LC11", 1.19, 1.97, 16.0, (-28.0, -12.0), (12.0, 44.0)),
    ("LC11", 7.09, 9.85, 28.0, (-50.0, -22.0), (22.0, 78.0)),
]
"""B4.1-LC6-11, from memory: the same table, thou."""


def thou(mm: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(each / 0.0254 for each in mm)


@pytest.mark.parametrize(
    ("name", "over", "upto", "hole", "shaft", "clearance"),
    RUNNING + MORE_RUNNING + LOOSE_READ + LOOSE_REMEMBERED,
)
def test_classes_are_those_of_the_printed_tables(name, over, upto, hole, shaft, clearance):
    for size in (over + 0.001, upto):
        found = inch_fit(size * 25.4, name)

        assert thou(found.hole) == pytest.approx((0.0, hole), abs=1e-5)
        assert thou(found.shaft) == pytest.approx(shaft, abs=1e-5)
        assert thou((found.least, found.most)) == pytest.approx(clearance, abs=1e-5)


@pytest.mark.parametrize(("name", "over", "upto", "hole", "shaft"), LOCATIONAL)
def test_locational_clearance_classes_have_the_standard_widths(name, over, upto, hole, shaft):
    for size in (over + 0.001, upto):
        found = inch_fit(size * 25.4, name)

        assert thou(found.hole) == pytest.approx((0.0, hole), abs=1e-5)
        assert thou(found.shaft) == pytest.approx(shaft, abs=1e-5)


@pytest.mark.parametrize(("size", "hole", "most"), [(1.5, 1.0, 1.3), (2.0, 1.2, 1.5)])
def test_the_first_transition_class_may_bind_or_be_loose(size, hole, most):
    """B4.1-LT-js6, published: ANSI/ASME B4.1 Table 10, LT1, H7/js6."""
    found = inch_fit(size * 25.4, "LT1")

    assert thou(found.hole) == pytest.approx((0.0, hole), abs=1e-5)
    assert thou(found.shaft) == pytest.approx((-0.3, 0.3), abs=1e-5)
    assert thou((found.least, found.most)) == pytest.approx((-0.3, most), abs=1e-5)


def test_two_tenths_on_two_inches_is_closer_than_any_running_class():
    """B4.1-job, derived: 0.0002 in is outside RC1 (0.0004 at least) and inside LC1."""
    wanted = 0.0002 * 25.4
    closest = closest_running(50.8)

    assert thou((closest.least,)) == pytest.approx((0.4,), abs=1e-5)
    assert not closest.contains(wanted)
    assert inch_fit(50.8, "LC1").contains(wanted)


def test_the_upper_end_of_a_range_in_inches_belongs_to_it():
    assert inch_range(1.97 * 25.4) == (1.19, 1.97)
    assert inch_range(1.9701 * 25.4) == (1.97, 3.15)
    assert inch_range(2.0) == (0.0, 0.12)


@given(st.floats(0.01, 9.85), st.sampled_from([name for name in CLASSES if name != "LT1"]))
def test_clearance_is_what_hole_and_shaft_leave(size, name):
    found = inch_fit(size * 25.4, name)

    assert isinstance(found, InchFit)
    assert 0.0 <= found.least < found.most
    assert found.most - found.least == pytest.approx(
        (found.hole[1] - found.hole[0]) + (found.shaft[1] - found.shaft[0]), abs=1e-12
    )


@pytest.mark.parametrize(
    ("size", "name", "why"),
    [
        (50.8, "RC10", "not in the tables"),
        (300.0, "RC1", "over 0 to 9.85 in"),
        (0.0, "RC1", "over 0 to 9.85 in"),
        (10.0, "LT1", "over 1.19 to 3.15 in"),
    ],
)
def test_a_class_or_size_that_is_not_kept_is_refused(size, name, why):
    with pytest.raises(ValueError, match=why):
        inch_fit(size, name)
