"""Profiles against worked lines and parts of known shape."""

from __future__ import annotations

from math import cos, radians, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.form.profile import Diameter, profile
from capture.text.catalogue import sentences

Z = [10, 40, 70, 100, 130, 160]


def straight(z):
    return 0.0 * z


def part(shape, *, z=tuple(Z), angles=(0, 60, 120), u=0.0005, oval=0.0):
    """Diameters of a part of 55 mm plus *shape* of the place, mm, with an ellipse."""
    return [
        Diameter(each, angle, 55 + shape(each) + oval / 2 * cos(2 * radians(angle - 30)), u)
        for each in z
        for angle in angles
    ]


def test_taper_of_five_stations():
    """TAPER-04: least squares, derived; uncertainties from the scatter as none were given."""
    d = [50.012, 50.0143, 50.0168, 50.019, 50.022]
    found = profile("shaft", [Diameter(50.0 * i, None, each, 0.0) for i, each in enumerate(d)]).taper

    assert found.slope * 1e3 == pytest.approx(0.0494, abs=0.002)
    assert found.taper * 1e3 == pytest.approx(9.88, abs=0.002)
    due = [0.12, -0.05, -0.02, -0.29, 0.24]
    assert [each * 1e3 for each in found.residuals] == pytest.approx(due, abs=0.002)
    assert found.s * 1e3 == pytest.approx(0.2302, abs=0.002)
    assert found.u_slope == pytest.approx(found.s / sqrt(25000), rel=1e-6)
    assert found.clear


def test_iso_halves_taper():
    """FORM-TAPER-DEF: ISO 12180-1:2011 local cylinder taper, published."""
    ends = [Diameter(0, None, 50.01, 0.0), Diameter(200, None, 50.0, 0.0)]

    found = profile("shaft", ends).taper

    assert found.iso_local * 1e3 == pytest.approx(5, abs=1e-9)
    assert found.taper * 1e3 == pytest.approx(-10, abs=1e-9)


def test_a_straight_round_part_has_nothing_to_find():
    found = profile("bore", part(straight))

    assert not found.taper.clear
    assert found.axial.shape == "straight"
    assert found.axial.bell_mouths == ()
    assert all(each.round.said.startswith("no ovality") for each in found.stations)
    assert found.smallest.or_at == found.largest.or_at == tuple(Z[1:])


@pytest.mark.parametrize(("sign", "name"), [(1, "barrel"), (-1, "hourglass")])
@pytest.mark.parametrize("kind", ["bore", "shaft"])
def test_barrel_and_hourglass(kind, sign, name):
    """A parabola of 6 um, on a taper that must not be mistaken for it."""
    found = profile(kind, part(lambda z: sign * 0.006 * (1 - ((z - 85) / 75) ** 2) + 1e-4 * z))

    assert found.axial.shape == name
    assert found.axial.crown == pytest.approx(sign * 0.006)
    assert found.axial.bell_mouths == (() if kind == "bore" else None)
    assert found.taper.slope == pytest.approx(1e-4)


@pytest.mark.parametrize(
    ("ends", "opened"),
    [((1, 0), ("datum end",)), ((0, 1), ("far end",)), ((1, 1), ("datum end", "far end"))],
)
def test_bell_mouth_at_either_end_leaves_the_rest_straight(ends, opened):
    found = profile("bore", part(lambda z: 0.008 * (ends[0] * (z == 10) + ends[1] * (z == 160))))

    assert found.axial.bell_mouths == opened
    assert found.axial.shape == "straight"


def test_a_shaft_has_no_bell_mouth():
    assert profile("shaft", part(lambda z: 0.008 * (z == 10))).axial.bell_mouths is None


def test_an_end_that_is_small_is_no_bell_mouth():
    assert profile("bore", part(lambda z: -0.008 * (z == 10))).axial.bell_mouths == ()


def test_ovality_and_mean_are_found_at_every_station():
    found = profile("bore", part(straight, oval=0.006))

    for each in found.stations:
        assert each.mean == pytest.approx(55)
        assert each.round.ovality == pytest.approx(0.006)
        assert each.round.axis == pytest.approx(30)


def test_smallest_and_largest_place_with_their_rivals():
    found = profile("bore", part(lambda z: {70: -0.004, 100: -0.0035}.get(z, 0.0), angles=(0,)))

    assert (found.smallest.z, found.smallest.value) == (70, pytest.approx(54.996))
    assert found.smallest.or_at == (100,)
    assert found.largest.value == pytest.approx(55)


def test_what_all_readings_share_is_in_sizes_and_cancels_in_form():
    alone, shared = (profile("bore", part(lambda z: 1e-5 * z), shared_u=u) for u in (0.0, 0.002))

    assert shared.stations[0].u == pytest.approx(sqrt(alone.stations[0].u ** 2 + 0.002**2))
    assert shared.smallest.u > alone.smallest.u
    assert shared.taper == alone.taper
    assert shared.axial == alone.axial
    assert shared.stations[0].round == alone.stations[0].round


def test_repeat_readings_of_one_place_are_averaged():
    found = profile("shaft", [Diameter(20, 0, 55.001, 0.001), Diameter(20, 180, 55.003, 0.001)])

    assert found.stations[0].mean == pytest.approx(55.002)
    assert found.stations[0].u == pytest.approx(0.001 / sqrt(2))
    assert found.stations[0].n == 1


def test_one_station_says_what_it_cannot_say():
    found = profile("bore", [Diameter(20, 0, 55.0, 0.001)])

    assert (found.taper, found.axial) == (None, None)
    assert any("taper is not known" in each for each in sentences(found.said, "mm"))
    assert any("barrel and hourglass are not known" in each for each in sentences(found.said, "mm"))
    assert any("bell mouth is not known" in each for each in sentences(found.said, "mm"))
    assert any("ovality there is not known" in each for each in sentences(found.said, "mm"))


def test_two_stations_give_taper_but_no_residual():
    found = profile("shaft", [Diameter(z, None, 55 + z * 1e-5, 0.001) for z in (0, 200)])

    assert found.taper.taper == pytest.approx(0.002)
    assert found.taper.u_taper == pytest.approx(0.001 * sqrt(2))
    assert not found.taper.clear
    assert (found.taper.s, found.axial) == (None, None)


def test_two_point_blindness_is_always_said():
    assert any(
        "odd lobes or a bent axis" in each for each in sentences(profile("bore", part(straight)).said, "mm")
    )


def test_stated_uncertainties_are_the_spread_of_many():
    rng = np.random.default_rng(9)
    found = []
    for _ in range(400):
        noisy = [
            Diameter(each.z, each.angle, each.value + rng.normal(0, 0.0005), 0.0005)
            for each in part(straight)
        ]
        found.append(profile("bore", noisy))

    assert np.std([each.taper.slope for each in found]) == pytest.approx(found[0].taper.u_slope, rel=0.1)
    crowns = [each.axial.crown for each in found if not each.axial.bell_mouths]
    assert np.std(crowns) == pytest.approx(found[0].axial.u_crown, rel=0.15)


shapes = st.lists(st.floats(-0.01, 0.01), min_size=6, max_size=6)


@given(shapes, st.floats(-5, 5))
def test_a_constant_shift_moves_every_size_and_no_form(values, shift):
    at = dict(zip(Z, values, strict=True))
    here, there = profile("bore", part(at.get)), profile("bore", part(lambda z: at[z] + shift))

    assert there.smallest.value == pytest.approx(here.smallest.value + shift)
    assert there.taper.slope == pytest.approx(here.taper.slope, abs=1e-12)
    assert there.taper.residuals == pytest.approx(here.taper.residuals, abs=1e-12)
    assert there.axial.crown == pytest.approx(here.axial.crown, abs=1e-11)


@given(shapes)
def test_a_part_turned_end_for_end_has_the_mirrored_taper_and_the_same_crown(values):
    at = dict(zip(Z, values, strict=True))
    here, there = profile("shaft", part(at.get)), profile("shaft", part(lambda z: at[170 - z]))

    assert there.taper.slope == pytest.approx(-here.taper.slope, abs=1e-12)
    assert there.axial.crown == pytest.approx(here.axial.crown, abs=1e-11)
    assert there.taper.residuals == pytest.approx(here.taper.residuals[::-1], abs=1e-12)


@given(shapes)
def test_residuals_are_orthogonal_to_the_model(values):
    at = dict(zip(Z, values, strict=True))
    rest = np.array(profile("shaft", part(at.get)).taper.residuals)

    assert rest.sum() == pytest.approx(0, abs=1e-12)
    assert rest @ np.array(Z) == pytest.approx(0, abs=1e-10)


@given(st.lists(st.integers(-10, 10), min_size=6, max_size=6), st.sampled_from([0.5, 2.0, 1024.0]))
def test_scaling_form_and_uncertainty_together_changes_no_finding(microns, scale):
    """In exact binary steps, so that rounding decides nothing."""
    at = {z: each / 1024 for z, each in zip(Z, microns, strict=True)}
    here, there = (
        profile("bore", [Diameter(z, 0, k * v, k / 512) for z, v in at.items()]) for k in (1.0, scale)
    )

    assert there.taper.clear == here.taper.clear
    assert there.axial.shape == here.axial.shape
    assert there.axial.bell_mouths == here.axial.bell_mouths
    assert there.smallest.or_at == here.smallest.or_at


def test_inches_give_the_same_profile():
    mm = part(lambda z: 1e-4 * z - 1e-6 * z * z, oval=0.004)
    inch = [Diameter(d.z / 25.4, d.angle, d.value / 25.4, d.u / 25.4) for d in mm]

    here, there = profile("bore", mm), profile("bore", inch)

    assert there.taper.taper * 25.4 == pytest.approx(here.taper.taper)
    assert there.axial.crown * 25.4 == pytest.approx(here.axial.crown)
    assert there.axial.shape == here.axial.shape
    assert there.stations[2].round.ovality * 25.4 == pytest.approx(here.stations[2].round.ovality)


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: profile("bore", []), "a profile of the bore needs one reading or more"),
        (lambda: profile("bore", [Diameter(0, 0, 55, -1)]), "must be zero or more"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()
