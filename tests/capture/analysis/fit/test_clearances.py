"""Clearances of two parts, where their places are known and where not."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from capture.analysis.fit.clearances import Side, clearances, side_of_sheet
from capture.metrology.fit.clearance import Shared, StationSize
from capture.sheet.reader import job_of


def side(sizes, *, oval=0.0, placed=True):
    mean = tuple(StationSize(float(z), d, 0.0003) for z, d in sizes.items())
    tight = tuple(replace(each, value=each.value + oval) for each in mean)
    return Side(mean, tight, (), placed=placed, conditions=(), blocks=())


BORE = {0: 50.006, 40: 50.005, 80: 50.006}
SHAFT = {0: 50.0, 80: 50.001, 200: 50.0}


def test_what_is_tight_on_one_side_of_the_mean_is_loose_on_the_other():
    assert [each.value for each in side(BORE, oval=-0.001).loose] == pytest.approx([50.007, 50.006, 50.007])


def test_ovality_makes_the_least_smaller_and_the_most_larger(fit_sheet):
    job = job_of(fit_sheet)
    plain = clearances(side(BORE), side(SHAFT), job, [])
    oval = clearances(side(BORE, oval=-0.001), side(SHAFT, oval=0.0005), job, [])

    assert plain.smallest.value - oval.smallest.value == pytest.approx(0.0015)
    assert oval.largest.value - plain.largest.value == pytest.approx(0.0015)


def test_bounds_are_never_inside_what_the_travel_shows(fit_sheet):
    job = job_of(fit_sheet)
    known = clearances(side(BORE), side(SHAFT), job, [])
    bounds = clearances(side(BORE, placed=False), side(SHAFT), job, [])

    assert bounds.positions == ()
    assert bounds.smallest.value <= known.smallest.value
    assert bounds.largest.value >= known.largest.value


def test_an_error_in_common_is_in_every_clearance(fit_sheet):
    shared = [Shared("master", 0.0004, 1.0, 0.0)]
    found = clearances(side(BORE, placed=False), side(SHAFT), job_of(fit_sheet), shared)

    assert all(each.u == pytest.approx((2 * 0.0003**2 + 0.0004**2) ** 0.5) for each in found.pairs)


@pytest.mark.parametrize(("last", "blocked"), [(64.0, False), (60.0, True)])
def test_more_than_a_fifth_unmeasured_proves_nothing(fit_sheet, last, blocked):
    found = clearances(side({0: 50.006, last: 50.006}), side(SHAFT), job_of(fit_sheet), [])

    assert bool(found.blocks) is blocked
    assert bool(found.conditions) is not blocked


def test_the_sheets_bore_is_one_size_under_a_condition(fit_sheet):
    fit_sheet["fit"] |= {"bore": 50.005, "u_bore": 0.0004}
    found = side_of_sheet(job_of(fit_sheet))

    assert [each.value for each in found.mean] == [50.005]
    assert found.commons[0].u == pytest.approx(0.0004)
    assert "its shape is not known" in found.conditions[0]
    del fit_sheet["fit"]["bore"]
    assert side_of_sheet(job_of(fit_sheet)) is None
