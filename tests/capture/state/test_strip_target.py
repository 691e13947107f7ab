"""Before plating the shaft is aimed at the strip diameter: ``S = F - 2 t`` (geometry)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.plating.deposit import order, thickness_between
from capture.sheet.job import Plating
from capture.sheet.reader import job_of
from capture.state.strip_target import strip_size
from capture.state.target import target


@pytest.fixture
def plated(sheet):
    """Bore 55.002, clearance 5 µm: finished 54.997; 0.15 mm per side under it is 54.697."""
    sheet["shaft"] |= {"stations": [80], "angles": []}
    sheet["shaft"] |= {"plating": {"least": 0.10, "most": 0.20, "stock": 0.06, "runout": 0.01}}
    return sheet


@pytest.mark.parametrize("stage", ["stripped", "strip grind", "as found", "ground undersize"])
def test_before_plating_the_strip_diameter_is_aimed_at(new_session, plated, stage):
    session = new_session(job_of(plated))
    session.tell(("person", f"stage {stage}"))

    found = target(session.job, session.state.stations)

    assert found is not None
    assert (found.of, found.aim) == ("stripped", pytest.approx(54.697))
    # least good shaft 54.994 less 2 × 0.10 and the runout; largest 54.999 less 2 × 0.20, and the runout
    assert (found.least, found.most) == (pytest.approx(54.609), pytest.approx(54.784))


@pytest.mark.parametrize("stage", ["plated", "finish", "rough"])
def test_after_plating_the_finished_diameter_is_aimed_at(new_session, plated, stage):
    session = new_session(job_of(plated))
    session.tell(("person", f"stage {stage}"))

    found = target(session.job, session.state.stations)

    assert found is not None
    assert (found.of, found.aim) == ("finished", pytest.approx(54.997))


def test_a_part_stripped_without_a_plating_on_the_sheet_is_aimed_at_nothing(new_session, sheet):
    session = new_session(job_of(sheet))
    session.tell(("person", "stage stripped"))

    assert target(session.job, session.state.stations) is None


def test_the_coach_at_a_stripped_part_brings_it_to_the_strip_diameter(new_session, plated):
    """A machine of share 0.5 by which the coach alone is followed, from 54.9 mm."""
    plated["gauge"] = [one for one in plated["gauge"] if one["measures"] != "infeed"]
    session = new_session(job_of(plated))
    session.tell(("person", "stage stripped"), ("mike", 54.9))
    size, spring = 54.9, 0.0
    for _ in range(40):
        advice = session.state.grind.coaching.landing
        if advice.step == "stop":
            break
        fed = advice.infeed or 0.0
        spring += fed
        size, spring = size - spring / 2, spring / 2
        session.tell(("person", f"pass {fed:.4f}"), ("mike", round(size, 4)))

    found = target(session.job, session.state.stations)

    assert advice.step == "stop"
    assert found.band[0] <= size <= found.band[1]
    # what may still come off leaves it inside a band as wide as this one, so the coach need not wait for it
    assert session.state.grind.row.outlook.verdict in {"at-size", "sparked-out", "sparking-out"}
    assert size - spring >= found.band[0]


@given(
    finished=st.floats(10, 200),
    least=st.floats(0.02, 0.3),
    width=st.floats(0.0, 0.2),
    runout=st.floats(0, 0.05),
)
def test_a_part_stripped_within_the_limits_has_its_chromium_everywhere(finished, least, width, runout):
    """Finished and stripped anywhere in their bands, no side is under or over the plating's."""
    wanted = Plating(least=least, most=least + width, stock=0.05, runout=runout)
    found = strip_size(wanted, (finished, finished - 0.003, finished + 0.002), "simple", 0.001)
    if found is None:
        assert width < runout + 1e-9 or least + runout / 2 <= 0
        return

    assert found.least - 2e-6 <= found.aim <= found.most + 2e-6
    t = thickness_between(least, least + width, runout)
    assert found.aim == pytest.approx(order(finished, thickness=t, stock=0.05, runout=runout).strip)
    thinnest = (finished - found.most) / 2 - runout / 2
    assert thinnest >= least - 2e-6
    assert (finished - found.least) / 2 + runout / 2 <= least + width + 2e-6
