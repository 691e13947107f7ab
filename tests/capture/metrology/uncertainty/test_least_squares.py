"""Least squares against the certified values of NIST's Statistical Reference Datasets.

Source of every data set here: NIST StRD, Nonlinear Regression, header and data of its file; certified.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.metrology.uncertainty.least_squares import Curve, derivatives, least_squares


class Certified(NamedTuple):
    curve: Curve
    x: list[float]
    y: list[float]
    start1: list[float]
    start2: list[float]
    parameters: list[float]
    sd: list[float]
    rss: float
    s: float


STRD = {
    "Misra1a": Certified(
        lambda x, p: p[0] * (1 - np.exp(-p[1] * x)),
        x=[77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0],
        y=[10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78],
        start1=[500.0, 0.0001],
        start2=[250.0, 0.0005],
        parameters=[238.94212918, 0.00055015643181],
        sd=[2.7070075241, 7.2668688436e-06],
        rss=0.12455138894,
        s=0.1018787633,
    ),
    "Lanczos1": Certified(
        lambda x, p: p[0] * np.exp(-p[1] * x) + p[2] * np.exp(-p[3] * x) + p[4] * np.exp(-p[5] * x),
        x=[
            0.0,
            0.05,
            0.1,
            0.15,
            0.2,
            0.25,
            0.3,
            0.35,
            0.4,
            0.45,
            0.5,
            0.55,
            0.6,
            0.65,
            0.7,
            0.75,
            0.8,
            0.85,
            0.9,
            0.95,
            1.0,
            1.05,
            1.1,
            1.15,
        ],
        y=[
            2.5134,
            2.044333373291,
            1.668404436564,
            1.366418021208,
            1.123232487372,
            0.9268897180037,
            0.7679338563728,
            0.6388775523106,
            0.5337835317402,
            0.4479363617347,
            0.377584788435,
            0.3197393199326,
            0.2720130773746,
            0.2324965529032,
            0.1996589546065,
            0.1722704126914,
            0.1493405660168,
            0.1300700206922,
            0.1138119324644,
            0.1000415587559,
            0.0883320908454,
            0.0783354401935,
            0.06976693743449,
            0.06239312536719,
        ],
        start1=[1.2, 0.3, 5.6, 5.5, 6.5, 7.6],
        start2=[0.5, 0.7, 3.6, 4.2, 4.0, 6.3],
        parameters=[0.095100000027, 1.0000000001, 0.86070000013, 3.0000000002, 1.5575999998, 5.0000000001],
        sd=[
            5.3347304234e-11,
            2.7473038179e-10,
            1.3576062225e-10,
            3.3308253069e-10,
            1.8815731448e-10,
            1.1057500538e-10,
        ],
        rss=1.4307867721e-25,
        s=8.9156129349e-14,
    ),
    "MGH17": Certified(
        lambda x, p: p[0] + p[1] * np.exp(-x * p[3]) + p[2] * np.exp(-x * p[4]),
        x=[
            0.0,
            10.0,
            20.0,
            30.0,
            40.0,
            50.0,
            60.0,
            70.0,
            80.0,
            90.0,
            100.0,
            110.0,
            120.0,
            130.0,
            140.0,
            150.0,
            160.0,
            170.0,
            180.0,
            190.0,
            200.0,
            210.0,
            220.0,
            230.0,
            240.0,
            250.0,
            260.0,
            270.0,
            280.0,
            290.0,
            300.0,
            310.0,
            320.0,
        ],
        y=[
            0.844,
            0.908,
            0.932,
            0.936,
            0.925,
            0.908,
            0.881,
            0.85,
            0.818,
            0.784,
            0.751,
            0.718,
            0.685,
            0.658,
            0.628,
            0.603,
            0.58,
            0.558,
            0.538,
            0.522,
            0.506,
            0.49,
            0.478,
            0.467,
            0.457,
            0.448,
            0.438,
            0.431,
            0.424,
            0.42,
            0.414,
            0.411,
            0.406,
        ],
        start1=[50.0, 150.0, -100.0, 1.0, 2.0],
        start2=[0.5, 1.5, -1.0, 0.01, 0.02],
        parameters=[0.37541005211, 1.9358469127, -1.4646871366, 0.01286753464, 0.022122699662],
        sd=[0.0020723153551, 0.22031669222, 0.22175707739, 0.00044861358114, 0.00089471996575],
        rss=5.4648946975e-05,
        s=0.0013970497866,
    ),
    "BoxBOD": Certified(
        lambda x, p: p[0] * (1 - np.exp(-p[1] * x)),
        x=[1.0, 2.0, 3.0, 5.0, 7.0, 10.0],
        y=[109.0, 149.0, 149.0, 191.0, 213.0, 224.0],
        start1=[1.0, 1.0],
        start2=[100.0, 0.75],
        parameters=[213.80940889, 0.54723748542],
        sd=[12.354515176, 0.10455993237],
        rss=1168.0088766,
        s=17.088072423,
    ),
    "MGH10": Certified(
        lambda x, p: p[0] * np.exp(p[1] / (x + p[2])),
        x=[
            50.0,
            55.0,
            60.0,
            65.0,
            70.0,
            75.0,
            80.0,
            85.0,
            90.0,
            95.0,
            100.0,
            105.0,
            110.0,
            115.0,
            120.0,
            125.0,
        ],
        y=[
            34780.0,
            28610.0,
            23650.0,
            19630.0,
            16370.0,
            13720.0,
            11540.0,
            9744.0,
            8261.0,
            7030.0,
            6005.0,
            5147.0,
            4427.0,
            3820.0,
            3307.0,
            2872.0,
        ],
        start1=[2.0, 400000.0, 25000.0],
        start2=[0.02, 4000.0, 250.0],
        parameters=[0.005609636471, 6181.3463463, 345.22363462],
        sd=[0.00015687892471, 23.309021107, 0.78486103508],
        rss=87.945855171,
        s=2.6009740065,
    ),
    "Chwirut2": Certified(
        lambda x, p: np.exp(-p[0] * x) / (p[1] + p[2] * x),
        x=[
            0.5,
            1.0,
            1.75,
            3.75,
            5.75,
            0.875,
            2.25,
            3.25,
            5.25,
            0.75,
            1.75,
            2.75,
            4.75,
            0.625,
            1.25,
            2.25,
            4.25,
            0.5,
            3.0,
            0.75,
            3.0,
            1.5,
            6.0,
            3.0,
            6.0,
            1.5,
            3.0,
            0.5,
            2.0,
            4.0,
            0.75,
            2.0,
            5.0,
            0.75,
            2.25,
            3.75,
            5.75,
            3.0,
            0.75,
            2.5,
            4.0,
            0.75,
            2.5,
            4.0,
            0.75,
            2.5,
            4.0,
            0.5,
            6.0,
            3.0,
            0.5,
            2.75,
            0.5,
            1.75,
        ],
        y=[
            92.9,
            57.1,
            31.05,
            11.5875,
            8.025,
            63.6,
            21.4,
            14.25,
            8.475,
            63.8,
            26.8,
            16.4625,
            7.125,
            67.3,
            41.0,
            21.15,
            8.175,
            81.5,
            13.12,
            59.9,
            14.62,
            32.9,
            5.44,
            12.56,
            5.44,
            32.0,
            13.95,
            75.8,
            20.0,
            10.42,
            59.5,
            21.67,
            8.55,
            62.0,
            20.2,
            7.76,
            3.75,
            11.81,
            54.7,
            23.7,
            11.55,
            61.3,
            17.7,
            8.74,
            59.2,
            16.3,
            8.62,
            81.0,
            4.87,
            14.62,
            81.7,
            17.17,
            81.3,
            28.9,
        ],
        start1=[0.1, 0.01, 0.02],
        start2=[0.15, 0.008, 0.01],
        parameters=[0.16657666537, 0.0051653291286, 0.012150007096],
        sd=[0.03830328681, 0.00066621605126, 0.0015304234767],
        rss=513.04802941,
        s=3.171713304,
    ),
    "DanWood": Certified(
        lambda x, p: p[0] * x ** p[1],
        x=[1.309, 1.471, 1.49, 1.565, 1.611, 1.68],
        y=[2.138, 3.421, 3.597, 4.34, 4.882, 5.66],
        start1=[1.0, 5.0],
        start2=[0.7, 4.0],
        parameters=[0.76886226176, 3.8604055871],
        sd=[0.01828197386, 0.051726610913],
        rss=0.0043173084083,
        s=0.032853114039,
    ),
    "MGH09": Certified(
        lambda x, p: p[0] * (x**2 + x * p[1]) / (x**2 + x * p[2] + p[3]),
        x=[4.0, 2.0, 1.0, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625],
        y=[0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246],
        start1=[25.0, 39.0, 41.5, 39.0],
        start2=[0.25, 0.39, 0.415, 0.39],
        parameters=[0.19280693458, 0.19128232873, 0.12305650693, 0.13606233068],
        sd=[0.011435312227, 0.19633220911, 0.080842031232, 0.090025542308],
        rss=0.00030750560385,
        s=0.0066279236551,
    ),
}
"""Ids STRD-Misra1a, STRD-Lanczos1, STRD-MGH17, STRD-MGH10, STRD-Chwirut2, and three more."""


@pytest.mark.parametrize("name", STRD)
def test_from_the_near_start_every_set_gives_its_certified_values(name):
    each = STRD[name]

    fit = least_squares(each.curve, each.x, each.y, each.start2)

    assert fit.converged
    assert fit.parameters == pytest.approx(each.parameters, rel=1e-6)
    assert fit.u == pytest.approx(each.sd, rel=1e-3)
    assert fit.s == pytest.approx(each.s, rel=1e-3)
    assert fit.rss == pytest.approx(each.rss, rel=1e-6, abs=1e-19)
    assert fit.dof == len(each.y) - len(each.parameters)


@pytest.mark.parametrize("name", STRD)
def test_from_the_far_start_the_answer_is_the_certified_one_too(name):
    each = STRD[name]

    fit = least_squares(each.curve, each.x, each.y, each.start1)

    assert fit.converged
    assert fit.parameters == pytest.approx(each.parameters, rel=1e-6)
    assert fit.rss == pytest.approx(each.rss, rel=1e-6, abs=1e-19)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(STRD)), st.lists(st.floats(-4, 4), min_size=6, max_size=6))
def test_from_anywhere_the_answer_is_a_minimum_or_there_is_none(name, far):
    """A fit never gives a number that it did not reach."""
    each = STRD[name]
    start = [p * 10**by for p, by in zip(each.start2, far, strict=False)]

    fit = least_squares(each.curve, each.x, each.y, start, most_steps=60)

    if fit.converged:
        slope = derivatives(each.curve, np.array(each.x), np.array(fit.parameters))
        cosines = slope.T @ np.array(fit.residuals) / np.linalg.norm(slope, axis=0)
        assert np.abs(cosines).max() <= 1e-3 * max(np.linalg.norm(fit.residuals), 1e-12)
    else:
        assert fit.why
        assert (fit.parameters, fit.u, fit.covariance, fit.rss, fit.s) == (None, None, None, None, None)


def test_a_search_that_is_cut_short_says_that_it_found_no_end():
    each = STRD["MGH10"]

    fit = least_squares(each.curve, each.x, each.y, each.start1, most_steps=20)

    assert not fit.converged
    assert fit.why == "no end after 20 steps: start nearer or fit a simpler model"
    assert fit.parameters is None


def test_parameters_that_do_the_same_cannot_be_told_apart():
    fit = least_squares(lambda x, p: (p[0] + p[1]) * x, [1, 2, 3], [1, 2, 3.1], [0.2, 0.3])

    assert not fit.converged
    assert "cannot tell the parameters apart" in fit.why


def test_a_model_without_a_value_at_the_start_says_so():
    fit = least_squares(lambda x, p: np.log(p[0]) * x, [1, 2], [1, 2], [-1.0])

    assert not fit.converged
    assert fit.why == "the model has no value at the start"


def test_a_model_that_is_not_analytic_leads_nowhere_and_says_so():
    fit = least_squares(lambda x, p: np.conj(p[0]) * x, [1.0, 2.0, 3.0], [1.0, 2.0, 3.1], [0.5])

    assert not fit.converged
    assert fit.why == "stuck: no step makes it better, yet it is no minimum"


def test_as_many_readings_as_parameters_leave_no_uncertainty():
    fit = least_squares(lambda x, p: p[0] + p[1] * x, [1.0, 2.0], [3.0, 5.0], [0.0, 0.0])

    assert fit.parameters == pytest.approx([1, 2])
    assert (fit.dof, fit.s, fit.u, fit.covariance) == (0, None, None, None)


def test_fewer_readings_than_parameters_are_refused():
    with pytest.raises(ValueError, match="2 parameters need as many readings or more, got 1"):
        least_squares(lambda x, p: p[0] + p[1] * x, [1.0], [1.0], [0.0, 0.0])


def test_a_known_uncertainty_of_the_readings_takes_the_place_of_their_scatter():
    """Two parameters of a straight line: u(mean) = u / sqrt(n), by hand."""
    fit = least_squares(lambda x, p: p[0] + p[1] * x, [-1.0, 0.0, 1.0], [1.0, 2.5, 3.0], [0.0, 0.0], u=0.3)

    assert fit.u == pytest.approx([0.3 / 3**0.5, 0.3 / 2**0.5])
    assert fit.covariance[0][1] == pytest.approx(0, abs=1e-12)


def test_derivatives_are_exact():
    x, p = np.array([0.5, 1.0, 2.0]), np.array([3.0, 0.7])

    found = derivatives(lambda x, p: p[0] * np.exp(-p[1] * x), x, p)

    left = np.exp(-0.7 * x)
    assert found == pytest.approx(np.column_stack([left, -3 * x * left]), rel=1e-14)


@given(
    st.lists(st.floats(-1, 1), min_size=8, max_size=8),
    st.floats(0.5, 3),
)
def test_residuals_are_orthogonal_to_the_model(noise, rate):
    x = np.arange(8) / 4
    y = 2 + 3 * np.exp(-rate * x) + 0.01 * np.array(noise)

    def curve(x, p):
        return p[0] + p[1] * np.exp(-p[2] * x)

    fit = least_squares(curve, x.tolist(), y.tolist(), [2.0, 3.0, rate])

    if fit.converged:
        slope = derivatives(curve, x, np.array(fit.parameters))
        cosines = slope.T @ np.array(fit.residuals) / np.linalg.norm(slope, axis=0)
        assert np.abs(cosines).max() <= 1e-3 * max(np.linalg.norm(fit.residuals), 1e-12)
    else:
        assert fit.parameters is None
