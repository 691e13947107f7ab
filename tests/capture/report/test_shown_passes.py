"""Passes as rows of text: what came off is of one setting of the part."""

from __future__ import annotations

from capture.analysis.summary import summary
from capture.report.shown_passes import HEAD, shown_passes
from capture.sheet.reader import job_of
from dashboard.sources.scene import Scene
from dashboard.views.registry import draw
from tests.capture.state.conftest import new_session, sheet  # noqa: F401 - fixtures


def test_chromium_that_came_between_two_passes_is_not_shown_as_taken_off(new_session, sheet):  # noqa: F811
    """Geometry: 0.2 mm a side were deposited; the wheel took 20 µm before, and 20 µm after it."""
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.06}, "stations": [80]}
    sheet["gauge"] = [one for one in sheet["gauge"] if one["measures"] != "infeed"]
    session = new_session(job_of(sheet))
    session.tell(("person", "stage stripped"), ("mike", 54.728), ("person", "pass 0.02"), ("mike", 54.708))
    session.tell(("person", "stage plated"), ("mike", 55.129), ("person", "stage rough"))
    session.tell(("person", "pass 0.02"), ("mike", 55.109))

    rows = shown_passes(summary(session.state)["passes"], "mm")
    page = str(draw("grinding", Scene("live", "a.jsonl", session.state, age=0.1))["passes[]"])

    for row in rows:
        off = row[HEAD.index("came off")]
        assert "401" not in off
        assert not off.startswith(("−", "-"))
    assert "401" not in page
