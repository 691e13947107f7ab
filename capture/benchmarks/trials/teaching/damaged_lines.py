"""How many damaged lines without a check are read as another number, with and without what a line has shown.

``python -m capture.benchmarks.trials.teaching.damaged_lines [SEED]``: invented gauges, pressed by a person or
streaming 50 times a second, on a part that is ground or rocked; one line in ten is damaged. The truth is what
was sent.
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Decoder
from capture.dialects.line_history import LineHistory
from capture.events import Decoded, Reading

FORMS: Final = ("{:.3f}\r\n", "{:+09.3f}\r\n", "{:8.3f} mm\r", "A {:.4f}\r\n", "{:+.4f}mm\n")
SIZES: Final = (55.0, 0.0, 9.998)
"""A part, a comparator set on a master, and a size about which the digits before the point change."""
LEARNING: Final = 50
"""Lines before the first damaged one: the first minutes."""


class Tally(Struct):
    """What became of the lines."""

    damaged: int = 0
    read: int = 0
    """Damaged lines that were read as another number."""
    taken: int = 0
    """Of these, the ones that the history took."""
    far: int = 0
    """Of these, by more than 0.05 mm."""
    good: int = 0
    doubted: int = 0
    """Good lines that were doubted."""

    def add(self, other: Tally) -> None:
        """Adds what became of other lines."""
        for name in self.__struct_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))


def trial(form: str, size: float, lines: int, rng: random.Random, *, stream: bool) -> Tally:
    """One gauge's *lines*, one in ten damaged."""
    tally, history, decoder, at = Tally(), LineHistory(), Decoder(decimal_line()), 0.0
    for number, value in zip(range(lines), _values(size, rng, stream=stream), strict=False):
        at += 0.02 if stream else 3.0
        good = form.format(value).encode()
        sent = damaged(good, rng) if number > LEARNING and rng.random() < 0.1 else good
        decoder, received = decoder.feed(sent)
        decoder, late = decoder.silence()
        _count(tally, [*received, *late], history, at, None if sent == good else _number(form, value))
    return tally


def _count(
    tally: Tally, received: list[Decoded], history: LineHistory, at: float, truth: float | None
) -> None:
    """*truth* is what a damaged line said before; None: it is whole."""
    judged = [(one, history.judge(one, at)) for one in received]
    if truth is None:
        tally.good += 1
        tally.doubted += not any(isinstance(said, Reading) for _, said in judged)
        return
    tally.damaged += 1
    others = [(one, said) for one, said in judged if isinstance(one, Reading) and one.value != truth]
    tally.read += bool(others)
    taken = [one.value for one, said in others if isinstance(said, Reading)]
    tally.taken += bool(taken)
    tally.far += any(abs(value - truth) > 0.05 for value in taken)


def _number(form: str, value: float) -> float:
    _, received = Decoder(decimal_line()).feed(form.format(value).encode() + b"0")
    return received[0].value if isinstance(received[0], Reading) else math.nan


def _values(size: float, rng: random.Random, *, stream: bool) -> Iterator[float]:
    number = 0
    while True:
        number += 1
        if stream:  # rocked about the smallest size, twice a second
            yield size + 0.03 * math.sin(number / 4) ** 2 + rng.gauss(0, 0.0003)
        else:  # ground by a few micrometres a pass, three stations
            yield size + 0.05 - number % 200 * 0.0003 + rng.gauss(0, 0.002)


def damaged(line: bytes, rng: random.Random) -> bytes:
    """*line* with one thing wrong: a bit, a byte, a digit, one lost, one twice, or two changed over."""
    data = bytearray(line)
    at = rng.randrange(len(data))
    match rng.randrange(6):
        case 0:
            data[at] ^= 1 << rng.randrange(8)
        case 1:
            data[at] = rng.randrange(256)
        case 2:
            data[at] = rng.choice(b"0123456789")
        case 3:
            del data[at]
        case 4:
            data[at:at] = data[at : at + 1]
        case _:
            data[at : at + 2] = data[at : at + 2][::-1]
    return bytes(data)


def main(seed: int) -> None:
    """Prints one row for presses and one for streams."""
    for stream in (False, True):
        rng, tally = random.Random(f"{seed} {stream}"), Tally()  # noqa: S311 - a trial, repeated by its seed
        while tally.damaged < 20_000:
            for form in FORMS:
                for size in SIZES:
                    tally.add(trial(form, size, 1000, rng, stream=stream))
        sys.stdout.write(
            f"{'stream' if stream else 'presses'}: {tally.damaged} damaged lines, {tally.read} read as "
            f"another number, {tally.taken} taken ({tally.far} off by more than 0.05 mm); "
            f"of {tally.good} good lines {tally.doubted} doubted\n"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
