"""Recorded lessons with invented gauges, one file each: what was shown, then what was sent and is due.

A lesson marked exact must read every probe; the others are formats that are not learnt wholly yet.
None may ever be read wrongly. `python -m tests.capture.teaching.test_golden_lessons` writes the files anew.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from capture.benchmarks.trials.teaching.composed import shop_bytes, shop_text
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, WiredGauge, on_the_wire
from capture.benchmarks.trials.teaching.composed_gauges import KINDS
from capture.benchmarks.trials.teaching.gauges import further_bytes, further_text
from capture.benchmarks.trials.teaching.gauges.invented import InventedGauge
from capture.dialects.taught.formats import decoded
from capture.dialects.taught.records import DisplayValue
from capture.teaching.learner import Example, learn
from tests.capture.teaching.families import FAMILIES, Chunks, design
from tests.capture.teaching.lesson_player import lesson

LESSONS = Path(__file__).parent / "lessons"
FURTHER = (*further_text.FAMILIES, *further_bytes.FAMILIES)
SHOP = (*shop_text.FAMILIES, *shop_bytes.FAMILIES)
PROBES = 6
FIRST_SEED = 900
COMPOSED = 6
"""Lessons of each kind that is put together at random."""


def chunks_of(rows: list[list[Any]]) -> Chunks:
    return tuple((at, bytes.fromhex(data)) for at, data in rows)


def verdict(recorded: dict[str, Any]) -> str:
    """What *recorded* is read as: nothing, refuses, exact or wrong."""
    examples = [
        Example(chunks_of(each["came"]), Decimal(each["shown"]), each["unit"])
        for each in recorded["readings"]
    ]
    format_ = learn(examples).format
    if format_ is None:
        return "nothing"
    worst = "exact"
    for probe in recorded["probes"]:
        said = decoded(format_, chunks_of(probe["came"]))
        read = {each for _, each in said if isinstance(each, DisplayValue)}
        if read - {DisplayValue(Decimal(probe["shown"]), probe["unit"])}:
            return "wrong"
        worst = worst if read else "refuses"
    return worst


FILES = sorted(LESSONS.glob("*.json"))


def test_there_are_sixty_lessons_of_every_family():
    recorded = [json.loads(path.read_text("utf-8")) for path in FILES]

    assert len(recorded) >= 60
    assert len({each["family"] for each in recorded}) == len(FAMILIES) + len(FURTHER) + len(KINDS) - 2 + len(
        SHOP
    )
    assert sum(each["exact"] for each in recorded) >= 95


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_recorded_lesson_reads_what_is_due_and_nothing_else(path):
    recorded = json.loads(path.read_text("utf-8"))
    said = verdict(recorded)

    assert said != "wrong"
    assert said == "exact" or not recorded["exact"]


def record(seed: int) -> dict[str, Any]:
    """A lesson with the gauge of *seed*: what a person showed, and probes within it."""
    one = design(seed)
    _, given = lesson(one)
    count = 1 if one.period is None else 12 if one.period == 0 else 4

    def rows(steps: int, unit: Any, times: int) -> list[list[Any]]:
        chunks = one.stream([(steps, unit)] * times, torn=one.period is not None)
        return [[at, data.hex()] for at, data in chunks]

    def said(steps: int, unit: Any) -> dict[str, Any]:
        return {"shown": f"{unit.shown(steps):f}", "unit": unit.name, "came": rows(steps, unit, count)}

    most = {unit.name: 0 for unit in one.units}
    for _, steps, unit in given:
        most[unit.name] = max(most[unit.name], abs(steps))
    units = [unit for unit in one.units if most[unit.name]]
    readings = [said(steps, unit) for _, steps, unit in given[:6]]
    taught = {each["unit"] for each in readings}
    units = [unit for unit in units if unit.name in taught]
    probes = [
        said(one.r.randint(-most[unit.name], most[unit.name]) if one.negative else 1, unit)
        for place in range(PROBES)
        for unit in [units[place % len(units)]]
    ]
    recorded = {"family": one.family, "seed": seed, "readings": readings, "probes": probes}
    return {**recorded, "exact": verdict(recorded) == "exact"}


def record_further(family: Callable[[random.Random], InventedGauge]) -> dict[str, Any]:
    """A lesson with a gauge of the second generator: sizes of each sign, and probes within them."""
    name = "further " + family.__name__.replace("_", " ")
    r = random.Random(name)  # noqa: S311
    gauge = family(r)

    def said(share: float, unit: str) -> dict[str, Any]:
        decimals = gauge.decimals[unit]
        most = gauge.span / (25.4 if unit == "in" else 1.0) * 10**decimals / gauge.step
        shown = Decimal(round(share * most) * gauge.step).scaleb(-decimals)
        data, at, came = (
            gauge.before() + b"".join(gauge.frame(shown, unit) for _ in range(gauge.times)),
            0.0,
            [],
        )
        frames = [data] if not gauge.rate else [gauge.frame(shown, unit) for _ in range(10)]
        for place, frame in enumerate(frames):
            cut = frame[r.randrange(len(frame)) :] if gauge.rate and not place else frame
            at = place / (gauge.rate or 1.0)
            came.append([round(at, 4), cut.hex()])
        return {"shown": f"{shown:f}", "unit": unit, "came": came}

    units = list(gauge.decimals)
    shares = (0.93, -0.71, 0.031, 0.58, -0.34)
    readings = [said(share, unit) for unit in units for share in shares]
    probes = [said(r.uniform(-0.9, 0.9), units[place % len(units)]) for place in range(PROBES)]
    recorded = {"family": name, "seed": 0, "readings": readings, "probes": probes}
    return {**recorded, "exact": verdict(recorded) == "exact"}


def record_composed(
    family: str, kind: str, make: Callable[[random.Random], WiredGauge], number: int
) -> dict[str, Any]:
    """A lesson with a gauge that was put together at random: sizes of each sign, and probes within them."""
    r = random.Random(f"golden {kind} {number}")  # noqa: S311
    gauge, now = make(r), 0.0

    def said(share: float, scale: DisplayUnit) -> dict[str, Any]:
        nonlocal now
        steps = round(share * scale.most / scale.counts) * scale.counts
        times = 8 if gauge.rate else 1
        heard = on_the_wire(gauge, [(steps, scale)] * times, r, begin=now, midway=True)
        now = heard.chunks[-1][0] + 5
        came = [[round(at, 4), data.hex()] for at, data in heard.chunks]
        return {"shown": f"{scale.shown(steps):f}", "unit": scale.unit, "came": came}

    readings = [said(share, scale) for scale in gauge.scales for share in (0.93, -0.71, 0.031, 0.58, -0.34)]
    probes = [said(r.uniform(-0.9, 0.9), gauge.scales[place % len(gauge.scales)]) for place in range(PROBES)]
    recorded = {"family": f"{family} {kind}", "seed": number, "readings": readings, "probes": probes}
    return {**recorded, "exact": verdict(recorded) == "exact"}


def main() -> None:
    """Write all lessons anew."""
    LESSONS.mkdir(exist_ok=True)
    lessons = [record(seed) for seed in range(FIRST_SEED, FIRST_SEED + 3 * len(FAMILIES))]
    composed = [
        record_composed("composed", kind, make, number)
        for kind, make in KINDS.items()
        if not kind.startswith("shop")
        for number in range(COMPOSED)
    ]
    shop = [record_composed("shop", each.__name__, each, number) for each in SHOP for number in range(2)]
    for recorded in [*lessons, *map(record_further, FURTHER), *composed, *shop]:
        name = f"{recorded['family'].replace(' ', '-')}-{recorded['seed']}.json"
        rows = ",\n".join(
            f'"{key}": {json.dumps(value, separators=(",", ":"))}' for key, value in recorded.items()
        )
        (LESSONS / name).write_text(f"{{\n{rows}\n}}\n", "utf-8")


if __name__ == "__main__":
    main()
