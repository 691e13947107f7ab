"""How well gauges that are put together at random are taught in a lesson, and how they are read after it.

``python -m capture.benchmarks.trials.teaching.composed_gauges [SEED [COUNT [LOSS [READINGS [KIND ...]]]]]``:
COUNT gauges of each kind. READINGS 0: as many as the lesson asks for; else so many, and
what is counted is only whether anything is read wrongly. *Exact*: every message is read as the display showed
it, but for two of a stream, at its torn beginning and its end. The truth is simulated: bytes as a line
carries them.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Mapping
from math import ceil
from typing import Final

from msgspec import Struct, field

from capture.benchmarks.trials.teaching.composed.frames import composed_frame
from capture.benchmarks.trials.teaching.composed.mixed_bytes import mixed_bytes, mixed_streams
from capture.benchmarks.trials.teaching.composed.mixed_lines import mixed_lines
from capture.benchmarks.trials.teaching.composed.shop_bytes import shop_bytes
from capture.benchmarks.trials.teaching.composed.shop_text import shop_text
from capture.benchmarks.trials.teaching.composed.texts import composed_line, keyed_line, plain_line
from capture.benchmarks.trials.teaching.composed.wire import (
    DisplayUnit,
    ReceivedBytes,
    WiredGauge,
    on_the_wire,
)
from capture.dialects.taught.formats import Format, decoded
from capture.dialects.taught.records import DisplayValue
from capture.teaching.lesson import Conversation

KINDS: Final[Mapping[str, Callable[[random.Random], WiredGauge]]] = {
    "plain": plain_line,
    "fields": composed_line,
    "keyed": keyed_line,
    "frame": composed_frame,
    "shop text": shop_text,
    "shop bytes": shop_bytes,
    "mixed lines": mixed_lines,
    "mixed bytes": mixed_bytes,
    "mixed streams": mixed_streams,
}
MESSAGES: Final = 60
"""Messages of each unit after the lesson."""
MOST: Final = 10
"""Readings that a person shows at most."""
LATE: Final = 4
"""Messages that may come before one is read: a stream's is believed once the next stand in their places."""
DRIVER: Final = 0.016
"""Seconds after which a computer reads what has come, at the latest; more messages come in them."""


def _answered(
    question: str, gauge: WiredGauge, now: DisplayUnit, rng: random.Random
) -> tuple[int, DisplayUnit] | None:
    """Steps and unit with which a person answers *question*; None where the gauge can't."""
    scale = now
    if "unit" in question and "this unit" not in question and "each unit" not in question:
        if len(gauge.scales) == 1:
            return None
        scale = gauge.scales[1]
    low, high = -0.9, 0.95
    if "negative" in question:
        low, high = -0.9, -0.3
    elif "positive" in question:
        low, high = 0.3, 0.9
    elif "small" in question or "near zero" in question:
        low, high = 0.004, 0.05
    elif "full travel" in question:
        low, high = 0.75, 1.0
    elif "each unit" in question:
        scale = rng.choice(gauge.scales)
    return round(rng.uniform(low, high) * scale.most / scale.counts) * scale.counts, scale


def lesson(gauge: WiredGauge, rng: random.Random, readings: int) -> tuple[Conversation, list[str], float]:
    """The lesson's end, what was asked and answered, and the longest that one answer took to be learnt."""
    talk, log, now, slowest, scale = Conversation(), [], 10.0, 0.0, gauge.scales[0]
    shown = 0
    for _ in range(30):
        if talk.done or shown >= (readings or MOST):
            break
        question = talk.question
        answer = _answered(question, gauge, scale, rng)
        if answer is None:
            talk = talk.skip()
            continue
        steps, scale = answer
        count = max(4, int(2.2 * gauge.rate)) if gauge.rate else 1
        received = on_the_wire(gauge, [(steps, scale)] * count, rng, begin=now, midway=True)
        if gauge.rate:  # a person types at any moment, also in the middle of a message
            typed = received.sent[-1][0] + rng.uniform(0, 1 / gauge.rate)
            received.chunks = [chunk for chunk in received.chunks if chunk[0] <= typed]
        for at, data in received.chunks:
            talk = talk.receive(at, data)
        now = received.chunks[-1][0] + rng.uniform(2.5, 6)
        began = time.process_time()
        talk, said = talk.take(scale.shown(steps), scale.unit)  # type: ignore[arg-type]
        slowest = max(slowest, time.process_time() - began)
        log.append(f"{question} -> {scale.shown(steps)} {scale.unit} {said}")
        shown += 1
    return talk, log, slowest


def _displays(gauge: WiredGauge, scale: DisplayUnit, rng: random.Random) -> list[tuple[int, DisplayUnit]]:
    """What a display shows one after another: sizes of parts on presses, a movement in a stream."""
    most = scale.most // scale.counts

    def place() -> int:
        return round(rng.uniform(-0.95, 0.95) * most)

    if not gauge.rate:
        return [(place() * scale.counts, scale) for _ in range(MESSAGES)]
    steps, aim, shown = place(), place(), []
    for _ in range(MESSAGES):
        if rng.random() < 0.1:
            aim = place()
        steps += round((aim - steps) * rng.uniform(0, 0.3)) + rng.randint(-1, 1)
        shown.append((max(-most, min(most, steps)) * scale.counts, scale))
    return shown


class ReadCount(Struct):
    """How a gauge is read after its lesson."""

    right: int = 0
    wrong: int = 0
    sent: int = 0
    why: str = ""


def read_through(format_: Format, received: ReceivedBytes, outcome: ReadCount, rate: float) -> None:
    """Counts what is read of *received*: right where the display showed it within the last messages."""
    last, right, late = -1, set[int](), LATE + ceil(rate * DRIVER)
    for at, said in decoded(format_, received.chunks):
        if not isinstance(said, DisplayValue):
            outcome.why = outcome.why or f"refused: {said}"
            continue
        due = [
            place
            for place, (begin, steps, scale) in enumerate(received.sent)
            if place > last - received.again
            and (scale.shown(steps), scale.unit) == (said.value, said.unit)
            and begin <= at
        ]
        before = sum(begin <= at for begin, _, _ in received.sent)
        due = [place for place in due if place >= before - late - 1]
        if due:
            last = due[-1] if received.again else due[0]
            right.add(last)
        else:
            outcome.wrong += 1
            near = [f"{scale.shown(steps)}" for _, steps, scale in received.sent[max(0, before - 3) : before]]
            outcome.why = f"WRONG {said.text} {said.unit} of {near}"
    outcome.right += len(right)
    outcome.sent += len(received.sent)


class KindScore(Struct):
    """What became of one kind."""

    gauges: int = 0
    exact: int = 0
    unlearnt: int = 0
    wrong_gauges: int = 0
    wrong: int = 0
    sent: int = 0
    right: int = 0
    fast: int = 0
    """Streams of 20 messages a second and more."""
    fast_exact: int = 0
    slowest: list[float] = field(default_factory=list)
    guarded_wrong: int = 0
    traits: Counter[str] = field(default_factory=Counter)
    """Of the gauges that are not exact."""


def score(kind: str, name: str, total: KindScore, loss: float, readings: int) -> str:
    """Teaches one gauge and reads it; returns what is to be said of it."""
    rng = random.Random(f"composed {name}")  # noqa: S311
    gauge = KINDS[kind](rng)
    talk, log, slowest = lesson(gauge, rng, readings)
    total.gauges += 1
    total.slowest.append(slowest)
    fast = gauge.rate >= 20
    total.fast += fast
    format_ = talk.lesson.format
    if format_ is None:
        total.unlearnt += 1
        total.traits.update(gauge.traits)
        return f"{name} {gauge.traits} not learnt: {log} open {talk.lesson.open}"
    outcome, missed, now = ReadCount(), 0, 1000.0
    for scale in gauge.scales:
        if scale.unit not in {each.unit for each in talk.examples}:
            continue
        displays = _displays(gauge, scale, rng)
        received = on_the_wire(gauge, displays, rng, begin=now, loss=loss, midway=True)
        now = received.chunks[-1][0] + 100
        read_through(format_, received, outcome, gauge.rate)
        missed += 2 if gauge.rate else 0
    exact = outcome.right >= outcome.sent - missed and not outcome.wrong
    total.right, total.sent, total.wrong = (
        total.right + outcome.right,
        total.sent + outcome.sent,
        total.wrong + outcome.wrong,
    )
    total.wrong_gauges += bool(outcome.wrong)
    total.guarded_wrong += outcome.wrong if gauge.guarded else 0
    total.exact += exact
    total.fast_exact += exact and fast
    if exact or (loss and not outcome.wrong):
        return ""
    total.traits.update(gauge.traits)
    counted = f"right {outcome.right} of {outcome.sent}, wrong {outcome.wrong}"
    return f"{name} {gauge.traits} {gauge.rate:.0f} Hz {counted}: {outcome.why} {log}"


def main(words: list[str]) -> None:
    """Prints a row for each kind."""
    seed, count, loss, readings = (*words[:4], *("1", "50", "0", "0")[len(words) :])
    for kind in words[4:] or KINDS:
        total = KindScore()
        for number in range(int(count)):
            said = score(kind, f"{seed}-{kind}-{number}", total, float(loss), int(readings))
            if said:
                sys.stderr.write(said[:1500] + "\n")
        p95 = sorted(total.slowest)[int(0.95 * len(total.slowest))]
        sys.stdout.write(
            f"{kind:8} {total.gauges:4} exact {total.exact:4} not learnt {total.unlearnt:3} wrong "
            f"{total.wrong_gauges:3} ({total.wrong} of {total.sent}, guarded {total.guarded_wrong}) "
            f"read {total.right} fast {total.fast_exact} of {total.fast} p95 {p95:.2f} s "
            f"max {max(total.slowest):.2f} s {dict(total.traits.most_common(8))}\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
