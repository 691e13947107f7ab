"""The next infeed by a riding gauge."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.coach.final_size import Band, Feeding
from capture.coach.ride_infeed import infeed_by_ride
from capture.metrology.grinding.outlook import Outlook

BAND = Band(-0.0015, 0.0015, 0.0)


def outlook(**known: Any) -> Outlook:
    """A cold part that ends 20 mm/1000 over the aim, unless told otherwise."""
    figures = {
        "predicted": 0.020,
        "u_predicted": 0.0005,
        "to_come": 0.001,
        "u_to_come": 0.0001,
        "u_size": 0.0003,
    }
    figures |= {"next_removal": 0.0005, "u_next": 0.00005, "share": 0.5}
    return Outlook(number=3, verdict="cutting", why=(), **{**figures, **known})


def test_stock_is_fed_as_deep_as_a_finishing_pass_may_be():
    """The Handbook's least infeed for hardened steel is the sheet's default: 0.005 mm on diameter."""
    found = infeed_by_ride(outlook(), BAND, Feeding())

    assert (found.step, found.infeed) == ("feed", pytest.approx(0.005))


def test_the_last_infeed_ends_at_the_aim():
    found = infeed_by_ride(outlook(predicted=0.003), BAND, Feeding())

    assert (found.step, found.infeed) == ("feed", pytest.approx(0.003))
    assert found.final == pytest.approx(0.0, abs=1e-9)


def test_it_rests_while_what_is_to_come_may_be_all_the_stock_there_is():
    known = outlook(predicted=0.002, u_predicted=0.003, to_come=0.006, u_to_come=0.003, next_removal=0.003)

    assert infeed_by_ride(known, BAND, Feeding()).step == "rest"


def test_a_sparked_out_part_inside_the_band_is_left_alone_and_one_not_surely_inside_is_measured():
    inside = outlook(predicted=0.0, u_predicted=0.0004, to_come=0.0002, next_removal=0.0001, settled=True)
    unsure = outlook(predicted=0.0012, u_predicted=0.0008, to_come=0.0002, next_removal=0.0001)

    assert infeed_by_ride(inside, BAND, Feeding()).step == "stop"
    assert infeed_by_ride(unsure, BAND, Feeding(undersize=1e-9)).infeed == 0.0


def test_a_wheel_that_stands_too_deep_is_drawn_back_before_it_takes_it():
    deep = outlook(predicted=-0.006, u_predicted=0.0004, to_come=0.008, next_removal=0.006, share=0.7)

    found = infeed_by_ride(deep, BAND, Feeding())

    assert (found.step, found.infeed) == ("draw back", pytest.approx(-0.008))


@given(
    end=st.floats(-0.01, 0.08),
    u=st.floats(0.0001, 0.005),
    come=st.floats(0.0, 0.02),
    share=st.floats(0.25, 0.8),
    settled=st.booleans(),
)
def test_no_advice_risks_the_lower_limit_more_than_is_allowed(end, u, come, share, settled):
    known = outlook(
        predicted=end, u_predicted=u, to_come=come, share=share, next_removal=share * come, settled=settled
    )

    found = infeed_by_ride(known, BAND, Feeding())

    if found.infeed > 0.0:
        assert found.p_next is not None
        assert found.p_next <= Feeding().undersize
        assert found.infeed <= Feeding().rough
        assert end - found.infeed > BAND.middle - Feeding().division
