"""A session written as a script, for tests of the folds."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from typing import Any, TypeAlias

import pytest

from capture.events import AnyFact, Beat, Event, Instant, Reading, Station
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.state import decisions
from capture.state import session as session_of
from capture.state.words.commands import parse_command

Line: TypeAlias = tuple[str, Any]
"""What somebody says: (gauge, value), ("person", words), ("beat", seconds), or (source, fact)."""


class Session:
    """A live desk: what is said to it is recorded with what it decides."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.state = session_of.start(job)
        self.events: list[Event] = []
        self.seconds = 0.0

    def tell(self, *lines: Line) -> session_of.State:
        for source, said in lines:
            self.seconds += 5.0
            if source == "beat":
                self.seconds += said
                self._add("daemon", Beat())
            else:
                self._add(source, self._fact(source, said))
        return self.state

    def _fact(self, source: str, said: Any) -> AnyFact:
        if source == "person" and isinstance(said, str):
            return parse_command(said.split(), self.state)
        if isinstance(said, int | float):
            gauge = self.job.gauge(source)
            heat = gauge is not None and gauge.measures == "temperature"
            return Reading(float(said), "degC" if heat else "mm", 2 if heat else 3, f"{said}\r\n")
        return said  # a fact as it is

    def _add(self, source: str, fact: AnyFact) -> None:
        event = Event(
            self.state.seq + 1, Instant(int(self.seconds * 1e9), int(self.seconds * 1e9)), source, fact
        )
        self.state, added = decisions.step_and_decide(self.state, event)
        self.events += [event, *added]


SHEET: dict[str, Any] = {
    "job": {"name": "sleeve"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}, "bore": 55.002},
    "bore": {"material": "grey cast iron", "stations": [10, 40], "angles": [0, 60, 120]},
    "shaft": {"material": "steel 4140", "stations": [20, 80], "angles": [0, 90]},
    "grinder": {"dial": "diameter", "swivel": {"pivot": 140.0, "reading_at": 740.0}},
    "gauge": [
        {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 0.001},
        {"name": "plug", "measures": "bore", "link": {"serial": "b"}, "resolution": 0.001},
        {"name": "probe", "measures": "temperature", "part": "shaft", "link": {"serial": "c"}, "limits": 0.1},
        {"name": "saddle", "measures": "infeed", "link": {"serial": "d"}, "resolution": 0.001},
    ],
}


@pytest.fixture
def sheet() -> dict[str, Any]:
    """A whole sheet as plain data, to be changed at will."""
    return {key: (dict(value) if isinstance(value, dict) else list(value)) for key, value in SHEET.items()}


@pytest.fixture
def job(sheet: dict[str, Any]) -> Job:
    return job_of(sheet)


@pytest.fixture
def session(job: Job) -> Session:
    return Session(job)


@pytest.fixture
def one_place(sheet: dict[str, Any]) -> Session:
    """A session with one station in the plan, and no infeed gauge."""
    sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
    sheet["gauge"] = [gauge for gauge in sheet["gauge"] if gauge["measures"] != "infeed"]
    return Session(job_of(sheet))


@pytest.fixture
def new_session() -> Callable[[Job], Session]:
    return Session


@pytest.fixture
def grind() -> Callable[[Iterable[float]], list[Line]]:
    """A faultless machine of share 0.5 under these infeeds (mm on diameter), as words and readings."""

    def lines(infeeds: Iterable[float]) -> list[Line]:
        size, spring = 55.03, 0.0
        said: list[Line] = [("mike", size)]
        for infeed in infeeds:
            spring += infeed
            size, spring = size - spring / 2, spring / 2
            said += [("person", f"pass {infeed}"), ("mike", round(size, 4))]
        return said

    return lines


FIT_SHEET: dict[str, Any] = {
    "job": {"name": "sleeve"},
    "fit": {
        "nominal": 50.0,
        "clearance": {"aim": 0.005, "least": 0.002, "most": 0.008},
        "engagement": {"length": 80.0, "from": 0.0, "to": 120.0},
    },
    "bore": {"material": "grey cast iron"},
    "shaft": {"material": "steel 4140"},
    "gauge": [
        {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 1e-6, "limits": 1e-3},
        {"name": "plug", "measures": "bore", "link": {"serial": "b"}, "resolution": 1e-6, "limits": 1e-3},
        {
            "name": "warm bore",
            "measures": "temperature",
            "part": "bore",
            "link": {"serial": "c"},
            "limits": 0.1,
        },
        {
            "name": "warm shaft",
            "measures": "temperature",
            "part": "shaft",
            "link": {"serial": "d"},
            "limits": 0.1,
        },
        {
            "name": "warm master",
            "measures": "temperature",
            "part": "master",
            "link": {"serial": "e"},
            "limits": 0.1,
        },
    ],
}
"""Two parts, a gauge for each, and a probe for each and for the master."""

HEAT: list[Line] = [("warm bore", 20.0), ("warm shaft", 20.0), ("warm master", 20.0)]


@pytest.fixture
def fit_sheet() -> dict[str, Any]:
    """A sheet of both parts as plain data, to be changed at will."""
    return copy.deepcopy(FIT_SHEET)


@pytest.fixture(scope="session")
def new_fit_sheet() -> Callable[[], dict[str, Any]]:
    """Makes such sheets, for tests that draw many examples."""
    return lambda: copy.deepcopy(FIT_SHEET)


@pytest.fixture(scope="session")
def both_measured() -> Callable[..., Session]:
    """A session in which both parts are read at these places: {z: diameter} or {(z, angle): diameter}."""

    def measured(
        sheet: dict[str, Any],
        bore: dict[Any, float],
        shaft: dict[Any, float],
        heat: Iterable[Line] = HEAT,
    ) -> Session:
        session = Session(job_of(sheet))
        for part, gauge, sizes in (("bore", "plug", bore), ("shaft", "mike", shaft)):
            session.tell(*heat, ("person", f"stage {'lapped' if part == 'bore' else 'finish'}"))
            for place, value in sizes.items():
                z, angle = place if isinstance(place, tuple) else (place, 0.0)
                session.tell(("gauge", Station(part, z, angle)), (gauge, value))
        return session

    return measured
