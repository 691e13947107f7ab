"""Errors in common: what each does to a size, and what is the same error in both parts."""

from __future__ import annotations

from math import sqrt

import pytest

from capture.analysis.fit.measured_part import measured
from capture.analysis.fit.systematic_errors import SystematicError, joined

HEAT = [("warm bore", 24.0), ("warm shaft", 24.0), ("warm master", 22.0)]


def commons(session, part="shaft"):
    return {each.name: each for each in measured(session.state, part, session.job, source="here").commons}


def test_a_certificate_is_a_rectangle_of_its_limits(both_measured, fit_sheet):
    """GUM 4.3.7: limits of 1 µm are u = 1 / sqrt(3) µm."""
    found = commons(both_measured(fit_sheet, {}, {0: 50.0}))

    assert found["mike: largest error by its certificate"].u == pytest.approx(0.001 / sqrt(3))


def test_a_thermometer_acts_by_the_expansion_of_what_it_is_on(both_measured, fit_sheet):
    """0.1 K as a rectangle on 50 mm of steel 4140 (12.3e-6 /K): 0.0355 µm (derived)."""
    found = commons(both_measured(fit_sheet, {}, {0: 50.0}, HEAT))

    assert found["thermometer on the shaft"].u == pytest.approx(50 * 12.3e-6 * 0.1 / sqrt(3), rel=1e-3)
    assert found["thermometer on the shaft"].effect < 0


def test_an_expansion_acts_by_the_distance_from_20_degrees(both_measured, fit_sheet):
    """±1e-6 /K as a rectangle, 4 K, 50 mm: 0.115 µm (derived)."""
    found = commons(both_measured(fit_sheet, {}, {0: 50.0}, HEAT))

    assert found["expansion of the shaft (steel 4140)"].u == pytest.approx(50 * 4 * 1e-6 / sqrt(3), rel=1e-3)


def test_probes_on_one_link_are_one_instrument_whose_error_nearly_leaves(both_measured, fit_sheet):
    """Apart 0.1 K errs by a_b and a_s each; together by their difference, iron 11.4 against steel 12.3."""
    apart = both_measured(fit_sheet, {0: 50.0}, {0: 50.0}, HEAT[:2])
    for gauge in fit_sheet["gauge"][2:]:
        gauge |= {"link": {"serial": "c"}, "channel": gauge["name"]}
    together = both_measured(fit_sheet, {0: 50.0}, {0: 50.0}, HEAT[:2])

    def heat(session):
        both = (measured(session.state, part, session.job, source="x").commons for part in ("bore", "shaft"))
        return [each.shared.u for each in joined(*both) if "thermometer" in each.shared.name]

    u = 50 * 0.1 / sqrt(3)
    assert sorted(heat(apart)) == pytest.approx([u * 11.4e-6, u * 12.3e-6], rel=1e-3)
    assert heat(together) == pytest.approx([u * 0.9e-6], rel=1e-3)


def test_errors_of_one_key_are_joined_and_others_are_not():
    master = SystematicError("master of a", "a: its master", 0.0004, 1.0, "normal", "said", of_master=True)
    other = SystematicError("master of b", "b: its master", 0.0003, 1.0, "normal", "said", of_master=True)

    assert sorted(each.shared.u for each in joined([master], [other])) == pytest.approx([0.0003, 0.0004])
    (one,) = joined([master], [other], one_master=True)
    assert one.shared.u == 0
    assert one.shared.spread == 0.0004


def test_the_uncertainty_of_a_calibration_stands_beside_the_limits(both_measured, fit_sheet):
    """GUM 6.2.1: U = k u, so 0.8 µm at k = 2 are u = 0.4 µm; the limits stay a rectangle (GUM 4.3.7)."""
    mike = next(one for one in fit_sheet["gauge"] if one["name"] == "mike")
    mike |= {"expanded": 0.0008, "certificate": "K-17"}
    found = commons(both_measured(fit_sheet, {}, {0: 50.0}))

    assert found["mike: uncertainty of its calibration"].u == pytest.approx(0.0004)
    assert found["mike: uncertainty of its calibration"].source == "certificate K-17, U over k = 2"
    assert found["mike: largest error by its certificate"].u == pytest.approx(0.001 / sqrt(3))


def test_a_certified_master_on_the_sheet_is_said_by_the_gauge_alone(both_measured, fit_sheet):
    """A ring of 50.000012 mm, U = 0.6 µm at k = 2 (GUM 6.2.1: u = 0.3 µm)."""
    mike = next(one for one in fit_sheet["gauge"] if one["name"] == "mike")
    mike |= {"master_size": 50.000012, "master_expanded": 0.0006, "master_certificate": "R-3"}
    session = both_measured(fit_sheet, {}, {})
    session.tell(
        ("person", "master mike"), ("mike", 50.0002), ("person", "station shaft 0 0"), ("mike", 50.0)
    )
    found = commons(session)

    assert found["mike: size of its master"].u == pytest.approx(0.0003)
    assert found["mike: size of its master"].source == "certificate R-3, U over k = 2"

    session.tell(("person", "master mike 50.000012"))
    assert session.state.stations.zeros["mike"].u_size == pytest.approx(0.0003)
    session.tell(("person", "master mike 50.010"))
    assert session.state.stations.zeros["mike"].u_size == 0.0


@pytest.mark.parametrize(("due", "late"), [("1969-12-31", True), ("1970-01-01", False)])
def test_what_rests_on_an_overdue_calibration_is_not_proven(both_measured, fit_sheet, due, late):
    mike = next(one for one in fit_sheet["gauge"] if one["name"] == "mike")
    mike |= {"due": due, "master_due": due}  # the clock of this session begins in 1970
    by_certificate = both_measured(fit_sheet, {}, {0: 50.0})
    mastered = both_measured(fit_sheet, {}, {})
    mastered.tell(("person", "master mike 50 0.0003"), ("mike", 50.0), ("person", "station shaft 0 0"))
    mastered.tell(("mike", 50.0))

    found = [measured(one.state, "shaft", one.job, source="x").blocks for one in (by_certificate, mastered)]
    said = [[dict(each.figures)["what"] for each in one if not isinstance(each, str)] for one in found]

    assert said == ([["mike"], ["the master of mike"]] if late else [[], []])
