"""Fuzzes a lesson: whatever a gauge sends while it is taught, nothing fails, and what is learnt can be kept.

An input has a reading a line: what the display showed, its unit, and what came as hexadecimal digits.
"""

from __future__ import annotations

import sys

from fuzzing import fuzz

from capture.dialects.taught.format_files import read_format, write_format
from capture.teaching.learner import Example, learn, number
from capture.teaching.lesson import unit_named

MOST = 6
LONGEST = 200
"""Bytes of one reading: a lesson is quick to try, and long ones tell nothing new."""


def examples_in(data: bytes) -> list[Example]:
    """The readings that can be made out."""
    found = []
    for line in data.split(b"\n")[:MOST]:
        try:
            shown, unit, came = line.decode("ascii").split(" ")
            chunk = (10.0, bytes.fromhex(came)[:LONGEST])
            found.append(Example((chunk,), number(shown), unit_named(unit)))
        except ValueError:
            continue
    return found


def target(data: bytes) -> None:
    """Learn; raises if what was learnt is another once it has been a file."""
    examples = examples_in(data)
    learnt = learn(examples)
    if learnt.format is not None and read_format(write_format(learnt.format), "taught.toml") != learnt.format:
        raise RuntimeError("the file says another format")
    if learnt.format is None and not learnt.open:
        raise RuntimeError("nothing was learnt, and nothing is asked")


if __name__ == "__main__":
    sys.exit(fuzz("lesson", target))
