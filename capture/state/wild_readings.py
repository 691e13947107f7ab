"""Readings that are far from all others of the part: set aside before anything rests on them.

A thimble read one turn wrong, a chip under an anvil, a digit typed twice: such a reading is off by far more
than a part is out of shape or grows with heat. It is asked about once, by a flag before the reading is taken,
and the state then goes by the flag. A person may answer `no`, and the reading is taken after all. Where one
reading stands alone against two, the one is set aside.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import inf
from typing import Final, TypeAlias

from capture.events import AnyFact, Flag, Pass, Taken
from capture.sheet.job import Job
from capture.sheet.stages import STUDY
from capture.state.cold_size import expansion_of
from capture.state.grinding.passes import Grind
from capture.state.stations import StationReading, Stations
from capture.state.target import target

WILD: Final = "wild-reading"
"""The reading of `Flag.of` is set aside; may be answered by yes or no."""
AGREES: Final = "reading-agrees"
"""The reading of `Flag.of`, set aside before, is taken: another agrees with it."""
DOUBTS: Final = frozenset({WILD, AGREES})
WARMEST: Final = 50.0
"""Kelvin over 20 °C beyond which no part is measured (common practice, no source)."""
UNEVEN: Final = frozenset({"as found", "stripped", "plated"})
"""Stages in which a part may be far out of shape: worn, or thick at its edges."""
WIDER: Final = 2.5
"""By how much farther apart its readings may be then (common practice, no source)."""
LOOKED_BACK: Final = 12
"""Readings of a bore that a new one is held against."""

Doubts: TypeAlias = Mapping[tuple[int, ...], bool]
"""By the numbers of the events that a reading rests on: True is set aside, False is taken all the same."""


def with_doubts(
    facts: Iterable[AnyFact], stations: Stations, grind: Grind, doubts: Doubts, job: Job
) -> tuple[AnyFact, ...]:
    """*facts*, with what is asked about a reading before each that is far from all others."""
    found: list[AnyFact] = []
    fed: list[float | None] = []
    for fact in facts:
        if isinstance(fact, Pass) and fact.of is None:
            fed += fact.infeeds
        if isinstance(fact, Taken) and fact.of and fact.of not in doubts:
            found += _asked(fact, stations, _Removal(stations, grind, fed, job), doubts)
        found.append(fact)
    return tuple(found)


def doubted(taken: Taken, doubts: Doubts) -> bool:
    """Whether nothing is to rest on *taken*."""
    return doubts.get(taken.of, False)


def with_flag(doubts: Doubts, flag: Flag) -> Doubts:
    """After the program said it."""
    return {**doubts, flag.of: flag.what == WILD} if flag.what in DOUBTS else doubts


def is_open(flag: Flag, seq: int, stations: Stations) -> bool:
    """Whether the question still matters: nobody set the reading aside, or measured its place again."""
    reading = next((one for one in reversed(stations.doubted) if one.of == flag.of), None)
    if reading is None:
        return False
    newer = (one for one in reversed(stations.taken) if one.seq > seq)
    return not any(one.part == reading.part and one.place == reading.place for one in newer)


class _Removal:
    """How far apart two readings of one part may be."""

    def __init__(self, stations: Stations, grind: Grind, fed: Sequence[float | None], job: Job) -> None:
        self.job = job
        self._stations, self._grind, self._fed = stations, grind, fed

    def apart(self, earlier: StationReading, later: Taken | StationReading) -> bool:
        """Whether both cannot be right: more came off than was fed, or the part became larger."""
        grown = later.value - earlier.value
        wider = WIDER if self._stations.stage in UNEVEN else 1.0
        growth = WARMEST * expansion_of(self.job, earlier.part).alpha * abs(earlier.value)
        slack = wider * self.job.settings.readings.apart + growth
        if abs(grown) <= slack:
            return False
        if later.part == "bore" or grown > 0:
            return True
        return -grown > slack + self._most(earlier, later.pass_)

    def _most(self, earlier: StationReading, until: int) -> float:
        """The most that can have come off since *earlier*, mm: where it is not known, down to the aim."""
        known = [row.infeed for row in self._grind.passes if earlier.pass_ < row.number <= until]
        fed = [*known, *self._fed][: until - earlier.pass_]
        if len(fed) == until - earlier.pass_ and None not in fed:
            return sum(abs(one or 0.0) for one in fed)
        aim = target(self.job, self._stations)
        return inf if aim is None else max(0.0, earlier.value - aim.least)


def _asked(taken: Taken, stations: Stations, removal: _Removal, doubts: Doubts) -> list[Flag]:
    gauge = removal.job.gauge(taken.gauge)
    study = (stations.stage or "").startswith(f"{STUDY} ")  # of parts that differ
    if gauge is None or gauge.rides is not None or study:  # one that rides has a check of its own
        return []
    standing = _beside(stations.taken, taken, stations)
    known = _newest(standing, taken)
    if not known or not all(removal.apart(one, taken) for one in known):
        return []
    alone = len(standing) == 1 and doubts.get(known[0].of) is None
    agreeing = [
        one for one in _beside(stations.doubted, taken, stations) if alone and not removal.apart(one, taken)
    ]
    if not agreeing:
        return [_flag(WILD, taken, [one.value for one in known], taken.gauge, removal.job)]
    two = [taken.value, *(one.value for one in agreeing)]
    return [
        _flag(WILD, known[0], two, taken.gauge, removal.job),
        *(_flag(AGREES, one, two, taken.gauge, removal.job) for one in agreeing),
    ]


def _beside(log: Sequence[StationReading], taken: Taken, stations: Stations) -> list[StationReading]:
    """What the gauge measured of the part in this stage since it was last set on its master; newest first."""
    zero = stations.zeros.get(taken.gauge)
    found: list[StationReading] = []
    for one in reversed(log):
        if len(found) == LOOKED_BACK or (zero is not None and zero.n and one.at < zero.at):
            break
        if one.part == taken.part and one.gauge == taken.gauge:
            if one.stage != stations.stage:
                break
            found.append(one)
    return found


def _newest(standing: list[StationReading], taken: Taken) -> list[StationReading]:
    """Of a shaft those after the newest pass that was measured, of a bore all."""
    if taken.part == "bore" or not standing:
        return standing
    return [one for one in standing if one.pass_ == standing[0].pass_]


def _flag(what: str, one: Taken | StationReading, others: Sequence[float], gauge: str, job: Job) -> Flag:
    expected = sorted(others)[len(others) // 2]
    z = one.z if isinstance(one, Taken) else one.place.z
    figures = {"value": one.value, "others": expected, "apart": one.value - expected, "z": z}
    settings: dict[str, float | str] = {"unit": job.units, "readings.apart": job.settings.readings.apart}
    return Flag(what, one.pass_, one.of, figures, {**settings, "part": one.part}, gauge=gauge)
