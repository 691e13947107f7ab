"""How well gauges of formats that nobody has seen are taught: as a person would teach them.

``python -m capture.benchmarks.trials.teaching.taught_gauges [SEED [EACH [LOSS [FAMILY ...]]]]``: EACH gauges
a family, each taught by what the plan asks for, then received for 100 frames of which a share LOSS of the
bytes is lost. *Exact*: every frame is read as the display showed, but for the first of a stream, which may be
torn. *Wrong*: a frame is read as another number. Seconds are those of the processor. The truth is simulated.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Final

from msgspec import Struct, field

from capture.benchmarks.trials.teaching.gauges import byte_gauges, further_bytes, further_text, text_gauges
from capture.benchmarks.trials.teaching.gauges.invented import InventedGauge
from capture.dialects.decimal import SCALES
from capture.dialects.dialect import Decoder
from capture.dialects.taught.formats import Format, dialect
from capture.dialects.taught.framing import Chunk
from capture.events import Reading
from capture.teaching.learner import Example, Learnt, learn

FAMILIES: Final = (
    *text_gauges.FAMILIES,
    *byte_gauges.FAMILIES,
    *further_text.FAMILIES,
    *further_bytes.FAMILIES,
)
FRAMES: Final = 100
"""Frames that each gauge sends after its lesson."""
LATE: Final = 2
"""Frames that may come before one is read: a stream's is believed once the next stand in their places."""
MOST: Final = 9
"""Readings that a person shows at most."""


def _value(gauge: InventedGauge, unit: str, low: float, high: float, rng: random.Random) -> Decimal:
    span = gauge.span / (25.4 if unit == "in" else 1.0)
    steps = round(rng.uniform(low, high) * span * 10 ** gauge.decimals[unit] / gauge.step) * gauge.step
    return Decimal(steps).scaleb(-gauge.decimals[unit])


def _sent(gauge: InventedGauge, value: Decimal, unit: str, rng: random.Random) -> tuple[Chunk, ...]:
    """What a lesson receives while the display shows *value*."""
    if not gauge.rate:
        return ((10.0, gauge.before() + gauge.frame(value, unit) * gauge.times),)
    frames = [gauge.frame(value, unit) for _ in range(int(1.5 * gauge.rate))]
    torn = rng.randrange(len(frames[0]))
    frames[0] = frames[0][torn:]
    if not gauge.chopped:
        return tuple((10.0 + n / gauge.rate, data) for n, data in enumerate(frames))
    return tuple(_chopped(frames, gauge.rate, rng))


def _chopped(frames: list[bytes], rate: float, rng: random.Random) -> Iterator[Chunk]:
    """*frames* as they arrive: a few bytes at a time, at 9600 baud or as fast as they must be."""
    character, at = min(1 / 960, 1 / rate / max(map(len, frames))), 10.0
    for place, frame in enumerate(frames):
        at, data = max(at, 10.0 + place / rate), frame
        while data:
            size = rng.randint(1, 12)
            at += character * len(data[:size])
            yield at, data[:size]
            data = data[size:]


def lesson(gauge: InventedGauge, rng: random.Random) -> tuple[Learnt, int, float]:
    """What is learnt, from how many readings, and the longest that one took."""
    units = list(gauge.decimals)
    plan = [(units[0], 0.5, 1), (units[0], -0.9, -0.3), (units[0], 0.002, 0.05)]
    plan += [(units[1], 0.5, 1.0), (units[1], -0.9, -0.3)] if len(units) > 1 else []
    examples: list[Example] = []
    asked: list[tuple[str, float, float]] = []
    learnt, slowest = Learnt(None, (), ()), 0.0
    while len(examples) < MOST and (plan or learnt.format is None or learnt.open):
        unit, low, high = plan.pop(0) if plan else (rng.choice(units), -1.0, 1.0)
        asked.append((unit, low, high))
        value = _value(gauge, unit, low, high, rng)
        examples.append(Example(_sent(gauge, value, unit, rng), value, unit))  # type: ignore[arg-type]
        began = time.process_time()
        learnt = learn(examples)
        slowest = max(slowest, time.process_time() - began)
        left = learnt.mistyped if learnt.unlike is None else learnt.unlike
        if left is not None:
            examples.pop(left)
            plan.append(asked.pop(left))  # it is asked for again
    return learnt, len(examples), slowest


class Score(Struct):
    """What became of one family."""

    gauges: int = 0
    exact: int = 0
    unlearnt: int = 0
    wrong_gauges: int = 0
    wrong: int = 0
    frames: int = 0
    read: int = 0
    slowest: list[float] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def score(
    family: Callable[[random.Random], InventedGauge], name: str, score: Score, loss: float = 0.0
) -> None:
    """Teaches one gauge and reads it."""
    rng = random.Random(name)  # noqa: S311
    gauge = family(rng)
    learnt, shown, slowest = lesson(gauge, rng)
    score.gauges += 1
    score.slowest.append(slowest)
    if learnt.format is None:
        score.unlearnt += 1
        score.notes.append(f"{name}: not learnt after {shown}: {learnt.open}")
        return
    right, wrong, why = read_back(gauge, learnt.format, rng, loss)
    score.frames += FRAMES
    score.read += right
    score.wrong += wrong
    score.wrong_gauges += bool(wrong)
    least = FRAMES - 1 if gauge.rate else FRAMES  # of a stream the first frame may be torn
    score.exact += right >= least and not wrong
    if wrong or right < least:
        score.notes.append(f"{name}: read {right}, wrong {wrong} after {shown} {why}")


def read_back(gauge: InventedGauge, format_: Format, rng: random.Random, loss: float) -> tuple[int, int, str]:
    """Frames read right, frames read wrong, and an example of what was not right."""
    decoder = Decoder(dialect(format_, "taught"))
    gap = decoder.dialect.gap
    right, wrong = set[int](), set[int]()
    why = ""
    recent: list[tuple[int, float]] = []
    for place in range(FRAMES):
        unit = rng.choice(list(gauge.decimals))
        value = _value(gauge, unit, -1.0, 1.0, rng)
        frame = gauge.frame(value, unit) * gauge.times
        if not gauge.rate:
            frame = gauge.before() + frame
        if loss:
            frame = bytes(byte for byte in frame if rng.random() >= loss)
        scale = SCALES[unit]  # type: ignore[index]
        truth = float((value + 0) * Decimal(scale.factor.numerator) / Decimal(scale.factor.denominator))
        recent = [*recent[-LATE:], (place, truth)]
        decoder, said = decoder.feed(frame)
        if gap is not None and (not gauge.rate or gap < 0.02 or place == FRAMES - 1):
            decoder, late = decoder.silence()
            said += late
        readings = [one for one in said if isinstance(one, Reading)]
        for one in readings:
            meant = [at for at, due in recent if abs(one.value - due) <= 1e-9 + 1e-9 * abs(due)]
            right.update(meant)
            wrong.update(() if meant else (place,))
        if (place in wrong or not readings) and place >= LATE and not why:
            why = f"{value} {unit} {frame!r} said {said}"
    return len(right), len(wrong), why


def main(words: list[str]) -> None:
    """Prints a row for each family."""
    seed, each, loss = (*words[:3], *("1", "10", "0")[len(words) :])
    wanted = set(words[3:])
    total = Score()
    for family in FAMILIES:
        if wanted and family.__name__ not in wanted:
            continue
        own = Score()
        for number in range(int(each)):
            score(family, f"{seed}-{family.__name__}-{number}", own, float(loss))
        p95 = sorted(own.slowest)[int(0.95 * len(own.slowest))]
        sys.stdout.write(
            f"{family.__name__:22} {own.gauges:4} exact {own.exact:4} not learnt {own.unlearnt:3} "
            f"wrong {own.wrong_gauges:3} ({own.wrong} of {own.frames}) read {own.read} p95 {p95:.2f} s\n"
        )
        sys.stdout.flush()
        for note in own.notes:
            sys.stderr.write(note[:600] + "\n")
        for name in ("gauges", "exact", "unlearnt", "wrong_gauges", "wrong", "frames", "read"):
            setattr(total, name, getattr(total, name) + getattr(own, name))
        total.slowest += own.slowest
    p95 = sorted(total.slowest)[int(0.95 * len(total.slowest))]
    sys.stdout.write(
        f"all: {total.gauges} gauges, {100 * total.exact / total.gauges:.1f} % exact, "
        f"{total.unlearnt} not learnt, "
        f"{total.wrong_gauges} with wrong readings, {total.wrong} of {total.frames} frames, p95 {p95:.2f} s\n"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
