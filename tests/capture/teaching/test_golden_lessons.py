"""Recorded lessons with invented gauges, one file each: what was shown, then what was sent and is due.

A lesson marked exact must read every probe; the others are formats that are not learnt wholly yet.
None may ever be read wrongly. `python -m tests.capture.teaching.test_golden_lessons` writes the files anew.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from capture.dialects.formats import decoded
from capture.dialects.records import DisplayValue
from capture.teaching.learner import Example, learn
from tests.capture.teaching.families import FAMILIES, Chunks, design
from tests.capture.teaching.lesson_player import lesson

LESSONS = Path(__file__).parent / "lessons"
PROBES = 6
FIRST_SEED = 900


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
    assert len({each["family"] for each in recorded}) == len(FAMILIES)
    assert sum(each["exact"] for each in recorded) >= 40


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


def main() -> None:
    """Write all lessons anew."""
    LESSONS.mkdir(exist_ok=True)
    for seed in range(FIRST_SEED, FIRST_SEED + 3 * len(FAMILIES)):
        recorded = record(seed)
        name = f"{recorded['family'].replace(' ', '-')}-{seed}.json"
        rows = ",\n".join(
            f'"{key}": {json.dumps(value, separators=(",", ":"))}' for key, value in recorded.items()
        )
        (LESSONS / name).write_text(f"{{\n{rows}\n}}\n", "utf-8")


if __name__ == "__main__":
    main()
