"""The decay of a plunge's dwell against the closed form of the first-order lag.

``lag`` and ``left_after`` are that form (King and Hahn; Malkin and Guo, "Grinding Technology", from memory),
tested themselves in `test_decay`.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.metrology.grinding.decay import lag, left_after
from capture.metrology.grinding.stream.plunge_decay import DwellFit, dwell_fit

LIMIT = 0.0005


def size(t: float, rate: float, tau: float, stop: float) -> float:
    """The size by the closed form, long after the infeed began; 0 at 0 s."""
    steady = rate * tau
    return -rate * t if t < stop else -rate * stop - steady + left_after(steady, tau, t - stop)


def seen(
    rate: float, tau: float, *, until: float, u: float = 1e-5, seed: int = 0, drift: float = 0.0
) -> DwellFit:
    random = np.random.default_rng(seed)
    at = [0.5 + n for n in range(int(until))]
    sizes = [size(t, rate, tau, 14.0) + drift * t + u * float(random.standard_normal()) for t in at]
    return dwell_fit(at, sizes, (9.0, min(18.0, at[-1])), u, LIMIT, -min(sizes))


def test_a_steady_infeed_lags_by_rate_times_time_constant():
    assert lag(0.001, 5.0, 200.0) == pytest.approx(0.005)


@settings(max_examples=30, deadline=None)
@given(rate=st.floats(0.0005, 0.003), tau=st.floats(1.5, 10.0))
def test_time_constant_and_what_is_to_come_are_those_of_the_closed_form(rate, tau):
    found = seen(rate, tau, until=14.0 + 4.0 * tau)
    true = left_after(rate * tau, tau, int(14.0 + 4.0 * tau) - 0.5 - 14.0)

    assert abs(found.tau[0] - tau) < 3.0 * found.tau[1] + 0.05
    assert abs(found.to_come[0] - true) < 3.0 * found.to_come[1] + 2e-5
    assert abs(found.stopped[0] - 14.0) < 3.0 * found.stopped[1] + 0.1


@settings(max_examples=30, deadline=None)
@given(
    rate=st.floats(0.0005, 0.003),
    tau=st.floats(2.0, 10.0),
    after=st.floats(0.3, 4.0),
    seed=st.integers(0, 99),
)
def test_next_to_nothing_is_never_sure_while_twice_the_limit_is_to_come(rate, tau, after, seed):
    until = int(14.0 + max(after * tau, 2.0))
    if left_after(rate * tau, tau, until - 0.5 - 14.0) > 2.0 * LIMIT:
        assert seen(rate, tau, until=until, u=1e-4, seed=seed).below < 0.95


def test_an_infeed_that_goes_on_is_not_sure_of_its_end():
    random = np.random.default_rng(4)
    at = [0.5 + n for n in range(30)]
    sizes = [-0.001 * t + 1e-4 * float(random.standard_normal()) for t in at]

    assert dwell_fit(at, sizes, (15.0, 25.0), 1e-4, LIMIT, 0.03).below < 0.5


def test_a_part_that_cools_in_the_dwell_is_seen_to_shrink():
    at = [0.5 + n for n in range(70)]
    # 5 µm of growth that is gone but for 1/e in 70 s (Newton's law of cooling) beside a lag of 2 s
    cools = [0.005 * float(np.exp(-max(t - 14.0, 0.0) / 70.0)) for t in at]
    sizes = [size(t, 0.002, 2.0, 14.0) + growth for t, growth in zip(at, cools, strict=True)]
    found = dwell_fit(at, sizes, (9.0, 18.0), 5e-5, LIMIT, 0.1)

    assert found.drift[0] < -2e-5
