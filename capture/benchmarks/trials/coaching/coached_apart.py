"""Coached jobs on a machine whose physics the coach's model was not made from.

A pass is four turns of the wheel past each place; each takes a share of what stands there, and a larger share
the harder it presses. Heat goes into a skin and from there into the core; both grow, press the part into the
wheel, and a probe shows the core. The part has one to five places, a taper where there are two or more, and a
table that obeys 70 to 110 % and loses play when it turns back. Shares of 0.15 to 0.8. The oracle grinds the
same part with truth, spring, heat and table in sight, by the same dial and limits. Lengths are mm on
diameter.
"""

from __future__ import annotations

from copy import deepcopy

import numpy as np

from capture.benchmarks.trials.coaching.coached import (
    AIM,
    BAND,
    FEEDING,
    LIMITS,
    MOST,
    PROBE_U,
    TOLD_SCATTER,
    Outcome,
)
from capture.coach.advice import Coaching, Ground, coaching_of
from capture.coach.choose_infeed import first_infeed
from capture.coach.pauses import WAIT
from capture.coach.table_correction import Turn
from capture.metrology.grinding.outlook import SizeReading, Stroke
from capture.metrology.uncertainty.propagation import Array
from capture.sheet.job import Grinder, Job, Swivel
from capture.sheet.measuring_plan import PlannedPlace

ENDS = 30.0, 250.0
PIVOT, READ_AT = 140.0, 740.0
ARM = READ_AT - PIVOT
TURNS = 4
"""Of the wheel past each place, a pass."""
PASS_SECONDS = 30.0
EXPANSION = 12.3e-6
KINDS = {
    "one place": "one place, no table",
    "places": "two to five places of a part without taper, no table",
    "taper": "two to five places, a taper of 3 to 30 µm and a table that obeys 70 to 110 %",
}


class ApartShop:
    """One part on such a machine; the same seed gives the same part."""

    def __init__(self, seed: int, kind: str) -> None:
        if kind not in KINDS:
            raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
        rng = np.random.default_rng([seed, 4711])
        self._rng = rng
        places = 1 if kind == "one place" else int(rng.integers(2, 6))
        self.z = np.array([PIVOT]) if places == 1 else np.linspace(*ENDS, places)
        self.share = float(rng.uniform(0.15, 0.8))
        self._harder = float(rng.uniform(0.0, 0.15))
        self._wear = float(rng.uniform(0.0, 0.08))
        self._dull = float(rng.uniform(0.0, 0.004))
        self._uneven = float(rng.uniform(0.0, 0.03))
        taper = float(rng.uniform(0.003, 0.030) * rng.choice([-1.0, 1.0])) if kind == "taper" else 0.0
        self.size = AIM + float(rng.uniform(0.030, 0.090)) + taper * (self.z - PIVOT) / (ENDS[1] - ENDS[0])
        self._tilt = taper / (ENDS[1] - ENDS[0])
        self._line = float(self.size.min() if places == 1 else self.size.mean()) - float(
            rng.uniform(0.0, 0.010)
        )
        self.obeys, self._play = float(rng.uniform(0.7, 1.1)), float(rng.uniform(0.0, 0.003))
        self._way = 0.0
        self._skin = self._core = 0.0
        self._heat = float(rng.uniform(0.3, 1.5)) * 90.0
        self._into_air = float(rng.uniform(40.0, 100.0))
        self._noise = float(rng.uniform(0.0003, 0.0009))
        self._probe_off = PROBE_U * float(rng.standard_normal())
        self.probed = bool(rng.integers(2))
        self._per_kelvin = AIM * EXPANSION * (1.0 + 0.03 * float(rng.standard_normal()))
        self.time = 0.0
        self.last = np.zeros(places)

    @property
    def growth(self) -> float:
        """Larger than at 20 °C."""
        return AIM * EXPANSION * (0.3 * self._skin + 0.7 * self._core)

    def advance(self, infeed: float, *, truly: bool = False) -> None:
        """Make one pass; *truly* without chance."""
        uneven = 1.0 if truly else 1.0 + self._uneven * float(self._rng.standard_normal())
        self._line -= infeed
        share = 1.0 - (1.0 - min(self.share * uneven, 0.95)) ** (1.0 / TURNS)
        before = self.size.copy()
        for _ in range(TURNS):
            wheel = self._line + self._tilt * (self.z - PIVOT)
            standing = np.maximum(self.size + self.growth - wheel, 0.0)
            bite = share * (np.maximum(standing, 1e-6) / 0.010) ** self._harder
            taken = np.minimum(bite, 0.9) * standing
            self.size = self.size - taken
            self._line += self._wear * float(taken.mean())
            self._skin += self._heat * float(taken.mean()) + 0.01 * bool(taken.any())
            self._cool(PASS_SECONDS / TURNS)
        self.last = before - self.size
        self.share *= 1.0 - self._dull

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(max(1, round(seconds / 5.0))):
            self._cool(5.0)

    def _cool(self, seconds: float) -> None:
        flow = 1.0 - np.exp(-seconds / 15.0)
        mean = 0.3 * self._skin + 0.7 * self._core
        self._skin += float(flow) * (mean - self._skin)
        self._core += float(flow) * (mean - self._core)
        self._skin *= float(np.exp(-seconds / (0.3 * self._into_air)))
        self.time += seconds

    def swivel(self, toward_wheel: float) -> None:
        """Move the table where it is read."""
        lost = min(abs(toward_wheel), self._play) if toward_wheel * self._way < 0.0 else 0.0
        moved = np.sign(toward_wheel) * (abs(toward_wheel) - lost) * self.obeys
        self._way = toward_wheel or self._way
        self._tilt -= 2.0 * float(moved) / ARM

    def measure(self, after: int, place: int) -> SizeReading:
        """Measure one place."""
        shown = float(self.size[place]) + self.growth + self._noise * float(self._rng.standard_normal())
        value, growth, u_growth = round(shown, 3) - AIM, None, 0.0
        if self.probed:
            probe = self._core + self._probe_off + 0.05 * float(self._rng.standard_normal())
            growth, u_growth = self._per_kelvin * probe, self._per_kelvin * PROBE_U
            value -= growth
        return SizeReading(
            after=after,
            value=value,
            u=TOLD_SCATTER,
            place=place,
            resolution=0.001,
            growth=growth,
            u_growth=u_growth,
            t=self.time,
        )

    def end(self) -> tuple[Array, bool]:
        """Sizes over the aim once nothing more comes off, and whether the next pass takes next to none."""
        later = deepcopy(self)
        later.advance(0.0, truly=True)
        settled = bool(later.last.max() < LIMITS.removal)
        for _ in range(120):
            if later.last.max() < 1e-6:
                break
            later.advance(0.0, truly=True)
        return later.size - AIM, settled

    @property
    def sheet(self) -> Job:
        """As entered for the coach."""
        return Job("trial", grinder=Grinder("diameter", swivel=Swivel(pivot=PIVOT, reading_at=READ_AT)))


def _outcome(shop: ApartShop, passes: int, readings: int, *, asked: bool) -> Outcome:
    """The place that is farthest from the middle of the band stands for the part."""
    sizes = shop.size - AIM
    worst = float(sizes[int(np.argmax(np.abs(sizes - BAND.middle)))])
    return Outcome(passes, readings, worst, asked)


def coached(seed: int, kind: str) -> Outcome:
    """Grind one job as the coach says, the table included."""
    shop = ApartShop(seed, kind)
    places = tuple(PlannedPlace(float(z)) for z in shop.z)
    strokes: list[Stroke] = []
    turns: list[Turn] = []
    sizes = [shop.measure(0, place) for place in range(len(places))]
    fed, asked, wanted = 0.0, False, 1
    while len(strokes) < MOST:
        infeed = first_infeed(sizes[0].value, fed, BAND, FEEDING)
        if strokes and (infeed < FEEDING.rough or len(places) > 1):
            found = _advice(shop, strokes, sizes, places, turns)
            asked = asked or _asks(found)
            for _ in range(12):
                if found is None or found.landing.step not in {"measure again", "wait"}:
                    break
                if found.landing.step == "wait":
                    shop.wait(found.wait or WAIT)
                sizes += [shop.measure(len(strokes), place) for place in range(len(places))]
                found = _advice(shop, strokes, sizes, places, turns)
                asked = asked or _asks(found)
            if found is not None:
                if found.landing.step == "stop":
                    break
                table = found.straightening
                if table is not None and table.advice in {"move", "move in part"}:
                    moved = round(table.toward_wheel, 3)
                    shop.swivel(moved)
                    turns.append(Turn(len(strokes), moved))
                infeed = found.landing.infeed
                wanted = max(1, round(found.landing.readings / len(places)))
        shop.advance(infeed)
        fed += infeed
        strokes.append(Stroke(infeed, shop.time))
        sizes += [shop.measure(len(strokes), place) for _ in range(wanted) for place in range(len(places))]
    return _outcome(shop, len(strokes), len(sizes), asked=asked)


def _advice(
    shop: ApartShop,
    strokes: list[Stroke],
    sizes: list[SizeReading],
    places: tuple[PlannedPlace, ...],
    turns: list[Turn],
) -> Coaching | None:
    ground = Ground(strokes, sizes, places, turns, AIM, touched=True, dressed=True, coolant=True, number=0)
    return coaching_of(ground, LIMITS, BAND.aim, shop.sheet)


def _asks(found: Coaching | None) -> bool:
    return found is not None and (bool(found.doubt) or found.landing.step in {"cannot tell", "wait"})


def oracle(seed: int, kind: str) -> Outcome:
    """Grind one job with truth in sight: the table set right before the first pass."""
    shop = ApartShop(seed, kind)
    shop._tilt = 0.0  # noqa: SLF001 - the truth is in sight
    passes = 0
    while passes < MOST:
        end, settled = shop.end()
        over = float(end.mean()) - BAND.middle
        if settled and float((shop.size - AIM).max()) <= BAND.high:
            break
        shop.advance(_deepest(shop, over))
        passes += 1
    return _outcome(shop, passes, 0, asked=False)


def _deepest(shop: ApartShop, over: float) -> float:
    """As deep as a pass may be; the last and smallest brings the end to the middle."""
    if over <= min(BAND.high - BAND.middle, FEEDING.division):
        return 0.0
    above = over + BAND.middle - BAND.aim - FEEDING.last_stock
    cap = max(min(FEEDING.rough, above), FEEDING.finish) if above > 0.0 else FEEDING.finish
    if over > cap:
        return round(cap / FEEDING.division) * FEEDING.division
    best, least = 0.0, np.inf
    for number in range(int(cap / FEEDING.division) + 1):
        later = deepcopy(shop)
        later.advance(number * FEEDING.division, truly=True)
        away = abs(float(later.end()[0].mean()) - BAND.middle)
        if away < least:
            best, least = number * FEEDING.division, away
    return best
