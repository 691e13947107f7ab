"""Limits and fits against the standard's printed tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.fit.limits import (
    GRADES,
    deviation_by_formula,
    fit,
    geometric_mean,
    size_range,
    standard_tolerance,
    tolerance_by_formula,
    tolerance_factor,
    zone,
)

IT_UM = {
    (0, 3): (0.3, 0.5, 0.8, 1.2, 2, 3, 4, 6, 10, 14, 25, 40, 60, 100, 140, 250, 400, 600, 1000, 1400),
    (3, 6): (0.4, 0.6, 1, 1.5, 2.5, 4, 5, 8, 12, 18, 30, 48, 75, 120, 180, 300, 480, 750, 1200, 1800),
    (6, 10): (0.4, 0.6, 1, 1.5, 2.5, 4, 6, 9, 15, 22, 36, 58, 90, 150, 220, 360, 580, 900, 1500, 2200),
    (10, 18): (0.5, 0.8, 1.2, 2, 3, 5, 8, 11, 18, 27, 43, 70, 110, 180, 270, 430, 700, 1100, 1800, 2700),
    (18, 30): (0.6, 1, 1.5, 2.5, 4, 6, 9, 13, 21, 33, 52, 84, 130, 210, 330, 520, 840, 1300, 2100, 3300),
    (30, 50): (0.6, 1, 1.5, 2.5, 4, 7, 11, 16, 25, 39, 62, 100, 160, 250, 390, 620, 1000, 1600, 2500, 3900),
    (50, 80): (0.8, 1.2, 2, 3, 5, 8, 13, 19, 30, 46, 74, 120, 190, 300, 460, 740, 1200, 1900, 3000, 4600),
    (80, 120): (1, 1.5, 2.5, 4, 6, 10, 15, 22, 35, 54, 87, 140, 220, 350, 540, 870, 1400, 2200, 3500, 5400),
    (120, 180): (
        1.2,
        2,
        3.5,
        5,
        8,
        12,
        18,
        25,
        40,
        63,
        100,
        160,
        250,
        400,
        630,
        1000,
        1600,
        2500,
        4000,
        6300,
    ),
    (180, 250): (2, 3, 4.5, 7, 10, 14, 20, 29, 46, 72, 115, 185, 290, 460, 720, 1150, 1850, 2900, 4600, 7200),
    (250, 315): (2.5, 4, 6, 8, 12, 16, 23, 32, 52, 81, 130, 210, 320, 520, 810, 1300, 2100, 3200, 5200, 8100),
    (315, 400): (3, 5, 7, 9, 13, 18, 25, 36, 57, 89, 140, 230, 360, 570, 890, 1400, 2300, 3600, 5700, 8900),
    (400, 500): (4, 6, 8, 10, 15, 20, 27, 40, 63, 97, 155, 250, 400, 630, 970, 1550, 2500, 4000, 6300, 9700),
}
"""ISO286-IT-TABLE, published: ISO 286-1:2010 Table 1, IT01, IT0, IT1 to IT18 by range, µm."""

FITS = [
    (40, "H7", "g6", (0, 25), (-25, -9), (9, 50)),
    (40, "H7", "h6", (0, 25), (-16, 0), (0, 41)),
    (40, "H6", "h5", (0, 16), (-11, 0), (0, 27)),
    (40, "H6", "g5", (0, 16), (-20, -9), (9, 36)),
    (40, "H5", "h4", (0, 11), (-7, 0), (0, 18)),
    (40, "H7", "js6", (0, 25), (-8, 8), (-8, 33)),
    (40, "H7", "k6", (0, 25), (2, 18), (-18, 23)),
    (40, "H7", "p6", (0, 25), (26, 42), (-42, -1)),
    (50, "H7", "g6", (0, 25), (-25, -9), (9, 50)),
    (50, "H7", "h6", (0, 25), (-16, 0), (0, 41)),
    (50, "H6", "h5", (0, 16), (-11, 0), (0, 27)),
    (50, "H5", "h4", (0, 11), (-7, 0), (0, 18)),
    (50, "H5", "g4", (0, 11), (-16, -9), (9, 27)),
    (50, "H8", "f7", (0, 39), (-50, -25), (25, 89)),
    (50, "H7", "js6", (0, 25), (-8, 8), (-8, 33)),
    (50, "H7", "n6", (0, 25), (17, 33), (-33, 8)),
    (50, "H7", "p6", (0, 25), (26, 42), (-42, -1)),
    (63, "H7", "h6", (0, 30), (-19, 0), (0, 49)),
    (63, "H6", "h5", (0, 19), (-13, 0), (0, 32)),
    (63, "H6", "g5", (0, 19), (-23, -10), (10, 42)),
    (63, "H5", "g4", (0, 13), (-18, -10), (10, 31)),
    (63, "H8", "f7", (0, 46), (-60, -30), (30, 106)),
    (63, "H7", "k6", (0, 30), (2, 21), (-21, 28)),
    (63, "H7", "n6", (0, 30), (20, 39), (-39, 10)),
]
"""ISO286-H*, published: ISO 286-2 / ANSI B4.2 tables; EI ES, ei es, least and most clearance, µm."""


def um(mm: float) -> float:
    return mm * 1000.0


@pytest.mark.parametrize("ends", IT_UM)
def test_standard_tolerances_are_those_of_the_table(ends):
    """ISO286-IT-TABLE; the upper end belongs to the range, the lower end does not."""
    over, upto = ends
    for size in (over + 1.01 if over == 0 else over + 0.01, upto):
        found = [um(standard_tolerance(size, grade)) for grade in GRADES]

        assert found == pytest.approx(IT_UM[ends], abs=1e-9)


@pytest.mark.parametrize(("size", "it7"), [(50.0, 25), (50.8, 30), (30.0, 21), (80.0, 30)])
def test_a_size_on_a_boundary_belongs_to_the_lower_range(size, it7):
    """ISO286-boundary, published: over the lower, up to and including the upper; 50.8 mm is 2 in."""
    assert um(standard_tolerance(size, "IT7")) == pytest.approx(it7)


@pytest.mark.parametrize(("size", "mean", "i"), [(40.0, 38.7298, 1.56124), (63.0, 63.2456, 1.85614)])
def test_the_tolerance_factor_is_of_the_geometric_mean(size, mean, i):
    """ISO286-i, published: i = 0.45 D^(1/3) + 0.001 D."""
    assert geometric_mean(size) == pytest.approx(mean, abs=1e-4)
    assert um(tolerance_factor(size)) == pytest.approx(i, abs=1e-4)


@pytest.mark.parametrize(
    ("size", "formula", "table"),
    [
        (
            40.0,
            [10.9287, 15.6124, 24.9799, 39.0311, 62.4497, 99.9196, 156.1243],
            [11, 16, 25, 39, 62, 100, 160],
        ),
        (
            63.0,
            [12.993, 18.5614, 29.6983, 46.4036, 74.2458, 118.7933, 185.6145],
            [13, 19, 30, 46, 74, 120, 190],
        ),
    ],
)
def test_formula_and_table_are_near_and_not_the_same(size, formula, table):
    """ISO286-i-vs-table, derived: IT5 to IT11 are 7, 10, 16, 25, 40, 64, 100 i."""
    grades = range(5, 12)

    assert [um(tolerance_by_formula(size, g)) for g in grades] == pytest.approx(formula, abs=0.002)
    assert [um(standard_tolerance(size, g)) for g in grades] == pytest.approx(table, abs=1e-9)


@pytest.mark.parametrize(("letter", "es"), [("d", -80.0), ("e", -49.3), ("f", -24.6), ("g", -8.67)])
def test_shaft_deviation_formulas_come_near_the_table(letter, es):
    """ISO286-FD-formula, from memory: d = -16 D^0.44, e = -11 D^0.41, f = -5.5 D^0.41, g = -2.5 D^0.34."""
    assert um(deviation_by_formula(40.0, letter)) == pytest.approx(es, abs=0.06)


@pytest.mark.parametrize(("size", "hole", "shaft", "hole_um", "shaft_um", "clearance_um"), FITS)
def test_fits_are_those_of_the_printed_tables(size, hole, shaft, hole_um, shaft_um, clearance_um):
    found = fit(float(size), hole, shaft)

    assert (um(found.hole.lower), um(found.hole.upper)) == pytest.approx(hole_um, abs=1e-6)
    assert (um(found.shaft.lower), um(found.shaft.upper)) == pytest.approx(shaft_um, abs=1e-6)
    assert (um(found.least), um(found.most)) == pytest.approx(clearance_um, abs=1e-6)


@pytest.mark.parametrize(
    ("size", "d", "e", "f", "g", "k", "n"),
    [
        (25.0, -65, -40, -20, -7, 2, 15),
        (45.0, -80, -50, -25, -9, 2, 17),
        (70.0, -100, -60, -30, -10, 2, 20),
        (100.0, -120, -72, -36, -12, 3, 23),
    ],
)
def test_fundamental_deviations_are_those_of_the_standard(size, d, e, f, g, k, n):
    """ISO286-FD, published: ISO 286-1 Table 4; a public transcription has g one range off."""
    assert [um(zone(size, f"{letter}6").upper) for letter in "defg"] == pytest.approx([d, e, f, g])
    assert [um(zone(size, f"{letter}6").lower) for letter in "kn"] == pytest.approx([k, n])


@pytest.mark.parametrize(
    ("size", "name", "lower", "upper"),
    [
        (4.0, "K8", -13, 5),
        (25.0, "P7", -35, -14),
        (25.0, "K7", -15, 6),
        (55.0, "J7", -12, 18),
        (55.0, "N9", -74, 0),
        (55.0, "JS7", -15, 15),
        (55.0, "F7", 30, 60),
        (280.0, "M6", -41, -9),
        (300.0, "M7", -52, 0),
        (2.0, "N9", -29, -4),
        (55.0, "s6", 53, 72),
        (70.0, "s6", 59, 78),
        (28.0, "t6", 41, 54),
        (55.0, "j6", -7, 12),
        (2.5, "a9", -295, -270),
        (210.0, "c11", -550, -260),
        (200.0, "u6", 236, 265),
        (55.0, "r6", 41, 60),
        (55.0, "k9", 0, 74),
    ],
)
def test_other_letters_are_those_of_the_reprinted_tables(size, name, lower, upper):
    """Published: ISO 286-1 as reprinted in a machine-drawing textbook, Tables 15.1 to 15.3.

    P7 at 18 to 30 mm is its own worked example (delta 8, ES = -14), M6 its exception.
    """
    found = zone(size, name)

    assert (um(found.lower), um(found.upper)) == pytest.approx((lower, upper), abs=1e-6)


nominals = st.floats(1.01, 500.0)
grades = st.sampled_from(GRADES)


@given(nominals, grades)
def test_a_coarser_grade_is_wider(size, grade):
    at = GRADES.index(grade)
    assert at == 0 or standard_tolerance(size, grade) > standard_tolerance(size, GRADES[at - 1])


@given(nominals, nominals, grades)
def test_a_larger_size_never_has_the_smaller_tolerance(one, other, grade):
    small, large = sorted((one, other))
    assert standard_tolerance(small, grade) <= standard_tolerance(large, grade)


@given(nominals, st.sampled_from("abcdefgh"), st.sampled_from(["5", "6", "7", "8", "9"]))
def test_clearance_holes_mirror_their_shafts(size, letter, grade):
    """ISO 286-1: EI = -es for A to H."""
    shaft, hole = zone(size, letter + grade), zone(size, letter.upper() + grade)

    assert (hole.lower, hole.upper) == pytest.approx((-shaft.upper, -shaft.lower), abs=1e-12)


@given(nominals.filter(lambda size: size > 24.0), st.sampled_from("prstu"), st.sampled_from([5, 6, 7]))
def test_interference_holes_give_the_same_fit_as_their_shafts(size, letter, grade):
    """What delta is for (ISO 286-1): H(n)/p(n-1) and P(n)/h(n-1) leave the same interference."""
    hole_basis = fit(size, f"H{grade}", f"{letter}{grade - 1}")
    shaft_basis = fit(size, f"{letter.upper()}{grade}", f"h{grade - 1}")

    assert hole_basis.least == pytest.approx(shaft_basis.least, abs=1e-9)
    assert hole_basis.most == pytest.approx(shaft_basis.most, abs=1e-9)


@given(nominals, st.sampled_from(["a", "d", "g", "h", "js", "k", "m", "n", "p", "r", "s", "u"]), grades)
def test_a_zone_is_as_wide_as_its_grade(size, letter, grade):
    found = zone(size, letter + grade)

    assert found.upper - found.lower == pytest.approx(standard_tolerance(size, grade), abs=1e-9)
    assert found.largest - found.smallest == pytest.approx(standard_tolerance(size, grade), abs=1e-9)


@pytest.mark.parametrize(
    ("size", "name", "why"),
    [
        (600.0, "H7", "over 0 to 500 mm"),
        (0.0, "H7", "over 0 to 500 mm"),
        (float("nan"), "H7", "over 0 to 500 mm"),
        (55.0, "H19", "a letter and a grade are due"),
        (55.0, "q6", "no deviation 'q'"),
        (55.0, "Q6", "no deviation 'q'"),
        (20.0, "t6", "no deviation 't' for 20 mm"),
        (55.0, "j9", "for IT5 to IT7 only"),
        (55.0, "J9", "for IT6 to IT8 only"),
        (55.0, "K9", "K up to IT8 only"),
        (55.0, "P2", "no delta for grades finer than IT3"),
        (0.8, "a9", "not for sizes up to 1 mm"),
        (0.8, "h14", "not for sizes up to 1 mm"),
    ],
)
def test_what_the_tables_do_not_have_is_an_error_and_never_a_guess(size, name, why):
    with pytest.raises(ValueError, match=why):
        zone(size, name)


def test_a_fit_the_wrong_way_round_is_refused():
    with pytest.raises(ValueError, match="the hole comes first in capitals"):
        fit(55.0, "g6", "H7")


def test_an_unknown_grade_or_formula_is_refused():
    with pytest.raises(ValueError, match="IT01, IT0, IT1 to IT18 are"):
        standard_tolerance(55.0, "IT19")
    with pytest.raises(ValueError, match="it is for IT5 to IT18"):
        tolerance_by_formula(55.0, 4)
    with pytest.raises(ValueError, match="for d, e, f and g"):
        deviation_by_formula(55.0, "h")


def test_a_range_is_named_by_its_ends():
    assert size_range(55.0) == (50, 80)
    assert size_range(3.0) == (0, 3)
