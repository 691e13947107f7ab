"""Gives a lesson as a person would: shows what is asked for, types what the display shows, then measures."""

from __future__ import annotations

from dataclasses import dataclass

from capture.dialects.taught.formats import decoded
from capture.dialects.taught.records import DisplayValue
from capture.teaching.lesson import Conversation
from tests.capture.teaching.families import Chunks, Design, Unit

MOST_READINGS = 10


@dataclass
class Outcome:
    """How a gauge is read after its lesson."""

    learnt: bool
    right: int = 0
    refused: int = 0
    wrong: int = 0
    taught: int = 0
    unit_steps: dict[str, int] | None = None

    @property
    def exact(self) -> bool:
        return self.learnt and not self.wrong and not self.refused


def show(design: Design, question: str) -> tuple[int, Unit] | None:
    """The reading that answers *question*; None where the gauge can't."""
    r = design.r
    unit = design.units[-1] if "unit" in question and "negative" not in question else design.units[0]
    if "in this unit" in question or "other unit" in question or "unit key" in question:
        if len(design.units) == 1:
            return None
        unit = design.units[-1]
    if "negative" in question:
        return (-r.randint(unit.most // 8, unit.most), unit) if design.negative else None
    if "small" in question or "near zero" in question:
        return r.randint(1, max(2, unit.most // 12)), unit
    if "full travel" in question:
        return int(unit.most * r.uniform(0.75, 1.0)), unit
    if "another" in question or "far" in question or "one more" in question or "show a reading" in question:
        return r.randint(-unit.most if design.negative else 1, unit.most), unit
    return r.randint(-unit.most if design.negative else 1, unit.most), unit


def lesson(design: Design) -> tuple[Conversation, list[tuple[Chunks, int, Unit]]]:
    """The conversation after all that was asked for has been shown, and what was shown."""
    talk, given, now = Conversation(), [], 0.0
    for _ in range(MOST_READINGS + 8):
        if talk.done or len(given) >= MOST_READINGS:
            break
        reading = show(design, talk.question)
        if reading is None:
            talk = talk.skip()
            continue
        chunks = design.held(*reading)
        for at, data in chunks:
            talk = talk.receive(now + at, data)
        now += chunks[-1][0] + 5
        talk, _ = talk.take(reading[1].shown(reading[0]), reading[1].name)  # type: ignore[arg-type]
        given.append((chunks, *reading))
    return talk, given


def measured(design: Design, *, count: int = 40, loss: float = 0.0) -> Outcome:
    """What readings within the taught range read as, moved slowly, after a lesson."""
    talk, given = lesson(design)
    outcome = Outcome(talk.lesson.format is not None, taught=len(given))
    if talk.lesson.format is None:
        return outcome
    most = {}
    for _, steps, unit in given:
        most[unit.name] = max(most.get(unit.name, 0), abs(steps))
    r = design.r
    for unit in (unit for unit in design.units if unit.name in most):
        readings, steps = [], 0
        for _ in range(count):
            top = most[unit.name]
            steps = (
                r.randint(-top if design.negative else 0, top)
                if design.period is None or r.random() < 0.1
                else steps
            )
            steps = min(top, max(-top if design.negative else 0, steps + r.randint(-3, 3)))
            readings.append((steps, unit))
        due = [DisplayValue(unit.shown(steps), unit.name) for steps, unit in readings]  # type: ignore[arg-type]
        torn = design.period is not None
        said = [
            each for _, each in decoded(talk.lesson.format, design.stream(readings, torn=torn, loss=loss))
        ]
        tally(outcome, said, due, lost=torn, exactly=not loss)
    return outcome


def tally(
    outcome: Outcome, said: list[DisplayValue | str], due: list[DisplayValue], *, lost: bool, exactly: bool
) -> None:
    """Count what was said against what was due, in order; the first and the last may be lost where cut."""
    read = [each for each in said if isinstance(each, DisplayValue)]
    place = 0
    for each in read:
        at = next(
            (p for p in range(place, len(due)) if (due[p].value, due[p].unit) == (each.value, each.unit)),
            None,
        )
        if at is None:
            outcome.wrong += 1
        else:
            outcome.right += 1
            place = at + 1
    missed = len(due) - len(read) - (2 if lost else 0)
    if exactly and missed > 0:
        outcome.refused += missed
