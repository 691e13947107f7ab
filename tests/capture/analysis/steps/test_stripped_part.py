"""The order once the shaft is measured stripped: geometry alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.steps.plating_plan import plan
from capture.report.order import order_page
from capture.report.terminal.plan_text import plan_text
from capture.sheet.reader import job_of
from tests.capture.analysis.steps.test_received_part import PLATING, measured


@pytest.fixture
def sheet(fit_sheet):
    """Finished 50 mm from a bore of 50.005; strip to 49.7, plate to 50.1."""
    fit_sheet["shaft"] |= {"stations": [0, 60, 120], "plating": PLATING, "hardness": 30}
    fit_sheet["fit"] |= {"bore": 50.005}
    return fit_sheet


def planned(new_session, sheet, stripped):
    session = measured(new_session(job_of(sheet)), "stripped", stripped)
    return session.job, plan(session.job, None, [session.state])


def test_the_deposit_follows_the_smallest_place_and_what_stays_the_largest(new_session, sheet):
    """(50.10 - 49.66) / 2 = 0.22; (50 - 49.66) / 2 = 0.17; (50 - 49.74) / 2 - 0.005 = 0.125."""
    job, found = planned(new_session, sheet, {0: 49.74, 60: 49.70, 120: 49.66})
    order = found["order"]

    assert (order["deposit"], order["thickness"], order["least_left"]) == pytest.approx((0.22, 0.17, 0.125))
    assert (order["stripped_smallest"], order["stripped_largest"]) == pytest.approx((49.66, 49.74))
    assert "stripped, as measured" in plan_text(found, "mm")
    assert '49.6600 mm</td><td class="n">49.7400 mm' in order_page(job, found, version="0", written="now")


def test_a_shaft_that_was_never_measured_stripped_is_ordered_by_the_plan(fit_sheet, sheet):
    order = plan(job_of(sheet), None)["order"]

    assert order["stripped_smallest"] is None
    assert order["deposit"] == pytest.approx((order["plated"] - order["strip"]) / 2.0)


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ({0: 49.7, 60: 49.85}, "stripped to 49.8500 mm at 60 mm, 0°, over"),
        ({0: 49.7, 60: 49.55}, "stripped to 49.5500 mm at 60 mm, 0°, under"),
    ],
)
def test_a_place_stripped_too_little_or_too_far_is_named_before_it_is_plated(new_session, sheet, sizes, said):
    assert said in " ".join(planned(new_session, sheet, sizes)[1]["warnings"])


def test_plated_by_its_order_every_place_reaches_the_plated_diameter(new_session, sheet):
    """A deposit that is even all over: the smallest place comes to the diameter as plated, none below it."""

    @given(sizes=st.lists(st.integers(49_690, 49_710), min_size=3, max_size=3))
    def law(sizes):
        stripped = dict(zip((0, 60, 120), (um / 1000 for um in sizes), strict=True))
        order = planned(new_session, sheet, stripped)[1]["order"]
        assert min(sizes) / 1000 + 2 * order["deposit"] == pytest.approx(order["plated"])

    law()


def test_a_deposit_too_thick_for_one_application_is_cautioned_by_the_shaft_as_measured(new_session, sheet):
    """Stripped 1 mm under: (50.1 - 48.7) / 2 = 0.7 mm per side."""
    keys = [one["key"] for one in planned(new_session, sheet, {0: 48.7})[1]["cautions"]]

    assert set(keys) - {one["key"] for one in planned(new_session, sheet, {0: 49.7})[1]["cautions"]}
