"""What if the advice had been followed: played on machines whose law the test works out by itself.

The machine is a faultless first-order spring (King and Hahn): a pass takes the share S of what stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from capture.analysis.grind.next_step import beside_of
from capture.analysis.grind.what_if import Played, first_difference, fit, played
from capture.coach.advice import Ground
from capture.metrology.grinding.outlook import SizeReading, Stroke
from capture.metrology.message import message
from capture.sheet.measuring_plan import PlannedPlace
from capture.sheet.reader import job_of

AIM = 54.997
BAND = 0.0025


def _ends(start: float, infeeds: Sequence[float], share: float, spring: float = 0.002) -> list[float]:
    sizes, size = [start], start
    for infeed in infeeds:
        spring += infeed
        size, spring = size - share * spring, (1.0 - share) * spring
        sizes.append(size)
    return sizes


@pytest.fixture
def ground(sheet: dict[str, Any], new_session: Callable[[Any], Any]):
    """A session ground by *infeeds* on a machine of a *share*, two readings after each pass."""

    def run(start: float, infeeds: Sequence[float], share: float = 0.5, *words: str):
        sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
        sheet["gauge"] = [
            {**sheet["gauge"][0], "resolution": 0.0001, "repeatability": 0.0002, "limits": 0.0005}
        ]
        session = new_session(job_of(sheet))
        session.tell(("person", "coolant on"), *[("person", word) for word in words])
        sizes = _ends(start, infeeds, share)
        session.tell(("mike", round(sizes[0], 4)))
        for infeed, size in zip(infeeds, sizes[1:], strict=True):
            session.tell(("person", f"pass {infeed}"), ("mike", round(size, 4)), ("mike", round(size, 4)))
        return session.state

    return run


TIMID = [0.010, 0.010, *[0.002] * 9, *[0.001] * 3, *[0.0] * 6]
"""28 µm of small passes, and spring passes beyond all need."""


def test_a_timid_grind_would_have_been_shorter_and_landed_as_well(ground):
    state = ground(AIM + 0.0425, TIMID)
    found = played(state)

    assert found is not None
    assert found.why is None
    assert found.inside
    assert found.saved is not None
    assert found.saved >= 5
    assert found.passes == len(TIMID) - found.saved
    assert found.size == pytest.approx(AIM, abs=0.0015)
    assert found.u_size is not None
    assert 0.0 < found.u_size < 0.0015


@pytest.mark.parametrize("share", [0.4, 0.6])
def test_what_is_played_is_where_that_machine_would_have_ended(ground, share: float):
    """The infeeds that are played, fed to the machine that the test knows, end within the uncertainty."""
    state = ground(AIM + 0.0425, TIMID, share)
    found = played(state)
    assert found is not None
    assert found.size is not None
    assert found.u_size is not None
    infeeds = [*TIMID[: found.after], *found.infeeds]

    assert found.size == pytest.approx(_ends(AIM + 0.0425, infeeds, share)[-1], abs=2.5 * found.u_size)


def test_an_undersize_part_would_have_been_inside(ground):
    """Fed at full depth to the last: by the law of the spring it ends 5 µm under."""
    state = ground(AIM + 0.030, [0.010, 0.010, 0.005, 0.005, 0.003, 0.0, 0.0, 0.0, 0.0])
    found, beside = played(state), beside_of(state)

    assert found is not None
    assert found.inside
    assert found.size is not None
    assert beside["size"] < AIM - 0.002 < found.size


def test_where_the_advice_was_followed_there_is_nothing_to_play(ground):
    state = ground(AIM + 0.060, [0.010, 0.010, 0.010])

    assert first_difference(state) is None
    assert played(state) is None


def test_of_a_part_that_is_not_done_no_pass_is_said_to_be_saved(ground):
    found = played(ground(AIM + 0.060, [0.001, 0.001, 0.001]))

    assert found is not None
    assert found.inside
    assert found.saved is None


def test_what_can_not_be_played_says_why(ground):
    assert played(ground(AIM + 0.060, [0.001, 0.001], 0.5, "table +0.010")) == Played(
        1, why=message("played.table")
    )


def test_the_fit_finds_the_start_and_the_spring_of_a_faultless_machine():
    """Two places 4 µm apart; a wheel 2 µm deep at first; a gain of 0.95."""
    infeeds = [0.010, 0.005, 0.005, 0.0]
    size, spring, values = 0.030, 0.002, [0.030]
    for infeed in infeeds:
        spring += 0.95 * infeed
        size, spring = size - 0.6 * spring, 0.4 * spring
        values.append(size)
    sizes = [
        SizeReading(after=after, value=value + offset, place=place, u=1e-4)
        for after, value in enumerate(values)
        for place, offset in ((0, 0.0), (1, 0.004))
    ]
    strokes = [Stroke(infeed) for infeed in infeeds]
    ground = Ground(strokes, sizes, (PlannedPlace(20.0), PlannedPlace(80.0)), (), 55.0, True, True, True, 0)
    found = fit(ground, share=0.6, gain=0.95)

    assert found is not None
    assert found.start == pytest.approx(0.032)
    assert found.spring == pytest.approx(0.002)
    assert found.offsets == pytest.approx((-0.002, 0.002))
    assert found.at(infeeds) == pytest.approx((values[-1] + 0.002, spring))
    assert fit(ground._replace(sizes=sizes[:5]), share=0.6, gain=0.95) is None
