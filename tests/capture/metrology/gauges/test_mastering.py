"""Mastering: drift between checks against worked figures."""

from __future__ import annotations

from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.gauges.mastering import (
    MasterCheck,
    corrected,
    correction,
    far_from_master,
    runs,
)
from capture.text.catalogue import sentence

errors = st.floats(-0.005, 0.005)


def check(at: float, error: float, *, u: float = 0.0002) -> MasterCheck:
    return MasterCheck(at=at, reading=55.0 + error, size=55.0, u_reading=u, u_master=0.00025)


def test_drift_between_two_checks_is_interpolated():
    """DRIFT-01, derived: 0.2 µm at 0 min, 0.8 µm at 30 min; at 20 min 0.6 µm, 4.1 becomes 3.5 µm."""
    found = correction([check(0.0, 0.0002), check(1800.0, 0.0008)], 1200.0)

    assert found.error * 1000 == pytest.approx(0.6, abs=1e-9)
    assert (corrected(55.0041, found) - 55.0) * 1000 == pytest.approx(3.5, abs=1e-9)


def test_half_the_drift_is_the_half_width_that_stays():
    """DRIFT-01, derived: 0.3 µm rectangular, so 0.3 / sqrt(3) µm standard."""
    found = correction([check(0.0, 0.0002), check(1800.0, 0.0008)], 1200.0)

    assert found.u_drift == pytest.approx(0.0003 / sqrt(3))
    assert found.u == pytest.approx(hypot(found.u_zero, found.u_drift, 0.00025))


@given(st.lists(st.tuples(st.floats(0.0, 1e4), errors), min_size=1, unique_by=lambda pair: pair[0]))
def test_on_a_check_its_own_error_holds_without_drift(pairs):
    checks = [check(at, error) for at, error in pairs]
    for each in checks:
        found = correction(checks, each.at)

        assert found.error == pytest.approx(each.error)
        assert found.u_drift == 0.0


@given(errors, errors, st.floats(0.0, 100.0))
def test_between_checks_the_error_lies_between_theirs(first, second, at):
    found = correction([check(0.0, first), check(100.0, second)], at)

    assert min(first, second) - 1e-12 <= found.error <= max(first, second) + 1e-12


@given(errors, errors, st.floats(0.0, 100.0), st.floats(-10.0, 10.0))
def test_what_moves_every_reading_moves_nothing_that_is_found(first, second, at, shift):
    """A gauge that reads a constant too much, on master and part alike, gives the same size."""
    plain = correction([check(0.0, first), check(100.0, second)], at)
    moved = correction([check(0.0, first + shift), check(100.0, second + shift)], at)

    assert corrected(55.0 + shift, moved) == pytest.approx(corrected(55.0, plain), abs=1e-9)


@pytest.mark.parametrize(("at", "missing"), [(-1.0, "not checked before"), (9.0, "not checked afterwards")])
def test_outside_the_checks_the_drift_may_be_as_large_as_its_limit(at, missing):
    found = correction([check(0.0, 0.001), check(5.0, 0.001)], at, most_drift=0.0015)

    assert found.u_drift == pytest.approx(0.0015 / sqrt(3))
    assert missing in found.note


def test_without_a_master_there_is_no_correction():
    assert correction([], 1.0) is None


def test_a_run_that_drifts_too_far_is_named():
    found = runs([check(1800.0, 0.0016), check(0.0, 0.0002), check(900.0, 0.0004)])

    assert [run.exceeded for run in found] == [False, True]
    assert (
        sentence(found[1].said, "mm")
        == "0:15:00 to 0:30:00 of the recording: drift +1.20 µm, over the limit of 1 µm"
    )


@given(st.lists(errors, min_size=2, max_size=6))
def test_the_drifts_of_all_runs_add_up_to_the_whole(values):
    checks = [check(float(n), error) for n, error in enumerate(values)]

    assert sum(run.drift for run in runs(checks)) == pytest.approx(values[-1] - values[0], abs=1e-9)


@pytest.mark.parametrize(("reading", "far"), [(55.024, False), (55.026, True), (54.974, True)])
def test_a_reading_far_from_the_master_is_marked(reading, far):
    """Common practice, no source: compare within 25 µm of the master."""
    assert far_from_master(reading, 55.0) is far
